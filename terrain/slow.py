"""Slowly varying random quantities along the way: grade, side slope and the strength of roughness."""

import numpy as np

from terrain.spectrum import Array

NODES_PER_LENGTH = 10
"""Nodes per correlation length; between them values are interpolated linearly."""
REACH = 4.0
"""Half-width of the averaging kernel in correlation lengths."""


def slow_process(rng: np.random.Generator, n_points: int, spacing: float, length: float) -> Array:
    """Stationary Gaussian process of mean 0, variance 1 and correlation exp(-(x / length)^2 / 2).

    White noise averaged with a Gaussian kernel exp(-(x / length)^2), whose self-convolution is that
    correlation.

    Parameters
    ----------
    rng : numpy.random.Generator
    n_points : int
    spacing : float
        Between points [m].
    length : float
        Correlation length [m].

    Returns
    -------
    (n_points,)
    """
    step = length / NODES_PER_LENGTH
    half = int(REACH * NODES_PER_LENGTH)
    nodes = int(np.ceil(n_points * spacing / step)) + 2
    kernel = np.exp(-((np.arange(-half, half + 1) / NODES_PER_LENGTH) ** 2))
    kernel /= np.sqrt(np.sum(kernel**2))
    values = np.convolve(rng.standard_normal(nodes + 2 * half), kernel, mode="valid")
    return np.asarray(np.interp(np.arange(n_points) * spacing, np.arange(nodes) * step, values), float)
