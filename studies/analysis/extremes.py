"""Long life from short samples: extremes of equal blocks, a generalised extreme value distribution, return levels.

The block is the sample: its largest value is one observation. The distribution's three numbers follow from
L-moments (Hosking, Wallis and Wood, Technometrics 27, 1985, 251-261), intervals from a parametric bootstrap,
and the same bootstrap tells how often a fit as bad as this one would happen by chance (Anderson-Darling
distance), so that a poor fit can be said to be poor. Going far beyond the distance driven rests on the fitted
shape alone: the interval covers sampling error, not that assumption.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import gamma

from crossaxle.arrays import Array
from crossaxle.studies.base.intervals import Interval

REPEATS = 500
FEWEST = 20
"""Fewer blocks are not fitted."""
POOR = 0.05
"""A fit is poor if one as bad would happen with less than this probability."""
CERTAIN = 700.0
"""Passings per block at which no block is free of one, and all more are alike."""
_SEED = 1985
_NEARLY_GUMBEL = 1e-6


@dataclass(frozen=True)
class Extremes:
    """Fitted distribution of the largest value of a block, F(x) = exp(-(1 + xi (x - mu)/sigma)^(-1/xi)).

    Attributes
    ----------
    fit : (3,)
        Location mu, scale sigma, shape xi (positive: heavy tail; negative: an upper bound exists).
    drawn : (3, REPEATS)
        The same for bootstrap repeats.
    block : float
        Length of a block [m].
    blocks : int
    chance : float
        Probability of a fit at least as bad if the distribution is right.
    """

    fit: Array
    drawn: Array
    block: float
    blocks: int
    chance: float

    @property
    def poor(self) -> bool:
        """Whether the values do not look like the fitted distribution."""
        return self.chance < POOR

    def level(self, every: float, confidence: float = 0.95) -> Interval:
        """Return the level passed once in ``every`` metres on average.

        Raises
        ------
        ValueError
            If ``every`` is not positive.
        """
        if not every > 0:
            raise ValueError(f"a return distance of {every} m was asked for; it must be positive")
        rate = self.block / every  # passings per block
        logs = np.log(rate)
        return self._interval(_level(self.fit, logs), _level(self.drawn, logs), confidence)

    def risked(self, risk: float, over: float, confidence: float = 0.95) -> Interval:
        """Return the level passed with probability ``risk`` at least once within ``over`` metres.

        Raises
        ------
        ValueError
            If the risk is not between 0 and 1.
        """
        if not 0 < risk < 1:
            raise ValueError(f"a risk of {risk} was asked for; it must be above 0 and below 1")
        return self.level(over / -np.log1p(-risk), confidence)

    def passings(self, level: float, confidence: float = 0.95) -> Interval:
        """Return how often a level is passed per metre."""
        return self._interval(_passings(self.fit, level) / self.block, self.rates(level), confidence)

    def rates(self, level: float) -> Array:
        """Return the passings per metre of each bootstrap repeat, (REPEATS,)."""
        found: Array = _passings(self.drawn, level) / self.block
        return found

    def _interval(self, value: Array, drawn: Array, confidence: float) -> Interval:
        tail = (1 - confidence) / 2
        low, high = np.quantile(drawn, [tail, 1 - tail])
        return Interval(value, np.minimum(low, value), np.maximum(high, value))


def fit_extremes(maxima: Array, block: float) -> Extremes | None:
    """Fit the largest values of blocks.

    Parameters
    ----------
    maxima : (n,)
        NaN are left out. For smallest values pass their negatives.
    block : float
        Length of a block [m].

    Returns
    -------
    Extremes or None
        None if there are fewer than ``FEWEST`` values or they are all equal.
    """
    x = np.sort(maxima[np.isfinite(maxima)])
    return _fitted(x.tobytes(), float(block))


@lru_cache(maxsize=512)
def _fitted(values: bytes, block: float) -> Extremes | None:
    """Fit sorted values; tables and charts of one report ask for the same fit several times."""
    x = np.frombuffer(values)
    if x.size < FEWEST or x[-1] - x[0] <= 1e-12 * max(abs(x[-1]), abs(x[0])):
        return None
    fit = _by_l_moments(x)
    # A few repeats at a time, whose intermediate values stay in the cache: twice as fast.
    parts = [_repeated(fit, logs) for logs in np.array_split(_repeated_logs(x.size), 1 + x.size // 50)]
    drawn = np.concatenate([fits for fits, _ in parts], axis=1)
    distances = np.concatenate([distances for _, distances in parts])
    chance = float(np.mean(distances >= _anderson_darling(fit, x)))
    return Extremes(fit, drawn, block, int(x.size), chance)


def _repeated(fit: Array, logs: Array) -> tuple[Array, Array]:
    """Fits (3, ...) to values drawn from a fit at log(-log F) (..., n), and their Anderson-Darling distances (...)."""
    values = _level(fit, logs)
    fits = _by_l_moments(values)
    return fits, _anderson_darling(fits[..., None], values)


@lru_cache(maxsize=4)
def _repeated_logs(n: int) -> Array:
    """Falling log(-log F) of n values in every bootstrap repeat, (REPEATS, n), always the same."""
    random = np.random.Generator(np.random.Philox(_SEED))
    return np.asarray(np.log(-np.log(np.sort(random.random((REPEATS, n)), axis=1))))


def _by_l_moments(x: Array) -> Array:
    """Location, scale and shape (3, ...) of sorted values (..., n), with Hosking's approximation of the shape."""
    n = x.shape[-1]
    i = np.arange(n)
    b0 = x.mean(axis=-1)
    b1 = (x * i).mean(axis=-1) / (n - 1)
    b2 = (x * i * (i - 1)).mean(axis=-1) / ((n - 1) * (n - 2))
    l1, l2, l3 = b0, 2 * b1 - b0, 6 * b2 - 6 * b1 + b0
    c = 2 / (3 + l3 / l2) - np.log(2) / np.log(3)
    k = 7.8590 * c + 2.9554 * c**2
    k = np.where(np.abs(k) < _NEARLY_GUMBEL, _NEARLY_GUMBEL, k)
    g = gamma(1 + k)
    scale = l2 * k / ((1 - 2.0**-k) * g)
    return np.stack([l1 - scale * (1 - g) / k, scale, -k])


def _level(fit: Array, log_rate: Array | float) -> Array:
    """Level with log(-log F) = log_rate, for one fit and many of these or many fits and one."""
    mu, sigma, xi = fit
    level: Array = np.asarray(mu + sigma * np.expm1(-xi * np.asarray(log_rate)) / xi)
    return level


def _passings(fit: Array, level: Array | float) -> Array:
    """-log F at a level: 0 above an upper bound, CERTAIN at most."""
    mu, sigma, xi = fit
    inner = 1 + xi * (np.asarray(level) - mu) / sigma
    beyond = np.where(xi < 0, 0.0, CERTAIN)
    with np.errstate(divide="ignore", over="ignore"):
        found: Array = np.where(inner > 0, np.maximum(inner, 1e-300) ** (-1 / xi), beyond)
    return np.minimum(found, CERTAIN)


def _anderson_darling(fit: Array, x: Array) -> Array:
    """Anderson-Darling distance between sorted values (..., n) and a fit."""
    n = x.shape[-1]
    rate = np.clip(_passings(fit, x), 1e-12, CERTAIN)
    log_f, log_above = -rate, np.log(-np.expm1(-rate))
    weight = 2 * np.arange(1, n + 1) - 1
    distance: Array = -n - (weight * (log_f + log_above[..., ::-1])).mean(axis=-1)
    return distance
