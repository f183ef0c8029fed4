# mypy: disable-error-code="untyped-decorator,no-any-return"
"""What obstacles share: the columns of their rows, and the compiled pieces that their shapes are made of.

Frame: x along the way from the start of the sample, y to the left of the centre line, heights up. A shape
that lies across the way is a profile of u = (x - x0) cos(a) + y sin(a), a being its angle from square across;
a round one is a profile of the distance from its centre. Profiles start and end smoothly (raised cosine)
except a step without ramp and the rim of a boulder, which are sharp on purpose.
"""

import math

from numba import njit

from crossaxle.arrays import Array

COLUMNS = ("kind", "x", "y", "angle", "height", "width", "length", "period", "side")
KIND, X, Y, ANGLE, HEIGHT, WIDTH, LENGTH, PERIOD, SIDE = range(9)
"""Columns of an obstacle's row: place of its kind among `crossaxle.terrain.obstacles.KINDS`, place [m, m, rad], signed
height [m], size across its axis [m], extent along the way [m], gauge of ruts or wave length of a washboard [m], and
the side it is confined to (1 left, -1 right, 0 both)."""

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
def past(x: float, y: float, row: Array) -> float:
    """Distance of a point past the axis or foot of an obstacle that lies across the way [m]."""
    return (x - row[X]) * math.cos(row[ANGLE]) + y * math.sin(row[ANGLE])


@njit(cache=True, nogil=True)
def on_its_side(y: float, row: Array) -> float:
    """Share of its height that an obstacle across the way has at y: all, or fading out towards the other side."""
    return ramp(row[SIDE] * y / FADE + 0.5) if row[SIDE] != 0.0 else 1.0


@njit(cache=True, nogil=True)
def across_between(low: float, high: float, y: float, row: Array) -> tuple[float, float]:
    """Stretch of x at y that lies between two distances past an axis across the way [m]."""
    shift, stretch = y * math.sin(row[ANGLE]), math.cos(row[ANGLE])
    return row[X] + (low - shift) / stretch, row[X] + (high - shift) / stretch


@njit(cache=True, nogil=True)
def round_reach(y: float, row: Array) -> tuple[float, float]:
    """Stretch of x that a round obstacle may change [m]."""
    return row[X] - 0.5 * row[WIDTH], row[X] + 0.5 * row[WIDTH]


@njit(cache=True, nogil=True)
def from_centre(x: float, y: float, row: Array) -> float:
    """Distance of a point from a round obstacle's centre, over its diameter [1]."""
    return math.hypot(x - row[X], y - row[Y]) / row[WIDTH]
