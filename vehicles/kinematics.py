"""Displacements of points on the truck's parts as rows over the degrees of freedom.

Axes ISO 8855 (x forward, y left, z up), stations s = -x. A part that rolls by phi about x and pitches by
psi = dw/ds about y moves a point at height z above its own reference height by dy = -phi z, dx = psi z.
The frame is stiff in its own plane: sideways and fore and aft everything hangs on the rails' mid-height
line, which is where dx = dy = 0; `crossaxle.vehicles.gravity` adds how that line moves over the ground.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Literal

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.frame import LadderFrame
from crossaxle.vehicles.layout import Layout, shares

Side = Literal["left", "right"]
RowMaker = Callable[..., Array]


def _remembered(make: RowMaker) -> RowMaker:
    """Keep each row a `Kinematics` has made: springs, loads and outputs ask for the same ones many times."""

    @wraps(make)
    def row(self: "Kinematics", *key: float | str | None) -> Array:
        known = self.rows.get((make.__name__, *key))
        if known is None:
            known = make(self, *key)
            known.flags.writeable = False
            self.rows[(make.__name__, *key)] = known
        return known

    return row


@dataclass(frozen=True)
class Pose:
    """Where a part is: a reference point, how it moved, and how the part turned about it.

    Attributes
    ----------
    point, shift : (3,)
        Reference point and its displacement, x forward, y left, z up [m].
    roll, pitch : float
        Rotation about x and about y [rad].
    """

    point: Array
    shift: Array
    roll: float
    pitch: float

    def moved(self, points: Array) -> Array:
        """Displacements of points (k, 3) fixed to the part, with finite rotations, shape (k, 3) [m]."""
        cr, sr = np.cos(self.roll), np.sin(self.roll)
        cp, sp = np.cos(self.pitch), np.sin(self.pitch)
        about_x = np.array([[1, 0, 0], [0, cr, -sr], [0, sr, cr]])
        about_y = np.array([[cp, 0, sp], [0, 1, 0], [-sp, 0, cp]])
        arm = points - self.point
        return np.asarray(self.shift + arm @ (about_y @ about_x).T - arm)


class Kinematics:
    """Numbering of the degrees of freedom and the rows built on it.

    Order: frame, each axle's heave and roll, cab heave, pitch and roll, then (unless ``bare``) body
    heave, pitch, roll and twist, each tank's heave, pitch, roll and twist, and the mounting frame. Pitch is
    dw/ds, twist the roll of the rear end (or last bracket) minus that of the front end (or first bracket).

    A row (n,) gives a displacement [m] or rotation [rad] as its product with all n degrees of freedom.
    """

    def __init__(
        self, layout: Layout, frame: LadderFrame, mounting: LadderFrame | None = None, bare: bool = False
    ) -> None:
        self.layout = layout
        self.frame = frame
        self.mounting = None if bare else mounting
        self.bare = bare
        self.rows: dict[tuple[float | str | None, ...], Array] = {}
        file = layout.file
        names = [f"frame {name}" for name in frame.dof_names]
        self._first: dict[str, int] = {}
        for axle in file.axle:
            self._first[f"axle {axle}"] = len(names)
            names += [f"axle {axle} heave", f"axle {axle} roll"]
        self._first["cab"] = len(names)
        names += ["cab heave", "cab pitch", "cab roll"]
        if not bare:
            for part in ["body", *(f"tank {tank}" for tank in file.tank)]:
                self._first[part] = len(names)
                names += [f"{part} heave", f"{part} pitch", f"{part} roll", f"{part} twist"]
        self._first["mounting frame"] = len(names)
        if self.mounting is not None:
            names += [f"mounting frame {name}" for name in self.mounting.dof_names]
        self.dof_names = tuple(names)
        self.n = len(names)
        self.axle_stations = np.array([layout.station(a.at) for a in file.axle.values()])

    def first(self, part: str) -> int:
        """Number of a part's first degree of freedom."""
        return self._first[part]

    def carries(self, part: str) -> bool:
        """Whether the part is on the truck."""
        return not self.bare or self.on_chassis(part)

    def on_chassis(self, part: str) -> bool:
        """Whether the part belongs to the chassis: frame, rails, axles and cab."""
        return part != "body" and not part.startswith("tank ")

    # ---- rows of single degrees of freedom and of the frame

    @_remembered
    def unit(self, part: str, which: int) -> Array:
        """Row that picks degree of freedom number ``which`` of a part (see the class), shape (n,)."""
        return self._own(part, *(0.0,) * which, 1.0)

    def _own(self, part: str, *factors: float) -> Array:
        """Row of a part's degrees of freedom times ``factors``, shape (n,)."""
        row = np.zeros(self.n)
        row[self._first[part] : self._first[part] + len(factors)] = factors
        return row

    def full(self, frame_row: Array) -> Array:
        """A row over the frame's degrees of freedom as one over all, shape (n,)."""
        row = np.zeros(self.n)
        row[: frame_row.size] = frame_row
        return row

    @_remembered
    def rail(self, side: Side, station: float, y: float | None = None) -> Array:
        """Vertical displacement of a point carried by one rail at lateral position y (default: the web)."""
        row = self.frame.deflection_row(side, station)
        if y is not None:
            row = row + (y - self.rail_y(side)) * self.frame.twist_row(side, station)
        return self.full(row)

    def rail_y(self, side: Side) -> float:
        """Lateral position of a rail's web [m]."""
        return 0.5 * self.frame.spacing * (1 if side == "left" else -1)

    @_remembered
    def body_rail(self, side: Side, station: float) -> Array:
        """Vertical displacement of what the mounts carry: the mounting frame's rail, else the body itself."""
        if self.mounting is None:
            return self.height("body", station, self.rail_y(side))
        row = np.zeros(self.n)
        first = self._first["mounting frame"]
        row[first:] = self.mounting.deflection_row(side, station)
        return row

    @_remembered
    def rail_twist(self, side: Side, station: float) -> Array:
        """A rail's own rotation about x."""
        return self.full(self.frame.twist_row(side, station))

    @_remembered
    def frame_roll(self, station: float) -> Array:
        """Rotation of the pair of rails about x."""
        return self.full(self.frame.roll_row(station))

    @_remembered
    def frame_heave(self, station: float) -> Array:
        """Mean height of the two rails."""
        left, right = (self.frame.deflection_row(side, station) for side in ("left", "right"))
        return self.full(0.5 * (left + right))

    @_remembered
    def frame_pitch(self, station: float) -> Array:
        """Mean slope of the two rails."""
        left, right = (self.frame.slope_row(side, station) for side in ("left", "right"))
        return self.full(0.5 * (left + right))

    # ---- parts

    def centre(self, part: str) -> float:
        """Station at which a cab's, body's or tank's heave is counted [m]."""
        layout = self.layout
        if part == "cab":
            return 0.5 * sum(
                layout.station(p) for p in (layout.file.cab.front_mounts, layout.file.cab.rear_mounts)
            )
        if part == "body":
            return 0.5 * (layout.references["body front"] + layout.references["body rear"])
        return layout.station(layout.file.tank[part.removeprefix("tank ")].centre)

    def twist_length(self, part: str) -> float:
        """Length over which a body's or tank's twist is counted [m]."""
        if part == "body":
            return self.layout.file.body.length
        tank = self.layout.file.tank[part.removeprefix("tank ")]
        return tank.spacing * (tank.count - 1)

    @_remembered
    def roll(self, part: str, station: float) -> Array:
        """Rotation of a part about x at a station."""
        if part == "frame":
            return self.frame_roll(station)
        if part in ("left rail", "right rail"):
            return self.rail_twist(_side(part), station)
        if part.startswith("axle "):
            return self.unit(part, 1)
        if part == "cab":
            return self.unit(part, 2)
        return self._own(part, 0.0, 0.0, 1.0, (station - self.centre(part)) / self.twist_length(part))

    @_remembered
    def pitch(self, part: str, station: float) -> Array:
        """Slope dw/ds of a part; beam axles do not pitch."""
        if part == "frame":
            return self.frame_pitch(station)
        if part in ("left rail", "right rail"):
            return self.full(self.frame.slope_row(_side(part), station))
        if part.startswith("axle "):
            return np.zeros(self.n)
        return self.unit(part, 1)

    @_remembered
    def height(self, part: str, station: float, y: float) -> Array:
        """Vertical displacement of a point of a part."""
        if part == "frame":
            return self.frame_heave(station) + y * self.frame_roll(station)
        if part in ("left rail", "right rail"):
            return self.rail(_side(part), station, y)
        if part.startswith("axle "):
            return self._own(part, 1.0, y)
        arm = station - self.centre(part)
        if part == "cab":
            return self._own(part, 1.0, arm, y)
        return self._own(part, 1.0, arm, y, y * arm / self.twist_length(part))

    def carried_at(self, part: str) -> tuple[float, Array, Array]:
        """Height of the plane in which a part is held sideways [m], and the stations that hold it.

        Returns
        -------
        height : float
        side : (k,)
            Stations that take side force.
        fore_aft : (m,)
            Stations that take fore-aft force.

        Raises
        ------
        ValueError
            If the part is not carried by others, or the mount names a station it does not have.
        """
        layout = self.layout
        if part == "cab":
            cab = layout.file.cab
            stations = np.array([layout.station(cab.front_mounts), layout.station(cab.rear_mounts)])
            return cab.mount_height, stations, stations
        if part == "body":
            return (layout.mount_height, *mount_guides(layout))
        if part.startswith("tank "):
            stations = layout.bracket_stations(part.removeprefix("tank "))
            return layout.file.tank[part.removeprefix("tank ")].height, stations, stations
        raise ValueError(f"{part} hangs on nothing")

    @_remembered
    def guide_roll(self, part: str, station: float) -> Array:
        """Roll of what holds a part at a station: the tank's own rail, else the pair of rails."""
        if part.startswith("tank "):
            side = self.layout.file.tank[part.removeprefix("tank ")].side
            return self.rail_twist(side, station)
        return self.frame_roll(station)

    def displacement(self, axis: int, part: str, station: float, y: float, z: float) -> Array:
        """Displacement of a point of a part along x, y or z (``axis`` 0, 1, 2), shape (n,).

        Relative to the rails' mid-height line sideways and fore and aft, to the mean ground plane in height.
        """
        if axis == 2:
            return self.height(part, station, y)
        return self.sideways(part, station, z) if axis == 1 else self.lengthways(part, station, z)

    @_remembered
    def sideways(self, part: str, station: float, z: float) -> Array:
        """Displacement of a point of a part to the left, relative to the rails' mid-height line."""
        z_frame = self.layout.file.frame.height
        if part in ("frame", "left rail", "right rail"):
            return (z_frame - z) * self.roll(part, station)
        if part.startswith("axle "):
            # The axle turns against the frame about the roll centre, which both share.
            at = self.layout.station(self.layout.file.axle[part.removeprefix("axle ")].at)
            centre = roll_centre(self.layout, part.removeprefix("axle "))
            return (z_frame - centre) * self.frame_roll(at) - (z - centre) * self.roll(part, at)
        height, side, _ = self.carried_at(part)
        guides = np.array([self.guide_roll(part, at) for at in side.tolist()])
        carried: Array = (z_frame - height) * shares(side, station) @ guides
        return carried - (z - height) * self.roll(part, station)

    @_remembered
    def lengthways(self, part: str, station: float, z: float) -> Array:
        """Displacement of a point of a part forward, relative to the rails' mid-height line."""
        z_frame = self.layout.file.frame.height
        if part in ("frame", "left rail", "right rail"):
            return (z - z_frame) * self.pitch(part, station)
        if part.startswith("axle "):
            return np.zeros(self.n)
        height, _, fore_aft = self.carried_at(part)
        guides = np.array([self.frame_pitch(at) for at in fore_aft.tolist()])
        mean: Array = guides.sum(axis=0) / len(guides)
        return (height - z_frame) * mean + (z - height) * self.pitch(part, station)

    def pose(self, part: str, station: float, q: Array) -> Pose:
        """Pose of a part (a twisting one: of its section at ``station``) for displacements q (n,)."""
        z = self.layout.file.frame.height
        if part.startswith("axle "):
            z = roll_centre(self.layout, part.removeprefix("axle "))
        elif part not in ("frame", "left rail", "right rail"):
            z = self.carried_at(part)[0]
        y = self.rail_y(_side(part)) if part in ("left rail", "right rail") else 0.0
        return Pose(
            np.array([-station, y, z]),
            np.array([self.displacement(axis, part, station, y, z) @ q for axis in range(3)]),
            float(self.roll(part, station) @ q),
            float(self.pitch(part, station) @ q),
        )


