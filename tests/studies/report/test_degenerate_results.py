"""Results that can tell little: too few samples, all alike, no event, none at all. Intervals say so, in every number.

A made-up study with limits goes through page one, verdicts, tables and charts; nothing may be "not a number", no
interval may shrink to a point where the samples do not bear it, and what cannot be known is said in words.
"""

import numpy as np
import pytest

from crossaxle.studies.analysis.candidates import has_results
from crossaxle.studies.analysis.comparison import compare_levels
from crossaxle.studies.analysis.extremes import fit_extremes
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.analysis.sensitivity import sensitivity
from crossaxle.studies.analysis.sizing import ALIKE, FEW
from crossaxle.studies.analysis.verdicts import MEETS, OPEN, verdicts
from crossaxle.studies.base.intervals import met_once
from crossaxle.studies.base.number_format import bounds
from crossaxle.studies.charts.catalogue import catalogue
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.report.page_one import page_one
from crossaxle.studies.report.report_content import _tables as report_tables
from crossaxle.studies.study.aims import aims

STUDY = """
title = "invented"
samples = 1
[[limits]]
what = "unload events"
at_most = "1 1/km"
[[limits]]
what = "gap"
at_least = "5 mm"
[[limits]]
what = "bracket stress"
at_most = "160 MPa"
"""


def alike(ds):
    """Make every sample the same as the first."""
    for name in ds.data_vars:
        if "sample" in ds[name].dims:
            first = ds[name].isel(sample=0, drop=True)
            ds[name] = first.expand_dims(sample=ds.sizes["sample"]).transpose(*ds[name].dims).copy()
    return ds


@pytest.fixture(scope="module")
def made(synthetic):
    """Make a case by its name."""
    two = {"mount": ("rigid", "pivoting")}

    def make(case):
        if case == "all alike":
            return alike(synthetic(two, n_samples=40, uncertain=True, study=STUDY))
        if case == "all alike, no event":
            return alike(synthetic(two, n_samples=40, quiet=True, study=STUDY))
        settings = {
            "one sample": {"n_samples": 1},
            "two samples": {"n_samples": 2, "uncertain": True},
            "no event": {"n_samples": 40, "quiet": True},
            "one good sample": {"n_samples": 10, "failed": 9},
            "none": {"n_samples": 10, "failed": 10},
        }
        return synthetic(two, study=STUDY, **settings[case])

    return make


CASES = (
    "one sample",
    "two samples",
    "no event",
    "all alike",
    "all alike, no event",
    "one good sample",
    "none",
)


@pytest.mark.parametrize("case", CASES)
def test_the_whole_report_can_be_made(made, case):
    ds = made(case)
    found = page_one(ds)
    tables = report_tables(ds, 0, found, []) if has_results(ds) else {}
    cells = [c for some in tables.values() for t in some for row in t.rows for c in row]
    words = [*found.lead, *found.doubts, *(f"{c.text} {c.below} {c.note}" for c in cells)]
    assert not any(
        word in text.lower().split() for text in words for word in ("nan", "inf", "-inf", "none-none")
    )
    for entry in catalogue(ds):
        if entry.name in ("trade", "trade_offs", "drivers", "life_gap_minimum"):
            entry.draw(6.0)
    if case == "none":
        assert found.lead == ["No sample gave a result: nothing can be said about any candidate."]
    if case in ("no event", "all alike, no event"):
        assert any("rule of three" in text for text in found.doubts)
    if case in ("two samples", "all alike"):
        assert any("Which uncertain value matters cannot be told" in text for text in found.doubts)
    basis = {cell.text for t in tables.get("build", []) for cell in t.rows[0][-1:]}
    if case in ("one sample", "two samples", "one good sample"):
        assert basis == {FEW}
    if case.startswith("all alike"):
        assert basis == {ALIKE}


@pytest.mark.parametrize("case", CASES[:-1])
def test_no_interval_is_a_point(made, case):
    """Where samples cannot bound a number there is no bound; a rate's interval never closes."""
    for outcome in headline(made(case)):
        known = np.isfinite(outcome.estimate.value)
        low, high = outcome.estimate.low[known], outcome.estimate.high[known]
        rates = not outcome.every
        few = outcome.samples.shape[1] < 20
        if rates:
            assert (low < high).all()
        elif few:
            assert np.isinf(high).all()


@pytest.mark.parametrize("case", ("one sample", "two samples", "one good sample"))
def test_no_verdict_rests_on_a_sample_or_two(made, case):
    """A kilometre or two decide nothing about 1000 km; the chance of keeping a limit is near even."""
    for one in verdicts(made(case), aims(made(case)).limits):
        if not one.limit.kind.rate:
            assert one.status == OPEN and np.isinf(one.further) and 0.4 < one.probability < 0.6


def test_no_event_in_forty_kilometres_meets_a_rate_of_one_per_kilometre(made):
    assert {v.status for v in verdicts(made("no event"), aims(made("no event")).limits[:1])} == {MEETS}


def test_extremes_and_drivers_are_not_guessed():
    random = np.random.default_rng(1)
    assert fit_extremes(random.gumbel(size=19), 1.0) is None
    assert fit_extremes(np.full(100, 3.0), 1.0) is None
    assert fit_extremes(np.full(100, np.nan), 1.0) is None
    inputs = random.random((200, 2))
    assert sensitivity(inputs, np.full(200, 5.0)) is None
    assert sensitivity(inputs[:39], random.random(39)) is None
    nothing = met_once(np.full(10, np.nan), np.full(10, 1.0), 100.0)
    assert np.isnan([nothing.value, nothing.low, nothing.high]).all()


def test_alike_extremes_have_a_level_but_no_bound_beyond_the_samples():
    level = met_once(np.full(30, 2.0), np.full(30, 1.0), 1e4)
    assert level.value == level.low == 2.0 and np.isinf(level.high)


def test_two_pairs_of_samples_do_not_settle_a_difference():
    """Nothing bounds it, and its sign is even; a hundred pairs bound it, and where they are alike, that is said."""
    few = compare_levels(np.array([5.0, 6.0]), np.array([1.0, 2.0]), np.ones(2), 20.0)
    assert (few.difference.low, few.difference.high, few.chance_less) == (-np.inf, np.inf, 0.5)
    assert np.isfinite(few.difference.value)
    many = compare_levels(np.full(100, 3.0), np.full(100, 2.0), np.ones(100), 10.0).difference
    assert bounds(many) == "no spread seen"


@pytest.mark.parametrize(
    ("attribute", "text", "said"),
    [
        ("study", "[[limits]", "results.nc: study: line 1: is not valid TOML"),
        ("study", 'life = "4.5 kg"', "results.nc: study: life: "),
        ("study", "[[limits]]", "limits[1].what: is missing; write e.g. what = "),
        ("settings", "{", "results.nc: settings: cannot be read"),
    ],
)
def test_limits_that_cannot_be_read_are_not_left_out(made, attribute, text, said):
    """A report that silently forgets a stated limit would be worse than none."""
    ds = made("no event").assign_attrs({attribute: text})
    with pytest.raises(InputError) as caught:
        aims(ds)
    assert said in str(caught.value)
