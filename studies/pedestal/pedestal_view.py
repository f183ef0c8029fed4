"""A pedestal test as data and as text; heights read from the command line."""

import math
from typing import Any

from crossaxle.studies.base.cautions import PEDESTALS, caution_lines
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown, si
from crossaxle.studies.pedestal.pedestal_test import Pedestal
from crossaxle.studies.posture.posture_values import describe_posture

MOST_HEIGHTS = 500
"""More heights in one test are refused."""

STEEPEST = math.radians(45.0)
"""Steeper slopes are refused."""

HIGHEST = 2.0
"""Pedestals higher, or pits deeper, are refused [m]."""


def read_heights(text: str) -> list[float]:
    """Read --heights: one (``0.4 m``) or from, to and step (``0 m:0.6 m:0.05 m``); the end counts if it is met.

    Raises
    ------
    InputError
        If the text is neither, or asks for too many or too high pedestals.
    """
    allowed = 'allowed is one height, or from, to and step, e.g. "0 m:0.6 m:0.05 m"'
    parts = text.split(":")
    if len(parts) not in (1, 3):
        raise InputError(f"--heights: found {shown(text)}; {allowed}")
    try:
        start, *rest = (si(part, "m") for part in parts)
    except ValueError as error:
        raise InputError(f"--heights: {error}; {allowed}") from None
    heights = [start]
    if rest:
        end, step = rest
        if step == 0 or (end - start) / step < 0:
            raise InputError(
                f"--heights: found {shown(text)}; steps of {step:g} m never lead from {start:g} m to {end:g} m"
            )
        count = math.floor((end - start) / step + 1e-9) + 1
        if count > MOST_HEIGHTS:
            raise InputError(f"--heights: found {count} heights; at most {MOST_HEIGHTS} are allowed")
        heights = [round(start + i * step, 9) for i in range(count)]
    if max(map(abs, heights)) > HIGHEST:
        raise InputError(
            f"--heights: found {max(heights, key=abs):g} m; allowed are -{HIGHEST:g} m to {HIGHEST:g} m"
        )
    return heights


def read_slope(option: str, text: str | None) -> float:
    """Read the angle of a slope and return its tangent; None is level.

    Raises
    ------
    InputError
        If the text is no angle, or the slope steeper than any wheel holds.
    """
    if text is None:
        return 0.0
    try:
        angle = si(text, "rad")
    except ValueError as error:
        raise InputError(f"{option}: {error}") from None
    if abs(angle) > STEEPEST:
        allowed = math.degrees(STEEPEST)
        raise InputError(
            f"{option}: found {shown(text)}; allowed are -{allowed:.0f} deg to {allowed:.0f} deg"
        )
    return math.tan(angle)


def describe_pedestal(test: Pedestal) -> dict[str, Any]:
    """Describe a pedestal test as plain numbers and texts, units in the keys; None where there is nothing."""
    file, free = test.vehicle.file, test.first_free
    bare = test.vehicle.kinematics.bare
    return {
        "vehicle": file.name,
        "mount": None if bare else file.mount,
        "bare": bare,
        "load_state": None if bare else file.load_state,
        "wheelbase_m": file.wheelbase,
        "under": test.under,
        "grade_deg": math.degrees(math.atan(test.slope[0])),
        "side_slope_deg": math.degrees(math.atan(test.slope[1])),
        "postures": [
            {"height_m": height, **describe_posture(test.vehicle, posture)}
            for height, posture in zip(test.heights, test.postures, strict=True)
        ],
        "first_free": {"wheel": free.wheel, "height_m": free.height} if free else None,
    }


def pedestal_text(found: dict[str, Any]) -> str:
    """Write what `describe_pedestal` found as a table, in the trade's units."""
    postures = found["postures"]
    wheels = list(postures[0]["wheels"])
    gaps = list(postures[0]["gaps"])
    mount = f"{found['mount']} mount" if found["mount"] else "bare chassis"
    widths = [max(len(wheel), 8) for wheel in wheels]
    lines = [
        f"{found['vehicle']}: {mount}, wheelbase {found['wheelbase_m']:.2f} m, "
        f"pedestals under {' and '.join(found['under'])}{_slope_words(found)}",
        "",
        *caution_lines(PEDESTALS),
        "",
        "height  "
        + "  ".join(f"{w:>{n}}" for w, n in zip(wheels, widths, strict=True))
        + "   twist  body torque   lean  least gap",
        "    mm  " + "  ".join(f"{'kN':>{n}}" for n in widths) + "     deg         kN m    deg         mm",
    ]
    for posture in postures:
        loads = [posture["wheels"][wheel]["load_N"] for wheel in wheels]
        known = [gap for gap in gaps if posture["gaps"][gap] is not None]
        least = min(known, key=posture["gaps"].__getitem__, default=None)
        cells = [_cell(load, n, 1e-3, 1) for load, n in zip(loads, widths, strict=True)]
        lines.append(
            f"{posture['height_m'] * 1e3:6.0f}  "
            + "  ".join(cells)
            + f"{_cell(posture['frame_twist_deg'], 8, 1, 1)}{_cell(posture['body_torque_Nm'], 13, 1e-3, 1)}"
            + f"{_cell(posture['body_roll_deg'], 7, 1, 1)}{_cell(posture['gaps'].get(least), 11, 1e3, 0)}"
            + (f"  {least}" if least is not None else "")
            + ("  tipped" if posture["tipped"] else "")
            + ("  outside the range of small angles" if posture["outside_range"] else "")
        )
    free = found["first_free"]
    lines += [
        "",
        f"The {free['wheel']} wheel comes free first, at {free['height_m'] * 1e3:.0f} mm."
        if free
        else "No wheel comes free up to these heights.",
    ]
    return "\n".join(lines)


def _slope_words(found: dict[str, Any]) -> str:
    """Say on what slope the truck stands; nothing where it is level."""
    words = [
        f"{name} {found[key]:.1f} deg"
        for name, key in (("grade", "grade_deg"), ("side slope", "side_slope_deg"))
        if found[key]
    ]
    return f", on {' and '.join(words)}" if words else ""


def _cell(value: float | None, width: int, scale: float, decimals: int) -> str:
    return f"{'-':>{width}}" if value is None else f"{value * scale:>{width}.{decimals}f}"
