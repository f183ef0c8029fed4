"""Populations of obstacles in a course file, and their random places and sizes.

Each population arrives as a Poisson process along the way: a number drawn for the stretch, places uniform in
it, and sizes, angle and side independent from obstacle to obstacle.
"""

from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from crossaxle.arrays import Array
from crossaxle.terrain.distribution import AnyAngle, AnyDistance, PositiveLength, fixed, uniform
from crossaxle.terrain.quantity import Length, Rate
from crossaxle.terrain.shapes import (
    ANGLE,
    BOULDER,
    COLUMNS,
    DITCH,
    HEIGHT,
    HOLE,
    KIND,
    LENGTH,
    MOUND,
    PERIOD,
    RUTS,
    SIDE,
    STEP,
    WASHBOARD,
    WATER_BAR,
    WIDTH,
    X,
    Y,
)

STEEPEST_CROSSING = np.radians(70.0)
"""Crossing angles are cut to this; flatter ones run along the way and are ruts [rad]."""

Place = Literal["left", "right", "either"]


class Population(BaseModel):
    """What all obstacles of one kind in a section share."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    rate: Rate

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
        self._fill(rows, rng)
        return rows

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        raise NotImplementedError


class _Across(Population):
    """Obstacle that lies across the way, over both tracks or one."""

    angle: AnyAngle = fixed(0.0)
    side: Literal["both", "left", "right", "either"] = "both"

    def _lay_across(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        angle = np.minimum(self.angle.draw(rng, count), STEEPEST_CROSSING)
        rows[:, ANGLE] = angle * _signs(rng, count)
        rows[:, SIDE] = 0.0 if self.side == "both" else _sides(self.side, rng, count)


class _Round(Population):
    """Obstacle with a centre, at a distance to the left or right of the centre line."""

    diameter: PositiveLength
    offset: AnyDistance = uniform(0.6, 1.4)
    side: Place = "either"

    def _lay_round(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, WIDTH] = self.diameter.draw(rng, count)
        rows[:, Y] = self.offset.draw(rng, count) * _sides(self.side, rng, count)


class Ditch(_Across):
    """Ditch across the way: a trough with a raised-cosine profile."""

    kind: Literal["ditch"] = "ditch"
    width: PositiveLength
    depth: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, KIND] = DITCH
        rows[:, WIDTH] = self.width.draw(rng, len(rows))
        rows[:, HEIGHT] = -self.depth.draw(rng, len(rows))
        self._lay_across(rows, rng)


class Hole(_Round):
    """Round hole with a raised-cosine profile."""

    kind: Literal["hole"] = "hole"
    depth: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, KIND] = HOLE
        rows[:, HEIGHT] = -self.depth.draw(rng, len(rows))
        self._lay_round(rows, rng)


class Mound(_Round):
    """Round mound with a raised-cosine profile."""

    kind: Literal["mound"] = "mound"
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, KIND] = MOUND
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_round(rows, rng)


class Boulder(_Round):
    """Half an ellipsoid that stands out of the ground with a steep rim."""

    kind: Literal["boulder"] = "boulder"
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, KIND] = BOULDER
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_round(rows, rng)


class Step(_Across):
    """Ledge: up or down over a ramp (none: a sharp edge), then slowly back over the run-out."""

    kind: Literal["step"] = "step"
    height: PositiveLength
    direction: Literal["up", "down", "either"] = "either"
    ramp: AnyDistance = fixed(0.0)
    run_out: Length = 20.0

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        up = _signs(rng, count) if self.direction == "either" else 1.0 if self.direction == "up" else -1.0
        rows[:, KIND] = STEP
        rows[:, HEIGHT] = up * self.height.draw(rng, count)
        rows[:, WIDTH] = self.ramp.draw(rng, count)
        rows[:, LENGTH] = self.run_out
        self._lay_across(rows, rng)


class Ruts(Population):
    """Pair of ruts along the way, their middle off the centre line by the offset."""

    kind: Literal["ruts"] = "ruts"
    length: PositiveLength
    depth: PositiveLength
    width: PositiveLength = fixed(0.6)
    gauge: PositiveLength = fixed(2.0)
    offset: AnyDistance = uniform(0.0, 0.8)
    side: Place = "either"

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, KIND] = RUTS
        rows[:, LENGTH] = self.length.draw(rng, count)
        rows[:, HEIGHT] = -self.depth.draw(rng, count)
        rows[:, WIDTH] = self.width.draw(rng, count)
        rows[:, PERIOD] = self.gauge.draw(rng, count)
        rows[:, Y] = self.offset.draw(rng, count) * _sides(self.side, rng, count)


class WaterBar(_Across):
    """Low bar across the way with a shallow drain before it."""

    kind: Literal["water bar"] = "water bar"
    width: PositiveLength
    height: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, KIND] = WATER_BAR
        rows[:, WIDTH] = self.width.draw(rng, len(rows))
        rows[:, HEIGHT] = self.height.draw(rng, len(rows))
        self._lay_across(rows, rng)


class Washboard(_Across):
    """Stretch of regular waves across the way, fading in and out."""

    kind: Literal["washboard"] = "washboard"
    length: PositiveLength
    wave_length: PositiveLength
    amplitude: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        count = len(rows)
        rows[:, KIND] = WASHBOARD
        rows[:, LENGTH] = self.length.draw(rng, count)
        rows[:, PERIOD] = self.wave_length.draw(rng, count)
        rows[:, HEIGHT] = self.amplitude.draw(rng, count)
        self._lay_across(rows, rng)


Obstacle = Annotated[
    Ditch | Hole | Mound | Boulder | Step | Ruts | WaterBar | Washboard, Field(discriminator="kind")
]


def _signs(rng: np.random.Generator, count: int) -> Array:
    return np.where(rng.random(count) < 0.5, -1.0, 1.0)


def _sides(side: str, rng: np.random.Generator, count: int) -> Array:
    """Return 1 for left and -1 for right."""
    return _signs(rng, count) if side == "either" else np.full(count, 1.0 if side == "left" else -1.0)
