"""The mount load table: what each mount point carries at rest and under stated load cases, for hand calculation.

A load case is a gravity of its own, (forward, left, -vertical) times standard gravity, put on the truck on level
ground. Its wheels are held down, because a case such as half the weight sideways is meant for the mounts and would
tip the truck first; at which share of a case a free truck tips is given with it. Held down, the truck still leans on
tyres and springs, which shifts load by small rotations that no longer hold there; so the vertical forces are also given
for a truck held upright, its rails held level at the axles. Vertical forces are per mount point (positive: the frame
presses the body up), side and fore-aft per mount station, shared by statics among the stations that the vehicle file
names for them.
"""

from dataclasses import dataclass, replace

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import level_posture, solve_posture
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.structure import Structure

HOLD = 1e9
"""Stiffness with which a rail is held upright at an axle [N/m]: a hundred times that of tyres and rails, and more."""

SHARE_TOLERANCE = 1e-3
"""To which the share of a load case is found at which the truck tips."""

AT_REST = np.array([0.0, 0.0, -GRAVITY])


@dataclass(frozen=True)
class MountLoad:
    """Forces of one mount point in one load case.

    Attributes
    ----------
    case, point : str
    vertical : float
        With the wheels held down [N].
    upright : float
        The same with the rails held level at the axles [N].
    side, fore_aft : float
        Of the point's station [N].
    tips_at : float or None
        Share of the case, on the way from rest, at which a free truck tips; None if it stands.
    """

    case: str
    point: str
    vertical: float
    upright: float
    side: float
    fore_aft: float
    tips_at: float | None


def mount_loads(vehicle: Vehicle) -> list[MountLoad]:
    """Work out the table: at rest first, then every load case of the vehicle file.

    Raises
    ------
    ValueError
        If there is no equilibrium in a load case even so.
    """
    free, held = reduce(vehicle.structure), _held_down(vehicle.structure)
    models = reduce(held), reduce(_held_upright(vehicle, held, level_posture(free).q))
    outputs = vehicle.structure.outputs
    cases = {"at rest": AT_REST}
    for name, case in vehicle.file.load_case.items():
        cases[name] = GRAVITY * np.array([case.forward, case.left, -case.vertical])
    rows = []
    for name, gravity in cases.items():
        postures = [solve_posture(model, _input(model, gravity)) for model in models]
        if any(posture.code != GOOD for posture in postures):
            raise ValueError(
                f"load_case.{name}: no equilibrium; allowed are multiples of gravity it can stand"
            )
        values, upright = (
            {(o.quantity, o.item): float(y) for o, y in zip(outputs, posture.y, strict=True)}
            for posture in postures
        )
        tips_at = _tips_at(free, gravity)
        for (quantity, point), vertical in values.items():
            if quantity == "mount_force":
                station = point.removesuffix(" left").removesuffix(" right")
                rows.append(
                    MountLoad(
                        name,
                        point,
                        vertical,
                        upright[quantity, point],
                        values["mount_side_force", station],
                        values["mount_fore_aft_force", station],
                        tips_at,
                    )
                )
    return rows


def _input(model: ReducedModel, gravity: Array) -> Array:
    """Even ground under a gravity of its own, (w,)."""
    return np.concatenate([gravity, np.zeros(model.n_wheels - 3)])


def _tips_at(free: ReducedModel, gravity: Array) -> float | None:
    """Share of the way from rest to a load case at which the free truck tips; None if it stands all the way."""

    def stands(share: float) -> bool:
        posture = solve_posture(free, _input(free, AT_REST + share * (gravity - AT_REST)))
        margins = [
            y for o, y in zip(free.outputs, posture.y.tolist(), strict=True) if o.quantity == "tip_margin"
        ]
        return posture.code == GOOD and min(margins) > 0.0

    if stands(1.0):
        return None
    low, high = 0.0, 1.0
    while high - low > SHARE_TOLERANCE:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if stands(middle) else (low, middle)
    return high


def _held_upright(vehicle: Vehicle, structure: Structure, level: Array) -> Structure:
    """The structure with both rails held at every axle where they are on the level truck, displacements ``level``."""
    k = vehicle.kinematics
    rows = np.array(
        [k.rail(side, float(station)) for station in k.axle_stations for side in ("left", "right")]
    )
    return replace(
        structure,
        stiffness=structure.stiffness + HOLD * rows.T @ rows,
        load_constant=structure.load_constant + HOLD * rows.T @ (rows @ level),
    )


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
