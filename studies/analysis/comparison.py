"""Two candidates on the same ground: differences and ratios from pairs of samples, and how sure the order is.

Sample k is the same ground for both, so what the ground adds to both cancels in the difference. Intervals of
rates are recovered from the two rates' own intervals and the correlation of the pairs (differences: Zou and
Donner, Statistics in Medicine 27, 2008, 1693-1702; ratios: Donner and Zou, Statistical Methods in Medical
Research 21, 2012, 347-359), which stays right where one of them is rare or never seen; a bootstrap over pairs
misses then (in trials with 1 event against 50 it held the true ratio in 40 % of cases).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr, ndtri

from crossaxle.arrays import Array
from crossaxle.studies.base.intervals import Interval, order_bounds, rate

REPEATS = 2000
_SEED = 20250


@dataclass(frozen=True)
class Comparison:
    """What sets candidate a apart from candidate b.

    Attributes
    ----------
    difference : Interval
        a minus b.
    ratio : Interval
        a over b; value NaN where both are zero, inf where only b is.
    chance_less : float
        Probability that a is the smaller one.
    correlation : float
        Of the pairs; near 1 where the ground decides, so that pairing helps.
    """

    difference: Interval
    ratio: Interval
    chance_less: float
    correlation: float


def compare_rates(
    a: Array,
    b: Array,
    exposure_a: Array,
    exposure_b: Array,
    *,
    level: float = 0.95,
    bunch: float = 2.0,
) -> Comparison:
    """Compare two rates, pair by pair.

    Parameters
    ----------
    a, b, exposure_a, exposure_b : (n,)
        Amounts (events, metres) and distances [m] of n samples; pairs with a NaN are left out.
    """
    good = np.isfinite(a) & np.isfinite(b) & np.isfinite(exposure_a) & np.isfinite(exposure_b)
    a, b, exposure_a, exposure_b = a[good], b[good], exposure_a[good], exposure_b[good]
    rates = rate(np.stack([a, b]), np.stack([exposure_a, exposure_b]), level=level, bunch=bunch)
    (va, vb), (la, lb), (ua, ub) = rates.value, rates.low, rates.high
    rho = _correlation(a - va * exposure_a, b - vb * exposure_b)
    weight = resamples(a.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        drawn = (a @ weight) / (exposure_a @ weight) - (b @ weight) / (exposure_b @ weight)
    down = np.sqrt(max((va - la) ** 2 + (ub - vb) ** 2 - 2 * rho * (va - la) * (ub - vb), 0.0))
    up = np.sqrt(max((ua - va) ** 2 + (vb - lb) ** 2 - 2 * rho * (ua - va) * (vb - lb), 0.0))
    tail = (1 - level) / 2
    # With strongly correlated pairs the recovered interval can be too narrow: the wider of both counts.
    booted = np.quantile(drawn, [tail, 1 - tail]) if a.size else np.full(2, np.nan)
    difference = Interval(
        np.asarray(va - vb),
        np.asarray(np.fmin(va - vb - down, booted[0])),
        np.asarray(np.fmax(va - vb + up, booted[1])),
    )
    ratio = _ratio(float(va), float(la), float(ua), float(vb), float(lb), float(ub), rho)
    # Chance of the order: from the interval's half towards zero, or from the bootstrap if that is less sure.
    side = up if va < vb else down
    normal = float(ndtr((vb - va) / side * ndtri(0.5 + level / 2))) if side > 0 else 0.5
    chance = min(normal, _chance(drawn), key=lambda p: abs(p - 0.5))
    return Comparison(difference, ratio, chance, rho)


def compare_levels(a: Array, b: Array, distance: Array, every: float, *, level: float = 0.95) -> Comparison:
    """Compare the levels that two candidates pass once in ``every`` metres, by a bootstrap over pairs.

    Parameters
    ----------
    a, b, distance : (n,)
        Largest values of n samples and their length [m].
    """
    good = np.isfinite(a) & np.isfinite(b)
    a, b = a[good], b[good]
    if a.size == 0:
        nothing = Interval(np.asarray(np.nan), np.asarray(np.nan), np.asarray(np.nan))
        return Comparison(nothing, nothing, np.nan, np.nan)
    below = float(np.exp(-np.nanmean(distance) / every))
    drawn = [_resampled_quantiles(v.tobytes(), below) for v in (a, b)]
    seen = [float(np.quantile(v, below, method="median_unbiased")) for v in (a, b)]
    if not all(np.isfinite(order_bounds(np.sort(v), below, level)[1]) for v in (a, b)):
        # Too few samples for this level: resampling would only repeat those there are.
        anything = Interval(np.asarray(seen[0] - seen[1]), np.asarray(-np.inf), np.asarray(np.inf))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.divide(seen[0], seen[1])
        return Comparison(
            anything, Interval(np.asarray(share), np.asarray(0.0), np.asarray(np.inf)), 0.5, np.nan
        )
    tail = [(1 - level) / 2, (1 + level) / 2]
    minus = np.quantile(drawn[0] - drawn[1], tail)
    with np.errstate(divide="ignore", invalid="ignore"):
        over = np.quantile(drawn[0] / drawn[1], tail)
        ratio = np.divide(seen[0], seen[1])
    return Comparison(
        Interval(np.asarray(seen[0] - seen[1]), minus[0], minus[1]),
        Interval(np.asarray(ratio), over[0], over[1]),
        _chance(drawn[0] - drawn[1]),
        _correlation(a - a.mean(), b - b.mean()),
    )


@lru_cache(maxsize=512)
def _resampled_quantiles(values_as_bytes: bytes, below: float) -> Array:
    """Quantile of values (n,) in each bootstrap repeat, (REPEATS,), with median-unbiased plotting positions.

    A candidate is compared with several others, in tables and charts: its quantiles are kept.

    The values are sorted once for all repeats: which of them bound a repeat's quantile follows from how often those
    above were drawn. Quantiles asked for are high, so the largest few values nearly always suffice.
    """
    values = np.frombuffer(values_as_bytes)
    n = values.size
    place = min(max(n * below + (below + 1) / 3 - 1, 0.0), n - 1.0)
    above = n - 1 - int(place)
    falling = np.argsort(values)[::-1]
    drawn = np.cumsum(resamples(n)[falling[: 4 * above + 40]], axis=0)
    if drawn[-1].min() <= above:
        drawn = np.cumsum(resamples(n)[falling], axis=0)
    lower, upper = (values[falling[(drawn <= rank).sum(axis=0)]] for rank in (above, max(above - 1, 0)))
    quantiles: Array = lower + (place - int(place)) * (upper - lower)
    return quantiles


@lru_cache(maxsize=4)
def resamples(n: int) -> Array:
    """Return how often each of n samples is drawn in each bootstrap repeat, (n, REPEATS), always the same."""
    random = np.random.Generator(np.random.Philox(_SEED))
    if not n:
        return np.zeros((0, REPEATS))
    return np.ascontiguousarray(random.multinomial(n, np.full(n, 1.0 / n), REPEATS).T, dtype=float)


def _chance(drawn: Array) -> float:
    """Share of repeats below zero, ties shared, never quite 0 or 1: repeats are finite."""
    finite = drawn[np.isfinite(drawn)]
    if finite.size == 0:
        return 0.5
    less = (finite < 0).sum() + 0.5 * (finite == 0).sum()
    return float((less + 0.5) / (finite.size + 1))


def _correlation(a: Array, b: Array) -> float:
    both = float(np.sqrt((a**2).sum() * (b**2).sum()))
    return float((a * b).sum() / both) if both > 0 else 0.0


def _ratio(va: float, la: float, ua: float, vb: float, lb: float, ub: float, rho: float) -> Interval:
    """Ratio of two estimates from their own intervals, after Donner and Zou (2012)."""
    nan, inf = np.asarray(np.nan), np.asarray(np.inf)
    if not np.isfinite([va, vb]).all():
        return Interval(nan, nan, nan)
    value = va / vb if vb > 0 else (inf if va > 0 else nan)
    centre = va * vb - rho * (va - la) * (ub - vb)
    width = ub * (2 * vb - ub)
    root = np.sqrt(max(centre**2 - la * (2 * va - la) * width, 0.0))
    # Near ub = 2 vb both numerator and denominator vanish; the other form of the root is safe there.
    low = la * (2 * va - la) / (centre + root) if centre + root > 0 else (centre - root) / width
    centre = va * vb - rho * (ua - va) * (vb - lb)
    width = lb * (2 * vb - lb)
    root = np.sqrt(max(centre**2 - ua * (2 * va - ua) * width, 0.0))
    high = (centre + root) / width if width > 0 else np.inf
    return Interval(np.asarray(value), np.asarray(max(low, 0.0)), np.asarray(high))
