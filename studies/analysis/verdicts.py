"""Does a candidate keep the stated limits: meets, misses, or not decided yet, and what would decide it.

A rate is judged by its counted events, a distance to a crack by the damage of the folds of samples. A level is
judged by the samples that passed it if enough distance was driven to see the allowed number of passings; beyond that
by a search for rare events where one was made, else by the fitted extremes if the fit is not poor. A level far beyond
all that was met, which even a heavy tail does not reach often enough, is kept whatever the fit.

All verdicts of one call are tested together: the probability that any of those that stand is wrong is below 2.5 %
(S. Holm, Scand. J. Statist. 6, 1979, 65-70), or less where results are looked at several times while they grow
(`doubt_of_a_look`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import xarray as xr
from scipy.special import gamma, gammainc, ndtr, ndtri

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import candidates, items, values
from crossaxle.studies.analysis.extremes import FEWEST, fit_extremes
from crossaxle.studies.analysis.fatigue_life import bracket_damage, has_fatigue
from crossaxle.studies.base.endurance import CYCLES_AT_LIMIT
from crossaxle.studies.base.intervals import FEW, bunch_size, rate, spread
from crossaxle.studies.study.limits import Limit

DOUBT = 0.025
"""Probability of its opposite that a verdict may leave."""
ENOUGH = 4.0
"""Allowed passings within the distance driven from which counting can decide."""
MOST_FURTHER = 1000.0
"""Further samples are not estimated beyond this multiple of those at hand."""

HEAVY = 1.0 / 3.0
"""Shape of the heavy tail with which a level far beyond all values is judged: common practice, no source. Extremes of
suspension travel and of loads on rough ground are fitted with shapes of 0.2 at the most."""
SIGMAS = 2.0 * 1.959964
"""Standard deviations between the ends of a 95 % interval."""

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
        Further samples that would probably decide; 0 if decided, inf if that cannot be estimated.
    basis : str
        ``counted``, ``extrapolated`` (from fitted extremes), ``rare events`` or ``far beyond`` (all that was met).
    """

    candidate: int
    limit: Limit
    item: str
    status: str
    probability: float
    further: float
    basis: str


class Evidence(Protocol):
    """How often an output passes a level, found by a search: rate with its 95 % interval [1/m], 0 if never reached."""

    @property
    def variable(self) -> str: ...  # noqa: D102
    @property
    def item(self) -> str: ...  # noqa: D102
    @property
    def candidate(self) -> int: ...  # noqa: D102
    @property
    def course(self) -> int: ...  # noqa: D102
    @property
    def level(self) -> float: ...  # noqa: D102
    @property
    def per_metre(self) -> float: ...  # noqa: D102
    @property
    def low(self) -> float: ...  # noqa: D102
    @property
    def high(self) -> float: ...  # noqa: D102


@dataclass(frozen=True)
class _Judged:
    """Probability from both ends (cautious, hopeful), samples needed in multiples of those at hand, basis."""

    cautious: float
    hopeful: float
    times: float
    basis: str


@dataclass(frozen=True)
class _Case:
    """One candidate and limit: what is known of each item, and the number of samples."""

    candidate: int
    limit: Limit
    judged: dict[str, _Judged]
    samples: int

    @property
    def doubt_of_meeting(self) -> float:
        """Probability that not all items keep the limit, taken from the worst."""
        return 1 - min(one.cautious for one in self.judged.values())

    @property
    def doubt_of_missing(self) -> float:
        """Probability that every item keeps it; that the worst was picked from several is counted."""
        return min(1.0, len(self.judged) * min(one.hopeful for one in self.judged.values()))


def doubt_of_a_look(looks: int) -> float:
    """Doubt that a verdict may leave at each of so many looks, so that over all of them it is no more than `DOUBT`.

    Every look is a chance to be wrong, and the chances add up at the most (Bonferroni's inequality).
    """
    return DOUBT / looks


