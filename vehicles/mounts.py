"""Body mounts: rigid, three-point, four-point and sprung, with the outputs of each mount point.

All forces are positive where the frame presses the body up. Mounts go on strain-free with the chassis
already sagged under its own weight: ``sagged`` are its displacements then.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.gravity import PointMass, together
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.layout import shares
from crossaxle.vehicles.mount_entries import HoldDown, Pivot, Support
from crossaxle.vehicles.structure import Output
from crossaxle.vehicles.suspension import GRAVITY, SIDES


@dataclass(frozen=True)
class MountPoint:
    """One point at which the body rests on the frame.

    Attributes
    ----------
    name : str
        ``pair left``, ``2 right``, ``pivot`` ...
    station, y : float
        Place [m].
    row : (n,)
        Approach of frame and body (compression positive).
    support : Support or None
        Of the chosen mount; None for a carrier of a mounting frame.
    """

    name: str
    station: float
    y: float
    row: Array
    support: Support | None = None


@dataclass(frozen=True)
class PivotStop:
    """Relative roll of frame and body at a pivot, row q + offset [rad], and by hinge the stops' torque on the body."""

    pivot: Pivot
    row: Array
    offset: float
    torque: dict[str, float]


@dataclass(frozen=True)
class MountForce:
    """Force of one mount point: stiffness (row q + offset) plus hinge forces times their factors [N]."""

    point: MountPoint
    stiffness: float
    offset: float
    hinges: dict[str, float]
    stop: PivotStop | None

    @property
    def row(self) -> Array:
        """Row of the force's linear part."""
        return self.stiffness * self.point.row

    @property
    def constant(self) -> float:
        """Constant of the force's linear part [N]."""
        return self.stiffness * self.offset


def mount_points(k: Kinematics) -> list[MountPoint]:
    """The points of the chosen mount, front to rear as the file lists them."""
    points = []
    for name, support in k.layout.supports().items():
        station = k.layout.station(support.at)
        if support.pivot is not None:
            row = k.frame_heave(station) - k.height("body", station, 0.0)
            points.append(MountPoint(name, station, 0.0, row, support))
        else:
            for side in SIDES:
                y = k.rail_y(side)
                row = k.rail(side, station) - k.body_rail(side, station)
                points.append(MountPoint(f"{name} {side}", station, y, row, support))
    return points


def add_mounts(equations: Equations, k: Kinematics, sagged: Array) -> list[MountForce]:
    """Add springs and stops of the chosen mount; return what its outputs are made of."""
    forces = []
    for point in mount_points(k):
        support = point.support
        assert support is not None
        offset = -float(point.row @ sagged)
        hinges: dict[str, float] = {}
        if support.hold_down is not None:
            hinges = _hold_down(equations, support.hold_down, point, offset)
        equations.spring(point.row, support.stiffness, offset)
        stop = None if support.pivot is None else _add_pivot_stop(equations, k, support.pivot, point, sagged)
        forces.append(MountForce(point, support.stiffness, offset, hinges, stop))
    return forces


def add_carriers(equations: Equations, k: Kinematics) -> list[MountForce]:
    """Stand the body on the mounting frame; return the forces at its carriers (none without such a frame)."""
    entry = k.layout.file.mounting_frame
    if entry is None:
        return []
    forces = []
    for i, position in enumerate(entry.carriers):
        station = k.layout.station(position)
        for side in SIDES:
            y = k.rail_y(side)
            row = k.body_rail(side, station) - k.height("body", station, y)
            equations.spring(row, entry.carrier_stiffness)
            point = MountPoint(f"carrier {i + 1} {side}", station, y, row)
            forces.append(MountForce(point, entry.carrier_stiffness, 0.0, {}, None))
    return forces


def add_mount_outputs(
    equations: Equations,
    k: Kinematics,
    forces: list[MountForce],
    carriers: list[MountForce],
    masses: Sequence[PointMass],
) -> None:
    """Add force and travel of every mount point, the horizontal forces, and the torque that reaches the body."""
    for force in forces:
        point = force.point
        equations.output(
            Output("mount_force", point.name, "N"), force.row, hinges=force.hinges, constant=force.constant
        )
        if force.stop is None:
            equations.output(Output("mount_travel", point.name, "m"), point.row, constant=force.offset)
        else:
            row, offset = force.stop.row, force.stop.offset
            equations.output(Output("pivot_angle", point.name, "rad"), row, constant=offset)
            lever = force.stop.pivot.stop_lever
            equations.output(Output("mount_travel", point.name, "m"), lever * row, constant=lever * offset)
    _add_side_and_fore_aft_forces(equations, k, masses)
    _add_body_torque(equations, k, carriers or forces, masses)


