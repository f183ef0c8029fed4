"""Compiled arithmetic on one block of positions: ground to inputs, affine maps, and bounds of them.

Arrays are (rows, BLOCK), a row for each wheel, input or output. Formulas and frame are those of
:mod:`crossaxle.sim.ground_plane`; affine maps are (1 + w, columns), constant first.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Integers
from crossaxle.sim.compiled import compiled, compiled_in_place
from crossaxle.sim.ground_plane import GRAVITY

BLOCK: Final = 256
"""Positions evaluated together."""

PARTS: Final = 8
"""Parts of a block in which outputs are bounded more closely before they are evaluated."""

PART: Final = BLOCK // PARTS
"""Positions in a part: eight times four, see ``extents``."""

ROUNDING: Final = 1e-12
"""Share of a bound's terms by which it is widened; the evaluation's rounding is a thousandth of that."""


@compiled_in_place
def wheel_heights(
    heights: NDArray[np.floating],
    line: Integers,
    offset: Integers,
    share: Array,
    block: int,
    n: int,
    z: Array,
) -> None:
    """Ground height z (w, BLOCK) under each wheel."""
    for wheel in range(len(line)):
        row, first, ahead = line[wheel], block + offset[wheel], share[wheel]
        here = heights[row, first : first + n]
        if ahead == 0.0:
            for i in range(n):
                z[wheel, i] = here[i]
        else:
            behind = 1.0 - ahead
            next_one = heights[row, first + 1 : first + 1 + n]
            for i in range(n):
                z[wheel, i] = behind * here[i] + ahead * next_one[i]


@compiled_in_place
def slopes_and_warp(
    grade: Array, side_slope: Array, z: Array, slope_x: Array, slope_y: Array, warp: Array, n: int, u: Array
) -> None:
    """Slopes b and c into the first two inputs, warp along the vertical into those from the fourth on.

    Wheels are taken in pairs, which saves memory traffic; there is an even number of them.
    """
    w = len(slope_x)
    for wheel in range(0, w, 2):
        x0, x1, y0, y1 = slope_x[wheel], slope_x[wheel + 1], slope_y[wheel], slope_y[wheel + 1]
        if wheel == 0:
            for i in range(n):
                u[0, i] = grade[i] + x0 * z[0, i] + x1 * z[1, i]
                u[1, i] = side_slope[i] + y0 * z[0, i] + y1 * z[1, i]
        else:
            for i in range(n):
                u[0, i] += x0 * z[wheel, i] + x1 * z[wheel + 1, i]
                u[1, i] += y0 * z[wheel, i] + y1 * z[wheel + 1, i]
    for shape in range(3, w):
        a0, a1, a2, a3 = warp[0, shape - 3], warp[1, shape - 3], warp[2, shape - 3], warp[3, shape - 3]
        for i in range(n):
            u[shape, i] = a0 * z[0, i] + a1 * z[1, i] + a2 * z[2, i] + a3 * z[3, i]
        for wheel in range(4, w, 2):
            a0, a1 = warp[wheel, shape - 3], warp[wheel + 1, shape - 3]
            for i in range(n):
                u[shape, i] += a0 * z[wheel, i] + a1 * z[wheel + 1, i]


@compiled_in_place
def slopes_finite(u: Array, n: int) -> bool:
    """Whether both slopes and their squares are finite; with them every height is, even one without weight."""
    bad = 0
    for i in range(n):
        squared = u[0, i] * u[0, i] + u[1, i] * u[1, i]
        bad += squared - squared != 0.0
    return bad == 0


@compiled_in_place
def resolve_gravity(linearised: bool, n: int, u: Array) -> None:
    """Turn slopes into gravity's components and warp to the plane's normal; lanes from ``n`` on repeat the last."""
    w = len(u)
    if linearised:
        for i in range(n):
            u[0, i] *= -GRAVITY
            u[1, i] *= -GRAVITY
            u[2, i] = -GRAVITY
    else:
        for i in range(n):
            b, c = u[0, i], u[1, i]
            m_squared = 1.0 + b * b
            m, full = np.sqrt(m_squared), np.sqrt(m_squared + c * c)
            shrink = 1.0 / (m * full)
            cosine = m * shrink
            u[0, i] = -GRAVITY * (b * (full * shrink))
            u[1, i] = -GRAVITY * (c * shrink)
            u[2, i] = -GRAVITY * cosine
            u[3, i] *= cosine
        for shape in range(4, w):
            for i in range(n):
                u[shape, i] *= u[2, i] / -GRAVITY
    if n < BLOCK:
        for i in range(w):
            u[i, n:] = u[i, n - 1]


@compiled
def extent(x: Array, row: int, low: Array, high: Array) -> tuple[float, float]:
    """Least and greatest of one row, none NaN; ``low`` and ``high`` (PART,) are working memory.

    Halving and comparing element by element leaves no order to keep, so it is done for several lanes at once.
    """
    for i in range(PART):
        a, b, c, d = x[row, i], x[row, i + PART], x[row, i + 2 * PART], x[row, i + 3 * PART]
        e, f, g, h = x[row, i + 4 * PART], x[row, i + 5 * PART], x[row, i + 6 * PART], x[row, i + 7 * PART]
        ab, cd, ef, gh = a if a < b else b, c if c < d else d, e if e < f else f, g if g < h else h
        ad, eh = ab if ab < cd else cd, ef if ef < gh else gh
        low[i] = ad if ad < eh else eh
        ab, cd, ef, gh = a if a > b else b, c if c > d else d, e if e > f else f, g if g > h else h
        ad, eh = ab if ab > cd else cd, ef if ef > gh else gh
        high[i] = ad if ad > eh else eh
    half = PART // 2
    while half >= 4:
        for i in range(half):
            low[i] = low[i] if low[i] < low[i + half] else low[i + half]
            high[i] = high[i] if high[i] > high[i + half] else high[i + half]
        half //= 2
    found_low, found_high = low[0], high[0]
    for i in range(1, 4):
        found_low = low[i] if low[i] < found_low else found_low
        found_high = high[i] if high[i] > found_high else found_high
    return found_low, found_high


@compiled_in_place
def extents(
    u: Array, linearised: bool, low: Array, high: Array, middle: Array, half: Array, work: Array
) -> None:
    """Least and greatest (w,) of each input in the block; middle and half range (w, PARTS) in its parts.

    Of normal gravity, bounds that follow from the other two components. ``work`` is (2, PARTS, 4).
    """
    for row in range(len(u)):
        if row == 2:
            continue
        for part in range(PARTS):
            p = part * PART
            # the number of lanes is read, not written down: the compiler then uses vectors instead of
            # unrolling
            for i in range(work.shape[2]):
                a, b, c, d = u[row, p + i], u[row, p + i + 4], u[row, p + i + 8], u[row, p + i + 12]
                e, f, g, h = u[row, p + i + 16], u[row, p + i + 20], u[row, p + i + 24], u[row, p + i + 28]
                ab, cd, ef, gh = a if a < b else b, c if c < d else d, e if e < f else f, g if g < h else h
                ad, eh = ab if ab < cd else cd, ef if ef < gh else gh
                work[0, part, i] = ad if ad < eh else eh
                ab, cd, ef, gh = a if a > b else b, c if c > d else d, e if e > f else f, g if g > h else h
                ad, eh = ab if ab > cd else cd, ef if ef > gh else gh
                work[1, part, i] = ad if ad > eh else eh
        low[row], high[row] = work[0, 0, 0], work[1, 0, 0]
        for part in range(PARTS):
            a, b, c, d = work[0, part, 0], work[0, part, 1], work[0, part, 2], work[0, part, 3]
            ab, cd = a if a < b else b, c if c < d else d
            least = ab if ab < cd else cd
            a, b, c, d = work[1, part, 0], work[1, part, 1], work[1, part, 2], work[1, part, 3]
            ab, cd = a if a > b else b, c if c > d else d
            greatest = ab if ab > cd else cd
            low[row] = least if least < low[row] else low[row]
            high[row] = greatest if greatest > high[row] else high[row]
            middle[row, part], half[row, part] = 0.5 * (least + greatest), 0.5 * (greatest - least)
    low[2] = high[2] = -GRAVITY
    for part in range(PARTS):
        gx, gy = abs(middle[0, part]) + half[0, part], abs(middle[1, part]) + half[1, part]
        steep = -np.sqrt(max(0.0, GRAVITY * GRAVITY - gx * gx - gy * gy))
        if linearised:
            steep = -GRAVITY
        middle[2, part], half[2, part] = 0.5 * (steep - GRAVITY), 0.5 * (steep + GRAVITY)
        high[2] = steep if steep > high[2] else high[2]
    for row in range(len(u)):
        for part in range(PARTS):
            half[row, part] += ROUNDING * (abs(middle[row, part]) + half[row, part])


@compiled_in_place
def bounds_in_parts(affine: Array, column: int, middle: Array, half: Array, reach: Array) -> None:
    """Bounds (2, PARTS), low and high, of one column of an affine map in each part of the block."""
    constant = affine[0, column]
    for part in range(PARTS):
        reach[0, part], reach[1, part] = constant, ROUNDING * abs(constant)
    for row in range(len(middle)):
        slope = affine[1 + row, column]
        size = abs(slope)
        for part in range(PARTS):
            reach[0, part] += slope * middle[row, part]
            reach[1, part] += size * half[row, part]
    for part in range(PARTS):
        y, reserve = reach[0, part], reach[1, part]
        reach[0, part], reach[1, part] = y - reserve, y + reserve


@compiled_in_place
def bounds(affine: Array, low: Array, high: Array, out_low: Array, out_high: Array) -> None:
    """Bounds of each column of an affine map over the box ``low`` to ``high``, rounding included."""
    for c in range(len(out_low)):
        out_low[c] = affine[0, c]
        out_high[c] = ROUNDING * abs(affine[0, c])
    for i in range(len(low)):
        middle, half = 0.5 * (low[i] + high[i]), 0.5 * (high[i] - low[i])
        half += ROUNDING * (abs(middle) + half)
        for c in range(len(out_low)):
            out_low[c] += middle * affine[1 + i, c]
            out_high[c] += half * abs(affine[1 + i, c])
    for c in range(len(out_low)):
        middle, half = out_low[c], out_high[c]
        out_low[c] = middle - half
        out_high[c] = middle + half


@compiled_in_place
def affine_row(affine: Array, column: int, u: Array, n: int, out: Array, row: int) -> None:
    """One column of an affine map at the first ``n`` lanes; the terms in the order of ``affine_point``."""
    a = affine[0, column]
    a0, a1, a2, a3 = affine[1, column], affine[2, column], affine[3, column], affine[4, column]
    for i in range(n):
        out[row, i] = a + a0 * u[0, i] + a1 * u[1, i] + a2 * u[2, i] + a3 * u[3, i]
    for j in range(4, len(u), 2):
        a0, a1 = affine[1 + j, column], affine[2 + j, column]
        for i in range(n):
            out[row, i] = out[row, i] + a0 * u[j, i] + a1 * u[j + 1, i]


@compiled_in_place
def affine_part(affine: Array, column: int, u: Array, begin: int, out: Array) -> None:
    """One column of an affine map in the part of the block from ``begin``; the terms as in ``affine_row``."""
    a = affine[0, column]
    a0, a1, a2, a3 = affine[1, column], affine[2, column], affine[3, column], affine[4, column]
    for i in range(len(out)):
        at = begin + i
        out[i] = a + a0 * u[0, at] + a1 * u[1, at] + a2 * u[2, at] + a3 * u[3, at]
    for j in range(4, len(u), 2):
        a0, a1 = affine[1 + j, column], affine[2 + j, column]
        for i in range(len(out)):
            out[i] = out[i] + a0 * u[j, begin + i] + a1 * u[j + 1, begin + i]


@compiled_in_place
def raise_to_affine_row(affine: Array, column: int, u: Array, out: Array) -> None:
    """Raise the first row of ``out`` (2, BLOCK) to one column of an affine map where that is greater."""
    if len(u) == 4:
        a = affine[0, column]
        a0, a1, a2, a3 = affine[1, column], affine[2, column], affine[3, column], affine[4, column]
        for i in range(BLOCK):
            x = a + a0 * u[0, i] + a1 * u[1, i] + a2 * u[2, i] + a3 * u[3, i]
            out[0, i] = x if x > out[0, i] else out[0, i]
        return
    affine_row(affine, column, u, BLOCK, out, 1)
    for i in range(BLOCK):
        out[0, i] = out[1, i] if out[1, i] > out[0, i] else out[0, i]


@compiled_in_place
def affine_point(affine: Array, entry: int, u: Array, out: Array, row: int) -> None:
    """All columns of one of several affine maps (entries, 1 + w, columns) at one input ``u`` (w,)."""
    u0, u1, u2, u3 = u[0], u[1], u[2], u[3]
    for c in range(out.shape[1]):
        out[row, c] = (
            affine[entry, 0, c]
            + affine[entry, 1, c] * u0
            + affine[entry, 2, c] * u1
            + affine[entry, 3, c] * u2
            + affine[entry, 4, c] * u3
        )
    for i in range(4, len(u)):
        ui = u[i]
        for c in range(out.shape[1]):
            out[row, c] += affine[entry, 1 + i, c] * ui
