"""Sizing is consistent with itself: what it recommends, built and driven on fresh ground, meets the risk."""

import numpy as np
import pytest
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.analysis.sizing import ALIKE, CUT, FAIR, FEW, POOR, needs
from crossaxle.studies.analysis.swept_limits import crossings
from crossaxle.studies.analysis.trade_offs import MASS_HEIGHT, considered, trade_off, trade_off_table
from crossaxle.studies.report.sizing_tables import build_tables, crossing_table
from crossaxle.studies.study.aims import aims
from crossaxle.studies.study.limits import Limit

BLOCK, BUILT = 1000.0, 0.1


def gaps(movement: np.ndarray) -> xr.Dataset:
    """One candidate whose gap moves by the given largest amounts [m]."""
    return xr.Dataset(
        {
            "distance": (("course", "sample"), np.full((1, movement.size), BLOCK)),
            "gap_minimum": (("course", "sample", "gap"), BUILT - movement[None, :, None]),
            "gap_static": (("gap",), [BUILT]),
        },
        coords={"gap": ["hatch"]},
    )


def test_recommended_clearance_meets_the_risk_on_fresh_ground():
    """Gumbel movement, 200 km studied, 10 % risk over 1000 km: the true risk of the clearance built.

    The estimate must be right in the middle (median risk near 10 %), and its upper end safe in 97 of 100 studies.
    """
    random = np.random.default_rng(1)
    risk, over, scale = 0.1, 1e6, 0.01
    met, middle = 0, []
    for _ in range(200):
        need = needs(gaps(scale * random.gumbel(size=200)), risk, over)[0]
        true = [
            1 - np.exp(-over / BLOCK * np.exp(-float(c) / scale))
            for c in (need.needed.value, need.needed.high)
        ]
        middle.append(true[0])
        met += true[1] <= risk
    assert met / 200 >= 0.93
    assert 0.05 < np.median(middle) < 0.2


def test_built_to_the_recommendation_the_gap_closes_as_often_as_foreseen():
    """Brute force: 20 000 fresh blocks with the clearance for one closing in 100 km count it within its interval."""
    random = np.random.default_rng(2)
    need = needs(gaps(0.01 * random.gumbel(size=2000)), 1 - np.exp(-1), 100e3)[0]
    fresh = 0.01 * random.gumbel(size=20_000)
    closed = [(fresh > end).mean() * 100 for end in (need.needed.high, need.needed.low)]
    assert closed[0] <= 1.0 <= closed[1]


def test_the_first_course_is_meant_unless_another_is_named():
    random = np.random.default_rng(6)
    smooth, rough = (gaps(scale * random.gumbel(size=300)) for scale in (0.01, 0.03))
    both = xr.concat([smooth, rough], "course", data_vars="minimal")
    built = [needs(both, 0.1, 1e6, *course)[0].needed.value for course in ((), (0,), (1,))]
    assert built[0] == built[1] < built[2]


@pytest.mark.parametrize("movement, basis", [(np.linspace(0, 0.02, 7), FEW), (np.full(50, 0.02), ALIKE)])
def test_where_nothing_can_be_foretold_only_the_largest_met_is_given(movement, basis):
    """Seven samples, or fifty that are alike: build more than the largest met, with no upper end."""
    need = needs(gaps(movement), 0.1, 1e6)[0]
    assert need.basis == basis
    assert need.needed.value == need.needed.low == pytest.approx(0.02)
    assert np.isinf(need.needed.high)


def test_no_sample_with_a_value_needs_nothing():
    assert needs(gaps(np.full(30, np.nan)), 0.1, 1e6) == []


def swept(at: list[float], rates: list[float], n: int = 400) -> xr.Dataset:
    random = np.random.default_rng(3)
    counts = np.stack([random.poisson(r, (1, n, 1)) for r in rates])
    return xr.Dataset(
        {
            "distance": (("spacing", "course", "sample"), np.full((len(at), 1, n), BLOCK)),
            "unload_events": (("spacing", "course", "sample", "wheel"), counts.astype(float)),
        },
        coords={"spacing": ("spacing", at, {"units": "m"}), "wheel": ["front left"]},
    )


