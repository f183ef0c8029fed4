"""Uncertain values: their distributions, the same draws for every candidate, and what is kept of them."""

import numpy as np
import pytest
from scipy import stats

from crossaxle.sim.codes import IMPOSSIBLE
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.dataset import results
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.study import load
from crossaxle.studies.study.uncertain import (
    Discrete,
    Lognormal,
    Normal,
    Triangular,
    Uniform,
    draw,
    overrides,
)

SHARES = np.linspace(0.001, 0.999, 400)


def test_distributions_are_those_of_scipy():
    """Quantiles against scipy.stats."""
    cases = [
        (Normal(kind="normal", mean="300 N/mm", deviation="20 N/mm"), stats.norm(300e3, 20e3)),
        (Lognormal(kind="lognormal", median="2 t", spread=0.3), stats.lognorm(0.3, scale=2000)),
        (Uniform(kind="uniform", least="1 m", most="3 m"), stats.uniform(1, 2)),
        (Triangular(kind="triangular", least=1.0, likeliest=1.5, most=3.0), stats.triang(0.25, 1, 2)),
    ]
    for ours, theirs in cases:
        assert ours.at(SHARES) == pytest.approx(theirs.ppf(SHARES), rel=1e-9)


def test_discrete_values_come_by_their_weights():
    found = Discrete(kind="discrete", among=["1 bar", "2 bar"], weights=[1, 3]).at(
        np.linspace(0, 0.9999, 10_000)
    )
    assert (found == 1e5).mean() == pytest.approx(0.25, abs=1e-3)


def test_draws_belong_to_their_sample_and_fill_the_space():
    """A Sobol sequence's first 2^m points have one in each of 2^m equal slices of every axis (Owen 1998)."""
    uncertain = {name: Uniform(kind="uniform", least=0.0, most=1.0) for name in "ab"}
    points = np.array([draw(uncertain, 5, k) for k in range(64)])
    for column in points.T:
        assert sorted((column * 64).astype(int)) == list(range(64))
    assert draw(uncertain, 5, 1030) == pytest.approx(draw(uncertain, 5, 1030))
    assert not np.allclose(draw(uncertain, 5, 3), draw(uncertain, 6, 3))


def test_overrides_stand_as_in_the_file():
    uncertain = {"a": Normal(kind="normal", mean="300 N/mm", deviation="20 N/mm"),
                 "b": Uniform(kind="uniform", least=0.5, most=2.0)}  # fmt: skip
    assert overrides(uncertain, np.array([3e5, 1.25])) == {"a": "300000.0 N/m", "b": 1.25}


STUDY = """
title = "uncertain"
vehicle = "library:clinic"
courses = ["library:wadi_tamrun"]
samples = 4
sample_length = "400 m"
[sweep]
mount = ["rigid", "pivoting"]
[uncertain]
"axle.front.spring_rate" = {{ kind = "normal", mean = "290 N/mm", deviation = "20 N/mm" }}
"mass.stores.mass" = {{ kind = "triangular", least = "0.4 t", likeliest = "1.1 t", most = "{most}" }}
"""


def experiment(tmp_path, most="1.6 t"):
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(most=most))
    return Experiment(load(path))


def test_every_candidate_has_the_same_values(tmp_path):
    made = experiment(tmp_path)
    rows, histograms = zip(*(made.run(k) for k in range(4)), strict=True)
    dataset = results(made, np.array(rows), np.zeros((20, *histograms[0].shape)))
    assert list(dataset.uncertain.values) == ["axle.front.spring_rate", "mass.stores.mass"]
    assert dataset.drawn_value.shape == (4, 2)
    for sample in range(4):
        stores = {m.mass for c in made.drawn(sample) for m in c.vehicle.masses if m.name == "stores"}
        assert stores == {float(dataset.drawn_value[sample, 1])}
    again, _ = experiment(tmp_path).run(2)
    np.testing.assert_array_equal(again, rows[2])
    assert np.isfinite(dataset.frame_twist_maximum.values).all()


def test_an_impossible_draw_is_a_recorded_result(tmp_path):
    text = STUDY.format(most="1.6 t") + (
        '"mass.crew.mass" = { kind = "discrete", among = ["0.26 t", "900 t"], weights = [1, 20] }\n'
    )
    path = tmp_path / "study.toml"
    path.write_text(text)
    made = Experiment(load(path))
    sample = next(k for k in range(100) if None in made.drawn(k))
    rows, _ = made.run(sample)
    column = next(b.start for b in made.columns.blocks if b.variable == "sample_status")
    assert IMPOSSIBLE in rows[..., column]


def test_a_draw_that_no_file_may_hold_is_a_recorded_result(tmp_path):
    """A normal distribution has no bounds: now and then it gives the crew a mass below zero."""
    path = tmp_path / "study.toml"
    path.write_text(
        STUDY.format(most="1.6 t")
        + '"mass.crew.mass" = { kind = "normal", mean = "0.26 t", deviation = "0.3 t" }\n'
    )
    made = Experiment(load(path))
    sample = next(k for k in range(100) if None in made.drawn(k))
    rows, _ = made.run(sample)
    column = next(b.start for b in made.columns.blocks if b.variable == "sample_status")
    assert IMPOSSIBLE in rows[..., column]


def test_a_distribution_about_what_is_not_allowed_is_refused(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(
        STUDY.format(most="1.6 t")
        + '"mass.crew.mass" = { kind = "normal", mean = "-1 t", deviation = "0.3 t" }\n'
    )
    with pytest.raises(
        InputError, match=r"in the middle of the distributions:\n.*mass.crew.mass.*allowed is above 0"
    ):
        Experiment(load(path))


def test_wrong_distributions_are_refused(tmp_path):
    for change, reason in (
        ("0.2 t", "likeliest"),
        ("3 m", "mixes the units"),
    ):
        with pytest.raises(InputError, match=reason):
            experiment(tmp_path, most=change)
