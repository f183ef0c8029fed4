# mypy: disable-error-code="untyped-decorator,no-any-return"
"""Kinds of obstacles of a course file: what the file states, their shape, and how plausible they are.

Each population arrives as a Poisson process along the way: a number drawn for the stretch, places uniform in
it, and sizes, angle and side independent from obstacle to obstacle. A class that derives from `Population` above the
list `KINDS` is a kind of obstacle: files may name it, its shape is laid, it is counted, marked in the chart and
doubted. All compiled functions of the kinds stand in this file, whose change makes the compiler's cache invalid.
"""

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, NamedTuple, Union, get_args

import numpy as np
from numba import njit
from numba.extending import overload
from pydantic import BaseModel, ConfigDict, Field

from crossaxle.arrays import Array, Float32
from crossaxle.terrain.distribution import AnyAngle, AnyDistance, PositiveLength, fixed, uniform
from crossaxle.terrain.quantity import Length, Rate
from crossaxle.terrain.shapes import (
    ANGLE,
    COLUMNS,
    HEIGHT,
    KIND,
    LENGTH,
    PERIOD,
    SIDE,
    WIDTH,
    X,
    Y,
    across_between,
    bump,
    from_centre,
    on_its_side,
    past,
    ramp,
    round_reach,
)

STEEPEST_CROSSING = np.radians(70.0)
"""Crossing angles are cut to this; flatter ones run along the way and are ruts [rad]."""
HIGHEST_SHARP_EDGE = 0.5
"""Height of an edge or a boulder that a large wheel may still climb [m]."""
STEEPEST_DITCH = 1.2
"""Tangent of a ditch's wall."""
MOST_COVERED = 0.5
"""Share of the way that one kind of obstacle may cover."""
CORNERS = 48
"""Corners of the outline of a round obstacle."""

Place = Literal["left", "right", "either"]


class Shape(NamedTuple):
    """Compiled shape of a kind.

    ``height(x, y, row)``: height at a point [m]. ``reach(y, row)``: first and last x at which it may be other than 0.
    """

    height: Callable[[float, float, Array], float]
    reach: Callable[[float, Array], tuple[float, float]]


