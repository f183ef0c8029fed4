"""What a truck with changed frame stiffness would show in a pedestal test, and how far readings allow the change.

Changes are logarithms of factors on the file's values. With residuals r_i over uncertainties s_i the sum S = sum
(r_i/s_i)^2 is made smallest; an interval reaches as far as S, made smallest over the other changes, stays below
its minimum plus 1.96^2 (profile likelihood, 95 %; e.g. Venzon and Moolgavkar, Applied Statistics 37, 1988).
"""

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from pydantic import TypeAdapter, ValidationError
from scipy.optimize import brentq, least_squares

from crossaxle.arrays import Array
from crossaxle.sim.codes import GOOD
from crossaxle.studies.inputs.units import shown, si
from crossaxle.studies.pedestal.pedestal_test import PedestalSolver, raised_wheels, wheel_names
from crossaxle.studies.pedestal.readings import Reading
from crossaxle.studies.posture.posture_values import gaps_with_finite_rotations
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.frame import torsional_stiffness
from crossaxle.vehicles.position import Position, PositionText

ADJUSTABLE = {
    "stiffness-factor": "stiffness_factor",
    "joint-factor": "joint_factor",
    "joint-torsion": "joint_torsion_factor",
    "joint-warping": "joint_warping_factor",
}
"""What can be adjusted, and its key in the file's frame table."""

CONFIDENCE = 1.96
"""Standard deviations of a 95 % interval."""

LARGEST_CHANGE = 300.0
"""Factors are sought between the file's value over this and times this."""

STARTS = (-2.0, 0.0, 1.0)
"""Changes from which the search may start; the best is taken."""

STEP = 1e-3
"""Step of the differences that stand for derivatives."""

NO_POSTURE = 1e3
"""Residual, in uncertainties, of a reading where the computed truck finds no posture."""

_POSITION: TypeAdapter[Position] = TypeAdapter(PositionText)