def test_widest_spacing_that_keeps_a_limit():
    """Rates 0.5, 1, 2, 4 per km at 1, 2, 3, 4 m: the logarithm crosses 1.5 per km at 2.58 m."""
    ds = swept([1, 2, 3, 4], [0.5, 1, 2, 4])
    limit = Limit.model_validate({"what": "unload events", "at_most": "1.5 1/km"})
    found = crossings(ds, [limit])[0]
    assert found.keeps_below and found.quantity == "spacing"
    assert found.at.value == pytest.approx(2.58, abs=0.1)
    assert found.at.low <= 2.58 <= found.at.high
    assert found.at.high - found.at.low < 0.5


@pytest.mark.parametrize("allowed, at", [("9 1/km", np.inf), ("0.1 1/km", -np.inf)])
def test_all_or_none_keeps_it(allowed, at):
    limit = Limit.model_validate({"what": "unload events", "at_most": allowed})
    assert crossings(swept([1, 2, 3], [0.5, 1, 2]), [limit])[0].at.value == at


@pytest.mark.parametrize("rates, below", [([0.5, 1, 2], True), ([2, 1, 0.5], False)])
def test_what_no_value_keeps_is_not_said_to_be_kept_by_all(rates, below):
    """Whichever way the rates turn: the least of them is five times what is allowed."""
    limit = Limit.model_validate({"what": "unload events", "at_most": "0.1 1/km"})
    (found,) = crossings(swept([1, 2, 3], rates), [limit])
    assert found.keeps_below == below
    assert found.kept_by_none and not found.kept_by_all


def test_falling_rates_keep_above():
    limit = Limit.model_validate({"what": "unload events", "at_most": "1 1/km"})
    found = crossings(swept([1, 2, 3], [4, 2, 0.5]), [limit])[0]
    assert not found.keeps_below and found.at.value == pytest.approx(2.5, abs=0.1)


def test_only_the_middle_keeps_a_limit():
    """Rates 4, 1, 0.5, 1, 4 per km: kept from 1.5 to 4.5 where 2 per km are allowed."""
    limit = Limit.model_validate({"what": "unload events", "at_most": "2 1/km"})
    upper, lower = crossings(swept([1, 2, 3, 4, 5], [4, 1, 0.5, 1, 4]), [limit])
    assert upper.keeps_below and upper.at.value == pytest.approx(4.5, abs=0.1)
    assert not lower.keeps_below and lower.at.value == pytest.approx(1.5, abs=0.1)


def test_the_middle_of_three_values_keeps_a_limit_between_its_neighbours():
    """The margin is the logarithm of the rate: ln 2 above the limit at 1 m and 4 m, ln 2 below it at 2 m."""
    limit = Limit.model_validate({"what": "unload events", "at_most": "1 1/km"})
    upper, lower = crossings(swept([1, 2, 4], [2, 0.5, 2]), [limit])
    assert (upper.keeps_below, lower.keeps_below) == (True, False)
    assert upper.at.value == pytest.approx(3.0, abs=0.1)
    assert lower.at.value == pytest.approx(1.5, abs=0.05)


def test_no_event_with_any_value_is_kept_by_all_and_says_how_far_that_is_sure():
    """No event in 400 km with any value: kept by the estimate; at most 6 in 400 km are not excluded."""
    ds = swept([1, 2, 3], [0, 0, 0])
    seldom = crossings(ds, [Limit.model_validate({"what": "unload events", "at_most": "0.01 1/km"})])[0]
    assert seldom.kept_by_all and seldom.at.low == -np.inf
    often = crossings(ds, [Limit.model_validate({"what": "unload events", "at_most": "1 1/km"})])[0]
    assert often.kept_by_all and often.at.low == np.inf


