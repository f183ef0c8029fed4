"""How far a swept value can go and keep the stated limits, others held: read between the swept values.

Widest bracket spacing that keeps the stress, stiffest spring that keeps the unload limit, longest wheelbase that keeps
all. Between two swept values the logarithm of what counts (events, passings, damage per distance, over what is
allowed) is taken as linear, which never turns; a limit is kept up to its first crossing. Passings of a level
follow from the fitted extremes, or are counted where the fit is poor.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate, candidates, items, swept, values
from crossaxle.studies.analysis.extremes import fit_extremes
from crossaxle.studies.analysis.fatigue_life import bracket_damage, has_fatigue
from crossaxle.studies.analysis.verdicts import chosen_wheels
from crossaxle.studies.base.intervals import Interval, bunch_size, rate
from crossaxle.studies.study.limits import Limit

Margin = tuple[float, float, float]
_NEVER: Margin = (-np.inf, -np.inf, -np.inf)


@dataclass(frozen=True)
class Crossing:
    """Value of a swept quantity at which a limit is just kept.

    Attributes
    ----------
    quantity : str
    others : dict of str to int
        The other swept quantities and the places of their values.
    limit : Limit or None
        None: all stated limits together.
    keeps_below : bool
        Whether the limit is kept below the value (else above).
    at : Interval
        Infinite ends: beyond the swept values. Kept below: inf if all keep it, -inf if none does; kept above: reversed.
    """

    quantity: str
    others: dict[str, int]
    limit: Limit | None
    keeps_below: bool
    at: Interval

    @property
    def kept_by_all(self) -> bool:
        """Whether every swept value keeps it, so that the sweep does not tell how far one can go."""
        return bool(self.at.value == (np.inf if self.keeps_below else -np.inf))

    @property
    def kept_by_none(self) -> bool:
        """Whether no swept value keeps it."""
        return bool(self.at.value == (-np.inf if self.keeps_below else np.inf))


def crossings(ds: xr.Dataset, limits: list[Limit], course: int = 0) -> list[Crossing]:
    """Return, for every swept number, the values at which each limit, and all together, are just kept, others held."""
    found = []
    everyone = candidates(ds)
    known = [limit for limit in limits if limit.kind.variable in ds]
    for name in swept(ds):
        if ds.sizes[name] < 2 or ds[name].dtype.kind not in "fiu":
            continue
        at = np.asarray(ds[name].values, dtype=float)
        for row in _rows(everyone, name):
            others = {n: k for n, k in row[0].place.items() if n != name}
            own = []
            for limit in known:
                margins = np.array([_margin(ds, limit, c, course) for c in row])  # (values, 3)
                own += [Crossing(name, others, limit, below, x) for below, x in _ends(at, margins)]
            found += own
            if len({c.limit for c in own}) > 1:
                found += _together(name, others, own)
    return found


def _together(name: str, others: dict[str, int], own: list[Crossing]) -> list[Crossing]:
    """Where all limits are kept: the nearest of the crossings from either side."""
    found = []
    for below in (True, False):
        same = [c.at for c in own if c.keeps_below == below]
        if not same:
            continue
        pick = np.min if below else np.max
        ends = [np.asarray(pick([getattr(at, end) for at in same])) for end in ("value", "low", "high")]
        found.append(Crossing(name, others, None, below, Interval(*ends)))
    if len(found) == 2 and not found[0].at.value > found[1].at.value:
        # What one limit keeps another misses.
        nowhere = np.asarray(-np.inf)
        return [Crossing(name, others, None, True, Interval(nowhere, nowhere, found[0].at.high))]
    return [c for c in found if not c.kept_by_all] or found[:1]


def _rows(everyone: list[Candidate], name: str) -> list[list[Candidate]]:
    """Candidates that differ in one swept quantity only, in its order."""
    rows: dict[tuple[int, ...], list[Candidate]] = {}
    for c in everyone:
        rows.setdefault(tuple(k for n, k in c.place.items() if n != name), []).append(c)
    return [sorted(row, key=lambda c: c.place[name]) for row in rows.values()]


def _margin(ds: xr.Dataset, limit: Limit, c: Candidate, course: int) -> Margin:
    """Logarithm of rate over allowed rate (value, low, high), each of its worst item: below 0 the limit is kept."""
    kind = limit.kind
    if kind.damage:
        return _damage_margin(ds, limit, c, course)
    data, distance = values(ds, kind.variable, course), values(ds, "distance", course)[c.index]
    if kind.rate:
        counts = chosen_wheels(ds, limit, data)
        bunch = bunch_size(counts, values(ds, "distance", course))
        return _logs(rate(counts[c.index], distance, bunch=bunch), limit.value)
    sign = -1.0 if kind.least else 1.0
    columns = data[c.index] if kind.dim else data[c.index][:, None]
    names = items(ds, kind.dim) if kind.dim else [""]
    worst = _NEVER
    for k, name in enumerate(names):
        good = np.isfinite(columns[:, k])
        if limit.item not in ("", name) or not good.any():
            continue
        fitted = fit_extremes(sign * columns[:, k], float(distance[good].mean()))
        # a fit tells how far off a limit is that was never passed, which counting cannot
        if fitted is None or fitted.poor:
            found = rate(limit.passed(columns[:, k]), distance, bunch=1.0)
        else:
            found = fitted.passings(sign * limit.value)
        worst = _worse(worst, _logs(found, limit.allowed))
    return worst


def _damage_margin(ds: xr.Dataset, limit: Limit, c: Candidate, course: int) -> Margin:
    """The same for the distance to a crack: damage per metre over what is allowed."""
    worst = _NEVER
    if has_fatigue(ds):
        rates = bracket_damage(ds, course).rate[c.index]
        for k, name in enumerate(items(ds, limit.kind.dim)):
            if limit.item in ("", name) and rates.value[k] > 0:
                worst = _worse(worst, _logs(rates[k], 1 / limit.value))
    return worst


def _worse(a: Margin, b: Margin) -> Margin:
    return max(a[0], b[0]), max(a[1], b[1]), max(a[2], b[2])


def _logs(passings: Interval, allowed: float) -> Margin:
    with np.errstate(divide="ignore"):
        value, low, high = (
            float(np.log(end) - np.log(allowed)) for end in (passings.value, passings.low, passings.high)
        )
    return value, low, high


def _ends(at: Array, margins: Array) -> list[tuple[bool, Interval]]:
    """Where the margin (values, 3: value, low, high) crosses 0, and whether it is kept below.

    Two crossings where only the middle keeps it; none where nothing is known.
    """
    value = margins[:, 0]
    if np.isnan(margins).any() or np.isneginf(margins).all():
        return []
    best = int(np.argmin(value))
    if 0 < best < value.size - 1 and value[best] <= 0 < min(value[0], value[-1]):
        upper, lower = slice(best, None), slice(None, best + 1)
        return [
            (True, _interval(at[upper], margins[upper], True)),
            (False, _interval(at[lower], margins[lower], False)),
        ]
    rising = bool(value[-1] > value[0]) or bool((value <= 0).all())
    return [(rising, _interval(at, margins, rising))]


def _interval(at: Array, margins: Array, rising: bool) -> Interval:
    # A larger rate than found moves the crossing into what is kept for certain, a smaller one out of it.
    ends = [_zero(at, margins[:, k], rising) for k in range(3)]
    return Interval(np.asarray(ends[0]), np.asarray(min(ends[1:])), np.asarray(max(ends[1:])))


def _zero(at: Array, margin: Array, rising: bool) -> float:
    """First crossing from kept to not kept, linear between the values; infinite where all or none is kept."""
    order = np.argsort(at) if rising else np.argsort(at)[::-1]
    x, y = at[order], margin[order]
    if y[0] > 0:
        return -np.inf if rising else np.inf  # not even the best value keeps it
    beyond = np.flatnonzero(y > 0)
    if beyond.size == 0:
        return np.inf if rising else -np.inf  # all keep it
    k = int(beyond[0])
    if not np.isfinite(y[k - 1]):
        return float(x[k - 1])
    share = -y[k - 1] / (y[k] - y[k - 1]) if np.isfinite(y[k]) else 0.0
    return float(x[k - 1] + share * (x[k] - x[k - 1]))
