"""Which uncertain value drives an outcome: first-order Sobol indices from the samples at hand.

The first-order index of an input is the share of the outcome's variance that its value alone explains,
Var(E[Y | X]) / Var(Y) (Sobol, Mathematics and Computers in Simulation 55, 2001, 271-280). Here every sample has its
own draw of all inputs and its own ground, so no further runs are needed: E[Y | X] is fitted by Legendre
polynomials in the input's rank, and the share explained is corrected for the number of polynomials. What
no input explains alone is terrain and interactions of inputs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import legvander
from scipy.special import stdtrit

from crossaxle.arrays import Array
from crossaxle.studies.base.intervals import Interval

DEGREE = 8
"""Highest polynomial where there are samples enough; one degree takes 25 samples."""
GROUPS = 20
"""Groups of samples left out in turn to find the interval."""


@dataclass(frozen=True)
class Sensitivity:
    """Shares of an outcome's variance.

    Attributes
    ----------
    first : Interval, (inputs,)
        First-order indices.
    rest : Interval, shape ()
        Share that no input explains alone: terrain and interactions.
    """

    first: Interval
    rest: Interval


def sensitivity(inputs: Array, outcome: Array, level: float = 0.95) -> Sensitivity | None:
    """Estimate first-order indices with intervals (jackknife over groups of samples).

    Parameters
    ----------
    inputs : (samples, inputs)
        Drawn independently of one another.
    outcome : (samples,)
        NaN are left out.

    Returns
    -------
    Sensitivity or None
        None if there are fewer than 2 samples a group, or too few that differ from the median to tell.
    """
    good = np.isfinite(outcome) & np.isfinite(inputs).all(axis=1)
    x, y = inputs[good], outcome[good]
    if y.size < 2 * GROUPS or np.count_nonzero(y != np.median(y)) <= GROUPS:
        return None
    degree = int(min(DEGREE, max(1, y.size // 25)))
    basis = [_basis(column, degree) for column in x.T]
    whole = _indices(basis, y)
    group = np.arange(y.size) % GROUPS
    left_out = np.array([_indices([b[group != g] for b in basis], y[group != g]) for g in range(GROUPS)])
    error = np.sqrt((GROUPS - 1) / GROUPS * ((left_out - left_out.mean(axis=0)) ** 2).sum(axis=0))
    reach = stdtrit(GROUPS - 1, 0.5 + level / 2) * error
    low, high = (np.clip(whole + sign * reach, 0.0, 1.0) for sign in (-1, 1))
    value = np.clip(whole, 0.0, 1.0)
    return Sensitivity(Interval(value[:-1], low[:-1], high[:-1]), Interval(value[-1], low[-1], high[-1]))


def _basis(column: Array, degree: int) -> Array:
    """Legendre polynomials 1 to degree of the ranks scaled to (-1, 1); ties share their rank."""
    values, place, counts = np.unique(column, return_inverse=True, return_counts=True)
    rank = (np.cumsum(counts) - (counts - 1) / 2)[place]
    scaled = (2 * rank - 1 - column.size) / column.size
    return np.asarray(legvander(scaled, min(degree, values.size - 1))[:, 1:])


def _indices(basis: list[Array], y: Array) -> Array:
    """Corrected share explained by each input, and what is left of the whole."""
    off = y - y.mean()
    total = float(off @ off)
    shares = []
    for b in basis:
        centred = b - b.mean(axis=0)
        fit = np.linalg.lstsq(centred, off, rcond=None)[0] if b.shape[1] else np.zeros(0)
        error = off - centred @ fit
        freedom = (y.size - 1) / max(y.size - 1 - b.shape[1], 1)
        shares.append(1 - freedom * float(error @ error) / total)
    return np.array([*shares, 1 - sum(shares)])
