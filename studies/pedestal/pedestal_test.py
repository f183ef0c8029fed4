"""The pedestal test, computed: wheels are raised step by step, everything else stands on a plane.

Heights are those of the pedestals above the ground under the other wheels, which is level unless a slope is given. The
mean plane through all wheels' ground points tilts accordingly, and gravity with it; each posture is that of its own
normal gravity, followed from level ground.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import input_vector, level_input
from crossaxle.sim.posture import Posture, level_posture, solve_posture
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.studies.inputs.units import shown
from crossaxle.studies.posture.posture_values import wheel_clearances
from crossaxle.vehicles.assemble import Vehicle

SEARCH_STEP = 0.01
"""The first wheel to come free is sought in steps of this [m] ..."""

SEARCH_TOLERANCE = 1e-6
"""... and its height then found to this [m]."""


LEVEL = (0.0, 0.0)


@dataclass(frozen=True)
class FirstFree:
    """The wheel that comes free first, and the height of the pedestals at which it does [m]."""

    wheel: str
    height: float


@dataclass(frozen=True)
class Pedestal:
    """A pedestal test of one vehicle.

    Attributes
    ----------
    vehicle : Vehicle
    raised : tuple of int
        Wheels that stand on pedestals.
    heights : tuple of float, length k
        [m]
    postures : tuple of Posture, length k
    first_free : FirstFree or None
        On the way from height 0 to the heights; None if every wheel stays down.
    slope : tuple of two float
        Of the ground without pedestals: tangents of grade (positive uphill) and side slope (positive with the left
        side high).
    """

    vehicle: Vehicle
    raised: tuple[int, ...]
    heights: tuple[float, ...]
    postures: tuple[Posture, ...]
    first_free: FirstFree | None
    slope: tuple[float, float] = LEVEL

    @property
    def wheels(self) -> list[str]:
        """Names of all wheels."""
        return wheel_names(self.vehicle)

    @property
    def under(self) -> list[str]:
        """Names of the wheels that stand on pedestals."""
        return [self.wheels[wheel] for wheel in self.raised]

    def ground(self, height: float) -> np.ndarray[Any, np.dtype[np.float64]]:
        """Ground heights under all wheels with pedestals of ``height``, (w,) [m]."""
        return _ground(self.vehicle, self.raised, height)


def pedestal_test(
    vehicle: Vehicle,
    under: Sequence[str] | None,
    heights: Sequence[float],
    slope: tuple[float, float] = LEVEL,
) -> Pedestal:
    """Compute a pedestal test.

    Parameters
    ----------
    vehicle : Vehicle
    under : sequence of str or None
        Names of the wheels to raise; None: front right and rear left (of the first and the last axle).
    heights : sequence of float
        In any order; below zero the wheels stand in pits [m].
    slope : tuple of two float
        Tangents of the ground's grade (positive uphill) and side slope (positive with the left side high).

    Raises
    ------
    ValueError
        If a wheel is unknown, all wheels are to be raised, or the vehicle is unstable even with all wheels down.
    """
    raised = raised_wheels(vehicle, under)
    solver = PedestalSolver(vehicle, raised, slope)
    postures = tuple(solver.posture(height) for height in heights)
    return Pedestal(vehicle, raised, tuple(heights), postures, _first_free(solver, heights), slope)


def raised_wheels(vehicle: Vehicle, under: Sequence[str] | None) -> tuple[int, ...]:
    """Find the wheels to raise; None stands for front right and rear left (of the first and the last axle).

    Raises
    ------
    ValueError
        If a wheel is unknown, or all or none are to be raised.
    """
    names = wheel_names(vehicle)
    if under is None:
        return 1, len(names) - 2
    unknown = [name for name in under if name not in names]
    if unknown or not under:
        found = ", ".join(shown(name) for name in unknown) or "no wheel"
        raise ValueError(f"under: found {found}; allowed are {', '.join(names)}")
    raised = tuple(dict.fromkeys(names.index(name) for name in under))
    if len(raised) == len(names):
        raise ValueError("under: found every wheel; leave at least one on the ground")
    return raised


def wheel_names(vehicle: Vehicle) -> list[str]:
    """Names of a vehicle's wheels, axle by axle from the front, left before right."""
    return [output.item for output in vehicle.structure.outputs[: len(vehicle.structure.wheel_y)]]


def _ground(
    vehicle: Vehicle, raised: tuple[int, ...], height: float
) -> np.ndarray[Any, np.dtype[np.float64]]:
    ground = np.zeros(len(vehicle.structure.wheel_y))
    ground[list(raised)] = height
    return ground


class PedestalSolver:
    """Postures of one vehicle on pedestals under some of its wheels, each at its own normal gravity.

    Parameters
    ----------
    vehicle : Vehicle
    raised : tuple of int
        Wheels on pedestals.
    slope : tuple of two float
        As for `pedestal_test`.

    Raises
    ------
    ValueError
        If the vehicle is unstable with all wheels down.
    """

    def __init__(self, vehicle: Vehicle, raised: tuple[int, ...], slope: tuple[float, float] = LEVEL) -> None:
        self.vehicle = vehicle
        self._slope = slope
        self._raised = raised
        self._models: dict[float, ReducedModel] = {}
        self._postures: dict[float, Posture] = {}
        self._plane = self._model(float(-level_input(len(vehicle.structure.wheel_y))[2])).plane

    def posture(self, height: float) -> Posture:
        """Posture with pedestals of a height [m], followed from level ground."""
        if height not in self._postures:
            u = input_vector(self._plane, _ground(self.vehicle, self._raised, height), *self._slope)
            model = self._model(round(float(-u[2]), 12))
            self._postures[height] = solve_posture(model, u, level_posture(model))
        return self._postures[height]

    def lifted(self, height: float) -> tuple[list[int], bool]:
        """Wheels that are free at a height, and whether there is a posture at all."""
        posture = self.posture(height)
        if posture.code != GOOD:
            return [], False
        return np.flatnonzero(wheel_clearances(self.vehicle, posture) >= 0.0).tolist(), True

    def _model(self, normal_gravity: float) -> ReducedModel:
        if normal_gravity not in self._models:
            self._models[normal_gravity] = reduce(self.vehicle.structure, normal_gravity)
        return self._models[normal_gravity]


def _first_free(solver: PedestalSolver, heights: Sequence[float]) -> FirstFree | None:
    """First wheel free on the way up to the highest pedestal or down into the deepest pit, the nearer of the two."""
    found = [_free_towards(solver, end) for end in (max([0.0, *heights]), min([0.0, *heights])) if end]
    free = [one for one in found if one is not None]
    return min(free, key=lambda one: abs(one.height), default=None)


def _free_towards(solver: PedestalSolver, end: float) -> FirstFree | None:
    before = 0.0
    for height in np.linspace(0.0, end, math.ceil(abs(end) / SEARCH_STEP) + 1).tolist():
        wheels, stands = solver.lifted(height)
        if wheels or not stands:
            return _between(solver, before, height)
        before = height
    return None


def _between(solver: PedestalSolver, low: float, high: float) -> FirstFree | None:
    """Halve a step at whose end a wheel is free or the truck has tipped; None if it tips with all wheels down."""
    while abs(high - low) > SEARCH_TOLERANCE:
        middle = 0.5 * (low + high)
        wheels, stands = solver.lifted(middle)
        low, high = (low, middle) if wheels or not stands else (middle, high)
    wheels, _ = solver.lifted(high)
    return FirstFree(wheel_names(solver.vehicle)[wheels[0]], high) if wheels else None