def verdicts(
    ds: xr.Dataset,
    limits: list[Limit],
    course: int = 0,
    doubt: float = DOUBT,
    evidence: Sequence[Evidence] = (),
) -> list[Verdict]:
    """Judge every limit for every candidate on one course; items that a candidate lacks are passed over.

    Parameters
    ----------
    ds : Dataset
    limits : list of Limit
    course : int
    doubt : float
        Probability that any verdict that stands is wrong, all of this call together.
    evidence : sequence of Evidence
        What searches for rare events found.
    """
    each = doubt / max(len(limits) * len(candidates(ds)), 1)
    cases = _cases(ds, limits, course, each, [e for e in evidence if e.course == course])
    settled = _settled([min(case.doubt_of_meeting, case.doubt_of_missing) for case in cases], doubt)
    return [_verdict(case, sure) for case, sure in zip(cases, settled, strict=True)]


def _settled(doubts: list[float], doubt: float) -> list[bool]:
    """Which of several statements stand so that any is wrong with probability ``doubt`` at most (Holm 1979)."""
    order = np.argsort(doubts, kind="stable")
    found = [False] * len(doubts)
    for rank, k in enumerate(order.tolist()):
        if doubts[k] > doubt / (len(doubts) - rank):
            break
        found[k] = True
    return found


def _cases(
    ds: xr.Dataset, limits: list[Limit], course: int, doubt: float, evidence: Sequence[Evidence]
) -> list[_Case]:
    """Put together what is known of every candidate and limit."""
    found: list[_Case] = []
    for limit in limits:
        kind = limit.kind
        if kind.variable not in ds:
            continue
        if kind.damage:
            found += _crack_cases(ds, limit, course, doubt)
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
                mine = [e for e in evidence if (e.candidate, e.variable) == (c.index, kind.variable)]
                judged = _judge_levels(ds, limit, data[c.index], distance[c.index], doubt, mine)
            if judged and n:
                found.append(_Case(c.index, limit, judged, n))
    return found


def _crack_cases(ds: xr.Dataset, limit: Limit, course: int, doubt: float) -> list[_Case]:
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
            found.append(_Case(c.index, limit, judged, n))
    return found


