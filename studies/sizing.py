"""The question turned round: what must be built to meet a stated risk over a stated distance, with intervals.

Clearance, pivot travel and mount travel follow from the fitted extremes of each candidate. Where a quantity
was swept (bracket spacing, spring rate, wheelbase ...), the largest or smallest value that still keeps a limit
is read between the swept values, where the logarithm of what counts crosses what is allowed.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from studies.candidates import Candidate, candidates, items, swept, values
from studies.extremes import Extremes, fit_extremes
from studies.fatigue_life import bracket_damage, has_fatigue
from studies.limits import Limit
from studies.statistics import Array, Interval, bunch_size, rate


@dataclass(frozen=True)
class Need:
    """What one item of one candidate needs, in SI units.

    Attributes
    ----------
    candidate : int
    what, item : str
    built : float
        What is there now; NaN if nothing is built to a figure.
    needed : Interval
        Build the upper end to be on the safe side of the luck of the draw.
    poor : bool
        The extremes do not look like the fitted distribution.
    """

    candidate: int
    what: str
    item: str
    built: float
    needed: Interval
    poor: bool


@dataclass(frozen=True)
class Crossing:
    """Value of a swept quantity at which a limit is just kept.

    Attributes
    ----------
    quantity : str
    others : str
        The other choices, in words.
    limit : Limit
    keeps_below : bool
        Whether the limit is kept below the value (else above).
    at : Interval
        Infinite ends: beyond the swept values. Kept below: inf if all keep it, -inf if none does; kept above: reversed.
    """

    quantity: str
    others: str
    limit: Limit
    keeps_below: bool
    at: Interval


def needs(ds: xr.Dataset, risk: float, over: float, course: int = 0) -> list[Need]:
    """Return what must be built so that each figure is passed with probability ``risk`` within ``over`` metres.

    Gaps: clearance when standing level. Pivots: angle to the stop. Mounts: free travel.
    """
    found = []
    for what, variable, dim in (
        ("clearance", "gap_minimum", "gap"),
        ("pivot angle", "pivot_angle_maximum", "pivot"),
        ("mount travel", "mount_travel_maximum", "mount_point"),
    ):
        if variable not in ds:
            continue
        data, distance = values(ds, variable, course), values(ds, "distance", course)
        static = values(ds, "gap_static") if what == "clearance" else np.full(data.shape[::2], np.nan)
        for c in candidates(ds):
            for k, item in enumerate(items(ds, dim)):
                built = float(static[c.index, k])
                used = built - data[c.index, :, k] if what == "clearance" else data[c.index, :, k]
                fitted = _fit(used, distance[c.index])
                if fitted is not None:
                    found.append(Need(c.index, what, item, built, fitted.risked(risk, over), fitted.poor))
    return found


def crossings(ds: xr.Dataset, limits: list[Limit], course: int = 0) -> list[Crossing]:
    """Return, for every swept number and limit, the value at which the limit is just kept, others held."""
    found = []
    everyone = candidates(ds)
    for name in swept(ds):
        if ds.sizes[name] < 2 or ds[name].dtype.kind not in "fiu":
            continue
        at = np.asarray(ds[name].values, dtype=float)
        for limit in limits:
            if limit.kind.variable not in ds:
                continue
            for row in _rows(everyone, name):
                margins = np.array([_margin(ds, limit, c, course) for c in row])  # (values, 3)
                crossing = _crossing(name, limit, row[0], at, margins)
                if crossing is not None:
                    found.append(crossing)
    return found


def _fit(largest: Array, distance: Array) -> Extremes | None:
    good = np.isfinite(largest)
    return fit_extremes(largest, float(distance[good].mean())) if good.any() else None


def _rows(everyone: list[Candidate], name: str) -> list[list[Candidate]]:
    """Candidates that differ in one swept quantity only, in its order."""
    rows: dict[tuple[int, ...], list[Candidate]] = {}
    for c in everyone:
        rows.setdefault(tuple(k for n, k in c.place.items() if n != name), []).append(c)
    return [sorted(row, key=lambda c: c.place[name]) for row in rows.values()]


def _margin(ds: xr.Dataset, limit: Limit, c: Candidate, course: int) -> tuple[float, float, float]:
    """Logarithm of rate over allowed rate (value, low, high), of the worst item: below 0 the limit is kept."""
    kind = limit.kind
    if kind.damage:
        return _damage_margin(ds, limit, c, course)
    data, distance = values(ds, kind.variable, course), values(ds, "distance", course)[c.index]
    if kind.rate:
        names = items(ds, kind.dim)
        counts = data[..., names.index(limit.item)] if limit.item else data.sum(axis=-1)
        bunch = bunch_size(counts, values(ds, "distance", course))
        return _logs(rate(counts[c.index], distance, bunch=bunch), limit.value)
    sign = -1.0 if kind.least else 1.0
    columns = sign * (data[c.index] if kind.dim else data[c.index][:, None])
    names = items(ds, kind.dim) if kind.dim else [""]
    allowed = -np.log1p(-limit.risk) / limit.over
    worst = (-np.inf, -np.inf, -np.inf)
    for k, name in enumerate(names):
        fitted = _fit(columns[:, k], distance) if limit.item in ("", name) else None
        if fitted is not None:
            worst = max(worst, _logs(fitted.passings(sign * limit.value), allowed))
    return worst


def _damage_margin(ds: xr.Dataset, limit: Limit, c: Candidate, course: int) -> tuple[float, float, float]:
    """The same for the distance to a crack: damage per metre over what is allowed."""
    worst = (-np.inf, -np.inf, -np.inf)
    if has_fatigue(ds):
        rates = bracket_damage(ds, course).rate[c.index]
        for k, name in enumerate(items(ds, limit.kind.dim)):
            if limit.item in ("", name) and rates.value[k] > 0:
                worst = max(worst, _logs(rates[k], 1 / limit.value))
    return worst


def _logs(passings: Interval, allowed: float) -> tuple[float, float, float]:
    with np.errstate(divide="ignore"):
        value, low, high = (
            float(np.log(end) - np.log(allowed)) for end in (passings.value, passings.low, passings.high)
        )
    return value, low, high


def _crossing(name: str, limit: Limit, first: Candidate, at: Array, margins: Array) -> Crossing | None:
    """Read where the margin crosses 0; None where it is not one crossing or nothing is known."""
    value = margins[:, 0]
    if np.isnan(margins).any() or np.isneginf(value).all():
        return None
    trend = value[-1] - value[0]
    rising = bool(trend > 0) if np.isfinite(trend) else bool(value[-1] > value[0])
    others = ", ".join(text for n, text in first.texts.items() if n != name)
    # A larger rate than found moves the crossing into what is kept for certain, a smaller one out of it.
    ends = [_zero(at, margins[:, k], rising) for k in range(3)]
    low, high = sorted(ends[1:]) if np.isfinite(ends[1:]).all() else (min(ends[1:]), max(ends[1:]))
    return Crossing(
        name, others, limit, rising, Interval(np.asarray(ends[0]), np.asarray(low), np.asarray(high))
    )


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
