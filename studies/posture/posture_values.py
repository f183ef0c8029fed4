"""What one posture shows, by name: wheel loads, angles, gaps, forces; units in the keys.

Angles follow ISO 8855 (roll positive with the left side up). Gaps are given twice: with the small rotations of the
model, and with each part turned by its finite angles, which matters for corners far out on a twisted truck.
"""

import math
from typing import Any

import numpy as np

from crossaxle.sim.codes import MEANING, TIPPED
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import Posture
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.study.study_file import Thresholds
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.gaps import gap_places, gap_with_finite_rotations

DEGREES = math.degrees(1.0)


def describe_posture(vehicle: Vehicle, posture: Posture) -> dict[str, Any]:
    """Describe a posture of a vehicle.

    Parameters
    ----------
    vehicle : Vehicle
    posture : Posture
        Of a model reduced from the vehicle's structure.

    Returns
    -------
    dict
        Plain numbers and texts. A number is None where there is no posture, or no such part on the truck; a table
        of parts the truck does not have is empty.
    """
    values = _by_quantity(vehicle, posture)

    def of(quantity: str, scale: float = 1.0) -> dict[str, float | None]:
        return {
            item: _number(_worst(quantity, group), scale) for item, group in values.get(quantity, {}).items()
        }

    def one(quantity: str, scale: float = 1.0) -> float | None:
        return next(iter(of(quantity, scale).values()), None)

    travel, torque = of("mount_travel"), of("tank_torque")
    clearances = wheel_clearances(vehicle, posture)
    angles = [*of("frame_twist").values(), *of("body_roll").values(), *of("pivot_angle").values()]
    along = of("rail_angle", DEGREES)
    return {
        "wheels": {
            wheel: {
                "load_N": 0.0 if clearance > 0 else load,
                "clearance_m": _number(max(clearance, 0.0)) if math.isfinite(clearance) else None,
            }
            for (wheel, load), clearance in zip(of("wheel_load").items(), clearances.tolist(), strict=True)
        },
        "frame_twist_deg": one("frame_twist", DEGREES),
        "station_twist_deg": of("station_twist", DEGREES),
        "rail_angle": {"station_m": [float(at) for at in along], "angle_deg": list(along.values())},
        "rail_stress_MPa": of("rail_stress", 1e-6),
        "cab_to_body_deg": one("cab_to_body", DEGREES),
        "body_roll_deg": one("body_roll", DEGREES),
        "body_torque_Nm": one("body_torque"),
        "gaps": of("gap"),
        "gaps_finite": {
            gap: _number(value) for gap, value in gaps_with_finite_rotations(vehicle, posture).items()
        },
        "mounts": {
            point: {"force_N": force, "travel_m": travel.get(point)}
            for point, force in of("mount_force").items()
        },
        "pivots_deg": of("pivot_angle", DEGREES),
        "brackets": of("bracket_stress", 1e-6),
        "tanks": {
            tank: {"level_difference_m": difference, "torque_Nm": torque[tank]}
            for tank, difference in of("tank_level_difference").items()
        },
        "tip_margin": one("tip_margin"),
        "tipped": posture.code == TIPPED,
        "outside_range": _outside_range(posture, [angle for angle in angles if angle is not None]),
        "status": MEANING[posture.code],
    }


def wheel_clearances(vehicle: Vehicle, posture: Posture) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Distance from each tyre to its ground, (w,) [m]: positive where free, minus its deflection where it carries."""
    structure = vehicle.structure
    found = []
    for wheel in range(len(structure.wheel_y)):
        lift = structure.hinge_names.index(f"lift {structure.outputs[wheel].item}")
        stiffness = -structure.hinge_stiffness[lift]
        let_go = -posture.force[lift] / stiffness
        found.append(let_go if posture.active[lift] else -posture.y[wheel] / stiffness)
    return np.array(found)


def gaps_with_finite_rotations(vehicle: Vehicle, posture: Posture) -> dict[str, float]:
    """Smallest distance of each gap whose parts are on the truck, parts turned by their finite angles [m]."""
    k = vehicle.kinematics
    gaps: dict[str, float] = {}
    for place in gap_places(vehicle.layout):
        if all(k.carries(part) for part in place.parts):
            gap = gap_with_finite_rotations(place, k, posture.q, vehicle.level[: k.n])
            gaps[place.name] = min(gap, gaps.get(place.name, math.inf))
    return gaps


def _by_quantity(vehicle: Vehicle, posture: Posture) -> dict[str, dict[str, list[float]]]:
    """Values of all places of each item of each quantity."""
    values: dict[str, dict[str, list[float]]] = {}
    for output, value in zip(vehicle.structure.outputs, posture.y.tolist(), strict=True):
        values.setdefault(output.quantity, {}).setdefault(output.item, []).append(value)
    return values


def _worst(quantity: str, group: list[float]) -> float:
    """The worst place of an item: the least gap or margin, else the largest magnitude with its sign."""
    known = QUANTITIES.get(quantity)
    return min(group) if known is not None and known.worst == "least" else max(group, key=abs)


def _outside_range(posture: Posture, angles: list[float]) -> bool:
    """Whether the ground's mean plane is steeper, or an angle larger, than the model's small angles allow."""
    limits = Thresholds()
    slope = float(np.hypot(posture.u[0], posture.u[1])) / GRAVITY
    return slope > math.sin(limits.range_slope) or any(abs(angle) > limits.range_angle for angle in angles)


def _number(value: float, scale: float = 1.0) -> float | None:
    return float(value * scale) if math.isfinite(value) else None
