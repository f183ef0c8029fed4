# mypy: disable-error-code="untyped-decorator"
"""What an axle feels of the ground through its tyre (compiled).

A rigid disc of the free radius R rolls over the heights z, e(x) = max_u [z(x + u) + sqrt(R^2 - u^2)] - R, and
e is then averaged over the contact length, each point standing for its own cell. Heights are sampled points;
the disc touches points only, so between two points a spacing s apart it may sink by s^2/(8 R) (0.6 mm for 5
cm and 0.5 m).
"""

from functools import lru_cache

import numpy as np
from numba import njit
from numpy.typing import ArrayLike

from crossaxle.arrays import Array, Float32, Integers

BLOCK = 1024
"""Positions filtered at a time, so that the intermediate values stay in the first-level cache."""


def envelope(heights: ArrayLike, spacing: float, radius: float, contact_length: float) -> Float32:
    """Filter ground heights through a tyre.

    Parameters
    ----------
    heights : (n_lines, n_points)
        Ground heights [m].
    spacing : float
        Between points [m].
    radius : float
        Free radius of the tyre [m]; 0: no disc, only the average.
    contact_length : float
        Length of the contact [m]; 0: no average. A soft tyre has a long contact.

    Returns
    -------
    (n_lines, n_points - 2 * margin(spacing, radius, contact_length))
        Envelope heights [m]; the first belongs to point number `margin`.

    Raises
    ------
    ValueError
        If the spacing is too coarse for the tyre, a size is negative, or there are too few points.
    """
    heights = np.asarray(heights, np.float32, order="C")
    check_tyre(spacing, radius, contact_length)
    reach = margin(spacing, radius, contact_length)
    count = heights.shape[1] - 2 * reach
    if count < 1:
        raise ValueError(
            f"{heights.shape[1]} points of ground are too few for a tyre that reaches over {2 * reach + 1};"
            " lay a longer stretch"
        )
    filtered = np.empty((heights.shape[0], count), np.float32)
    for line in range(heights.shape[0]):
        filter_line(heights[line], filtered, [line], spacing, radius, [contact_length])
    return filtered


def filter_line(
    ground: Float32,
    filtered: Float32,
    rows: list[int],
    spacing: float,
    radius: float,
    contact_lengths: list[float],
) -> None:
    """Filter one line of ground through tyres of one radius; the disc rolls once for all contact lengths.

    Parameters
    ----------
    ground : (n_points,)
        Heights; the longest contact reaches exactly from its first to its last point.
    filtered : (n_rows, n_points - 2 * margin(spacing, radius, longest contact))
        Row ``rows[i]`` is filled with what `envelope` gives for ``contact_lengths[i]``.
    """
    roll(
        ground,
        disc_offsets(spacing, radius).astype(np.float32),
        _weights_together(spacing, tuple(contact_lengths)),
        np.array([contact_weights(spacing, length).size for length in contact_lengths]),
        np.array(rows),
        filtered,
    )


def check_tyre(spacing: float, radius: float, contact_length: float) -> None:
    """Raise ValueError if ground points are too far apart for a tyre."""
    if radius < 0 or contact_length < 0:
        raise ValueError(f"radius {radius:g} m, contact length {contact_length:g} m: neither may be negative")
    if radius > 0 and spacing > radius / 4 * (1 + 1e-9):
        raise ValueError(
            f"ground points {spacing:g} m apart are too coarse for a tyre of radius {radius:g} m;"
            f" use at most {radius / 4:g} m (a quarter of the radius)"
        )
    if 0 < contact_length < spacing * (1 - 1e-9):
        raise ValueError(
            f"ground points {spacing:g} m apart are too coarse for a contact length of {contact_length:g} m;"
            f" use at most {contact_length:g} m"
        )


def margin(spacing: float, radius: float, contact_length: float) -> int:
    """Count the points that the envelope needs before its first and after its last position."""
    return (disc_offsets(spacing, radius).size + contact_weights(spacing, contact_length).size - 2) // 2


@lru_cache(maxsize=1024)
def disc_offsets(spacing: float, radius: float) -> Array:
    """Height of the disc's rim above its lowest point, negated, at every grid point it covers, (2 k + 1,)."""
    reach = int(np.floor(radius / spacing * (1 + 1e-12)))
    u = spacing * np.arange(-reach, reach + 1)
    offsets = np.asarray(np.sqrt(np.maximum(radius**2 - u**2, 0.0)) - radius)
    offsets.flags.writeable = False
    return offsets