def test_a_limit_on_what_no_candidate_has_is_neither_kept_nor_missed():
    ds = swept([1, 2, 3], [1, 2, 3]).assign_coords(gap=["tank"])
    unknown = np.full((3, 1, ds.sizes["sample"], 1), np.nan)
    ds["gap_minimum"] = (("spacing", "course", "sample", "gap"), unknown)
    assert crossings(ds, [Limit.model_validate({"what": "gap", "at_least": "9 mm"})]) == []


def stress(ds: xr.Dataset, at: list[float], location: list[float]) -> xr.Dataset:
    """Add Gumbel stresses of scale 1 MPa about a location [MPa] for each swept value."""
    random = np.random.default_rng(5)
    value = 1e6 * (np.array(location)[:, None, None, None] + random.gumbel(size=(len(at), 1, 400, 1)))
    ds["bracket_stress_maximum"] = (("spacing", "course", "sample", "bracket"), value)
    return ds.assign_coords(bracket=["front"])


LIMITS = [
    Limit.model_validate({"what": "unload events", "at_most": "1.5 1/km"}),
    Limit.model_validate({"what": "bracket stress", "at_most": "120 MPa", "over": "100 km", "risk": "20 %"}),
]


def test_longest_that_keeps_all_limits():
    """Events allow 2.58 m. Stress is allowed 0.223 passings in 100 km: 120 - 6.1 MPa as location, met at 2.39 m."""
    ds = stress(swept([1, 2, 3, 4], [0.5, 1, 2, 4]), [1, 2, 3, 4], [100, 110, 120, 130])
    by_limit = {c.limit: c for c in crossings(ds, LIMITS)}
    assert by_limit[LIMITS[1]].at.value == pytest.approx(2.39, abs=0.15)
    both = by_limit[None]
    assert both.keeps_below and both.at.value == min(c.at.value for c in by_limit.values())
    assert both.at.low <= both.at.value <= both.at.high


def test_limits_from_either_side_leave_a_window():
    """Events allow up to 2.58 m. Stress, which falls, is met where its location is 113.9 MPa: from 1.61 m on."""
    ds = stress(swept([1, 2, 3, 4], [0.5, 1, 2, 4]), [1, 2, 3, 4], [120, 110, 100, 90])
    upper, lower = (c for c in crossings(ds, LIMITS) if c.limit is None)
    assert upper.keeps_below and upper.at.value == pytest.approx(2.58, abs=0.1)
    assert not lower.keeps_below and lower.at.value == pytest.approx(1.61, abs=0.15)


def test_a_limit_that_every_value_keeps_bounds_nothing_together():
    """Events stay far below what is allowed, so that only the falling stress bounds the spacing, from below."""
    ds = stress(swept([1, 2, 3, 4], [0.1, 0.11, 0.12, 0.13]), [1, 2, 3, 4], [120, 110, 100, 90])
    (both,) = (c for c in crossings(ds, LIMITS) if c.limit is None)
    assert not both.keeps_below and both.at.value == pytest.approx(1.61, abs=0.15)


def test_limits_that_exclude_each_other_are_kept_by_none_together():
    """Stress falls and events rise: below 1.58 m of events, above 3.6 m of stress."""
    ds = stress(swept([1, 2, 3, 4], [1, 2, 4, 8]), [1, 2, 3, 4], [140, 130, 120, 110])
    together = [c for c in crossings(ds, LIMITS) if c.limit is None]
    assert len(together) == 1 and together[0].kept_by_none


def test_a_level_that_is_always_passed_is_kept_by_none():
    """Every sample passes it by far: no number is lost on the way to saying so."""
    ds = stress(swept([1, 2], [1, 1]), [1, 2], [900, 950])
    assert crossings(ds, LIMITS[1:])[0].kept_by_none


