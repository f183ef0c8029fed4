"""Fatigue of welded details: endurance curve, damage of counted stress ranges, distance to a crack.

EN 1993-1-9:2005, section 7.1 (normal stress): a detail category dsC is the range borne 2 million times; the
slope is 3 down to the constant amplitude limit dsD at 5 million cycles, 5 down to the cut-off dsL at 100
million, and smaller ranges do no damage. Damage adds up linearly (Palmgren-Miner); a crack is due at 1. The
partial factors of the standard and a factor for dynamics are the caller's to apply to the ranges.
"""

from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.studies.base.intervals import Interval, rate

CYCLES_AT_CATEGORY = 2e6
CYCLES_AT_LIMIT = 5e6
CYCLES_AT_CUT_OFF = 1e8
STEEP, FLAT = 3, 5


@dataclass(frozen=True)
class Curve:
    """Endurance curve of one detail category.

    Attributes
    ----------
    category : float
        Range borne 2 million times, dsC [Pa].
    """

    category: float

    def __post_init__(self) -> None:
        if not self.category > 0:
            raise ValueError(f"a detail category of {self.category} Pa was given; it must be positive")

    @property
    def limit(self) -> float:
        """Constant amplitude fatigue limit dsD [Pa] = (2/5)^(1/3) dsC."""
        return self.category * float((CYCLES_AT_CATEGORY / CYCLES_AT_LIMIT) ** (1 / STEEP))

    @property
    def cut_off(self) -> float:
        """Largest range without damage dsL [Pa] = (5/100)^(1/5) dsD."""
        return self.limit * float((CYCLES_AT_LIMIT / CYCLES_AT_CUT_OFF) ** (1 / FLAT))

    def cycles(self, stress_range: Array | float) -> Array:
        """Return the cycles to a crack at a stress range [Pa]; infinite at or below the cut-off."""
        s = np.asarray(stress_range, dtype=float)
        with np.errstate(divide="ignore"):
            steep = CYCLES_AT_LIMIT * (self.limit / s) ** STEEP
            flat = CYCLES_AT_LIMIT * (self.limit / s) ** FLAT
        found: Array = np.where(s >= self.limit, steep, np.where(s > self.cut_off, flat, np.inf))
        return found

    def damage(self, stress_range: Array | float, counts: Array | float = 1.0, width: float = 0.0) -> Array:
        """Return the damage of each stress range [Pa] times its count of cycles.

        ``width``: of the bins [Pa] whose middles the ranges are; cycles count as spread evenly over their bin, so that
        no edge of a bin decides whether the cut-off is passed.
        """
        if width <= 0:
            each = 1 / self.cycles(stress_range)
        else:
            middle = np.asarray(stress_range, dtype=float)
            each = (self._summed(middle + width / 2) - self._summed(middle - width / 2)) / width
        found: Array = np.asarray(counts, dtype=float) * each
        return found

    def _summed(self, s: Array) -> Array:
        """Integral of 1/cycles over the range from 0 to s."""
        flat, steep = (
            (np.clip(s, low, high) ** (m + 1) - low ** (m + 1)) / ((m + 1) * CYCLES_AT_LIMIT * self.limit**m)
            for m, low, high in ((FLAT, self.cut_off, self.limit), (STEEP, self.limit, np.inf))
        )
        total: Array = flat + steep
        return total


def damage_per_metre(
    ranges: Array,
    counts: Array,
    distance: Array,
    curve: Curve,
    factor: float = 1.0,
    level: float = 0.95,
    width: float = 0.0,
) -> Interval:
    """Return damage per metre with its interval, folds of samples being the unit.

    Parameters
    ----------
    ranges : (bins,)
        Stress ranges, the middles of the counted bins [Pa].
    counts : (..., folds, bins)
        Cycles counted.
    distance : (..., folds)
        Metres driven in each fold.
    curve : Curve
    factor : float
        Multiplies all ranges: dynamics, partial factors, hot spots.
    width : float
        Of the bins [Pa]; 0 for ranges that are exactly those given.

    Returns
    -------
    Interval of shape (...)
        Without upper bound where no counted range does damage.
    """
    damage = curve.damage(factor * ranges, counts, factor * width).sum(axis=-1)
    # Damage is no count of events: in parts of a millionth of the worst fold only the spread between folds counts.
    worst = damage.max(axis=-1)
    part = np.where(worst > 0, worst, 1.0) / 1e6
    found = rate(damage / part[..., None], distance, level=level, bunch=1.0)
    bound = np.where(worst > 0, found.high * part, np.inf)
    return Interval(found.value * part, found.low * part, bound)


def distance_to_crack(damage: Interval) -> Interval:
    """Return metres to damage 1; infinite, with no lower bound, where no counted range does damage."""
    with np.errstate(divide="ignore"):
        return Interval(1 / damage.value, 1 / damage.high, 1 / damage.low)
