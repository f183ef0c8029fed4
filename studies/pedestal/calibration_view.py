"""A calibration as data, as text, and as a new vehicle file."""

import math
from pathlib import Path
from typing import Any

from crossaxle.studies.base.cautions import CALIBRATION, caution_lines
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.inputs.reader import Document, InputError, document, validate
from crossaxle.studies.inputs.toml_edit import with_number
from crossaxle.studies.pedestal.calibration import Calibration, Fitted
from crossaxle.studies.pedestal.calibration_fit import ADJUSTABLE
from crossaxle.studies.pedestal.readings import Kind, Reading
from crossaxle.vehicles.file import VehicleFile

SHOWN: dict[Kind, tuple[str, float, int]] = {
    "twist": ("deg", math.degrees(1.0), 2),
    "wheel load": ("kN", 1e-3, 2),
    "gap": ("mm", 1e3, 1),
}
"""Unit, factor from SI and decimals in which readings are shown."""

_KEYS: dict[Kind, tuple[str, float]] = {
    "twist": ("deg", math.degrees(1.0)),
    "wheel load": ("N", 1.0),
    "gap": ("m", 1.0),
}


def calibrated_text(source: Document, found: Calibration, readings: str) -> str:
    """Write the vehicle file's text with the fitted factors; everything else stays as it is.

    Parameters
    ----------
    source : Document
        The vehicle file as read.
    found : Calibration
    readings : str
        Name of the file of readings, for a comment.

    Raises
    ------
    InputError
        If the factors have no place in the text.
    """
    text = source.text
    name = "".join(c for c in Path(readings).name if c.isprintable())[:80]
    for factor in found.factors:
        comment = f"fitted to {name}; 95 % interval {_interval(factor)}"
        try:
            text = with_number(text, "frame", ADJUSTABLE[factor.name], float(f"{factor.value:.5g}"), comment)
        except ValueError as error:
            raise InputError(f"{source.name}: {error}") from None
    validate(document(source.name, text), VehicleFile)
    return text


def refuse_to_replace(path: Path, overwrite: bool) -> None:
    """Raise InputError where a file stands that is not to be replaced, or there is no folder for it."""
    if path.exists() and not overwrite:
        raise InputError(f"{path}: exists; give another name, or --overwrite")
    if not path.parent.is_dir():
        raise InputError(f"{path}: there is no folder {path.parent}")


def write_calibrated(path: Path, text: str) -> None:
    """Write a vehicle file, whole or not at all; raise OSError if the disk does not take it."""
    write_whole(path, text.encode("utf-8"))


def describe_calibration(found: Calibration) -> dict[str, Any]:
    """Describe a calibration as plain numbers and texts, units in the keys; None where an interval has no end."""
    return {
        "vehicle": found.file.name,
        "bare": found.bare,
        "mount": None if found.bare else found.file.mount,
        "parameters": {f"frame.{ADJUSTABLE[factor.name]}": _described(factor) for factor in found.factors},
        "frame_torsional_stiffness_Nm_per_deg": _described(found.frame_stiffness.times(math.radians(1.0))),
        "uncertainties_taken_larger_by": found.scale,
        "condition": _finite(found.condition),
        "readings": [
            {
                "lines": list(reading.rows),
                "height_m": reading.height,
                "under": list(reading.under),
                "measured": reading.name,
                "direction": reading.direction,
                "unit": _KEYS[reading.kind][0],
                "value": reading.value * _KEYS[reading.kind][1],
                "uncertainty": reading.uncertainty * _KEYS[reading.kind][1],
                "before": _finite(before * _KEYS[reading.kind][1]),
                "after": _finite(after * _KEYS[reading.kind][1]),
                "residual": _finite(residual),
            }
            for reading, before, after, residual in zip(
                found.readings,
                found.before.tolist(),
                found.after.tolist(),
                found.residuals.tolist(),
                strict=True,
            )
        ],
        "warnings": list(found.warnings),
    }


def calibration_text(found: Calibration) -> str:
    """Write a calibration as text, in the trade's units."""
    what = "bare chassis" if found.bare else f"{found.file.mount} mount, {found.file.load_state}"
    stiffness = found.frame_stiffness.times(math.radians(1.0) / 1e3)
    lines = [
        f"{found.file.name}, {what}: {len(found.readings)} readings",
        "",
        *caution_lines(CALIBRATION),
        "",
        f"{'':<28}{'file':>8}{'fitted':>9}  95 % interval",
        *(
            f"{factor.name:<28}{factor.before:>8.3g}{factor.value:>9.3g}  {_interval(factor)}"
            for factor in found.factors
        ),
        f"{'frame, first to last axle':<28}{stiffness.before:>8.3g}{stiffness.value:>9.3g}  {_interval(stiffness)} "
        "kN m/deg",
        "",
        f"{'height':>7}  {'measured':<40}{'reading':>14}{'file':>9}{'fitted':>9}  off by",
        *(
            _line(reading, before, after, residual)
            for reading, before, after, residual in zip(
                found.readings,
                found.before.tolist(),
                found.after.tolist(),
                found.residuals.tolist(),
                strict=True,
            )
        ),
        "",
        "The last column is reading minus fitted value in uncertainties of the reading.",
    ]
    if found.scale > 1.0:
        lines.append(
            f"The readings scatter: intervals are those of uncertainties {found.scale:.2f} times as large."
        )
    if found.warnings:
        lines += ["", "Warnings", *(f"  - {text}" for text in found.warnings)]
    return "\n".join(lines)


def _line(reading: Reading, before: float, after: float, residual: float) -> str:
    unit, factor, decimals = SHOWN[reading.kind]
    values = [
        "-" if math.isnan(value) else f"{value * factor:.{decimals}f}"
        for value in (reading.value, before, after)
    ]
    return (
        f"{reading.height * 1e3:>4.0f} mm  {reading.name:<40}{values[0]:>10} {unit:<3}{values[1]:>9}{values[2]:>9}"
        f"  {residual:+.1f}"
    )


def _interval(factor: Fitted) -> str:
    low, high = factor.low, factor.high
    if math.isnan(low) and math.isnan(high):
        return "without bounds"
    if math.isnan(low):
        return f"at most {high:.3g}"
    return f"at least {low:.3g}" if math.isnan(high) else f"{low:.3g} to {high:.3g}"


def _described(factor: Fitted) -> dict[str, float | None]:
    return {
        "before": factor.before,
        "value": factor.value,
        "low": _finite(factor.low),
        "high": _finite(factor.high),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
