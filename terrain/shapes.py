# mypy: disable-error-code="untyped-decorator,no-any-return"
"""Shapes of obstacles, added to the ground heights along lines parallel to the way (compiled).

Frame: x along the way from the start of the sample, y to the left of the centre line, heights up. A shape
that lies across the way is a profile of u = (x - x0) cos(a) + y sin(a), a being its angle from square across;
a round one is a profile of the distance from its centre. Profiles start and end smoothly (raised cosine)
except a step without ramp and the rim of a boulder, which are sharp on purpose.
"""

import math

from numba import njit

from crossaxle.arrays import Array, Float32

KINDS = ("ditch", "hole", "mound", "step", "boulder", "ruts", "water bar", "washboard")
DITCH, HOLE, MOUND, STEP, BOULDER, RUTS, WATER_BAR, WASHBOARD = range(8)

COLUMNS = ("kind", "x", "y", "angle", "height", "width", "length", "period", "side")
KIND, X, Y, ANGLE, HEIGHT, WIDTH, LENGTH, PERIOD, SIDE = range(9)
"""Columns of an obstacle's row: code, place [m, m, rad], signed height [m], size across its axis [m], extent
along the way [m], gauge of ruts or wave length of a washboard [m], and the side it is confined to (1 left, -1
right, 0 both)."""

FADE = 0.5
"""Width of the strip on the centre line in which a one-sided obstacle fades out [m]."""


@njit(cache=True, nogil=True)
def bump(u: float) -> float:
    """Evaluate a raised cosine: 1 at u = 0, 0 with zero slope at |u| = 1/2 and beyond."""
    return 0.5 + 0.5 * math.cos(2 * math.pi * u) if abs(u) < 0.5 else 0.0


@njit(cache=True, nogil=True)
def ramp(u: float) -> float:
    """Rise smoothly from 0 at u <= 0 to 1 at u >= 1."""
    if u <= 0.0:
        return 0.0
    return 1.0 if u >= 1.0 else 0.5 - 0.5 * math.cos(math.pi * u)


@njit(cache=True, nogil=True)
def across(kind: int, u: float, row: Array) -> float:
    """Give the height of an obstacle that lies across the way at the distance u past its axis or foot [m]."""
    height, width, length = row[HEIGHT], row[WIDTH], row[LENGTH]
    if kind == DITCH:
        return height * bump(u / width)
    if kind == WATER_BAR:
        # a bar, and before it the drain it was dug from, half as deep as the bar is high
        return height * (bump(u / width) - 0.5 * bump((u + width) / width))
    if kind == STEP:
        if u < 0.0:
            return 0.0
        rise = ramp(u / width) if width > 0.0 else 1.0
        return height * rise * (1.0 - ramp((u - width) / length))
    if u < 0.0 or u > length:
        return 0.0
    fade = min(row[PERIOD], 0.25 * length)
    return height * math.sin(2 * math.pi * u / row[PERIOD]) * ramp(u / fade) * ramp((length - u) / fade)


@njit(cache=True, nogil=True)
def at(kind: int, x: float, y: float, row: Array) -> float:
    """Give the height of one obstacle at a point of the ground [m]."""
    along = x - row[X]
    if kind in (HOLE, MOUND, BOULDER):
        r = math.hypot(along, y - row[Y]) / row[WIDTH]
        if kind == BOULDER:
            return row[HEIGHT] * math.sqrt(1.0 - 4.0 * r * r) if r < 0.5 else 0.0
        return row[HEIGHT] * bump(r)
    if kind == RUTS:
        half = 0.5 * row[PERIOD]
        off = y - row[Y]
        cut = bump((off - half) / row[WIDTH]) + bump((off + half) / row[WIDTH])
        fade = 0.25 * row[LENGTH]
        return row[HEIGHT] * cut * ramp(along / fade) * ramp((row[LENGTH] - along) / fade)
    u = along * math.cos(row[ANGLE]) + y * math.sin(row[ANGLE])
    return across(kind, u, row) * (ramp(row[SIDE] * y / FADE + 0.5) if row[SIDE] != 0.0 else 1.0)


@njit(cache=True, nogil=True)
def reach(kind: int, y: float, row: Array) -> tuple[float, float]:
    """Give the stretch of x in which an obstacle may change the height of the line at y [m]."""
    if kind in (HOLE, MOUND, BOULDER):
        return row[X] - 0.5 * row[WIDTH], row[X] + 0.5 * row[WIDTH]
    if kind == RUTS:
        return row[X], row[X] + row[LENGTH]
    low, high = -0.5 * row[WIDTH], 0.5 * row[WIDTH]
    if kind == WATER_BAR:
        low -= row[WIDTH]
    elif kind == STEP:
        low, high = 0.0, row[WIDTH] + row[LENGTH]
    elif kind == WASHBOARD:
        low, high = 0.0, row[LENGTH]
    shift, stretch = y * math.sin(row[ANGLE]), math.cos(row[ANGLE])
    return row[X] + (low - shift) / stretch, row[X] + (high - shift) / stretch


@njit(cache=True, nogil=True)
def add_obstacles(heights: Float32, lines_y: Array, start: float, spacing: float, rows: Array) -> None:
    """Add obstacles to ground heights in place.

    Parameters
    ----------
    heights : (n_lines, n_points)
    lines_y : (n_lines,)
    start : float
        x of the first point [m].
    spacing : float
        Between points [m].
    rows : (n_obstacles, 9)
        See `COLUMNS`.
    """
    n_points = heights.shape[1]
    for row in rows:
        kind = int(row[KIND])
        for line in range(lines_y.size):
            y = lines_y[line]
            first, last = reach(kind, y, row)
            begin = max(0, math.floor((first - start) / spacing))
            end = min(n_points, math.ceil((last - start) / spacing) + 1)
            for i in range(begin, end):
                heights[line, i] += at(kind, start + i * spacing, y, row)
