"""From a vehicle file to the elastic structure.

Three steps, in the order of the workshop: the bare chassis sags under its own weight; mounts and tanks go
on strain-free; the laden truck stands level, which fixes where stops, helper springs and gaps start to count.
Then the structure is written for the load state asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.assumptions import assumptions
from crossaxle.vehicles.chassis import chassis_of
from crossaxle.vehicles.constructions import torsional_rigidity
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.frame_entry import mounting_ladder
from crossaxle.vehicles.gaps import add_gaps
from crossaxle.vehicles.gravity import PointMass, point_masses
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.layout import Layout, lay_out
from crossaxle.vehicles.level import stand
from crossaxle.vehicles.mounts import add_carriers, add_mount_outputs, add_mounts
from crossaxle.vehicles.outputs import add_lean_outputs, add_stability_outputs
from crossaxle.vehicles.plausibility import refuse_impossible, warn_of_implausible
from crossaxle.vehicles.structure import Structure
from crossaxle.vehicles.suspension import SIDES, sign, wheel_names
from crossaxle.vehicles.tanks import add_tank_outputs, add_tanks
from crossaxle.vehicles.tyres import contact_length, tyre


@dataclass(frozen=True)
class WheelTyre:
    """What the ground's envelope needs of one wheel: free radius and contact length [m]."""

    radius: float
    contact_length: float


@dataclass(frozen=True)
class Vehicle:
    """An assembled vehicle.

    Attributes
    ----------
    file : VehicleFile
    layout : Layout
    kinematics : Kinematics
        Rows of displacements, for pictures and for gaps with finite rotations.
    structure : Structure
    masses : tuple of PointMass
        Of the chosen load state.
    tyres : tuple of WheelTyre
        One per wheel, in the order of the wheels.
    level : (n,)
        Displacements with the laden truck on level ground.
    assumptions : tuple of str
        Defaults and presets at work.
    warnings : tuple of str
        What looks implausible, with numbers and remedy.
    """

    file: VehicleFile
    layout: Layout
    kinematics: Kinematics
    structure: Structure
    masses: tuple[PointMass, ...]
    tyres: tuple[WheelTyre, ...]
    level: Array
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def mass(self) -> float:
        """Total mass of the load state [kg]."""
        return sum(mass.mass for mass in self.masses)


def assemble(file: VehicleFile, bare: bool = False) -> Vehicle:
    """Assemble the vehicle a file describes.

    Parameters
    ----------
    file : VehicleFile
    bare : bool
        Leave body, mounts, tanks and what they carry away: the chassis as it is delivered.

    Raises
    ------
    ValueError
        If the vehicle is physically impossible (with reason and remedy).
    """
    layout = lay_out(file)
    refuse_impossible(layout)
    chassis = chassis_of(layout)

    # Mounts and tanks go on strain-free, then the laden truck stands level.
    k = Kinematics(layout, chassis.frame, mounting_ladder(layout))
    equations = Equations(k.n, chassis.equations.n_wheels, chassis.equations)
    sagged = np.pad(chassis.sagged, (0, k.n - len(chassis.sagged)))
    equations.spring(k.unit("body", 3), body_torsional_stiffness(layout))
    if k.mounting is not None:
        equations.elastic_part(k.first("mounting frame"), k.mounting.stiffness)
    mounts = add_mounts(equations, k, sagged)
    carriers = add_carriers(equations, k)
    brackets = add_tanks(equations, k, sagged)
    laden = point_masses(layout, chassis.frame_mass, "laden")
    gravity = chassis.gravity_with(k, laden)
    level = stand(equations, gravity, "laden on level ground")
    loads = (equations.wheel_load_rows()[0] @ level).tolist()

    # The truck asked for: in its load state, or bare but with stops that count from the laden truck.
    complete, masses = k, laden
    if bare:
        k = Kinematics(layout, chassis.frame, bare=True)
        equations = Equations(k.n, equations.n_wheels, chassis.equations)
    if bare or file.load_state != "laden":
        masses = point_masses(layout, chassis.frame_mass, file.load_state, bare)
        gravity = chassis.gravity_with(k, masses)
    if not bare:
        add_mount_outputs(equations, k, mounts, carriers, masses)
        add_tank_outputs(equations, k, brackets)
        add_lean_outputs(equations, k)
    add_gaps(equations, k)
    add_stability_outputs(equations, k, masses)
    tyres = _wheel_tyres(file, loads)
    return Vehicle(
        file,
        layout,
        k,
        equations.structure(level[: k.n], gravity, *_wheel_places(k), k.dof_names),
        tuple(masses),
        tyres,
        level,
        tuple(assumptions(complete, [one.contact_length for one in tyres])),
        tuple(warn_of_implausible(layout, dict(zip(wheel_names(k), loads, strict=True)), masses)),
    )


def _wheel_tyres(file: VehicleFile, loads: Sequence[float]) -> tuple[WheelTyre, ...]:
    """Tyre of every wheel, ``loads`` (w,) with the laden truck level [N]."""
    tyres = []
    for wheel, load in enumerate(loads):
        entry = list(file.axle.values())[wheel // 2].tyre
        rubber = tyre(entry)
        contact = entry.contact_length or contact_length(rubber.radius, rubber.stiffness, load)
        tyres.append(WheelTyre(rubber.radius, contact))
    return tuple(tyres)


def _wheel_places(k: Kinematics) -> tuple[Array, Array]:
    """Station and lateral position of every wheel, each (w,) [m]."""
    tracks = [axle.wheel_track for axle in k.layout.file.axle.values()]
    return np.repeat(k.axle_stations, 2), np.array(
        [0.5 * sign(side) * track for track in tracks for side in SIDES]
    )


def body_torsional_stiffness(layout: Layout) -> float:
    """Torque at the body's ends per angle between them [N m/rad]."""
    body = layout.file.body
    if body.torsional_stiffness is not None:
        return body.torsional_stiffness
    return torsional_rigidity(body.construction) / body.length
