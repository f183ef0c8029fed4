"""What each candidate comes to: the headline numbers of a results Dataset, with intervals, ready to compare.

Two kinds. A rate counts something per distance. A level is passed about once in a stated distance; for an
output of several items (gaps, brackets, mount points) the worst item of each candidate counts.
"""

import math
from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import items, values
from crossaxle.studies.analysis.comparison import Comparison, compare_levels, compare_rates
from crossaxle.studies.analysis.fatigue_life import bracket_damage, has_fatigue
from crossaxle.studies.base.endurance import CYCLES_AT_LIMIT
from crossaxle.studies.base.intervals import Interval, bunch_size, met_once, rate
from crossaxle.studies.base.number_format import kilometres, shown_unit

KM = 1000.0


@dataclass(frozen=True)
class Outcome:
    """One number per candidate, in the unit shown; less is better.

    Attributes
    ----------
    key, heading, unit, meaning : str
        Name in data tables, name and unit in print, and a sentence that explains it.
    estimate : Interval, shape (candidates,)
    item : tuple of str
        Which gap, bracket ... the number belongs to, per candidate; empty where there is only one.
    samples, distance : (candidates, samples)
        What it was made of: amounts for a rate, largest values for a level, and metres driven; SI units.
    scale : float
        Factor from SI to the unit shown.
    every : float
        Distance [m] in which a level is passed once; 0 for a rate.
    folded : bool
        Whether ``samples`` and ``distance`` are sums over folds of samples.
    """

    key: str
    heading: str
    unit: str
    meaning: str
    estimate: Interval
    item: tuple[str, ...]
    samples: Array
    distance: Array
    scale: float
    every: float = 0.0
    folded: bool = False

    def compare(self, a: int, b: int) -> Comparison:
        """Compare candidates a and b on common ground; ``chance_less`` is the chance that a is better."""
        if self.every:
            found = compare_levels(self.samples[a], self.samples[b], self.distance[a], self.every)
        else:
            bunch = bunch_size(self.samples, self.distance)
            found = compare_rates(
                self.samples[a], self.samples[b], self.distance[a], self.distance[b], bunch=bunch
            )
        return Comparison(
            found.difference.times(self.scale), found.ratio, found.chance_less, found.correlation
        )


def headline(ds: xr.Dataset, course: int = 0) -> list[Outcome]:
    """Return the outcomes of page one, as far as the Dataset has them."""
    every = once_in(ds, course)
    found = [wheel_rate(ds, course), free_rate(ds, course)]
    if "gap_minimum" in ds and ds.sizes["gap"]:
        found.append(clearance_used(ds, every, course))
    for name, heading, dim, meaning in _LEVELS:
        if name in ds and (not dim or ds.sizes[dim]) and np.isfinite(values(ds, name, course)).any():
            unit, factor = shown_unit(str(ds[name].attrs.get("units", "")))
            extreme, item = values(ds, name, course), items(ds, dim) if dim else []
            found.append(level(ds, name, heading, unit, meaning, extreme, item, factor, every, course))
    if has_fatigue(ds):
        found.append(life_used(ds, course))
    return found


_LEVELS = (
    ("bracket_stress_maximum", "Bracket stress", "bracket", "Stress at the root of the worst tank bracket"),
    ("body_torque_maximum", "Body torque", "", "Torque that the mount puts into the body"),
    ("frame_twist_maximum", "Frame twist", "", "Twist of the frame between its first and last axle"),
    ("body_roll_maximum", "Lean", "", "Roll of the body relative to the ground under the wheels"),
    ("mount_travel_maximum", "Mount travel", "mount_point", "Movement between frame and body at a mount"),
)


def once_in(ds: xr.Dataset, course: int = 0) -> float:
    """Return a round distance [m] that each candidate drove about ten times, and no shorter than a sample.

    There must be a result (see ``candidates.has_results``).
    """
    distance = np.nan_to_num(values(ds, "distance", course))
    driven = distance.sum(axis=1)
    longest = max(float(driven.min(where=driven > 0, initial=np.inf)) / 10.0, float(distance.max()))
    power = 10.0 ** math.floor(math.log10(longest))
    return power * max(step for step in (1, 2, 5) if step * power <= longest)