def _side(part: str) -> Side:
    return "left" if part.startswith("left") else "right"


def roll_centre(layout: Layout, axle: str) -> float:
    """Roll centre of a leaf-sprung beam axle: the height of the spring eyes [m].

    Default: the rails' bottom edge (common practice, no source).
    """
    entry = layout.file.axle[axle]
    if entry.roll_centre is not None:
        return entry.roll_centre
    return layout.file.frame.height - 0.5 * getattr(layout.file.frame.section, "height", 0.0)


def mount_guides(layout: Layout) -> tuple[Array, Array]:
    """Stations of the chosen mount that take side force and those that take fore-aft force [m].

    Raises
    ------
    ValueError
        If the mount names a station it does not have.
    """
    stations = layout.mount_stations()
    mount = layout.mount
    holding = [name for name, support in layout.supports().items() if support.holds_both_rails]
    chosen = []
    for key, names in (
        ("side_force_at", mount.side_force_at or list(stations)),
        ("fore_aft_force_at", mount.fore_aft_force_at or holding),
    ):
        unknown = [name for name in names if name not in stations]
        if unknown:
            raise ValueError(
                f"mounts.{layout.file.mount}.{key}: found {unknown}; allowed are {', '.join(sorted(stations))}"
            )
        chosen.append(np.array([stations[name] for name in names]))
    return chosen[0], chosen[1]
