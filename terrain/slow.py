# mypy: disable-error-code="untyped-decorator"
"""Slowly varying random quantities along the way: grade, side slope and the strength of roughness."""

from functools import cache

import numpy as np
from numba import njit

from crossaxle.arrays import Array

NODES_PER_LENGTH = 10
"""Nodes per correlation length."""
REACH = 4.0
"""Half-width of the averaging kernel in correlation lengths."""


def slow_nodes(rng: np.random.Generator, n_points: int, spacing: float, length: float) -> Array:
    """Stationary Gaussian process of mean 0, variance 1 and correlation exp(-(x / length)^2 / 2).

    White noise averaged with a Gaussian kernel exp(-(x / length)^2), whose self-convolution is that
    correlation.

    Parameters
    ----------
    rng : numpy.random.Generator
    n_points : int
        Points to be covered.
    spacing : float
        Between points [m].
    length : float
        Correlation length [m].

    Returns
    -------
    (n_nodes,)
        Values at nodes `length` / `NODES_PER_LENGTH` apart, the first at the first point; for `interpolate`.
    """
    count = int(np.ceil(n_points * spacing / length * NODES_PER_LENGTH)) + 2
    kernel = _kernel()
    return np.convolve(rng.standard_normal(count + kernel.size - 1), kernel, mode="valid")


@cache
def _kernel() -> Array:
    half = int(REACH * NODES_PER_LENGTH)
    kernel = np.exp(-((np.arange(-half, half + 1) / NODES_PER_LENGTH) ** 2))
    return np.asarray(kernel / np.sqrt(np.sum(kernel**2)))


def slow_values(nodes: Array, n_points: int, spacing: float, length: float) -> Array:
    """Values at the points, linear between the nodes that `slow_nodes` gave (or a function of them), (n_points,)."""
    values = np.empty(n_points)
    interpolate(nodes, spacing / length * NODES_PER_LENGTH, values)
    return values


@njit(cache=True, nogil=True)
def interpolate(nodes: Array, step: float, values: Array) -> None:
    """Fill values at multiples of `step` node intervals by linear interpolation."""
    for i in range(values.size):
        place = i * step
        before = int(place)
        over = place - before
        values[i] = (1.0 - over) * nodes[before] + over * nodes[before + 1]