def test_pareto_set(synthetic):
    """Rigid mounts unload more but lean less: both kinds stay; a longer wheelbase that is worse in all does not."""
    ds = synthetic(n_samples=100, candidates={"mount": ("rigid", "pivoting")})
    found = trade_off(headline(ds))
    assert found.kept.all() and found.beaten_by == (-1, -1) and not found.surely.any()
    worse = xr.concat([ds.sel(mount=["rigid"]), ds.sel(mount=["rigid"])], "mount")
    for name in ("unload_events", "body_roll_maximum", "body_torque_maximum", "mount_travel_maximum"):
        worse[name][{"mount": 1}] *= 3
    for name in ("free_events", "bracket_stress_maximum", "frame_twist_maximum"):
        worse[name][{"mount": 1}] *= 3
    worse["gap_minimum"][{"mount": 1}] = worse["gap_static"][{"mount": 1}] - 3 * (
        worse["gap_static"][{"mount": 1}] - worse["gap_minimum"][{"mount": 1}]
    )
    worse = worse.assign_coords(mount=["rigid", "worse"])
    found = trade_off(headline(worse))
    assert (
        found.kept.tolist() == [True, False]
        and found.beaten_by == (-1, 0)
        and found.surely.tolist() == [False, True]
    )
    words = [row[1].text for row in trade_off_table(worse, 0).rows]
    assert words == ["no other beats it in everything", "beaten for sure by rigid mount"]


def test_a_higher_mass_is_an_outcome_of_its_own(synthetic):
    """Two alike in all but the height of the mass: the higher one is beaten; where heights are alike, neither is."""
    ds = synthetic(n_samples=60, candidates={"mount": ("rigid", "pivoting")})
    ds = xr.concat([ds.sel(mount=["rigid"])] * 2, "mount").assign_coords(mount=["high", "low"])
    assert trade_off(considered(ds)).kept.all()
    ds[MASS_HEIGHT] = ("mount", [1.7, 1.6])
    assert trade_off(considered(ds)).kept.tolist() == [False, True]


def test_what_to_build_is_told_for_each_candidate(synthetic):
    """A table per candidate: clearances with their intervals, and the wheelbase as far as the limits hold."""
    study = 'title = "t"\n[[limits]]\nwhat = "unload events"\nat_most = "2.4 1/km"\n'
    ds = synthetic({"wheelbase": (3.8, 4.4, 5.0), "mount": ("rigid", "pivoting")}, study=study)
    tables = build_tables(ds, aims(ds), 0)
    assert len(tables) == 6
    for table, name in zip(tables, (c.name for c in candidates(ds)), strict=True):
        assert name in table.caption
        rows = {(row[0].text, row[1].text): row for row in table.rows}
        assert {("Clearance, standing level", gap) for gap in ds.gap.values} <= set(rows)
        longest = rows["Wheelbase", "keeps unload events at most 240 per 100 km"]
        if "pivoting" in name:
            assert longest[-1].text == "not bracketed by the sweep: kept by all values swept"
        else:
            assert longest[-1].text == "at most; read between swept values" and longest[2].text == "m"
            assert 3.8 < float(longest[5].text) < 5.0
    assert crossing_table(ds, aims(ds), 0).rows[0][1].text == "wheelbase"


def test_an_angle_that_the_stop_has_cut_off_gives_no_number_to_build(synthetic):
    """The drawn angle is stated; where pivots reach it, what the ground would ask for is not known."""
    ds = synthetic(n_samples=60)
    largest = ds["pivot_angle_maximum"].max(["course", "sample"])
    for share, basis in ((1.0, CUT), (2.0, FAIR)):
        stop = ds.assign(pivot_stop_angle=share * largest)
        found = [need for need in needs(stop, 0.1, 1e6) if need.what == "stop angle"]
        assert found and all(np.isfinite(need.built) for need in found)
        assert {need.basis for need in found} <= {basis, POOR}
        rows = [
            row
            for table in build_tables(stop, aims(ds), 0)
            for row in table.rows
            if row[0].text == "Angle to the stop"
        ]
        assert all(row[3].text != "–" for row in rows)
        if basis == CUT:
            assert all(row[4].below == "largest met" and row[6].text == CUT for row in rows)