@lru_cache(maxsize=1024)
def contact_weights(spacing: float, contact_length: float) -> Array:
    """Weights of the points under the contact, (2 k + 1,), with sum 1.

    Two centred windows of odd numbers of points, a < b, mixed so that the second moment is that of an average over
    the length itself, l^2/12; a window of a points has (a^2 - 1) s^2/12. The gain for waves longer than the
    contact is then right to better than 1 %, whatever the ratio of length and spacing.
    """
    if contact_length == 0:
        weights = np.ones(1)
        weights.flags.writeable = False
        return weights
    squared = (contact_length / spacing) ** 2 + 1
    wide = int(np.ceil(np.sqrt(squared) * (1 - 1e-12)))
    wide += 1 - wide % 2
    narrow = wide - 2
    share = (squared - narrow**2) / (wide**2 - narrow**2)
    weights = np.full(wide, share / wide)
    weights[1:-1] += (1 - share) / narrow
    weights.flags.writeable = False
    return weights


@lru_cache(maxsize=1024)
def _weights_together(spacing: float, contact_lengths: tuple[float, ...]) -> Float32:
    """Weights of several contact lengths, (n_lengths, most points), each row filled up with zeros."""
    each = [contact_weights(spacing, length) for length in contact_lengths]
    together = np.zeros((len(each), max(weights.size for weights in each)), np.float32)
    for row, weights in zip(together, each, strict=True):
        row[: weights.size] = weights
    together.flags.writeable = False
    return together


@njit(cache=True, nogil=True)
def roll(
    ground: Float32, disc: Float32, weights: Float32, taps: Integers, rows: Integers, filtered: Float32
) -> None:
    """Disc, then one weighted average for each contact length, block by block.

    Parameters
    ----------
    ground : (n_points,)
        Finite.
    disc : (2 k + 1,)
    weights : (n_lengths, b)
        Of contact length i the first ``taps[i]``, an odd number.
    taps : (n_lengths,)
    rows : (n_lengths,)
        Rows of ``filtered`` to fill.
    filtered : (n_rows, n_points - 2 k - (b - 1))
    """
    count, widest = filtered.shape[1], weights.shape[1]
    rolled = np.empty(BLOCK + widest - 1, np.float32)
    for start in range(0, count, BLOCK):
        size = min(BLOCK, count - start)
        wide = size + widest - 1
        roll_disc(ground[start : start + wide + disc.size - 1], disc, rolled[:wide])
        for length in range(rows.size):
            average = filtered[rows[length], start : start + size]
            first = (widest - taps[length]) // 2
            here = rolled[first : first + size]
            for i in range(size):
                average[i] = here[i] * weights[length, 0]
            for tap in range(1, taps[length]):
                weight, shifted = weights[length, tap], rolled[first + tap : first + tap + size]
                for i in range(size):
                    average[i] += weight * shifted[i]


@njit(cache=True, nogil=True, fastmath={"nnan", "nsz"})
def roll_disc(ground: Float32, disc: Float32, rolled: Float32) -> None:
    """Height of the rolling disc; the rim fore and aft in one step, four steps a pass.

    Slices, the absence of NaN and several steps a pass let the compiler use vector instructions (ten times
    the speed of the plain double loop). A last pass that is not full repeats the innermost step.

    Parameters
    ----------
    ground : (n + 2 k,)
    disc : (2 k + 1,)
        Symmetric, zero in the middle.
    rolled : (n,)
        Filled here.
    """
    n, k = rolled.size, disc.size // 2
    middle = ground[k : k + n]
    for i in range(n):
        rolled[i] = middle[i]
    for first in range(0, k, 4):
        second, third, fourth = min(first + 1, k - 1), min(first + 2, k - 1), min(first + 3, k - 1)
        rim_1, rim_2, rim_3, rim_4 = disc[first], disc[second], disc[third], disc[fourth]
        aft_1, fore_1 = ground[first : first + n], ground[2 * k - first : 2 * k - first + n]
        aft_2, fore_2 = ground[second : second + n], ground[2 * k - second : 2 * k - second + n]
        aft_3, fore_3 = ground[third : third + n], ground[2 * k - third : 2 * k - third + n]
        aft_4, fore_4 = ground[fourth : fourth + n], ground[2 * k - fourth : 2 * k - fourth + n]
        for i in range(n):
            highest = max(rolled[i], max(aft_1[i], fore_1[i]) + rim_1)
            highest = max(highest, max(aft_2[i], fore_2[i]) + rim_2)
            highest = max(highest, max(aft_3[i], fore_3[i]) + rim_3)
            rolled[i] = max(highest, max(aft_4[i], fore_4[i]) + rim_4)
