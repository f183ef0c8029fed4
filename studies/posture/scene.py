"""A truck on its ground in a posture, in world axes, ready to be looked at from any side.

World axes: x forward from the front axle along the horizontal, y left, z up against gravity. Ground and truck are put
together in the mean plane through the wheels' ground points and turned with it as one, so that every tyre stands on
its ground as in the computation.
"""

from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import ground_plane
from crossaxle.studies.posture.ground_surface import Surface
from crossaxle.studies.posture.posture_values import wheel_clearances
from crossaxle.studies.posture.replay import GapFigure, Standing, gap_figures
from crossaxle.studies.posture.truck_shape import SolidPiece, TruckShape

AHEAD, BEHIND = 1.3, 1.0
"""Ground shown ahead of and behind the truck [m]."""

GROUND_STEP = 0.05
"""Between points of ground along the way [m]."""


@dataclass(frozen=True)
class WheelMark:
    """One wheel: name, centre (3,) and radius [m], load [N], distance to its ground (positive where free) [m]."""

    name: str
    centre: Array
    radius: float
    load: float
    clearance: float

    @property
    def free(self) -> bool:
        """Whether it hangs in the air."""
        return self.clearance > 0.0


@dataclass(frozen=True)
class GapMark:
    """One gap's figures and its two facing points, (2, 3) [m]."""

    figure: GapFigure
    ends: Array


@dataclass(frozen=True)
class Scene:
    """A truck on its ground; lengths in m.

    Attributes
    ----------
    standing : Standing
    pieces : tuple of SolidPiece
        Empty where there is no posture.
    wheels : tuple of WheelMark
    gaps : tuple of GapMark
    ground : (lines, k, 3)
        Raw ground, lines from right to left, points from the rear to the front.
    felt : (axles, lines, 3)
        Ground across the truck at each axle as its tyres feel it.
    tracks : (2,) of int
        Lines of the ground under the left and the right wheels.
    slope : tuple of two float
        Mean plane through the wheels' ground points: angles of grade (positive uphill) and side slope (positive with
        the left side high) [rad].
    frame : dict of str to (k, 3)
        Frame alone, see `TruckShape.frame_lines`.
    """

    standing: Standing
    pieces: tuple[SolidPiece, ...]
    wheels: tuple[WheelMark, ...]
    gaps: tuple[GapMark, ...]
    ground: Array
    felt: Array
    tracks: tuple[int, int]
    slope: tuple[float, float]
    frame: dict[str, Array]

    def points(self) -> Array:
        """All points of truck and ground, (k, 3)."""
        return np.concatenate([*(piece.points for piece in self.pieces), self.ground.reshape(-1, 3)])


class SceneMaker:
    """Puts one vehicle into scenes.

    Parameters
    ----------
    standing : Standing
        A posture of the vehicle; heights in all scenes are counted from the mean height under its front axle.
    surface : Surface
        Of the standing's sample.
    """

    def __init__(self, standing: Standing, surface: Surface) -> None:
        self.shape = TruckShape(standing.vehicle)
        self._surface = surface
        self._reference = _Plane(standing).height
        x = np.concatenate([piece.points[:, 0] for piece in self.shape.level()])
        self._reach = float(x.min()) - BEHIND, float(x.max()) + AHEAD

    def scene(self, standing: Standing) -> Scene:
        """Put the truck on its ground; the standing must be of the same candidate and sample."""
        plane = _Plane(standing)
        lift = np.array([0.0, 0.0, plane.height - self._reference])

        def world(points: Array) -> Array:
            return np.asarray(lift + points @ plane.axes)

        surface, posture, vehicle = self._surface, standing.posture, standing.vehicle
        first, last = surface.reach()
        x = np.arange(
            max(self._reach[0], first - standing.front),
            min(self._reach[1], last - standing.front),
            GROUND_STEP,
        )
        ground = plane.flat(x[None, :], surface.line_y[:, None], surface.under(standing.front + x))
        felt = []
        for wheel in range(0, len(vehicle.tyres), 2):
            at, tyre = -float(vehicle.structure.wheel_station[wheel]), vehicle.tyres[wheel]
            heights = surface.felt(standing.front + at, tyre.radius, tyre.contact_length)
            felt.append(world(plane.flat(np.full_like(heights, at), surface.line_y, heights)))
        sides = vehicle.structure.wheel_y
        tracks = tuple(
            int(np.argmin(np.abs(surface.line_y - sides[own].mean()))) for own in (sides > 0.0, sides < 0.0)
        )
        common = world(ground), np.array(felt), (tracks[0], tracks[1]), plane.angles
        if posture.code != GOOD:
            return Scene(standing, (), (), (), *common, {})
        pieces = tuple(
            SolidPiece(piece.kind, piece.name, piece.side, world(piece.points), piece.faces)
            for piece in self.shape.posed(posture)
        )
        gaps = tuple(
            GapMark(figure, world(self.shape.gap_ends(figure.place, posture)))
            for figure in gap_figures(standing)
        )
        lines = self.shape.frame_lines(posture)
        return Scene(standing, pieces, _wheels(standing, pieces), gaps, *common, lines)


class _Plane:
    """The mean plane of a standing: axes (3, 3) as rows, height under the front axle's middle, angles."""

    def __init__(self, standing: Standing) -> None:
        structure, h = standing.vehicle.structure, standing.heights
        x, y = -structure.wheel_station, structure.wheel_y
        plane = ground_plane(structure.wheel_station, y)
        self._along, self._across = float(plane.slope_x @ h), float(plane.slope_y @ h)
        self._base = float(np.mean(h - self._along * x - self._across * y))
        grade, side_slope = standing.slope
        b, c = self._along + grade, self._across + side_slope
        self._cosine = 1.0 / float(np.sqrt(1.0 + b * b + c * c))
        self.height = self._base - grade * float(x.mean())
        self.angles = float(np.arctan(b)), float(np.arctan(c / np.hypot(1.0, b)))
        along = np.array([1.0, 0.0, b]) / np.hypot(1.0, b)
        normal = np.array([-b, -c, 1.0]) * self._cosine
        self.axes = np.array([along, np.cross(normal, along), normal])

    def flat(self, x: Array, y: Array, heights: Array) -> Array:
        """Ground points in the plane's own axes, (..., 3)."""
        out = (heights - self._base - self._along * x - self._across * y) * self._cosine
        return np.stack(np.broadcast_arrays(x, y, out), axis=-1)


def _wheels(standing: Standing, pieces: tuple[SolidPiece, ...]) -> tuple[WheelMark, ...]:
    vehicle, posture = standing.vehicle, standing.posture
    centres = {piece.name: piece.points.mean(axis=0) for piece in pieces if piece.kind == "tyre"}
    marks = []
    for wheel, clearance in enumerate(wheel_clearances(vehicle, posture).tolist()):
        name = vehicle.structure.outputs[wheel].item
        load = 0.0 if clearance > 0 else float(posture.y[wheel])
        marks.append(WheelMark(name, centres[name], vehicle.tyres[wheel].radius, load, clearance))
    return tuple(marks)
