"""From a vehicle file to the elastic structure.

Three steps, in the order of the workshop: the bare chassis sags under its own weight; mounts and tanks go
on strain-free; the laden truck stands level, which fixes where stops, helper springs and gaps start to count.
Then the structure is written for the load state asked for.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError, cho_factor, cho_solve

from vehicles.assumptions import assumptions
from vehicles.constructions import torsional_rigidity
from vehicles.equations import Equations
from vehicles.file import VehicleFile
from vehicles.frame import LadderFrame
from vehicles.frame_entry import frame_mass, ladder, mounting_ladder
from vehicles.gaps import add_gaps
from vehicles.gravity import GravityLoads, PointMass, point_masses
from vehicles.kinematics import Kinematics
from vehicles.layout import Layout, lay_out
from vehicles.mounts import add_carriers, add_mount_outputs, add_mounts
from vehicles.outputs import add_frame_outputs, add_lean_outputs, add_stability_outputs
from vehicles.plausibility import refuse_impossible, warn_of_implausible
from vehicles.structure import Structure
from vehicles.suspension import GRAVITY, SIDES, add_suspension, leaves, sign, wheel_names
from vehicles.tanks import add_tank_outputs, add_tanks
from vehicles.tyres import contact_length, tyre

Array = NDArray[np.float64]
LEVEL = np.array([0.0, 0.0, -GRAVITY])


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
    frame = ladder(layout)
    complete = Kinematics(layout, frame, mounting_ladder(layout))
    steel = frame_mass(layout)
    laden = point_masses(layout, steel, "laden")
    sagged = _sagged(layout, frame, complete.n)
    draft = _structure(complete, laden, sagged)
    level = _stand(draft, "laden on level ground")
    compressions = {leaf.name: float(leaf.row @ level) for leaf in leaves(complete)}

    k = Kinematics(layout, frame, bare=True) if bare else complete
    masses = point_masses(layout, steel, file.load_state, bare)
    structure = _structure(k, masses, sagged, level, compressions)
    loads = _wheel_loads(draft, level)
    tyres = []
    for wheel, load in enumerate(loads):
        entry = list(file.axle.values())[wheel // 2].tyre
        rubber = tyre(entry)
        tyres.append(
            WheelTyre(
                rubber.radius, entry.contact_length or contact_length(rubber.radius, rubber.stiffness, load)
            )
        )
    return Vehicle(
        file,
        layout,
        k,
        structure,
        tuple(masses),
        tuple(tyres),
        level,
        tuple(assumptions(complete, [one.contact_length for one in tyres])),
        tuple(warn_of_implausible(layout, dict(zip(wheel_names(k), loads, strict=True)), masses)),
    )


def _structure(
    k: Kinematics,
    masses: list[PointMass],
    sagged: Array,
    level: Array | None = None,
    compressions: Mapping[str, float] | None = None,
) -> Structure:
    """All equations; without ``level`` only what it takes to find that posture: no stops, no outputs but loads."""
    layout = k.layout
    n_wheels = 2 * len(k.axle_stations)
    equations = Equations(k.n, n_wheels)
    add_suspension(equations, k, compressions)
    _add_cab(equations, k)
    gravity = GravityLoads(k, masses)
    if not k.bare:
        equations.spring(k.unit("body", 3), body_torsional_stiffness(layout))
        mounts = add_mounts(equations, k, sagged)
        carriers = add_carriers(equations, k)
        brackets = add_tanks(equations, k, sagged)
    if level is not None:
        add_frame_outputs(equations, k)
        if not k.bare:
            add_mount_outputs(equations, k, mounts, carriers, masses, level)
            add_tank_outputs(equations, k, brackets, level)
            add_lean_outputs(equations, k)
        add_gaps(equations, k, level[: k.n])
        add_stability_outputs(equations, k, masses)
        # Places are those of the laden truck standing level: gravity's stiffness counts from there.
        gravity.load[2] -= gravity.geometric @ level[: k.n]
    tracks = [axle.wheel_track for axle in layout.file.axle.values()]
    return equations.structure(
        k.ladders(),
        gravity.geometric,
        gravity.load,
        np.repeat(k.axle_stations, 2),
        np.array([0.5 * sign(side) * track for track in tracks for side in SIDES]),
        k.dof_names,
    )


def _sagged(layout: Layout, frame: LadderFrame, n: int) -> Array:
    """Displacements (n,) of the chassis with cab under its own weight, body and tanks not yet moved."""
    k = Kinematics(layout, frame, bare=True)
    masses = point_masses(layout, frame_mass(layout), "laden", bare=True)
    chassis = _structure(k, masses, np.zeros(k.n))
    return np.pad(_stand(chassis, "bare on level ground"), (0, n - k.n))


def _stand(structure: Structure, how: str) -> Array:
    """Displacements on level ground with every spring on its reference segment, (n,)."""
    load = structure.load_gravity.T @ LEVEL + structure.load_constant
    try:
        cho_factor(structure.stiffness + GRAVITY * structure.geometric)
        q = cho_solve(cho_factor(structure.stiffness), load)
    except LinAlgError as error:
        raise ValueError(
            f"the truck does not stand {how}: its springs cannot hold its height of centre of mass; "
            "check spring tracks, spring rates and heights of masses"
        ) from error
    for wheel, load in enumerate(_wheel_loads(structure, q)):
        if load <= 0:
            name = structure.outputs[wheel].item
            raise ValueError(
                f"{how} the {name} wheel would carry {load / 1e3:.1f} kN: the centre of mass lies outside the "
                "wheels; check positions of body and masses"
            )
    return np.asarray(q)


def _wheel_loads(structure: Structure, q: Array) -> Array:
    n_wheels = len(structure.wheel_y)
    return np.asarray(structure.output_row[:n_wheels] @ q + structure.output_constant[:n_wheels])


def body_torsional_stiffness(layout: Layout) -> float:
    """Torque at the body's ends per angle between them [N m/rad]."""
    body = layout.file.body
    if body.torsional_stiffness is not None:
        return body.torsional_stiffness
    return torsional_rigidity(body.construction) / body.length


def _add_cab(equations: Equations, k: Kinematics) -> None:
    cab, layout = k.layout.file.cab, k.layout
    for position, stiffness in (
        (cab.front_mounts, cab.front_stiffness),
        (cab.rear_mounts, cab.rear_stiffness),
    ):
        station = layout.station(position)
        for side in SIDES:
            y = 0.5 * sign(side) * cab.mount_track
            equations.spring(k.height("cab", station, y) - k.rail(side, station, y), stiffness)
