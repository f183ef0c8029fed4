"""The mount load table: what each mount point carries at rest and under stated load cases, for hand calculation.

A load case is a gravity of its own, (forward, left, -vertical) times standard gravity, put on the truck on level
ground. Its wheels are held down, because a case such as half the weight sideways is meant for the mounts and would
tip the truck first. Vertical forces are per mount point (positive: the frame presses the body up), side and fore-aft
per mount station, shared by statics among the stations that the vehicle file names for them.
"""

from dataclasses import dataclass, replace

import numpy as np

from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import solve_posture
from crossaxle.sim.reduced import reduce
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.structure import Structure


@dataclass(frozen=True)
class MountLoad:
    """Forces of one mount point in one load case [N]; side and fore-aft are its station's."""

    case: str
    point: str
    vertical: float
    side: float
    fore_aft: float


def mount_loads(vehicle: Vehicle) -> list[MountLoad]:
    """Work out the table: at rest first, then every load case of the vehicle file.

    Raises
    ------
    ValueError
        If there is no equilibrium in a load case even so.
    """
    model = reduce(_held_down(vehicle.structure))
    outputs = vehicle.structure.outputs
    cases = {"at rest": np.array([0.0, 0.0, -GRAVITY])}
    for name, case in vehicle.file.load_case.items():
        cases[name] = GRAVITY * np.array([case.forward, case.left, -case.vertical])
    rows = []
    for name, gravity in cases.items():
        posture = solve_posture(model, np.concatenate([gravity, np.zeros(model.n_wheels - 3)]))
        if posture.code != 0:
            raise ValueError(
                f"load_case.{name}: no equilibrium; allowed are multiples of gravity it can stand"
            )
        values = {(o.quantity, o.item): float(y) for o, y in zip(outputs, posture.y, strict=True)}
        for (quantity, point), vertical in values.items():
            if quantity == "mount_force":
                station = point.removesuffix(" left").removesuffix(" right")
                rows.append(
                    MountLoad(
                        name,
                        point,
                        vertical,
                        values["mount_side_force", station],
                        values["mount_fore_aft_force", station],
                    )
                )
    return rows


def _held_down(structure: Structure) -> Structure:
    """The structure with tyres that pull as well as push."""
    wheels = {f"lift {output.item}" for output in structure.outputs if output.quantity == "wheel_load"}
    kept = [i for i, name in enumerate(structure.hinge_names) if name not in wheels]
    return replace(
        structure,
        hinge_row=structure.hinge_row[kept],
        hinge_ground=structure.hinge_ground[kept],
        hinge_offset=structure.hinge_offset[kept],
        hinge_stiffness=structure.hinge_stiffness[kept],
        output_hinge=structure.output_hinge[:, kept],
        hinge_names=tuple(structure.hinge_names[i] for i in kept),
    )
