"""Endurance curve of EN 1993-1-9:2005 (a newer edition exists), section 7.1.

The standard prints the constant-amplitude limit as 0.737 of the category and the cut-off as 0.549 of that limit, which
is 0.404 of the category; the exact roots behind them are recalled.
"""

import numpy as np
import pytest

from crossaxle.studies.base.endurance import Curve, damage_per_metre, distance_to_crack
from crossaxle.vehicles.file import DETAIL_CATEGORIES

MPA = 1e6


@pytest.mark.parametrize("category", DETAIL_CATEGORIES)
def test_points_of_the_curve(category, checked):
    """Category at 2e6 cycles, 0.737 of it at 5e6, 0.549 of that at 1e8: to the three digits printed (0.1 %).

    The product of the printed factors is rounded once more, to 0.404 of the category: 0.2 %.
    """
    curve = Curve(category * MPA)
    assert curve.limit == pytest.approx(0.737 * category * MPA, rel=1e-3)
    assert curve.cut_off == pytest.approx(0.549 * curve.limit, rel=1e-3)
    assert curve.cut_off == pytest.approx(0.404 * category * MPA, rel=2e-3)
    checked(
        "fatigue curve, constant-amplitude limit",
        "EN 1993-1-9:2005",
        abs(curve.limit / (0.737 * category * MPA) - 1),
    )
    checked(
        "fatigue curve, cut-off over constant-amplitude limit",
        "EN 1993-1-9:2005, 0.549",
        abs(curve.cut_off / (0.549 * curve.limit) - 1),
    )
    checked(
        "fatigue curve, cut-off over category",
        "EN 1993-1-9:2005, 0.404",
        abs(curve.cut_off / (0.404 * category * MPA) - 1),
    )
    assert curve.cycles(category * MPA) == pytest.approx(2e6)
    assert curve.cycles(curve.limit) == pytest.approx(5e6)
    assert curve.cycles(curve.cut_off * (1 + 1e-12)) == pytest.approx(1e8)
    assert curve.cycles(curve.cut_off * (1 - 1e-9)) == np.inf


def test_slopes_are_three_and_five():
    curve = Curve(80 * MPA)
    high, low = np.array([200.0, 100.0]) * MPA, np.array([0.9, 0.6]) * curve.limit
    for ranges, slope in ((high, 3), (low, 5)):
        n = curve.cycles(ranges)
        assert np.log(n[1] / n[0]) / np.log(ranges[0] / ranges[1]) == pytest.approx(slope)


def test_detail_71_at_100_mpa():
    """N = 2e6 (71/100)^3 = 715 822 cycles, worked by hand."""
    assert Curve(71 * MPA).cycles(100 * MPA) == pytest.approx(715_822, rel=1e-6)


def test_a_spectrum_of_two_ranges_by_hand():
    """Per metre 0.01 cycles of 100 MPa and 1 of 20 MPa (below the cut-off 28.7 MPa of detail 71)."""
    counts = np.tile([10.0, 1000.0], (20, 1))
    found = damage_per_metre(np.array([100.0, 20.0]) * MPA, counts, np.full(20, 1000.0), Curve(71 * MPA))
    assert found.value == pytest.approx(0.01 / 715_822, rel=1e-6)
    life = distance_to_crack(found)
    assert life.value == pytest.approx(71_582_200, rel=1e-6)
    assert life.low <= life.value <= life.high
    assert life.high / life.low < 1.25  # equal folds: only the one unseen largest fold widens it
    doubled = damage_per_metre(
        np.array([100.0, 20.0]) * MPA, counts, np.full(20, 1000.0), Curve(71 * MPA), factor=2
    )
    assert doubled.value > 8 * found.value  # the small ranges do damage now, too


def test_no_damage_is_said_as_no_bound_rather_than_as_endless_life():
    found = damage_per_metre(np.array([10.0]) * MPA, np.ones((20, 1)), np.full(20, 1e3), Curve(71 * MPA))
    life = distance_to_crack(found)
    assert (found.value, found.high) == (0, np.inf)
    assert (life.value, life.low) == (np.inf, 0)


def test_interval_holds_the_true_damage_of_rare_large_cycles():
    """Few large cycles carry the damage: 20 folds of Poisson counts, 400 repeats, at least 92 %."""
    random = np.random.default_rng(5)
    counts = random.poisson([0.5, 4.0], (400, 20, 2)).astype(float)
    ranges, curve = np.array([300.0, 100.0]) * MPA, Curve(71 * MPA)
    found = damage_per_metre(ranges, counts, np.full(20, 1000.0), curve)
    truth = curve.damage(ranges, np.array([0.5, 4.0])).sum() / 1000
    assert np.mean((found.low <= truth) & (truth <= found.high)) >= 0.92
