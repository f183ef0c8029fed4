"""Quantities in course files: text with a unit in the file, SI floats in the program.

The reader of the files supplies the conversion through pydantic's validation context (key ``si``: a callable
taking the file's value and a unit), so that this room needs no unit library. Models made in code, without a
context, take SI numbers as they are.
"""

from typing import Annotated

from annotated_types import Ge, Gt
from pydantic import BeforeValidator, ValidationInfo


def convert(value: object, unit: str, info: ValidationInfo) -> float:
    """Return a file's quantity as a float in `unit`; a number made in code passes unchanged.

    Raises
    ------
    ValueError
        If it is neither.
    """
    if info.context is None:
        if not isinstance(value, int | float):
            raise ValueError(f"{value!r} is no number; models made in code take SI numbers")
        return float(value)
    return float(info.context["si"](value, unit))


def quantity(unit: str) -> BeforeValidator:
    """Make a validator that turns a file's text such as ``"850 mm"`` into a float in `unit`."""

    def validate(value: object, info: ValidationInfo) -> float:
        return convert(value, unit, info)

    return BeforeValidator(validate)


Length = Annotated[float, Gt(0), quantity("m")]
SlowLength = Annotated[float, Ge(1), quantity("m")]
Distance = Annotated[float, Ge(0), quantity("m")]
Coordinate = Annotated[float, quantity("m")]
Angle = Annotated[float, quantity("rad")]
Spread = Annotated[float, Ge(0), quantity("rad")]
DisplacementDensity = Annotated[float, Gt(0), quantity("m3")]
WaveNumber = Annotated[float, Gt(0), quantity("cycle/m")]
# Waves of more than 100 km are no roughness, and the circle of ground that they need would fill any memory.
BandStart = Annotated[float, Ge(1e-5), quantity("cycle/m")]
Rate = Annotated[float, Gt(0), quantity("1/m")]
Share = Annotated[float, Gt(0), quantity("1")]
