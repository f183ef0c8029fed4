"""Frame stiffness from a measured pedestal test.

Factors of the vehicle file's frame are fitted to readings by weighted least squares
(`crossaxle.studies.pedestal.calibration_fit`). Where the readings scatter more than their uncertainties allow,
all uncertainties are taken larger alike, by the square root of the sum of squares per spare reading (R. T.
Birge, Physical Review 40, 1932).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.studies.pedestal.calibration_fit import ADJUSTABLE, CONFIDENCE, LARGEST_CHANGE, FactorFit
from crossaxle.studies.pedestal.readings import Reading, together
from crossaxle.vehicles.file import VehicleFile

ILL_CONDITIONED = 30.0
"""Condition number of the Jacobian, columns of unit length, above which factors cannot be told apart."""

WIDE_INTERVAL = 4.0
"""Ratio of an interval's ends above which the readings hardly tell the factor."""

FAR_OFF = 3.5
"""Residual, in uncertainties, that is worth a second look."""


@dataclass(frozen=True)
class Fitted:
    """A factor or stiffness: with the file's values, as fitted, and its 95 % interval (NaN where it has no end)."""

    name: str
    before: float
    value: float
    low: float
    high: float

    def times(self, scale: float) -> "Fitted":
        """Return the same in another unit."""
        return Fitted(self.name, self.before * scale, self.value * scale, self.low * scale, self.high * scale)


@dataclass(frozen=True)
class Calibration:
    """A fit.

    Attributes
    ----------
    file : VehicleFile
        With the fitted factors.
    bare : bool
    factors : tuple of Fitted
    readings : tuple of Reading, length k
        As compared: repeats and pairs put together.
    before, after : (k,)
        Computed values with the file's factors and with the fitted ones [rad, N or m].
    scale : float
        By which the uncertainties were taken larger, at least 1.
    condition : float
        Of the Jacobian with columns of unit length; 1 for a single factor.
    frame_stiffness : Fitted
        Torsional stiffness of the bare frame between the first and the last axle [N m/rad].
    warnings : tuple of str
    """

    file: VehicleFile
    bare: bool
    factors: tuple[Fitted, ...]
    readings: tuple[Reading, ...]
    before: Array
    after: Array
    scale: float
    condition: float
    frame_stiffness: Fitted
    warnings: tuple[str, ...]

    @property
    def residuals(self) -> Array:
        """Reading minus computed value over the reading's uncertainty, (k,)."""
        values = np.array([reading.value for reading in self.readings])
        found: Array = (values - self.after) / np.array([reading.uncertainty for reading in self.readings])
        return found


def calibrate(
    file: VehicleFile,
    readings: Sequence[Reading],
    adjust: Sequence[str] = ("stiffness-factor",),
    bare: bool = False,
) -> Calibration:
    """Fit factors of the frame's stiffness to readings.

    Parameters
    ----------
    file : VehicleFile
        As the truck stood in the test (mount, load state, wheelbase).
    readings : sequence of Reading
    adjust : sequence of str
        Keys of `ADJUSTABLE`.
    bare : bool
        Whether the test was made on the bare chassis.

    Raises
    ------
    ValueError
        If a reading names what the truck does not have, there are fewer readings than factors, or the truck
        cannot be computed.
    """
    names = tuple(dict.fromkeys(adjust))
    unknown = [name for name in names if name not in ADJUSTABLE]
    if unknown or not names:
        raise ValueError(
            f"adjust: found {', '.join(unknown) or 'nothing'}; allowed are {', '.join(ADJUSTABLE)}"
        )
    compared = tuple(together(readings))
    if len(compared) < len(names):
        raise ValueError(f"{len(compared)} different readings cannot fix {len(names)} factors; adjust fewer")
    fit = FactorFit(file, compared, names, bare)
    x = fit.best()
    before, residuals = fit.predict(np.zeros(len(names))), fit.residuals(x)
    spare = len(compared) - len(names)
    scale = max(1.0, math.sqrt(float(residuals @ residuals) / spare)) if spare else 1.0
    intervals = [fit.interval(x, i, scale) for i in range(len(names))]
    factors = tuple(
        Fitted(name, start, start * math.exp(value), start * math.exp(low), start * math.exp(high))
        for name, start, value, (low, high) in zip(names, fit.start, x.tolist(), intervals, strict=True)
    )
    jacobian = fit.jacobian(x)
    condition = _condition(jacobian)
    return Calibration(
        file=fit.file_with(x),
        bare=bare,
        factors=factors,
        readings=compared,
        before=before,
        after=fit.predict(x),
        scale=scale,
        condition=condition,
        frame_stiffness=_frame_stiffness(fit, x, jacobian, scale, intervals),
        warnings=tuple(_warnings(factors, compared, before, residuals, scale, condition)),
    )