class Population(BaseModel):
    """What all obstacles of one kind in a section share.

    A kind states ``kind`` (its word in the file), ``shape``, ``extent``, and draws its sizes in ``_fill``.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    shape: ClassVar[Shape]
    rate: Rate

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        """Refuse a kind without a shape of its own: it would be laid as nothing."""
        if "kind" in cls.model_fields and not hasattr(cls, "shape"):
            raise TypeError(
                f"{cls.__name__} is a kind of obstacle without a shape; give it shape = Shape(...)"
            )

    def rows(self, rng: np.random.Generator, start: float, stop: float) -> Array:
        """Draw the obstacles of a stretch.

        Parameters
        ----------
        rng : numpy.random.Generator
        start, stop : float
            The stretch [m].

        Returns
        -------
        (n_obstacles, 9)
            See `crossaxle.terrain.shapes.COLUMNS`; in order along the way.
        """
        count = int(rng.poisson(self.rate * (stop - start)))
        rows = np.zeros((count, len(COLUMNS)))
        rows[:, X] = np.sort(rng.uniform(start, stop, count))
        rows[:, KIND] = KINDS.index(type(self))
        self._fill(rows, rng)
        return rows

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        raise NotImplementedError

    @classmethod
    def word(cls) -> str:
        """What the file calls the kind."""
        return str(get_args(cls.model_fields["kind"].annotation)[0])

    @classmethod
    def outlines(cls, row: Array, half_width: float) -> list[Array]:
        """Corners (m, 2) of what one obstacle covers in plan [m], as far as ``half_width`` to either side."""
        sides = np.array([-half_width, half_width])
        ends = np.array([cls.shape.reach(y, row) for y in sides])
        return [np.column_stack([ends[[0, 1, 1, 0], [0, 0, 1, 1]], sides[[0, 1, 1, 0]]])]

    @property
    def extent(self) -> float:
        """Typical extent along the way [m]."""
        raise NotImplementedError

    def doubts(self) -> list[str]:
        """List what is implausible."""
        covered = self.rate * self.extent
        if covered <= MOST_COVERED:
            return []
        return [
            f"{1000 * self.rate:g} times a {self.word()} per km covers {100 * covered:.0f} % of the way, so"
            " they overlap and add up; lower the rate"
        ]


class _Across(Population):
    """Obstacle that lies across the way, over both tracks or one."""

    angle: AnyAngle = fixed(0.0)
    side: Literal["both", "left", "right", "either"] = "both"

    def _lay_across(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        angle = np.minimum(self.angle.draw(rng, count), STEEPEST_CROSSING)
        rows[:, ANGLE] = angle * _signs(rng, count)
        rows[:, SIDE] = 0.0 if self.side == "both" else _sides(self.side, rng, count)

    @classmethod
    def outlines(cls, row: Array, half_width: float) -> list[Array]:
        """Corners of the strip, on its side of the way if it is confined to one."""
        low, high = {0: (-half_width, half_width), 1: (0.0, half_width), -1: (-half_width, 0.0)}[
            int(row[SIDE])
        ]
        (a, b), (c, d) = (cls.shape.reach(y, row) for y in (low, high))
        return [np.array([(a, low), (c, high), (d, high), (b, low)])]


class _Round(Population):
    """Obstacle with a centre, at a distance to the left or right of the centre line."""

    diameter: PositiveLength
    offset: AnyDistance = uniform(0.6, 1.4)
    side: Place = "either"

    def _lay_round(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, WIDTH] = self.diameter.draw(rng, count)
        rows[:, Y] = self.offset.draw(rng, count) * _sides(self.side, rng, count)

    @classmethod
    def outlines(cls, row: Array, half_width: float) -> list[Array]:
        """Corners of its rim."""
        turn = np.linspace(0, 2 * np.pi, CORNERS, endpoint=False)
        return [np.array([row[X], row[Y]]) + 0.5 * row[WIDTH] * np.column_stack([np.cos(turn), np.sin(turn)])]

    @property
    def extent(self) -> float:
        """Typical diameter [m]."""
        return self.diameter.middle


def _doubt_of_edge(word: str, height: float) -> list[str]:
    if height <= HIGHEST_SHARP_EDGE:
        return []
    return [
        f"a {word} up to {height:g} m high is an edge that no wheel climbs; at most"
        f" {HIGHEST_SHARP_EDGE:g} m is plausible"
    ]


@njit(cache=True, nogil=True)
def _trough(x: float, y: float, row: Array) -> float:
    return row[HEIGHT] * bump(past(x, y, row) / row[WIDTH]) * on_its_side(y, row)


@njit(cache=True, nogil=True)
def _trough_reach(y: float, row: Array) -> tuple[float, float]:
    return across_between(-0.5 * row[WIDTH], 0.5 * row[WIDTH], y, row)


class Ditch(_Across):
    """Ditch across the way: a trough with a raised-cosine profile."""

    shape: ClassVar[Shape] = Shape(_trough, _trough_reach)
    kind: Literal["ditch"] = "ditch"
    width: PositiveLength
    depth: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, WIDTH] = self.width.draw(rng, len(rows))
        rows[:, HEIGHT] = -self.depth.draw(rng, len(rows))
        self._lay_across(rows, rng)

    @property
    def extent(self) -> float:
        """Typical width [m]."""
        return self.width.middle

    def doubts(self) -> list[str]:
        """List what is implausible; walls by the steepest tangent of a raised cosine.

        The narrowest ditch need not be the deepest, hence the middles.
        """
        steepest = np.pi * self.depth.middle / self.width.middle
        walls = [
            f"a ditch {self.depth.middle:g} m deep and {self.width.middle:g} m wide has walls of"
            f" {np.degrees(np.arctan(steepest)):.0f} deg; make it wider or shallower"
        ]
        return [*(walls if steepest > STEEPEST_DITCH else []), *super().doubts()]


@njit(cache=True, nogil=True)
def _dome(x: float, y: float, row: Array) -> float:
    return row[HEIGHT] * bump(from_centre(x, y, row))


class Hole(_Round):
    """Round hole with a raised-cosine profile."""

    shape: ClassVar[Shape] = Shape(_dome, round_reach)
    kind: Literal["hole"] = "hole"
    depth: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, HEIGHT] = -self.depth.draw(rng, len(rows))
        self._lay_round(rows, rng)


class Mound(_Round):
    """Round mound with a raised-cosine profile."""

    shape: ClassVar[Shape] = Shape(_dome, round_reach)
    kind: Literal["mound"] = "mound"
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_round(rows, rng)


@njit(cache=True, nogil=True)
def _half_ellipsoid(x: float, y: float, row: Array) -> float:
    r = from_centre(x, y, row)
    return row[HEIGHT] * math.sqrt(1.0 - 4.0 * r * r) if r < 0.5 else 0.0


class Boulder(_Round):
    """Half an ellipsoid that stands out of the ground with a steep rim."""

    shape: ClassVar[Shape] = Shape(_half_ellipsoid, round_reach)
    kind: Literal["boulder"] = "boulder"
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_round(rows, rng)

    def doubts(self) -> list[str]:
        """List what is implausible."""
        return [*_doubt_of_edge(self.kind, self.height.high), *super().doubts()]


@njit(cache=True, nogil=True)
def _ledge(x: float, y: float, row: Array) -> float:
    u, width = past(x, y, row), row[WIDTH]
    if u < 0.0:
        return 0.0
    rise = ramp(u / width) if width > 0.0 else 1.0
    return row[HEIGHT] * rise * (1.0 - ramp((u - width) / row[LENGTH])) * on_its_side(y, row)


@njit(cache=True, nogil=True)
def _ledge_reach(y: float, row: Array) -> tuple[float, float]:
    return across_between(0.0, row[WIDTH] + row[LENGTH], y, row)


class Step(_Across):
    """Ledge: up or down over a ramp (none: a sharp edge), then slowly back over the run-out."""

    shape: ClassVar[Shape] = Shape(_ledge, _ledge_reach)
    kind: Literal["step"] = "step"
    height: PositiveLength
    direction: Literal["up", "down", "either"] = "either"
    ramp: AnyDistance = fixed(0.0)
    run_out: Length = 20.0

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        up = _signs(rng, count) if self.direction == "either" else 1.0 if self.direction == "up" else -1.0
        rows[:, HEIGHT] = up * self.height.draw(rng, count)
        rows[:, WIDTH] = self.ramp.draw(rng, count)
        rows[:, LENGTH] = self.run_out
        self._lay_across(rows, rng)

    @classmethod
    def outlines(cls, row: Array, half_width: float) -> list[Array]:
        """Corners of edge and ramp; the run-out is no part of them."""
        edge = row.copy()
        edge[LENGTH] = 0.0
        return super().outlines(edge, half_width)

    @property
    def extent(self) -> float:
        """Typical length of ramp and run-out [m]."""
        return self.ramp.middle + self.run_out

    def doubts(self) -> list[str]:
        """List what is implausible."""
        sharp = self.ramp.high == 0
        return [*(_doubt_of_edge(self.kind, self.height.high) if sharp else []), *super().doubts()]


@njit(cache=True, nogil=True)
def _pair_of_ruts(x: float, y: float, row: Array) -> float:
    along, half, off = x - row[X], 0.5 * row[PERIOD], y - row[Y]
    cut = bump((off - half) / row[WIDTH]) + bump((off + half) / row[WIDTH])
    fade = 0.25 * row[LENGTH]
    return row[HEIGHT] * cut * ramp(along / fade) * ramp((row[LENGTH] - along) / fade)


@njit(cache=True, nogil=True)
def _length_reach(y: float, row: Array) -> tuple[float, float]:
    return row[X], row[X] + row[LENGTH]


class Ruts(Population):
    """Pair of ruts along the way, their middle off the centre line by the offset."""

    shape: ClassVar[Shape] = Shape(_pair_of_ruts, _length_reach)
    kind: Literal["ruts"] = "ruts"
    length: PositiveLength
    depth: PositiveLength
    width: PositiveLength = fixed(0.6)
    gauge: PositiveLength = fixed(2.0)
    offset: AnyDistance = uniform(0.0, 0.8)
    side: Place = "either"

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, LENGTH] = self.length.draw(rng, count)
        rows[:, HEIGHT] = -self.depth.draw(rng, count)
        rows[:, WIDTH] = self.width.draw(rng, count)
        rows[:, PERIOD] = self.gauge.draw(rng, count)
        rows[:, Y] = self.offset.draw(rng, count) * _sides(self.side, rng, count)

    @classmethod
    def outlines(cls, row: Array, half_width: float) -> list[Array]:
        """Corners of both ruts."""
        begin, end = cls.shape.reach(0.0, row)
        middles = row[Y] + 0.5 * row[PERIOD] * np.array([1.0, -1.0])
        return [
            np.array([(begin, y - w), (begin, y + w), (end, y + w), (end, y - w)])
            for y, w in zip(middles, [0.5 * row[WIDTH]] * 2, strict=True)
        ]

    @property
    def extent(self) -> float:
        """Typical length [m]."""
        return self.length.middle


@njit(cache=True, nogil=True)
def _bar_and_drain(x: float, y: float, row: Array) -> float:
    # a bar, and before it the drain it was dug from, half as deep as the bar is high
    u, width = past(x, y, row), row[WIDTH]
    return row[HEIGHT] * (bump(u / width) - 0.5 * bump((u + width) / width)) * on_its_side(y, row)


@njit(cache=True, nogil=True)
def _bar_reach(y: float, row: Array) -> tuple[float, float]:
    return across_between(-0.5 * row[WIDTH] - row[WIDTH], 0.5 * row[WIDTH], y, row)


class WaterBar(_Across):
    """Low bar across the way with a shallow drain before it."""

    shape: ClassVar[Shape] = Shape(_bar_and_drain, _bar_reach)
    kind: Literal["water bar"] = "water bar"
    width: PositiveLength
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, WIDTH] = self.width.draw(rng, len(rows))
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_across(rows, rng)

    @property
    def extent(self) -> float:
        """Typical width [m]."""
        return self.width.middle


@njit(cache=True, nogil=True)
def _waves(x: float, y: float, row: Array) -> float:
    u, length = past(x, y, row), row[LENGTH]
    if u < 0.0 or u > length:
        return 0.0
    fade = min(row[PERIOD], 0.25 * length)
    wave = row[HEIGHT] * math.sin(2 * math.pi * u / row[PERIOD]) * ramp(u / fade) * ramp((length - u) / fade)
    return wave * on_its_side(y, row)


@njit(cache=True, nogil=True)
def _waves_reach(y: float, row: Array) -> tuple[float, float]:
    return across_between(0.0, row[LENGTH], y, row)


class Washboard(_Across):
    """Stretch of regular waves across the way, fading in and out."""

    shape: ClassVar[Shape] = Shape(_waves, _waves_reach)
    kind: Literal["washboard"] = "washboard"
    length: PositiveLength
    wave_length: PositiveLength
    amplitude: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, LENGTH] = self.length.draw(rng, count)
        rows[:, PERIOD] = self.wave_length.draw(rng, count)
        rows[:, HEIGHT] = self.amplitude.draw(rng, count)
        self._lay_across(rows, rng)

    @property
    def extent(self) -> float:
        """Typical length [m]."""
        return self.length.middle


def _kinds(base: type[Population]) -> list[type[Population]]:
    """Kinds among a class and what derives from it, in the order of their definition."""
    own = [base] if "kind" in base.model_fields else []
    return [*own, *(kind for derived in base.__subclasses__() for kind in _kinds(derived))]


KINDS: tuple[type[Population], ...] = tuple(_kinds(Population))
"""Every kind of obstacle; a row's code is a place in this list."""

