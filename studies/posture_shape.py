"""Where the parts of a truck stand in a posture: outlines in world coordinates, for drawings.

World axes: x forward from the front axle, y left, z up from the level ground. Parts move from where they stand with
the laden truck level; they turn by finite angles, and the whole stands on the mean plane of the wheels' ground.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.ground_plane import ground_plane
from sim.posture import Posture
from studies.posture_values import wheel_clearances
from vehicles.assemble import Vehicle

Array = NDArray[np.float64]
RAIL_POINTS = 25


@dataclass(frozen=True)
class Wheel:
    """One wheel: name, ground under it, centre and free radius; clearance is negative where the tyre carries [m]."""

    name: str
    ground: Array
    centre: Array
    radius: float
    clearance: float


@dataclass(frozen=True)
class Shape:
    """A truck in a posture.

    Attributes
    ----------
    wheels : tuple of Wheel
    rails : dict of side to (k, 3)
        Mid-height line of each rail, front to rear.
    sections : tuple of (4, 3)
        Per axle, the ends of the two rails' webs there: left bottom, left top, right top, right bottom.
    boxes : dict of part to (2, 4, 3)
        Front and rear face of cab and body: left bottom, left top, right top, right bottom.
    tanks : dict of tank to (4, 3)
        The carrying points: front inner, front outer, rear outer, rear inner.
    """

    wheels: tuple[Wheel, ...]
    rails: dict[str, Array]
    sections: tuple[Array, ...]
    boxes: dict[str, Array]
    tanks: dict[str, Array]


def posture_shape(vehicle: Vehicle, posture: Posture, ground: ArrayLike) -> Shape:
    """Work out the outlines of a vehicle in a good posture on ground heights (w,) [m]."""
    maker = _Maker(vehicle, posture, np.asarray(ground, dtype=float))
    layout, file = vehicle.layout, vehicle.file
    cab, body = file.cab, file.body
    half = 0.5 * body.width
    boxes = {
        "cab": maker.box(
            "cab", layout.station(cab.front), layout.station(cab.back), half, cab.mount_height, cab.roof
        )
    }
    tanks = {}
    if not vehicle.kinematics.bare:
        r = layout.references
        boxes["body"] = maker.box("body", r["body front"], r["body rear"], half, body.floor, body.roof)
        tanks = {name: maker.tank(name) for name in file.tank}
    return Shape(
        maker.wheels(),
        {side: maker.rail(side) for side in ("left", "right")},
        tuple(maker.frame_section(float(station)) for station in vehicle.kinematics.axle_stations),
        boxes,
        tanks,
    )


class _Maker:
    """Moves points of parts to where they stand in the world."""

    def __init__(self, vehicle: Vehicle, posture: Posture, ground: Array) -> None:
        self._vehicle = vehicle
        self._posture = posture
        self._ground = ground
        self._k = vehicle.kinematics
        self._shift = posture.q - vehicle.level[: self._k.n]
        x, y = -vehicle.structure.wheel_station, vehicle.structure.wheel_y
        plane = ground_plane(-x, y)
        b, c = float(plane.slope_x @ ground), float(plane.slope_y @ ground)
        self._origin = np.array([0.0, 0.0, float(np.mean(ground - b * x - c * y))])
        along = np.array([1.0, 0.0, b]) / np.hypot(1.0, b)
        normal = np.array([-b, -c, 1.0]) / np.sqrt(1.0 + b * b + c * c)
        self._axes = np.array([along, np.cross(normal, along), normal])
        self._out_of_plane = (ground - self._origin[2] - b * x - c * y) * normal[2]

    def wheels(self) -> tuple[Wheel, ...]:
        vehicle, found = self._vehicle, []
        clearances = wheel_clearances(vehicle, self._posture).tolist()
        for i, (tyre, clearance) in enumerate(zip(vehicle.tyres, clearances, strict=True)):
            x, y = -vehicle.structure.wheel_station[i], vehicle.structure.wheel_y[i]
            bottom = float(self._out_of_plane[i])
            centre = self._world(np.array([[x, y, bottom + tyre.radius + clearance]]))[0]
            touched = self._world(np.array([[x, y, bottom]]))[0]
            found.append(Wheel(vehicle.structure.outputs[i].item, touched, centre, tyre.radius, clearance))
        return tuple(found)

    def rail(self, side: str) -> Array:
        stations = np.linspace(self._k.frame.start, self._k.frame.end, RAIL_POINTS)
        height = self._vehicle.file.frame.height
        y = 0.5 * self._k.frame.spacing * (1 if side == "left" else -1)
        return np.concatenate(
            [self._moved(f"{side} rail", float(s), np.array([[-s, y, height]])) for s in stations]
        )

    def frame_section(self, station: float) -> Array:
        frame = self._vehicle.file.frame
        half, depth = 0.5 * frame.spacing, 0.5 * getattr(frame.section, "height", 0.25)
        corners = [(half, -depth), (half, depth), (-half, depth), (-half, -depth)]
        points = np.array([[-station, y, frame.height + z] for y, z in corners])
        return self._moved("frame", station, points)

    def box(self, part: str, front: float, rear: float, half: float, bottom: float, top: float) -> Array:
        corners = [(half, bottom), (half, top), (-half, top), (-half, bottom)]
        return np.array(
            [
                self._moved(part, station, np.array([[-station, y, z] for y, z in corners]))
                for station in (front, rear)
            ]
        )

    def tank(self, name: str) -> Array:
        entry = self._vehicle.file.tank[name]
        stations = self._vehicle.layout.bracket_stations(name)
        way = 1 if entry.side == "left" else -1
        inner, outer = (
            way * (0.5 * self._k.frame.spacing + reach)
            for reach in (entry.bracket.inner, entry.bracket.outer)
        )
        places = [(stations[0], inner), (stations[0], outer), (stations[-1], outer), (stations[-1], inner)]
        return np.concatenate(
            [
                self._moved(f"tank {name}", float(station), np.array([[-station, y, entry.height]]))
                for station, y in places
            ]
        )

    def _moved(self, part: str, station: float, points: Array) -> Array:
        return self._world(points + self._k.pose(part, station, self._shift).moved(points))

    def _world(self, points: Array) -> Array:
        return np.asarray(self._origin + points @ self._axes)