def _verdict(case: _Case, settled: bool) -> Verdict:
    """Sum up items: one that surely misses decides; else the least certain one."""
    judged, status = case.judged, OPEN
    if settled:
        status = MEETS if case.doubt_of_meeting <= case.doubt_of_missing else MISSES
    if status == MISSES:
        item = min(judged, key=lambda k: judged[k].hopeful)
    else:
        item = min(judged, key=lambda k: judged[k].cautious + judged[k].hopeful)
    one, n = judged[item], case.samples
    further = 0.0 if status != OPEN else max(n * (one.times - 1), 1.0)
    if further > n * MOST_FURTHER:
        further = float("inf")
    probability = (one.cautious + one.hopeful) / 2
    return Verdict(case.candidate, case.limit, item, status, probability, float(np.ceil(further)), one.basis)


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
    ds: xr.Dataset,
    limit: Limit,
    data: Array,
    distance: Array,
    doubt: float,
    evidence: Sequence[Evidence],
) -> dict[str, _Judged]:
    kind = limit.kind
    names = items(ds, kind.dim) if kind.dim else [""]
    columns = data if kind.dim else data[:, None]
    return {
        name: _judge_level(columns[:, k], distance, limit, doubt, [e for e in evidence if e.item == name])
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


def _judge_level(
    extreme: Array, distance: Array, limit: Limit, doubt: float, evidence: Sequence[Evidence]
) -> _Judged:
    """Probability that a level is passed seldom enough."""
    allowed, passed = limit.allowed, limit.passed(extreme)
    counted = _counted(passed, distance, allowed, 1.0, doubt)
    if allowed * float(np.nansum(distance)) >= ENOUGH or counted.hopeful <= doubt:
        return counted
    for found in evidence:
        if (judged := _judge_evidence(found, limit)) is not None:
            return judged
    sign = -1.0 if limit.kind.least else 1.0
    largest, level, block = sign * extreme, sign * limit.value, float(np.nanmean(distance))
    if _heavy_rate(largest, level, block) <= allowed:
        return _Judged(1.0, 1.0, 1.0, "far beyond")
    fitted = fit_extremes(largest, block)
    if fitted is None or fitted.poor:
        return counted
    rates = fitted.rates(level)
    chance = float((np.sum(rates <= allowed) + 0.5) / (rates.size + 1))
    # Half the interval of the logarithm of the rate shrinks with the root of the number of samples.
    logs = np.log(np.maximum(rates, 1e-300))
    reach = max(float(np.std(logs)), 1e-9)
    off = abs(float(np.median(logs)) - np.log(allowed))
    times = max((float(ndtri(1 - doubt)) * reach / off) ** 2, 1.0) if off > 0 else float("inf")
    if chance in (0.5 / (rates.size + 1), 1 - 0.5 / (rates.size + 1)):
        # none of the repeats says otherwise: how far they are from it says how seldom one would
        beyond = min(float(ndtr(-off / reach)), 0.5 / (rates.size + 1))
        chance = 1 - beyond if chance > 0.5 else beyond
    return _Judged(chance, chance, times, "extrapolated")


def _judge_evidence(found: Evidence, limit: Limit) -> _Judged | None:
    """Judge by a search for rare events; None where its level says nothing of the limit's."""
    sign = -1.0 if limit.kind.least else 1.0
    beyond = sign * (limit.value - found.level)
    if found.per_metre <= 0:  # never reached: the upper end is where seeing none has a chance of 2.5 %
        doubt = 0.025 ** (limit.allowed / found.high) if found.high > 0 else 0.0
        return _Judged(1 - doubt, 1.0, 1.0, "rare events") if beyond >= 0 else None
    width = max(np.log(found.high / found.low) / SIGMAS, 1e-9) if found.low > 0 else np.inf
    chance = float(ndtr(np.log(limit.allowed / found.per_metre) / width))
    if beyond == 0:
        return _Judged(chance, chance, 1.0, "rare events")
    # a harder limit is passed less often than the level looked at, a milder one more often
    if beyond > 0 and chance > 0.5:
        return _Judged(chance, 1.0, 1.0, "rare events")
    return _Judged(0.0, chance, 1.0, "rare events") if beyond < 0 and chance < 0.5 else None


def _heavy_rate(extreme: Array, level: float, block: float) -> float:
    """Rate [1/m] at which largest values would pass a level if their tail were heavy; inf where none can be fitted.

    A generalised extreme value distribution of shape `HEAVY` with the values' first two L-moments (Hosking, Wallis
    and Wood 1985), its scale enlarged by two standard errors of the second.
    """
    x = np.sort(extreme[np.isfinite(extreme)])
    if x.size < FEWEST or x[-1] - x[0] <= 1e-12 * max(abs(x[-1]), abs(x[0])):
        return float("inf")
    n = x.size
    l2 = 2 * float((x * np.arange(n)).mean()) / (n - 1) - float(x.mean())
    scale = l2 * (1 + 2 / np.sqrt(n)) * HEAVY / (float(gamma(1 - HEAVY)) * (2.0**HEAVY - 1))
    location = float(x.mean()) - scale * (float(gamma(1 - HEAVY)) - 1) / HEAVY
    inner = 1 + HEAVY * (level - location) / scale
    return float(inner ** (-1 / HEAVY)) / block if inner > 1 else float("inf")


def _counted(amount: Array, distance: Array, allowed: float, bunch: float, doubt: float) -> _Judged:
    """Probability that a rate is at most ``allowed`` [1/m], from amounts (n,) and distances (n,) [m]."""
    chances = _chances(amount, distance, allowed, bunch, 1.0)
    return _Judged(*chances, _times(amount, distance, allowed, bunch, doubt), "counted")


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