class FactorFit:
    """Readings to be met by the truck of a file.

    Parameters
    ----------
    file : VehicleFile
    readings : sequence of Reading, length k
    names : sequence of str, length p
        Keys of `ADJUSTABLE`.
    bare : bool

    Raises
    ------
    ValueError
        If a reading names what the truck does not have, or the truck cannot be computed.
    """

    def __init__(
        self, file: VehicleFile, readings: Sequence[Reading], names: Sequence[str], bare: bool
    ) -> None:
        self.readings = readings
        self.names = names
        self._file = file
        self._bare = bare
        self._values = np.array([reading.value for reading in readings])
        self._uncertainties = np.array([reading.uncertainty for reading in readings])
        self.start = [float(getattr(file.frame, ADJUSTABLE[name])) for name in names]
        self._limit = math.log(LARGEST_CHANGE)
        self._known: dict[bytes, Array] = {}
        self.predict(np.zeros(len(names)))

    def file_with(self, x: Array) -> VehicleFile:
        """The file with changes x (p,)."""
        changed = {
            ADJUSTABLE[name]: start * math.exp(change)
            for name, start, change in zip(self.names, self.start, x.tolist(), strict=True)
        }
        return self._file.model_copy(update={"frame": self._file.frame.model_copy(update=changed)})

    def predict(self, x: Array) -> Array:
        """Computed value of every reading, (k,); NaN where the truck finds no posture."""
        if x.tobytes() not in self._known:
            self._known[x.tobytes()] = self._predict(x)
        return self._known[x.tobytes()]

    def _predict(self, x: Array) -> Array:
        vehicle = assemble(self.file_with(x), self._bare)
        solvers: dict[tuple[int, ...], PedestalSolver] = {}
        values = np.empty(len(self.readings))
        for i, reading in enumerate(self.readings):
            try:
                raised = raised_wheels(vehicle, reading.under)
                if raised not in solvers:
                    solvers[raised] = PedestalSolver(vehicle, raised)
                values[i] = _computed(vehicle, solvers[raised], reading)
            except ValueError as error:
                raise ValueError(f"line {reading.rows[0]}: {error}") from None
        return values

    def residuals(self, x: Array) -> Array:
        """Computed value minus reading over the reading's uncertainty, (k,)."""
        found: Array = (self.predict(x) - self._values) / self._uncertainties
        return np.nan_to_num(found, nan=NO_POSTURE)

    def jacobian(self, x: Array) -> Array:
        """Derivatives of the residuals, (k, p)."""
        return _slopes(self.residuals, x)

    def frame_stiffness(self, x: Array) -> float:
        """Torsional stiffness of the bare frame between the first and the last axle [N m/rad]."""
        k = assemble(self.file_with(x), bare=True).kinematics
        return torsional_stiffness(k.frame, float(k.axle_stations[0]), float(k.axle_stations[-1]))

    def best(self) -> Array:
        """Changes (p,) that make the sum of squares smallest."""
        starts = [np.full(len(self.names), start) for start in STARTS]
        sums = [float(np.sum(self.residuals(start) ** 2)) for start in starts]
        return self._lowest(self.residuals, starts[int(np.argmin(sums))])

    def interval(self, x: Array, which: int, scale: float) -> tuple[float, float]:
        """Ends of one change's 95 % interval; NaN where even the largest change stays within it."""
        allowed = float(np.sum(self.residuals(x) ** 2)) + (CONFIDENCE * scale) ** 2
        held = {0.0: np.delete(x, which)}

        @cache
        def excess(distance: float) -> float:
            """Sum above the allowed one, with this change held at a distance and the others fitted."""
            nearest = held[min(held, key=lambda known: abs(known - distance))]
            at = x[which] + distance

            def others(rest: Array) -> Array:
                return self.residuals(np.insert(rest, which, at))

            rest = self._lowest(others, nearest) if len(nearest) else nearest
            held[distance] = rest
            return float(np.sum(others(rest) ** 2)) - allowed

        jacobian = self.jacobian(x)
        spread = CONFIDENCE * scale * math.sqrt(float(np.linalg.pinv(jacobian.T @ jacobian)[which, which]))
        step = min(max(spread, 1e-3), 1.0)
        value = float(x[which])
        return self._end(excess, -1.0, value, step), self._end(excess, 1.0, value, step)

    def _end(self, excess: Callable[[float], float], way: float, value: float, step: float) -> float:
        room = self._limit - way * value
        reach, further = 0.0, min(1.1 * step, room)
        while reach < room:
            if excess(way * further) > 0:
                return value + float(brentq(excess, way * reach, way * further, xtol=0.01 * step))
            reach, further = further, min(2.0 * further, room)
        return math.nan

    def _lowest(self, residuals: Callable[[Array], Array], start: Array) -> Array:
        def slopes(x: Array) -> Array:
            return _slopes(residuals, x)

        found = least_squares(
            residuals,
            np.clip(start, -0.99 * self._limit, 0.99 * self._limit),
            jac=slopes,
            bounds=(-self._limit, self._limit),
            xtol=1e-4,
            ftol=1e-6,
        )
        return np.asarray(found.x)


def _slopes(residuals: Callable[[Array], Array], x: Array) -> Array:
    """Derivatives by differences over a step that bridges rounding and the kinks of lifted wheels."""
    steps = STEP * np.eye(len(x))
    return np.column_stack([(residuals(x + d) - residuals(x - d)) / (2 * STEP) for d in steps])


def _computed(vehicle: Vehicle, solver: PedestalSolver, reading: Reading) -> float:
    posture = solver.posture(reading.height)
    if reading.kind == "twist":
        row = _twist_row(vehicle, reading.of)
        level = solver.posture(0.0)
        return float(row @ (posture.q - level.q)) if posture.code == GOOD else math.nan
    if reading.kind == "gap":
        found = gaps_with_finite_rotations(vehicle, posture)
    else:
        found = dict(zip(wheel_names(vehicle), posture.y.tolist(), strict=False))
    if reading.of not in found:
        raise ValueError(
            f"{reading.kind}: found {shown(reading.of)}; allowed are {', '.join(found) or 'none on this truck'}"
        )
    return found[reading.of]


def _twist_row(vehicle: Vehicle, between: str) -> Array:
    """Row of the roll at the first position minus that at the second."""
    k = vehicle.kinematics
    first, second = (_station(vehicle, text) for text in between.split(" to "))
    return k.frame_roll(first) - k.frame_roll(second)


def _station(vehicle: Vehicle, text: str) -> float:
    try:
        position = _POSITION.validate_python(text, context={"si": si})
    except ValidationError as error:
        raise ValueError(f"twist: {shown(text)} {error.errors()[0]['ctx']['error']}") from None
    station = vehicle.layout.station(position)
    frame = vehicle.kinematics.frame
    if not frame.start <= station <= frame.end:
        raise ValueError(f"twist: {text} lies off the frame, {frame.start:.3g} m to {frame.end:.3g} m")
    return station
