"""Quantities with units, from text to SI: ``"850 mm"`` to 0.85.

The units are a closed list, grouped by what they measure, so that a mass can never pass for a length and no
unit is guessed. Angles and shares are kinds of their own, although both are pure numbers to a unit library.
The factors come from pint, which is loaded at the first conversion.
"""

import math
import re
from difflib import get_close_matches
from functools import cache
from typing import Any, NamedTuple

LONGEST_QUANTITY = 100
"""A longer text is refused unread [characters]."""


class _Kind(NamedTuple):
    """What a group of units measures: name with article, example, SI unit, and all units allowed."""

    name: str
    example: str
    si: str
    units: tuple[str, ...]


_KINDS = (
    _Kind("a length", "4.5 m", "m", ("m", "cm", "mm", "km")),
    _Kind("an area", "40 cm2", "m2", ("m2", "cm2", "mm2")),
    _Kind("a volume, section modulus or displacement density", "16 cm3", "m3", ("m3", "cm3", "mm3", "l")),
    _Kind("a second moment of area", "250 cm4", "m4", ("m4", "cm4", "mm4")),
    _Kind("a warping constant", "9070 cm6", "m6", ("m6", "cm6", "mm6")),
    _Kind("a mass", "850 kg", "kg", ("kg", "t")),
    _Kind("a mass per length", "25 kg/m", "kg/m", ("kg/m",)),
    _Kind("a density", "1000 kg/m3", "kg/m3", ("kg/m3", "t/m3", "kg/l")),
    _Kind("a force", "12 kN", "N", ("N", "kN")),
    _Kind("a moment", "3 kN*m", "N*m", ("N*m", "kN*m")),
    _Kind("a stiffness", "250 N/mm", "N/m", ("N/m", "kN/m", "N/mm", "kN/mm")),
    _Kind(
        "a torsional stiffness",
        "1.2 kN*m/deg",
        "N*m/rad",
        ("N*m/rad", "kN*m/rad", "N*m/deg", "kN*m/deg"),
    ),
    _Kind("a bending or torsional rigidity", "30 kN*m2", "N*m2", ("N*m2", "kN*m2")),
    _Kind("a warping stiffness", "5 kN*m3", "N*m3", ("N*m3", "kN*m3")),
    _Kind("a pressure or stress", "210 GPa", "Pa", ("Pa", "kPa", "MPa", "GPa", "bar", "N/mm2")),
    _Kind("an angle", "3 deg", "rad", ("deg", "rad", "mrad")),
    _Kind("a share", "10 %", "1", ("%",)),
    _Kind("a number of cycles per length", "0.1 cycle/m", "cycle/m", ("cycle/m",)),
    _Kind("a number per distance", "3 1/km", "1/m", ("1/m", "1/km")),
    _Kind("a time", "5 s", "s", ("s", "min", "h")),
    _Kind("a speed", "5 km/h", "m/s", ("m/s", "km/h")),
    _Kind("an acceleration", "2 m/s2", "m/s2", ("m/s2",)),
)
_KIND_OF = {unit: kind for kind in _KINDS for unit in (*kind.units, kind.si)}
_SPELLINGS = (
    ("·", "*"),
    ("⋅", "*"),
    ("²", "2"),
    ("³", "3"),
    ("⁴", "4"),
    ("⁶", "6"),
    ("°", "deg"),
    ("**", ""),
    ("^", ""),
    ("Nm", "N*m"),
    ("N.m", "N*m"),
    ("N m", "N*m"),
    ("percent", "%"),
)
_NUMBER = re.compile(r"\s*([+-]?(?:\d+(?:_\d+)*(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)(.*)", re.DOTALL)