def wheel_rate(ds: xr.Dataset, course: int = 0, wheels: list[int] | None = None) -> Outcome:
    """Return unload events per km, of all wheels together or of some."""
    below = float(ds.attrs.get("unload_below", 0.10))
    meaning = (
        f"How often the load on a wheel falls below {100 * below:.0f} % of what it carries standing level. "
        "All wheels are counted together."
    )
    return _events(ds, "unload_events", "Wheel-unload events", meaning, 1.0, course, wheels)


def free_rate(ds: xr.Dataset, course: int = 0) -> Outcome:
    """Return how often a wheel hangs free per 100 km."""
    meaning = "How often a wheel carries nothing at all. All wheels are counted together."
    return _events(ds, "free_events", "Wheel free", meaning, 100.0, course, None)


def clearance_used(ds: xr.Dataset, every: float, course: int = 0) -> Outcome:
    """Return how much of its built clearance the worst gap uses up [%]; over 100 % it closes."""
    built = values(ds, "gap_static")[:, None, :]
    used = 1.0 - values(ds, "gap_minimum", course) / np.where(built > 0, built, np.nan)
    meaning = "Share of its built clearance that the worst gap uses up; above 100 % it closes"
    return level(
        ds, "gap_minimum", "Clearance used", "%", meaning, used, items(ds, "gap"), 100.0, every, course
    )


def life_used(ds: xr.Dataset, course: int = 0) -> Outcome:
    """Return the share of its fatigue life [%] that the worst bracket uses up in 1,000 km; 0 without damage."""
    damage = bracket_damage(ds, course)
    names, rates = items(ds, "bracket"), damage.rate
    known = np.asarray(np.isfinite(rates.value).any(axis=1))
    worst = np.argmax(np.where(np.isfinite(rates.value), rates.value, -np.inf), axis=1)
    rows = np.arange(len(worst))
    # Damage is no count of events: it is compared in parts of a millionth of the worst fold of all; without any
    # damage, in cycles at the constant amplitude limit.
    done = damage.done[rows, worst]
    largest = float(np.nanmax(done, initial=0.0))
    part = largest / 1e6 or 1 / CYCLES_AT_LIMIT
    meaning = (
        "Share of the fatigue life of the worst tank bracket used up in 1,000 km, by the study's factors on stress "
        "ranges; a crack is due at 100 %."
    )
    return Outcome(
        "bracket_life_used",
        "Bracket life used",
        "% in 1,000 km",
        meaning,
        Interval(*(getattr(rates, end)[rows, worst] for end in ("value", "low", "high"))).times(1e8),
        tuple(names[k] if some else "" for k, some in zip(worst, known, strict=True)),
        done / part,
        damage.distance,
        part * 1e8,
        folded=True,
    )


def level(
    ds: xr.Dataset,
    name: str,
    heading: str,
    unit: str,
    meaning: str,
    extreme: Array,
    names: list[str],
    factor: float,
    every: float,
    course: int,
) -> Outcome:
    """Return the level of an extreme that is met about once in ``every`` metres, of its worst item.

    Parameters
    ----------
    extreme : (candidates, samples) or (candidates, samples, items)
        Largest values in SI units.
    names : list of str
        Of the items; empty if there are none.
    factor : float
        From SI to the unit shown.
    """
    distance = values(ds, "distance", course)
    item = ("",) * len(extreme)
    if names:
        by_item = np.moveaxis(extreme, -1, 1)
        levels = met_once(by_item, distance[:, None, :], every).value
        worst = np.argmax(np.where(np.isnan(levels), -np.inf, levels), axis=1)
        item = tuple(names[k] for k in worst)
        extreme = by_item[np.arange(len(worst)), worst]
    estimate = met_once(extreme, distance, every).times(factor)
    meaning = f"{meaning}; met about once in {kilometres(every)}."
    key = f"{name}_once_in_{every / KM:g}_km"
    return Outcome(key, heading, unit, meaning, estimate, item, extreme, distance, factor, every)


def _events(
    ds: xr.Dataset,
    name: str,
    heading: str,
    meaning: str,
    per_km: float,
    course: int,
    wheels: list[int] | None,
) -> Outcome:
    counts = values(ds, name, course)
    counts = (counts if wheels is None else counts[:, :, wheels]).sum(axis=-1)
    distance = values(ds, "distance", course)
    scale = KM * per_km
    estimate = rate(counts, distance, bunch=bunch_size(counts, distance)).times(scale)
    unit = "per km" if per_km == 1 else f"per {per_km:g} km"
    none = ("",) * len(counts)
    return Outcome(name, heading, unit, meaning, estimate, none, counts, distance, scale)