if TYPE_CHECKING:
    Obstacle = Population
else:
    Obstacle = Annotated[Union[KINDS], Field(discriminator="kind")]  # noqa: UP007


def _height(code: int, x: float, y: float, row: Array) -> float:
    """Height of one obstacle at a point of the ground [m]."""
    return KINDS[code].shape.height(x, y, row)


def _reach(code: int, y: float, row: Array) -> tuple[float, float]:
    """Stretch of x in which an obstacle may change the height of the line at y [m]."""
    return KINDS[code].shape.reach(y, row)


def _chain(arguments: str, function: str, otherwise: str) -> Callable[..., Any]:
    """Write the choice between all kinds as one compiled function: tables of functions are slower to call."""
    lines = [f"def choose(code, {arguments}):"]
    lines += [f"    if code == {k}: return shape_{k}({arguments})" for k in range(len(KINDS))]
    scope: dict[str, Any] = {"math": math}
    scope |= {f"shape_{k}": getattr(kind.shape, function) for k, kind in enumerate(KINDS)}
    exec("\n".join([*lines, f"    return {otherwise}"]), scope)
    chosen: Callable[..., Any] = scope["choose"]
    return chosen


@overload(_height, strict=False)
def _compiled_height(code: int, x: float, y: float, row: Array) -> Callable[..., Any]:
    return _chain("x, y, row", "height", "math.nan")


@overload(_reach, strict=False)
def _compiled_reach(code: int, y: float, row: Array) -> Callable[..., Any]:
    return _chain("y, row", "reach", "(math.nan, math.nan)")


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
        See `crossaxle.terrain.shapes.COLUMNS`.
    """
    n_points = heights.shape[1]
    for row in rows:
        code = int(row[KIND])
        for line in range(lines_y.size):
            y = lines_y[line]
            first, last = _reach(code, y, row)
            begin = max(0, math.floor((first - start) / spacing))
            end = min(n_points, math.ceil((last - start) / spacing) + 1)
            for i in range(begin, end):
                heights[line, i] += _height(code, start + i * spacing, y, row)


def _signs(rng: np.random.Generator, count: int) -> Array:
    return np.where(rng.random(count) < 0.5, -1.0, 1.0)


def _sides(side: str, rng: np.random.Generator, count: int) -> Array:
    """Return 1 for left and -1 for right."""
    return _signs(rng, count) if side == "either" else np.full(count, 1.0 if side == "left" else -1.0)
