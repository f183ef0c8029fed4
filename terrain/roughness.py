"""Random roughness on parallel lines by the fast Fourier transform.

On a circle of N points every harmonic k gets independent normal coefficients whose variance is the integral
of the spectrum over the cell of width 1/(N dx) around it, so that the variance is exact whatever the length.
Lines come in pairs at +y and -y: their half sum and half difference are independent, with covariances
(gamma(|a - b|) +- gamma(a + b)) / 2 between the pairs at a and b. Swapping left and right thus changes
nothing but the sign of the half differences. A pair uses random numbers of its own and a Cholesky factor in
the order of the pairs, so that a line laid later never changes one laid earlier.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import fft

from crossaxle.arrays import Array, Float32
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.spectrum import Spectrum


def lay_roughness(
    spectrum: Spectrum,
    coherence: Coherence,
    lines_y: tuple[float, ...],
    spacing: float,
    n_points: int,
    generator: Callable[[int], np.random.Generator],
) -> Float32:
    """Lay random ground heights.

    Parameters
    ----------
    spectrum : Spectrum
    coherence : Coherence
    lines_y : tuple of float, length n_lines
        Lateral positions [m], any.
    spacing : float
        Between points [m].
    n_points : int
    generator : callable
        Gives the random generator of the i-th pair of lines, pairs numbered in the order of first appearance.

    Returns
    -------
    (n_lines, n_points)
        Heights [m].

    Raises
    ------
    ValueError
        If the band reaches above what the spacing can carry, half a cycle per spacing.
    """
    if spectrum.upper > 0.5 / spacing * (1 + 1e-9):
        raise ValueError(
            f"points {spacing:g} m apart carry waves up to {0.5 / spacing:g} cycle/m, but the band reaches"
            f" {spectrum.upper:g} cycle/m; lower the band's upper limit or the spacing"
        )
    offsets = tuple(dict.fromkeys(abs(y) for y in lines_y))
    # the circle holds the longest wave of the band at least once, else its energy would be lost
    circle = fft.next_fast_len(max(n_points, int(np.ceil(1 / (spectrum.lower * spacing)))), real=True)
    first, sums, differences = _factors(spectrum, coherence, offsets, circle, spacing)
    n_waves = sums.shape[2]
    noise = np.empty((len(offsets), 2, n_waves), np.complex64)
    for pair in range(len(offsets)):
        real = noise[pair].view(np.float32)
        generator(pair).standard_normal(out=real, dtype=np.float32)
    harmonics = np.zeros((len(lines_y), circle // 2 + 1), np.complex64)
    band = harmonics[:, first : first + n_waves]
    for pair, offset in enumerate(offsets):
        half_sum = sums[pair, 0] * noise[0, 0]
        half_difference = differences[pair, 0] * noise[0, 1]
        for other in range(1, pair + 1):
            half_sum += sums[pair, other] * noise[other, 0]
            half_difference += differences[pair, other] * noise[other, 1]
        for line, y in enumerate(lines_y):
            if abs(y) == offset:
                band[line] = half_sum + half_difference if y >= 0 else half_sum - half_difference
    heights = fft.irfft(harmonics, circle, norm="forward", overwrite_x=True, workers=1)
    return np.asarray(heights[:, :n_points], np.float32)


@lru_cache(maxsize=16)
def _factors(
    spectrum: Spectrum, coherence: Coherence, offsets: tuple[float, ...], circle: int, spacing: float
) -> tuple[int, Float32, Float32]:
    """Cholesky factors of the pairs' half sums and half differences at every harmonic of the band.

    Returns
    -------
    first : int
        Number of the first harmonic with energy.
    sums, differences : (n_pairs, n_pairs, n_harmonics)
        Lower triangular; half the amplitude [m], as the complex coefficient of a harmonic needs it.
    """
    length = circle * spacing
    first = max(1, int(np.floor(spectrum.lower * length + 0.5)))
    last = min(int(np.ceil(spectrum.upper * length - 0.5)), (circle - 1) // 2)
    waves = np.arange(first, last + 1)
    edges = np.append(waves - 0.5, last + 0.5) / length
    # the outermost cells take what lies between them and the band's limits
    edges[0], edges[-1] = min(edges[0], spectrum.lower), max(edges[-1], spectrum.upper)
    scale = 0.5 * np.sqrt(spectrum.between(edges[:-1], edges[1:]))
    n = waves / length
    pairs = len(offsets)
    near, far = np.zeros((2, pairs, pairs, n.size))
    # lines on a regular grid share most of their distances
    gamma = lru_cache(maxsize=None)(lambda distance: coherence(n, distance, spectrum))
    for i, a in enumerate(offsets):
        for j, b in enumerate(offsets[: i + 1]):
            near[i, j] = gamma(round(abs(a - b), 9))
            far[i, j] = gamma(round(a + b, 9))
    sums = scale * _cholesky((near + far) / 2)
    differences = scale * _cholesky((near - far) / 2)
    return first, sums.astype(np.float32), differences.astype(np.float32)


def _cholesky(matrices: Array) -> Array:
    """Lower factors of n semidefinite matrices (k, k, n); a direction without variance gives zeros."""
    size = matrices.shape[0]
    factor = np.zeros_like(matrices)
    for j in range(size):
        left = matrices[j, j] - np.sum(factor[j, :j] ** 2, axis=0)
        diagonal = np.sqrt(np.where(left > 1e-12, left, 0.0))
        factor[j, j] = diagonal
        inverse = np.divide(1.0, diagonal, out=np.zeros_like(diagonal), where=diagonal > 0)
        for i in range(j + 1, size):
            factor[i, j] = (matrices[i, j] - np.sum(factor[i, :j] * factor[j, :j], axis=0)) * inverse
    return factor
