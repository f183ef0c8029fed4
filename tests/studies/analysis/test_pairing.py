"""Common ground saves samples: variance of a difference, unpaired over paired, in closed form and on real trucks."""

import numpy as np
import pytest

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.analysis.pairing import outcome_gain, pairing_gain, pairing_table
from crossaxle.studies.run.dataset import results
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import load


def test_closed_form():
    """Correlation r at equal variances: 1 / (1 - r); to 15 % for 4000 samples."""
    random = np.random.default_rng(1)
    for r in (0.0, 0.5, 0.9):
        a = random.standard_normal(4000)
        b = r * a + np.sqrt(1 - r**2) * random.standard_normal(4000)
        assert pairing_gain(a, b) == pytest.approx(1 / (1 - r), rel=0.15)


def test_nothing_to_tell():
    assert np.isnan(pairing_gain(np.ones(5), np.ones(5)))
    assert np.isnan(pairing_gain(np.array([1.0]), np.array([2.0])))
    assert np.isnan(pairing_gain(np.full(9, np.nan), np.ones(9)))
    assert pairing_gain(np.arange(5.0), np.arange(5.0) + 2) == np.inf


def test_fewer_samples_on_the_examples_trucks(tmp_path):
    """Rigid mount at 4.4 m against 5 m on 120 common kilometres: figures printed; each outcome gains by pairing.

    A gain of 1 is none; the intervals' widths shrink by its root.
    """
    write_example(tmp_path)
    study = (tmp_path / "study.toml").read_text().replace('"5 cm"', '"12.5 cm"')
    study = study.replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m", "5.0 m"]').replace(
        '["rigid", "pivoting"]', '["rigid"]'
    )
    (tmp_path / "study.toml").write_text(study)
    made = Experiment(load(tmp_path / "study.toml"))
    rows, histograms = zip(*(made.run(k) for k in range(120)), strict=True)
    counts = np.zeros((20, *histograms[0].shape), dtype=np.int64)
    for k, histogram in enumerate(histograms):
        counts[k % 20] += histogram
    ds = results(made, np.array(rows), counts)
    gains = {o.heading: outcome_gain(o, 0, 1) for o in headline(ds)}
    for name, gain in gains.items():
        print(f"{name}: unpaired needs {gain:.1f} times as many samples")
    assert gains["Wheel-unload events"] > 1.5
    assert gains["Frame twist"] > 2
    table = pairing_table(ds, 0, *candidates(ds))
    assert [row[0].text for row in table.rows] == list(gains)
