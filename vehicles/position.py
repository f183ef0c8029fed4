"""Positions along the truck, written relative to something with a name.

A position in a vehicle file is text such as ``"rear axle - 300 mm"``, ``"0.5 wheelbase"`` or
``"cab back + 0.2 m"``: a reference, then a distance, positive rearward. The file therefore describes a
sensible truck at every wheelbase. Resolved positions are stations: metres behind the front axle.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import BeforeValidator, ValidationInfo

from crossaxle.vehicles.quantity import LARGEST_LENGTH

REFERENCES = (
    "front axle",
    "rear axle",
    "cab back",
    "body front",
    "body rear",
    "frame front",
    "frame rear",
)

MOST_WHEELBASES = 10.0
"""A position behind the front axle farther than so many wheelbases is refused."""

_PATTERN = re.compile(
    r"^\s*(?:(?P<fraction>\d+(?:\.\d+)?)\s+wheelbase|(?P<name>[a-z]+(?: [a-z]+)?))"
    r"\s*(?:(?P<sign>[+-])\s*(?P<distance>[0-9.].*))?$"
)


@dataclass(frozen=True)
class Position:
    """A place along the truck before the wheelbase is known.

    Attributes
    ----------
    reference : str
        One of `REFERENCES`, or ``"wheelbase"`` for a fraction of it.
    fraction : float
        Share of the wheelbase behind the front axle; only with ``"wheelbase"``.
    offset : float
        Distance behind the reference [m].
    """

    reference: str
    fraction: float = 0.0
    offset: float = 0.0

    def station(self, references: Mapping[str, float]) -> float:
        """Metres behind the front axle, given the stations of the references.

        Raises
        ------
        ValueError
            If the reference is not known yet, i.e. is itself placed relative to this position.
        """
        if self.reference == "wheelbase":
            return self.fraction * references["rear axle"] + self.offset
        if self.reference not in references:
            known = ", ".join(sorted(references))
            raise ValueError(f'"{self.reference}" cannot be used here; what is known here: {known}')
        return references[self.reference] + self.offset


def parse_position(value: object, info: ValidationInfo) -> Position:
    """Read a position from a file's text.

    Raises
    ------
    ValueError
        If the text does not follow ``REFERENCE``, ``REFERENCE + LENGTH`` or ``FRACTION wheelbase + LENGTH``.
    """
    if isinstance(value, Position):
        return value
    allowed = (
        'a position such as "rear axle - 300 mm" or "0.5 wheelbase + 10 cm" '
        f"(references: {', '.join(REFERENCES)}; + is rearward)"
    )
    match = _PATTERN.match(value) if isinstance(value, str) and len(value) < 200 else None
    if match is None or info.context is None:
        raise ValueError(f"is not a position; write {allowed}")
    offset = 0.0
    if match["distance"] is not None:
        offset = float(info.context["si"](match["distance"], "m"))
        offset = -offset if match["sign"] == "-" else offset
    if abs(offset) > LARGEST_LENGTH:
        raise ValueError(
            f"lies {abs(offset):g} m from its reference; allowed is at most {LARGEST_LENGTH:g} m"
        )
    if match["fraction"] is not None:
        if float(match["fraction"]) > MOST_WHEELBASES:
            raise ValueError(f"is {match['fraction']} wheelbases; allowed is at most {MOST_WHEELBASES:g}")
        return Position("wheelbase", float(match["fraction"]), offset)
    if match["name"] not in REFERENCES:
        raise ValueError(f'names "{match["name"]}", which is no reference; write {allowed}')
    return Position(match["name"], 0.0, offset)


PositionText = Annotated[Position, BeforeValidator(parse_position)]
