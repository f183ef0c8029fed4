"""Sizing is consistent with itself: what it recommends, built and driven on fresh ground, meets the risk."""

import numpy as np
import pytest
import xarray as xr

from studies.limits import Limit
from studies.outcomes import headline
from studies.sizing import crossings, needs
from studies.trade_offs import trade_off

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


def test_falling_rates_keep_above():
    limit = Limit.model_validate({"what": "unload events", "at_most": "1 1/km"})
    found = crossings(swept([1, 2, 3], [4, 2, 0.5]), [limit])[0]
    assert not found.keeps_below and found.at.value == pytest.approx(2.5, abs=0.1)


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
