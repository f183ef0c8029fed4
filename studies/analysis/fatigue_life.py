"""Fatigue of the brackets in a results Dataset: damage per distance and distance to a crack, with intervals.

Cycles are those the samples counted, their ranges times the study's factor for dynamics and its partial factor; curve
and damage sum are those of EN 1993-1-9:2005 (`crossaxle.studies.base.endurance`). Folds of samples are the unit.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.sim.codes import NOT_FINITE
from crossaxle.studies.analysis.candidates import candidates, items, values
from crossaxle.studies.base.endurance import Curve, damage_per_metre, distance_to_crack
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import number, quantity
from crossaxle.studies.study.aims import aims

CYCLES = "bracket_cycles_histogram"
CATEGORY = "bracket_detail_category"

ENDLESS = 1e10
"""From this distance to a crack on none is expected [m]: ten million km, more than any truck drives."""


@dataclass(frozen=True)
class Damage:
    """Damage that each fold of samples did; NaN for brackets without a detail category and folds without samples.

    Attributes
    ----------
    done : (candidates, brackets, folds)
        Sum of cycles over cycles to a crack.
    distance : (candidates, folds)
        With a posture [m].
    rate : Interval, shape (candidates, brackets)
        Damage per metre; without upper bound where no counted range does damage, without bounds from a single fold.
    """

    done: Array
    distance: Array
    rate: Interval


@dataclass(frozen=True)
class Life:
    """Fatigue of one bracket of one candidate.

    Attributes
    ----------
    candidate : int
    bracket : str
    category : float
        [Pa]
    damage : Interval
        Per metre; a crack is due at 1.
    distance : Interval
        To a crack [m]; infinite, without lower bound, where no counted range does damage.
    largest : float
        Upper edge of the highest bin that holds a cycle, no factor applied [Pa].
    beyond : float
        Cycles in the last bin, whose ranges may be larger than the bin: the damage is then larger than said.
    """

    candidate: int
    bracket: str
    category: float
    damage: Interval
    distance: Interval
    largest: float
    beyond: float

    @property
    def endless(self) -> bool:
        """Whether no crack is expected: no counted range does damage, or less than one crack in `ENDLESS`."""
        return float(self.distance.value) >= ENDLESS


def has_fatigue(ds: xr.Dataset) -> bool:
    """Tell whether cycles of any bracket were counted."""
    return CYCLES in ds and CATEGORY in ds


def bracket_damage(ds: xr.Dataset, course: int = 0) -> Damage:
    """Return the damage of all brackets on one course, under the factors that the study states."""
    counts = values(ds, CYCLES, course)  # (candidates, folds, brackets, bins)
    category, distance = values(ds, CATEGORY), fold_distance(ds, course)
    driven = distance > 0
    ranges, width = _bins(ds)
    factor = aims(ds).fatigue.combined
    done = np.full((*category.shape, counts.shape[1]), np.nan)
    rate = np.full((3, *category.shape), np.nan)
    for c, k in np.argwhere(np.isfinite(category)):
        curve = Curve(float(category[c, k]))
        own, exposed = counts[c, driven[c], k], distance[c, driven[c]]
        done[c, k, driven[c]] = curve.damage(factor * ranges, own, factor * width).sum(axis=-1)
        if exposed.size:
            found = damage_per_metre(ranges, own, exposed, curve, factor, width=width)
            ends = (found.low, found.high) if exposed.size > 1 else (0.0, np.inf)
            rate[:, c, k] = found.value, *ends
    return Damage(done, np.where(driven, distance, np.nan), Interval(rate[0], rate[1], rate[2]))


def lives(ds: xr.Dataset, course: int = 0) -> list[Life]:
    """Return the fatigue of every candidate's brackets that have a detail category; none if none was counted."""
    if not has_fatigue(ds):
        return []
    counts, category = values(ds, CYCLES, course).sum(axis=1), values(ds, CATEGORY)
    rate = bracket_damage(ds, course).rate
    ranges, width = _bins(ds)
    found = []
    for c in candidates(ds):
        for k, bracket in enumerate(items(ds, "bracket")):
            if not np.isfinite(rate.value[c.index, k]):
                continue
            own, damage = counts[c.index, k], rate[c.index, k]
            held = np.flatnonzero(own)
            largest = float(ranges[held[-1]] + width / 2) if held.size else 0.0
            life = distance_to_crack(damage)
            found.append(
                Life(c.index, bracket, float(category[c.index, k]), damage, life, largest, float(own[-1]))
            )
    return found


def distance_text(distance: Interval, between: str = " to ") -> str:
    """Write a distance to a crack [m], shorter than `ENDLESS`, and its interval in km, to three digits."""
    low, high = (number(float(end) / 1e3) for end in (distance.low, distance.high))
    ends = f"{low}{between}{high}" if float(distance.high) < ENDLESS else f"at least {low}"
    return f"{quantity(float(distance.value) / 1e3, 'km')} ({ends})"


def fold_distance(ds: xr.Dataset, course: int = 0) -> Array:
    """Return the distance with a posture that each fold's samples drove, (candidates, folds) [m].

    Samples without numbers have no cycles and do not count; all others gave theirs.
    """
    driven, status = ds["distance"], ds["sample_status"]
    for lost in ("tipped_distance", "no_equilibrium_distance"):
        driven = driven - ds[lost].fillna(0.0) if lost in ds else driven
    counted = driven.where(status < NOT_FINITE, 0.0)
    # without the status, by which values() would leave out samples that drove a part of their way
    each = values(ds.drop_vars("sample_status").assign(driven=counted.fillna(0.0)), "driven", course)
    folds = np.arange(each.shape[1]) % ds.sizes["fold"]
    return np.stack([each[:, folds == fold].sum(axis=1) for fold in range(ds.sizes["fold"])], axis=1)


def _bins(ds: xr.Dataset) -> tuple[Array, float]:
    """Middles and width of the bins of range [Pa]."""
    coordinate = ds["bracket_cycles_bin"]
    return np.asarray(coordinate.values, dtype=float), float(coordinate.attrs["bin_width"])
