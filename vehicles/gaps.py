"""Gaps: clearances between two parts along a direction.

A gap is its clearance with the laden truck level plus the relative displacement of its two points along
the direction from the first part to the second. Two boxes are closest at a corner of the rectangle in
which their facing sides overlap, so each such corner is one place of the gap.
"""

from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.file import BoxEntry, GapEntry
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.layout import Layout
from crossaxle.vehicles.structure import Output

DIRECTIONS = {
    "forward": (0, 1),
    "rearward": (0, -1),
    "left": (1, 1),
    "right": (1, -1),
    "up": (2, 1),
    "down": (2, -1),
}


@dataclass(frozen=True)
class GapPlace:
    """One pair of facing points of a gap.

    Attributes
    ----------
    name, place : str
        Gap and, for boxes, the corner.
    parts : tuple of two str
        The parts the points are fixed to.
    points : (2, 3)
        The points, x forward, y left, z up [m].
    direction : (3,)
        Unit vector from the first part to the second.
    clearance : float
        Gap with the laden truck level [m].
    """

    name: str
    place: str
    parts: tuple[str, str]
    points: Array
    direction: Array
    clearance: float


def gap_places(layout: Layout) -> list[GapPlace]:
    """All facing pairs of points of all gaps.

    Raises
    ------
    ValueError
        If two boxes do not face each other or overlap already.
    """
    places: list[GapPlace] = []
    for name, entry in layout.file.gap.items():
        places += _from_boxes(layout, name, entry) if entry.boxes else [_from_point(layout, name, entry)]
    return places


def _unit(entry: GapEntry) -> tuple[int, int, Array]:
    axis, way = DIRECTIONS[entry.direction]
    direction = np.zeros(3)
    direction[axis] = way
    return axis, way, direction


def _parts(entry: GapEntry) -> tuple[str, str]:
    return entry.between[0], entry.between[1]


def _from_point(layout: Layout, name: str, entry: GapEntry) -> GapPlace:
    assert entry.place is not None and entry.clearance is not None
    _, _, direction = _unit(entry)
    first = np.array([-layout.station(entry.place.at), entry.place.y, entry.place.z])
    second = first + entry.clearance * direction
    return GapPlace(name, "", _parts(entry), np.array([first, second]), direction, entry.clearance)


def _bounds(layout: Layout, box: BoxEntry) -> Array:
    start, end = layout.station(box.start), layout.station(box.end)
    if end <= start:
        raise ValueError(
            f"box from {start:.3g} m to {end:.3g} m behind the front axle: end must lie behind start"
        )
    return np.array([[-end, -start], [box.right, box.left], [box.bottom, box.top]])


def _from_boxes(layout: Layout, name: str, entry: GapEntry) -> list[GapPlace]:
    assert entry.boxes is not None
    axis, way, direction = _unit(entry)
    first, second = (_bounds(layout, box) for box in entry.boxes)
    faces = (first[axis, 1], second[axis, 0]) if way > 0 else (first[axis, 0], second[axis, 1])
    clearance = way * (faces[1] - faces[0])
    if clearance <= 0:
        raise ValueError(
            f"gap.{name}: the boxes overlap by {-clearance:.3g} m in the direction {entry.direction}"
        )
    across = [i for i in range(3) if i != axis]
    overlap = {i: (max(first[i, 0], second[i, 0]), min(first[i, 1], second[i, 1])) for i in across}
    if any(high < low for low, high in overlap.values()):
        raise ValueError(f"gap.{name}: the boxes do not face each other in the direction {entry.direction}")
    places = []
    words = {0: ("rear", "front"), 1: ("right", "left"), 2: ("bottom", "top")}
    for i in range(2):
        for j in range(2):
            point = np.zeros(3)
            point[across[0]], point[across[1]] = overlap[across[0]][i], overlap[across[1]][j]
            ends = np.array([point, point])
            ends[:, axis] = faces
            corner = f"{words[across[0]][i]} {words[across[1]][j]} corner"
            places.append(GapPlace(name, corner, _parts(entry), ends, direction, float(clearance)))
    return places


def add_gaps(equations: Equations, k: Kinematics) -> None:
    """Add one output per place of each gap whose two parts are on the truck (a bare chassis has no body)."""
    for place in gap_places(k.layout):
        if not all(k.carries(part) for part in place.parts):
            continue
        axis = int(np.flatnonzero(place.direction)[0])
        first, second = (
            k.displacement(axis, part, -x, y, z)
            for part, (x, y, z) in zip(place.parts, place.points.tolist(), strict=True)
        )
        row = place.direction[axis] * (second - first)
        equations.output(
            Output("gap", place.name, "m", place=place.place), row, constant=place.clearance, from_level=row
        )


def gap_with_finite_rotations(place: GapPlace, k: Kinematics, q: Array, level: Array) -> float:
    """Gap of one place with each part turned by its finite angles [m].

    Parameters
    ----------
    place : GapPlace
    k : Kinematics
    q, level : (n,)
        Displacements in the posture, and with the laden truck level.
    """
    gap = place.clearance
    for way, part, point in zip((-1, 1), place.parts, place.points, strict=True):
        for side, displacements in ((1, q), (-1, level)):
            moved = k.pose(part, -point[0], displacements).moved(point[None])[0]
            gap += way * side * float(place.direction @ moved)
    return gap