def _hold_down(equations: Equations, hold: HoldDown, point: MountPoint, offset: float) -> dict[str, float]:
    """One sprung point: contact of stiffness kc, clamped by a spring ks with preload P; its hinges and their factors.

    In contact both act on the approach c, force (kc + ks) c; the contact opens at c = -P / kc and what is
    left is the spring, force -P + ks c, until its travel is used up.
    """
    opens = hold.preload / hold.contact_stiffness
    lift, stop = f"lift {point.name}", f"travel stop {point.name}"
    equations.hinge(lift, -point.row, -offset - opens, -hold.contact_stiffness)
    equations.hinge(stop, -point.row, -offset - opens - hold.travel, hold.stop_stiffness)
    return {lift: -1.0, stop: -1.0}


def _add_pivot_stop(
    equations: Equations, k: Kinematics, pivot: Pivot, point: MountPoint, sagged: Array
) -> PivotStop:
    """Stops of one pivot, either way."""
    row = k.frame_roll(point.station) - k.roll("body", point.station)
    offset = -float(row @ sagged)
    torque = {f"stop {point.name} {word}": way for word, way in (("left up", 1.0), ("right up", -1.0))}
    for name, way in torque.items():
        equations.hinge(name, way * row, way * offset - pivot.stop_angle, pivot.stop_stiffness)
    return PivotStop(pivot, row, offset, torque)


def _add_side_and_fore_aft_forces(equations: Equations, k: Kinematics, masses: Sequence[PointMass]) -> None:
    """Horizontal forces per mount station, from gravity's components in the ground plane."""
    _, side, fore_aft = k.carried_at("body")
    mass, centre = together([mass for mass in masses if mass.carried_by == "body"])
    lateral = dict(zip(side.tolist(), (mass * shares(side, centre)).tolist(), strict=True))
    lengthways = dict.fromkeys(fore_aft.tolist(), mass / len(fore_aft))
    for name, station in k.layout.mount_stations().items():
        for quantity, gravity in (
            ("mount_side_force", (0.0, lateral.get(station, 0.0), 0.0)),
            ("mount_fore_aft_force", (lengthways.get(station, 0.0), 0.0, 0.0)),
        ):
            equations.output(Output(quantity, name, "N"), gravity=gravity)


def _add_body_torque(
    equations: Equations,
    k: Kinematics,
    forces: list[MountForce],
    masses: Sequence[PointMass],
) -> None:
    """Section torque about x between neighbouring mounts and masses: what acts ahead of the section.

    About the axis at mount height on the centre line. The weight's lever grows as the body leans; that term is
    taken at standard gravity.
    """
    height = k.layout.mount_height
    carried = [mass for mass in masses if mass.carried_by == "body"]
    cuts = sorted({*(force.point.station for force in forces), *(mass.station for mass in carried)})
    for here, behind in itertools.pairwise(cuts):
        section = 0.5 * (here + behind)
        row, lean, gravity, constant = np.zeros(k.n), np.zeros(k.n), np.zeros(3), 0.0
        hinges: dict[str, float] = {}
        for force in forces:
            y = force.point.y
            if force.point.station < section:
                row += y * force.row
                constant += y * force.constant
                hinges |= {name: y * factor for name, factor in force.hinges.items()}
                hinges |= {} if force.stop is None else force.stop.torque
        for mass in carried:
            if mass.station < section:
                arm = mass.z - height
                gravity += mass.mass * np.array([0.0, -arm, mass.y])
                lean += mass.mass * GRAVITY * arm * k.roll("body", mass.station)
        equations.output(
            Output("body_torque", "", "N m", place=f"{section:.2f} m behind the front axle"),
            row + lean,
            gravity=tuple(gravity),
            hinges=hinges,
            constant=constant,
            from_level=lean,
        )