def _condition(jacobian: Array) -> float:
    lengths = np.linalg.norm(jacobian, axis=0)
    if not lengths.all():
        return math.inf
    return float(np.linalg.cond(jacobian / lengths))


def _frame_stiffness(
    fit: FactorFit, x: Array, jacobian: Array, scale: float, intervals: Sequence[tuple[float, float]]
) -> Fitted:
    """Stiffness with its interval: from that of a single factor, else by the fit's covariance on the logarithm."""
    before, value = fit.frame_stiffness(np.zeros(len(x))), fit.frame_stiffness(x)
    if len(x) == 1:
        low, high = (
            math.nan if math.isnan(end) else fit.frame_stiffness(np.array([end])) for end in intervals[0]
        )
    else:
        steps = 1e-3 * np.eye(len(x))
        slope = np.array(
            [math.log(fit.frame_stiffness(x + d) / fit.frame_stiffness(x - d)) / 2e-3 for d in steps]
        )
        spread = CONFIDENCE * scale * math.sqrt(float(slope @ np.linalg.pinv(jacobian.T @ jacobian) @ slope))
        low, high = value * math.exp(-spread), value * math.exp(spread)
    return Fitted("frame torsional stiffness", before, value, low, high)


def _warnings(
    factors: Sequence[Fitted],
    readings: Sequence[Reading],
    before: Array,
    residuals: Array,
    scale: float,
    condition: float,
) -> list[str]:
    warnings = []
    names = " and ".join(factor.name for factor in factors)
    if condition > ILL_CONDITIONED:
        warnings.append(
            f"the readings cannot tell {names} apart (condition number {condition:.0f}, at most "
            f"{ILL_CONDITIONED:.0f} would do): adjust one alone, or measure twist between more stations"
        )
    for factor in factors:
        ends = [factor.value / LARGEST_CHANGE if math.isnan(factor.low) else factor.low]
        ends.append(factor.value * LARGEST_CHANGE if math.isnan(factor.high) else factor.high)
        if ends[1] > WIDE_INTERVAL * ends[0]:
            remedy = "measure more accurately" + (
                "" if factor.name == "stiffness-factor" else ", or adjust stiffness-factor"
            )
            warnings.append(
                f"the readings hardly tell {factor.name}: values from {_end(factor.low)} to {_end(factor.high)} agree "
                f"with them; {remedy}"
            )
    if scale > 1.5:
        warnings.append(
            f"the readings lie {scale:.1f} times as far from the computed values as their uncertainties allow: look "
            "for a wrong reading, a wrong mass or a wrong spring rate"
        )
    twists = np.array([reading.kind == "twist" for reading in readings])
    if twists.any():
        values = np.array([reading.value for reading in readings])[twists]
        if np.sum((before[twists] + values) ** 2) < 0.25 * np.sum((before[twists] - values) ** 2):
            warnings.append(
                "the twists have the opposite sign of the computed ones: a twist is the roll at the first position "
                "minus that at the second, positive with the left side up"
            )
    warnings += [
        f"line {reading.rows[0]}: {reading.name} at {reading.height * 1e3:.0f} mm is {abs(residual):.1f} uncertainties "
        "off the computed value"
        for reading, residual in zip(readings, residuals.tolist(), strict=True)
        if abs(residual) > FAR_OFF * scale
    ]
    single = sum(reading.direction in ("raising", "lowering") for reading in readings)
    if single:
        warnings.append(
            f"{single} readings were taken only raising or only lowering: the friction of the leaf springs is not in "
            "their uncertainty; take both"
        )
    return warnings


def _end(value: float) -> str:
    return "no bound" if math.isnan(value) else f"{value:.3g}"
