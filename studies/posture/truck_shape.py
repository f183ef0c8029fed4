"""A plain solid model of a truck for pictures: frame, axles, tyres, cab, body, tanks, mounts, gaps.

Points are fixed to the vehicle's parts and move with them, turned by finite angles. Axes: x forward from the front
axle, y left, z up from the mean plane through the wheels' ground points. What the vehicle file does not say (width of
tyres and cab, top of a tank) is drawn at a common size, which no number depends on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.posture import Posture
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.gaps import GapPlace, gap_places
from crossaxle.vehicles.mounts import mount_points
from crossaxle.vehicles.suspension import SIDES, sign

Kind = Literal["rail", "cross-member", "axle", "tyre", "cab", "body", "tank", "bracket", "mount", "pivot"]
Face = tuple[int, ...]

TYRE_WIDTH = 0.36
TYRE_CORNERS = 28
RAIL_STEPS = 16
TANK_HEIGHT = 0.40
AXLE_HALF = 0.06
_BOX: tuple[Face, ...] = ((0, 1, 2, 3), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))


@dataclass(frozen=True)
class SolidPiece:
    """One solid of the truck.

    Attributes
    ----------
    kind : str
    name : str
        Such as ``left rail``, ``front right`` (a tyre), ``pivot``.
    side : int
        1 on the left, -1 on the right, 0 across the truck.
    points : (k, 3)
        [m]
    faces : tuple of tuple of int
        Corners of each face.
    """

    kind: Kind
    name: str
    side: int
    points: Array
    faces: tuple[Face, ...]


@dataclass(frozen=True)
class _Fixed:
    """A piece before the truck moves, and the part and station that each of its points is fixed to."""

    piece: SolidPiece
    fixed_to: tuple[tuple[str, float], ...]


class TruckShape:
    """The solids of a vehicle, ready to be put into postures.

    Parameters
    ----------
    vehicle : Vehicle
    """

    def __init__(self, vehicle: Vehicle) -> None:
        self._vehicle = vehicle
        self._pieces: list[_Fixed] = []
        for side in SIDES:
            self._add_rail(f"{side} rail", sign(side))
        self._add_cross_members()
        self._add_axles()
        self._add_cab()
        if not vehicle.kinematics.bare:
            self._add_body()
            for name in vehicle.file.tank:
                self._add_tank(name)
            self._add_mounts()

    def level(self) -> tuple[SolidPiece, ...]:
        """Return the truck standing level and laden."""
        return tuple(fixed.piece for fixed in self._pieces)

    def posed(self, posture: Posture) -> tuple[SolidPiece, ...]:
        """Put the truck into a good posture."""
        shift = self._shift(posture)
        places = dict.fromkeys(place for fixed in self._pieces for place in fixed.fixed_to)
        poses = {place: self._vehicle.kinematics.pose(*place, shift) for place in places}
        moved = []
        for fixed in self._pieces:
            points = fixed.piece.points.copy()
            for place in dict.fromkeys(fixed.fixed_to):
                own = [i for i, other in enumerate(fixed.fixed_to) if other == place]
                points[own] += poses[place].moved(points[own])
            moved.append(
                SolidPiece(fixed.piece.kind, fixed.piece.name, fixed.piece.side, points, fixed.piece.faces)
            )
        return tuple(moved)

    def gap_ends(self, place: GapPlace, posture: Posture) -> Array:
        """Where the two facing points of a gap are in a posture, (2, 3) [m]."""
        shift = self._shift(posture)
        ends = []
        for part, point in zip(place.parts, place.points, strict=True):
            pose = self._vehicle.kinematics.pose(part, -float(point[0]), shift)
            ends.append(point + pose.moved(point[None])[0])
        return np.array(ends)

    def frame_lines(self, posture: Posture) -> dict[str, Array]:
        """Lines of the frame alone with its warping and bending, z from its own mean plane.

        Returns
        -------
        dict
            ``left``, ``right`` (k, 3) along the rails, and each cross-member's name with its two ends (2, 3).
        """
        k, shift = self._vehicle.kinematics, self._shift(posture)
        stations = self._rail_stations()
        members = {
            name: self._vehicle.layout.station(entry.at)
            for name, entry in self._vehicle.file.frame.cross_member.items()
        }
        places = [(side, s) for side in SIDES for s in stations]
        places += [(side, s) for s in members.values() for side in SIDES]
        rise = np.array([float(k.rail(side, s) @ shift) for side, s in places])
        x = np.array([-s for _, s in places])
        y = np.array([k.rail_y(side) for side, _ in places])
        plane = np.column_stack([np.ones_like(x), x, y])
        rise -= plane @ np.linalg.lstsq(plane, rise, rcond=None)[0]
        points = np.column_stack([x, y, rise])
        n = len(stations)
        lines = {"left": points[:n], "right": points[n : 2 * n]}
        for i, name in enumerate(members):
            lines[name] = points[2 * n + 2 * i : 2 * n + 2 * i + 2]
        return lines

    def _shift(self, posture: Posture) -> Array:
        return posture.q - self._vehicle.level[: self._vehicle.kinematics.n]

    def _rail_stations(self) -> list[float]:
        frame = self._vehicle.kinematics.frame
        return [float(s) for s in np.linspace(frame.start, frame.end, RAIL_STEPS + 1)]

    def _add(
        self,
        kind: Kind,
        name: str,
        side: int,
        corners: Sequence[tuple[str, float, float, float]],
        faces: tuple[Face, ...],
    ) -> None:
        """Add a piece with corners (part, station, y, z)."""
        points = np.array([(-station, y, z) for _, station, y, z in corners])
        fixed_to = tuple((part, station) for part, station, _, _ in corners)
        self._pieces.append(_Fixed(SolidPiece(kind, name, side, points, faces), fixed_to))

    def _add_sections(
        self,
        kind: Kind,
        name: str,
        side: int,
        part: str,
        stations: Sequence[float],
        outline: Sequence[tuple[float, float]],
        closed: bool = True,
    ) -> None:
        """Add a piece of one outline (y, z) at several stations, with end faces where the outline is closed."""
        n = len(outline)
        corners = [(part, s, y, z) for s in stations for y, z in outline]
        faces: list[Face] = []
        for i in range(len(stations) - 1):
            for j in range(n if closed else n - 1):
                a, b = i * n + j, i * n + (j + 1) % n
                faces.append((a, b, b + n, a + n))
        if closed:
            faces += [tuple(range(n)), tuple(range((len(stations) - 1) * n, len(stations) * n))]
        self._add(kind, name, side, corners, tuple(faces))

    def _add_rail(self, part: str, side: int) -> None:
        frame = self._vehicle.file.frame
        half, flange = 0.5 * getattr(frame.section, "height", 0.25), getattr(frame.section, "width", 0.075)
        y, z = 0.5 * side * frame.spacing, frame.height
        inner = y - side * flange
        outline = [(inner, z - half), (y, z - half), (y, z + half), (inner, z + half)]
        self._add_sections("rail", part, side, part, self._rail_stations(), outline, closed=False)

    def _add_cross_members(self) -> None:
        frame, layout = self._vehicle.file.frame, self._vehicle.layout
        for name, entry in frame.cross_member.items():
            depth = getattr(entry.section, "height", getattr(entry.section, "diameter", 0.1))
            broad = getattr(entry.section, "width", getattr(entry.section, "diameter", 0.1))
            at = layout.station(entry.at)
            corners = [
                (f"{side} rail", at, 0.5 * sign(side) * frame.spacing, frame.height, dx, dz)
                for side in SIDES
                for dx, dz in ((-broad, -depth), (-broad, depth), (broad, depth), (broad, -depth))
            ]
            # The ends move with the rails where the member stands, not where its own width reaches.
            points = np.array([(-s + 0.5 * dx, y, z + 0.5 * dz) for _, s, y, z, dx, dz in corners])
            piece = SolidPiece("cross-member", name, 0, points, _BOX)
            self._pieces.append(_Fixed(piece, tuple((part, s) for part, s, *_ in corners)))

    def _add_axles(self) -> None:
        vehicle = self._vehicle
        structure, layout = vehicle.structure, vehicle.layout
        loads = structure.output_row @ vehicle.level[: vehicle.kinematics.n] + structure.output_constant
        angles = np.linspace(0, 2 * np.pi, TYRE_CORNERS, endpoint=False)
        for i, (axle, entry) in enumerate(vehicle.file.axle.items()):
            part, at = f"axle {axle}", layout.station(entry.at)
            centres = []
            for wheel in (2 * i, 2 * i + 1):
                name = structure.outputs[wheel].item
                lift = structure.hinge_names.index(f"lift {name}")
                radius = vehicle.tyres[wheel].radius
                z = radius + float(loads[wheel] / structure.hinge_stiffness[lift])
                y = float(structure.wheel_y[wheel])
                centres.append((y, z))
                points = np.array(
                    [
                        (-at + radius * np.cos(a), y + edge, z + radius * np.sin(a))
                        for edge in (0.5 * TYRE_WIDTH, -0.5 * TYRE_WIDTH)
                        for a in angles
                    ]
                )
                n = TYRE_CORNERS
                faces: tuple[Face, ...] = (
                    tuple(range(n)),
                    tuple(range(n, 2 * n)),
                    *((j, (j + 1) % n, n + (j + 1) % n, n + j) for j in range(n)),
                )
                side = 1 if y > 0 else -1
                self._pieces.append(
                    _Fixed(SolidPiece("tyre", name, side, points, faces), ((part, at),) * (2 * n))
                )
            beam = [
                (part, at, y, z, dx, dz)
                for y, z in centres
                for dx, dz in ((-1, -1), (-1, 1), (1, 1), (1, -1))
            ]
            points = np.array([(-s + AXLE_HALF * dx, y, z + AXLE_HALF * dz) for _, s, y, z, dx, dz in beam])
            self._pieces.append(_Fixed(SolidPiece("axle", axle, 0, points, _BOX), ((part, at),) * 8))

    def _add_cab(self) -> None:
        file, layout = self._vehicle.file, self._vehicle.layout
        cab, half = file.cab, 0.5 * file.body.width
        front, back = layout.station(cab.front), layout.station(cab.back)
        low, top = cab.mount_height, cab.roof
        sill, rake = low + 0.5 * (top - low), 0.12 * (back - front)
        profile = [(front, low), (front, sill), (front + rake, top), (back, top), (back, low)]
        corners = [("cab", s, y, z) for y in (half, -half) for s, z in profile]
        n = len(profile)
        faces: tuple[Face, ...] = (
            tuple(range(n)),
            tuple(range(n, 2 * n)),
            *((j, (j + 1) % n, n + (j + 1) % n, n + j) for j in range(n)),
        )
        self._add("cab", "cab", 0, corners, faces)

    def _add_body(self) -> None:
        body, references = self._vehicle.file.body, self._vehicle.layout.references
        half = 0.5 * body.width
        outline = [(half, body.floor), (half, body.roof), (-half, body.roof), (-half, body.floor)]
        # Its roll grows evenly along it, so its long edges stay straight.
        self._add_sections(
            "body", "body", 0, "body", [references["body front"], references["body rear"]], outline
        )

    def _add_tank(self, name: str) -> None:
        entry, layout = self._vehicle.file.tank[name], self._vehicle.layout
        side, part = sign(entry.side), f"tank {name}"
        web = self._vehicle.kinematics.rail_y(entry.side)
        inner, outer = web + side * (entry.bracket.inner - 0.06), web + side * (entry.bracket.outer + 0.06)
        tops = [
            float(point[2])
            for gap in gap_places(layout)
            for owner, point in zip(gap.parts, gap.points, strict=True)
            if owner == part and point[2] > entry.height + 0.05
        ]
        top = max(tops, default=entry.height + TANK_HEIGHT)
        stations = [float(s) for s in layout.bracket_stations(name)]
        ends = [stations[0] - 0.15, *stations, stations[-1] + 0.15]
        outline = [(outer, entry.height), (outer, top), (inner, top), (inner, entry.height)]
        self._add_sections("tank", name, side, part, ends, outline)
        rail = f"{entry.side} rail"
        for at in stations:
            reach = web + side * entry.bracket.outer
            corners = [
                (rail, at, web, entry.height - 0.22),
                (rail, at, web, entry.height),
                (rail, at, reach, entry.height),
                (rail, at, reach, entry.height - 0.06),
            ]
            self._add("bracket", name, side, corners, ((0, 1, 2, 3),))

    def _add_mounts(self) -> None:
        vehicle = self._vehicle
        frame, floor = vehicle.file.frame, vehicle.file.body.floor
        top = frame.height + 0.5 * getattr(frame.section, "height", 0.25)
        for point in mount_points(vehicle.kinematics):
            pivot = point.support is not None and point.support.pivot is not None
            carrier = "frame" if pivot else "left rail" if point.y > 0 else "right rail"
            half = 0.05
            corners = [
                (part, point.station, point.y, z, dx, dy)
                for part, z in ((carrier, top), ("body", floor))
                for dx, dy in ((-half, -half), (-half, half), (half, half), (half, -half))
            ]
            points = np.array([(-s + dx, y + dy, z) for _, s, y, z, dx, dy in corners])
            side = 0 if pivot else 1 if point.y > 0 else -1
            piece = SolidPiece("pivot" if pivot else "mount", point.name, side, points, _BOX)
            self._pieces.append(_Fixed(piece, tuple((part, s) for part, s, *_ in corners)))
