"""Quantities in vehicle files: text with a unit in the file, SI floats in the program.

The reader of the files supplies the conversion through pydantic's validation context (key ``si``: a
callable taking the file's value and an SI unit), so that this room needs no unit library.
"""

from typing import Annotated

from annotated_types import Ge, Gt, Le
from pydantic import BeforeValidator, Field, ValidationInfo

LARGEST_LENGTH = 100.0
"""Nothing on a truck is longer, or farther from what its place is measured from [m]."""


def quantity(unit: str) -> BeforeValidator:
    """Validator that turns a file's text such as ``"4.5 m"`` into a float in ``unit``."""

    def convert(value: object, info: ValidationInfo) -> float:
        if info.context is None:
            raise ValueError("needs the file reader's unit conversion in the validation context")
        return float(info.context["si"](value, unit))

    return BeforeValidator(convert)


Coordinate = Annotated[float, Ge(-LARGEST_LENGTH), Le(LARGEST_LENGTH), quantity("m")]
Length = Annotated[float, Gt(0), Le(LARGEST_LENGTH), quantity("m")]
Distance = Annotated[float, Ge(0), Le(LARGEST_LENGTH), quantity("m")]
Mass = Annotated[float, Gt(0), quantity("kg")]
Stiffness = Annotated[float, Gt(0), quantity("N/m")]
AddedStiffness = Annotated[float, Ge(0), quantity("N/m")]
TorsionalStiffness = Annotated[float, Gt(0), quantity("N*m/rad")]
AddedTorsionalStiffness = Annotated[float, Ge(0), quantity("N*m/rad")]
Angle = Annotated[float, Gt(0), quantity("rad")]
Force = Annotated[float, Ge(0), quantity("N")]
Pressure = Annotated[float, Gt(0), quantity("Pa")]
Area = Annotated[float, Gt(0), quantity("m2")]
SectionModulus = Annotated[float, Gt(0), quantity("m3")]
SecondMoment = Annotated[float, Gt(0), quantity("m4")]
SectorialCoordinate = Annotated[float, Ge(0), quantity("m2")]
WarpingConstant = Annotated[float, Ge(0), quantity("m6")]
Factor = Annotated[float, Field(gt=0, strict=False)]
