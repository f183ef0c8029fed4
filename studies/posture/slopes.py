"""How steep a side slope the truck stands on before it tips, and how steep a grade.

The angle is that at which the wheels of the upper side (or end) carry nothing any more, or no stable posture is left.
Each angle has its own normal gravity g cos(alpha). In the limit of a stiff truck it is atan(T/2h), the static
stability factor's angle; springs, tyres, frame and mounts take their share off it.
"""

import math

import numpy as np

from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import GRAVITY, input_vector
from crossaxle.sim.posture import solve_posture
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.vehicles.assemble import Vehicle

STEEPEST = math.radians(60.0)
STEP = math.radians(2.0)
TOLERANCE = math.radians(0.005)

DIRECTIONS = {
    "left side high": (0.0, 1.0),
    "right side high": (0.0, -1.0),
    "uphill": (1.0, 0.0),
    "downhill": (-1.0, 0.0),
}
"""Directions of grade and side slope."""


def tip_angles(vehicle: Vehicle) -> dict[str, float | None]:
    """Find the steepest plane for each direction.

    Parameters
    ----------
    vehicle : Vehicle

    Returns
    -------
    dict of str to float or None
        By the keys of `DIRECTIONS` [rad]; None where it stands on 60 deg.
    """
    model = reduce(vehicle.structure)
    return {name: _steepest(vehicle, model, way) for name, way in DIRECTIONS.items()}


def _steepest(vehicle: Vehicle, model: ReducedModel, way: tuple[float, float]) -> float | None:
    low, high = 0.0, STEP
    while _stands(vehicle, model, way, high):
        low, high = high, high + STEP
        if high > STEEPEST:
            return None
    while high - low > TOLERANCE:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _stands(vehicle, model, way, middle) else (low, middle)
    return 0.5 * (low + high)


def _stands(vehicle: Vehicle, level: ReducedModel, way: tuple[float, float], angle: float) -> bool:
    """Whether there is a posture on the plane in which some wheel of the upper side or end still carries."""
    grade, side_slope = (math.tan(angle) * part for part in way)
    u = input_vector(level.plane, np.zeros(level.n_wheels), grade, side_slope)
    try:
        posture = solve_posture(reduce(vehicle.structure, GRAVITY * math.cos(angle)), u)
    except ValueError:
        return False
    margins = [
        value
        for output, value in zip(vehicle.structure.outputs, posture.y.tolist(), strict=True)
        if output.quantity == "tip_margin"
    ]
    return posture.code == GOOD and min(margins) > 0.0
