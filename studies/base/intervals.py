"""How sure a number is: rates, shares and levels with intervals, the sample of ground being the unit.

Events come in bunches (one stretch of bad ground unloads a wheel several times), so that counting them as
independent would make every interval too narrow. Whole samples are independent. All functions take arrays
whose last axis is the sample (or a fold of samples) and work on everything before it at once; NaN marks a
sample without a result and is left out.

The interval of a rate is the gamma interval for weighted Poisson counts of Fay and Feuer (Statistics in
Medicine 16, 1997, 791-801), with two changes: the variance is that between samples, so that frequent and
bunched events are treated by one formula, and for few events a least bunch size is assumed.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import bdtr, gammaincinv, ndtri, stdtrit

from crossaxle.arrays import Array, Booleans

FEW = 20.0
"""Below this number of events their bunching cannot be read from the counts alone."""


@dataclass(frozen=True)
class Interval:
    """Numbers with the interval that holds the true one in ``level`` of all repetitions of the experiment.

    Attributes
    ----------
    value, low, high : Array
        Of one shape. ``low`` may be -inf and ``high`` inf where the samples set no bound.
    """

    value: Array
    low: Array
    high: Array

    def __getitem__(self, index: Any) -> "Interval":
        """Take part of the numbers, as of an array."""
        return Interval(self.value[index], self.low[index], self.high[index])

    def times(self, factor: float) -> "Interval":
        """Return the interval in another unit; a negative factor swaps the ends."""
        ends = (self.low * factor, self.high * factor)
        low, high = ends if factor >= 0 else ends[::-1]
        return Interval(self.value * factor, low, high)


def rate(amount: Array, exposure: Array, *, level: float = 0.95, bunch: float = 2.0) -> Interval:
    """Return amount per exposure (events per metre, distance per distance) with its interval.

    Parameters
    ----------
    amount, exposure : (..., n)
        What happened in each of n samples and what each was exposed to (distance driven, counts taken).
    level : float
        Probability with which the interval is to hold the true rate.
    bunch : float
        Least size of a bunch of events, assumed in full where none is seen and less and less up to ``FEW``
        events. With none seen the upper end is 3 bunches (at level 0.95, the "rule of three").

    Returns
    -------
    Interval of shape (...); NaN where nothing was exposed.
    """
    amount, exposure = np.broadcast_arrays(np.asarray(amount, float), np.asarray(exposure, float))
    good = np.isfinite(amount) & np.isfinite(exposure)
    amount, exposure = np.where(good, amount, 0.0), np.where(good, exposure, 0.0)
    total, driven = amount.sum(axis=-1), exposure.sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = total / driven
    size = _bunch(amount, exposure, good, value, level)
    least = 1.0 + (bunch - 1.0) * np.clip(1.0 - total / FEW, 0.0, 1.0)
    size = np.maximum(size, least)
    seen = total > 0
    bunches = np.where(seen, total / size, 1.0)
    tail = (1.0 - level) / 2.0
    low = np.where(seen, size * gammaincinv(bunches, tail), 0.0)
    # One more bunch, as large as the largest, may have been missed by luck.
    more = np.maximum(amount.max(axis=-1, initial=0.0), least)
    variance = size * total + more**2
    high = variance / (total + more) * gammaincinv((total + more) ** 2 / variance, 1.0 - tail)
    high = np.where(seen, high, -np.log(1.0 - level) * least)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Interval(value, low / driven, np.where(driven > 0, high / driven, np.nan))


def bunch_size(amount: Array, exposure: Array) -> float:
    """Return the bunch size [events] of the rarest row of (rows, n) that has ``FEW`` events, at least 1.

    It tells how events bunch where they are too few to tell themselves; 2 if no row has enough.
    """
    total = np.nansum(amount, axis=-1)
    enough = np.flatnonzero(total >= FEW)
    if enough.size == 0:
        return 2.0
    row = enough[np.argmin(total[enough])]
    return max(1.0, spread(amount[row], np.broadcast_to(exposure, amount.shape)[row]))


def spread(amount: Array, exposure: Array, level: float = 0.95) -> float:
    """Return the bunch size that the spread between samples (n,) shows: variance of the total over the total."""
    good = np.isfinite(amount)
    events, driven = amount[good], exposure[good]
    value = np.asarray(events.sum() / driven.sum())
    return float(_bunch(events, driven, np.ones(events.shape, bool), value, level))


def met_once(extreme: Array, distance: Array, every: float, *, level: float = 0.95) -> Interval:
    """Return the level that the largest value of a sample passes about once in ``every`` metres.

    A sample of length d stays below it with probability exp(-d/every), passings being independent: so it is
    a quantile of the samples' largest values, and its interval lies between two of them whose ranks follow
    from the binomial distribution, whatever the distribution of the values.

    Parameters
    ----------
    extreme, distance : (..., n)
        Largest value and length [m] of each sample. For a smallest value pass its negative.
    every : float
        Distance [m]; at least the length of a sample.
    """
    extreme, distance = np.broadcast_arrays(np.asarray(extreme, float), np.asarray(distance, float))
    shape = extreme.shape[:-1]
    out = np.full((3, *shape), np.nan)
    for index in np.ndindex(shape):
        values = np.sort(extreme[index][np.isfinite(extreme[index])])
        if values.size:
            below = float(np.exp(-np.nanmean(distance[index]) / every))
            middle = np.quantile(values, below, method="median_unbiased")
            out[(slice(None), *index)] = middle, *order_bounds(values, below, level)
    return Interval(out[0], out[1], out[2])


def _bunch(amount: Array, exposure: Array, good: Booleans, value: Array, level: float) -> Array:
    """Return the variance of the total over the total: the size of equal bunches of the same variance."""
    n = good.sum(axis=-1)
    off = np.where(good, amount - np.nan_to_num(value)[..., None] * exposure, 0.0)
    freedom = np.maximum(n - 1, 1)
    student = stdtrit(freedom, 0.5 + level / 2) / ndtri(0.5 + level / 2)
    variance = n / freedom * (off**2).sum(axis=-1) * student**2
    total = amount.sum(axis=-1)
    size: Array = np.where(total > 0, variance / np.where(total > 0, total, 1.0), 0.0)
    return size


def order_bounds(values: Array, below: float, level: float) -> tuple[float, float]:
    """Return the two of sorted values (n,) that bracket their quantile; infinite where no value bounds it."""
    n = values.size
    tail = (1.0 - level) / 2.0
    cumulative = bdtr(np.arange(n + 1, dtype=float), n, below)  # P(at most k values below the quantile)
    lower = int(np.searchsorted(cumulative, tail, side="right"))  # rank from 1; 0: no bound
    upper = int(np.searchsorted(cumulative, 1.0 - tail, side="left")) + 1
    low = values[lower - 1] if lower >= 1 else -np.inf
    high = values[upper - 1] if upper <= n else np.inf
    return float(low), float(high)
