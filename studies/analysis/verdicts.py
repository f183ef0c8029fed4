"""Does a candidate keep the stated limits: meets, misses, or not decided yet, and what would decide it.

A rate is judged by its counted events, a distance to a crack by the damage of the folds of samples. A level is
judged by the samples that passed it if enough distance was driven to see the allowed number of passings; beyond that
by the fitted extremes, if the fit is not poor. A verdict stands when its opposite has a probability below 2.5 %, or
less where results are looked at several times while they grow (`doubt_of_a_look`).
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from scipy.special import gammainc, ndtri

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import candidates, items, values
from crossaxle.studies.analysis.extremes import fit_extremes
from crossaxle.studies.analysis.fatigue_life import bracket_damage, has_fatigue
from crossaxle.studies.base.endurance import CYCLES_AT_LIMIT
from crossaxle.studies.base.intervals import FEW, bunch_size, rate, spread
from crossaxle.studies.study.limits import Limit

DOUBT = 0.025
"""Probability of its opposite that a verdict may leave."""
ENOUGH = 4.0
"""Allowed passings within the distance driven from which counting can decide."""
MOST_FURTHER = 1000.0
"""Further samples are not foretold beyond this multiple of those at hand."""

MEETS, MISSES, OPEN = "meets", "misses", "not decided yet"


@dataclass(frozen=True)
class Verdict:
    """What is known about one limit and one candidate.

    Attributes
    ----------
    candidate : int
    limit : Limit
    item : str
        The item that decided: the one most likely to miss.
    status : str
        ``MEETS``, ``MISSES`` or ``OPEN``.
    probability : float
        That the candidate keeps the limit.
    further : float
        Further samples that would probably decide; 0 if decided, inf if that cannot be foretold.
    basis : str
        ``counted`` or ``extrapolated``.
    """

    candidate: int
    limit: Limit
    item: str
    status: str
    probability: float
    further: float
    basis: str


@dataclass(frozen=True)
class _Judged:
    """Probability from both ends (cautious, hopeful), samples needed in multiples of those at hand, basis."""

    cautious: float
    hopeful: float
    times: float
    basis: str
    doubt: float

    @property
    def status(self) -> str:
        if self.cautious >= 1 - self.doubt:
            return MEETS
        return MISSES if self.hopeful <= self.doubt else OPEN


def doubt_of_a_look(looks: int) -> float:
    """Doubt that a verdict may leave at each of so many looks, so that over all of them it is no more than `DOUBT`.

    Every look is a chance to be wrong, and the chances add up at the most (Bonferroni's inequality).
    """
    return DOUBT / looks


def verdicts(ds: xr.Dataset, limits: list[Limit], course: int = 0, doubt: float = DOUBT) -> list[Verdict]:
    """Judge every limit for every candidate on one course; items that a candidate lacks are passed over."""
    found = []
    for limit in limits:
        kind = limit.kind
        if kind.variable not in ds:
            continue
        if kind.damage:
            found += _crack_verdicts(ds, limit, course, doubt)
            continue
        data = values(ds, kind.variable, course)
        distance = values(ds, "distance", course)
        if kind.rate:
            summed = chosen_wheels(ds, limit, data)
            bunch = bunch_size(summed, distance)
        for c in candidates(ds):
            n = int(np.isfinite(distance[c.index]).sum())
            if kind.rate:
                judged = {limit.item: _counted(summed[c.index], distance[c.index], limit.value, bunch, doubt)}
            else:
                judged = _judge_levels(ds, limit, data[c.index], distance[c.index], doubt)
            if judged and n:
                found.append(_verdict(c.index, limit, judged, n))
    return found


def _crack_verdicts(ds: xr.Dataset, limit: Limit, course: int, doubt: float) -> list[Verdict]:
    """Judge a distance to a crack for every candidate that has a bracket with a detail category."""
    if not has_fatigue(ds):
        return []
    damage, n = bracket_damage(ds, course), ds.sizes["sample"]
    found = []
    for c in candidates(ds):
        judged = {
            name: _judge_damage(done, damage.distance[c.index], limit.value, doubt)
            for name, done in zip(items(ds, limit.kind.dim), damage.done[c.index], strict=True)
            if np.isfinite(done).any() and limit.item in ("", name)
        }
        if judged:
            found.append(_verdict(c.index, limit, judged, n))
    return found


def _verdict(candidate: int, limit: Limit, judged: dict[str, _Judged], n: int) -> Verdict:
    """Sum up items: one that misses decides; else one that is open; else the least certain one."""
    rank = {MISSES: 0, OPEN: 1, MEETS: 2}
    item = min(judged, key=lambda k: (rank[judged[k].status], judged[k].cautious + judged[k].hopeful))
    one = judged[item]
    further = 0.0 if one.status != OPEN else n * (one.times - 1)
    if further > n * MOST_FURTHER:
        further = float("inf")
    probability = (one.cautious + one.hopeful) / 2
    return Verdict(candidate, limit, item, one.status, probability, float(np.ceil(further)), one.basis)


def chosen_wheels(ds: xr.Dataset, limit: Limit, counts: Array) -> Array:
    """Return counts of all wheels together, or of the named one."""
    if not limit.item:
        whole: Array = counts.sum(axis=-1)
        return whole
    names = items(ds, limit.kind.dim)
    chosen: Array = (
        counts[..., names.index(limit.item)] if limit.item in names else np.full(counts.shape[:-1], np.nan)
    )
    return chosen


def _judge_levels(
    ds: xr.Dataset, limit: Limit, data: Array, distance: Array, doubt: float
) -> dict[str, _Judged]:
    kind = limit.kind
    names = items(ds, kind.dim) if kind.dim else [""]
    columns = data if kind.dim else data[:, None]
    return {
        name: _judge_level(columns[:, k], distance, limit, doubt)
        for k, name in enumerate(names)
        if np.isfinite(columns[:, k]).any() and limit.item in ("", name)
    }


def _judge_damage(done: Array, distance: Array, least: float, doubt: float) -> _Judged:
    """Probability that damage ``done`` (folds,) adds up to a crack no sooner than ``least`` [m].

    It is counted in parts of a millionth of the worst fold. Where there is none at all, a cycle that luck has
    withheld is taken to do the damage of one at the constant amplitude limit.
    """
    part = float(np.nanmax(done)) / 1e6 or 1 / CYCLES_AT_LIMIT
    return _counted(done / part, distance, 1 / least / part, 1.0, doubt)


def _judge_level(extreme: Array, distance: Array, limit: Limit, doubt: float) -> _Judged:
    """Probability that a level is passed seldom enough."""
    allowed, passed = limit.allowed, limit.passed(extreme)
    counted = _counted(passed, distance, allowed, 1.0, doubt)
    if allowed * float(np.nansum(distance)) >= ENOUGH or counted.status == MISSES:
        return counted
    sign = -1.0 if limit.kind.least else 1.0
    fitted = fit_extremes(sign * extreme, float(np.nanmean(distance)))
    if fitted is None or fitted.poor:
        return counted
    rates = fitted.rates(sign * limit.value)
    chance = float((np.sum(rates <= allowed) + 0.5) / (rates.size + 1))
    # Half the interval of the logarithm of the rate shrinks with the root of the number of samples.
    logs = np.log(np.maximum(rates, 1e-300))
    reach = max(float(np.std(logs)), 1e-9)
    off = abs(float(np.median(logs)) - np.log(allowed))
    times = max((float(ndtri(1 - doubt)) * reach / off) ** 2, 1.0) if off > 0 else float("inf")
    return _Judged(chance, chance, times, "extrapolated", doubt)


def _counted(amount: Array, distance: Array, allowed: float, bunch: float, doubt: float) -> _Judged:
    """Probability that a rate is at most ``allowed`` [1/m], from amounts (n,) and distances (n,) [m]."""
    chances = _chances(amount, distance, allowed, bunch, 1.0)
    return _Judged(*chances, _times(amount, distance, allowed, bunch, doubt), "counted", doubt)


def _chances(
    amount: Array, distance: Array, allowed: float, bunch: float, times: float
) -> tuple[float, float]:
    """Return the confidence that the rate is at most ``allowed``, from its upper and its lower end.

    ``times`` as many samples of the same kind are supposed.
    """
    total, driven = times * float(np.nansum(amount)), times * float(np.nansum(distance[np.isfinite(amount)]))
    least = 1.0 + (bunch - 1.0) * max(1.0 - total / FEW, 0.0)
    if total <= 0:
        return 1.0 - float(np.exp(-allowed * driven / least)), 1.0
    size = max(spread(amount, distance), least)
    more = max(float(np.nanmax(amount)), least)
    variance = size * total + more**2
    upper = gammainc((total + more) ** 2 / variance, allowed * driven * (total + more) / variance)
    lower = gammainc(total / size, allowed * driven / size)
    return float(upper), float(lower)


def _times(amount: Array, distance: Array, allowed: float, bunch: float, doubt: float) -> float:
    """Return the multiple of the samples at hand that would decide if the rate stays as found."""
    estimate = rate(amount, distance).value
    if not np.isfinite(estimate) or estimate == allowed:
        return float("inf")

    def decided(times: float) -> bool:
        cautious, hopeful = _chances(amount, distance, allowed, bunch, times)
        return cautious >= 1 - doubt or hopeful <= doubt

    low, high = 1.0, 1.0
    while not decided(high):
        low, high = high, 2 * high
        if high > 2 * MOST_FURTHER:
            return float("inf")
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (low, middle) if decided(middle) else (middle, high)
    return high