def si(value: Any, unit: str) -> float:
    """Turn a quantity from a file into a number in SI units.

    Parameters
    ----------
    value : object
        What the file holds, e.g. ``"4.5 m"``. For a share (`unit` ``"1"``) a plain number will do.
    unit : str
        Any unit of the wanted kind, normally the SI unit: ``"m"``, ``"N/m"``, ``"m**2"``, ``"1"`` ...

    Returns
    -------
    float
        The value in SI units; angles in rad, shares as fractions, spatial frequencies in cycle/m.

    Raises
    ------
    ValueError
        With a text that says what was found, what is needed and an example.
    """
    kind = _KIND_OF[_spelled(unit)]
    if not isinstance(value, str):
        return _plain(value, kind)
    match = _NUMBER.fullmatch(value) if len(value) <= LONGEST_QUANTITY else None
    if match is None:
        raise ValueError(f"{shown(value)} is not a number with a unit; {wanted(kind.si)}")
    number, found = float(match[1]), _spelled(match[2])
    if not found:
        if kind.si == "1":
            return _finite(number, value)
        raise ValueError(f"{shown(value)} is a bare number; {wanted(kind.si)}")
    if found.startswith(","):
        raise ValueError(f'{shown(value)} has a comma; write a decimal point, e.g. "{kind.example}"')
    if found not in kind.units:
        other = _KIND_OF.get(found)
        if other is None or other.si == found == "1":
            raise ValueError(f"{shown(value)} has an unknown unit{_nearest(found, kind)}; {wanted(kind.si)}")
        raise ValueError(f'{shown(value)} is {other.name}; {kind.name} is needed, e.g. "{kind.example}"')
    multiplier, divisor = _scale(found, kind.si)
    return _finite(number * multiplier / divisor, value)


def quantity_of(value: Any) -> tuple[float, str] | None:
    """Read a quantity of any kind: its SI value and SI unit, or None if the value is no quantity."""
    match = _NUMBER.fullmatch(value) if isinstance(value, str) and len(value) <= LONGEST_QUANTITY else None
    unit = _spelled(match[2]) if match else "1"
    return (si(value, _KIND_OF[unit].si), _KIND_OF[unit].si) if unit in _KIND_OF and unit != "1" else None


def shown(value: Any) -> str:
    """Write a value found in a file as an error message shows it: quoted, on one line, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, str):
        text = "".join(c if c.isprintable() else "?" for c in value[:80])
        return f'"{text}{"..." if len(value) > 80 else ""}"'
    if isinstance(value, int) and abs(value) > 10**30:
        return "a number of more than 30 digits"
    return f"{value}"


def wanted(unit: str) -> str:
    """Say what to write for a quantity of the kind that a unit measures, with an example and the units allowed."""
    kind = _KIND_OF[_spelled(unit)]
    if kind.si == "1":
        return f'write {kind.name}, e.g. "{kind.example}" or 0.1'
    return f'write {kind.name} with its unit, e.g. "{kind.example}" (units: {", ".join(kind.units)})'


def _plain(value: Any, kind: _Kind) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{shown(value)} is not a quantity; {wanted(kind.si)}")
    if kind.si != "1":
        raise ValueError(f"{shown(value)} is a bare number; {wanted(kind.si)}")
    return _finite(value, value)


def _finite(number: float, value: Any) -> float:
    try:
        number = float(number)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{shown(value)} is not a finite number; write a finite one")
    return number


def _spelled(text: str) -> str:
    # blanks between two letters stay: "m m" is not "mm"
    text = re.sub(r"(?<!\w)\s+|\s+(?!\w)", "", " ".join(text.split()))
    for spelling, standard in _SPELLINGS:
        text = text.replace(spelling, standard)
    return f"1{text}" if text.startswith("/") else text


def _nearest(found: str, kind: _Kind) -> str:
    same = [unit for unit in (*kind.units, *_KIND_OF) if unit.lower() == found.lower()]
    near = same or get_close_matches(found, kind.units, 1)
    return f" (did you mean {near[0]}?)" if near else ""


@cache
def _scale(unit: str, target: str) -> tuple[float, float]:
    """Multiplier and divisor to `target`; a whole divisor if there is one: 350 mm is exactly 0.35 m."""
    factor = float(_registry().Quantity(1.0, _for_pint(unit)).to(_for_pint(target)).magnitude)
    whole = round(1 / factor)
    return (1.0, float(whole)) if whole > 1 and abs(whole * factor - 1) < 1e-12 else (factor, 1.0)


def _for_pint(unit: str) -> str:
    """Write a unit of the closed list as pint reads it."""
    unit = "dimensionless" if unit == "1" else unit.replace("%", "percent")
    return re.sub(r"(?<=[a-z])(\d)", r"**\1", unit)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)
