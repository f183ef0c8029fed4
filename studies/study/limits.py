"""Limits that a study states: what must not be passed, how far, and with what risk over what distance."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from crossaxle.arrays import Array
from crossaxle.studies.inputs.units import si, wanted


@dataclass(frozen=True)
class Kind:
    """What a limit can be on.

    Attributes
    ----------
    variable : str
        In the results: counts for a rate, extremes for a level.
    dim : str
        Of its items; empty if there is one only.
    unit : str
        SI unit of the limit.
    rate : bool
        Whether it is a rate of events rather than a level.
    least : bool
        Whether the value must stay above the limit.
    damage : bool
        Whether it is a distance to a crack, from the damage of counted cycles.
    """

    variable: str
    dim: str
    unit: str
    rate: bool = False
    least: bool = False
    damage: bool = False


KINDS = {
    "unload events": Kind("unload_events", "wheel", "1/m", rate=True),
    "free events": Kind("free_events", "wheel", "1/m", rate=True),
    "gap": Kind("gap_minimum", "gap", "m", least=True),
    "bracket stress": Kind("bracket_stress_maximum", "bracket", "Pa"),
    "distance to crack": Kind("bracket_cycles_histogram", "bracket", "m", least=True, damage=True),
    "tank torque": Kind("tank_torque_maximum", "tank", "N*m"),
    "body torque": Kind("body_torque_maximum", "", "N*m"),
    "frame twist": Kind("frame_twist_maximum", "", "rad"),
    "lean": Kind("body_roll_maximum", "", "rad"),
    "mount travel": Kind("mount_travel_maximum", "mount_point", "m"),
    "pivot angle": Kind("pivot_angle_maximum", "pivot", "rad"),
    "tip margin": Kind("tip_margin_minimum", "", "1", least=True),
}
What = Literal[
    "unload events",
    "free events",
    "gap",
    "bracket stress",
    "distance to crack",
    "tank torque",
    "body torque",
    "frame twist",
    "lean",
    "mount travel",
    "pivot angle",
    "tip margin",
]


def _quantity(unit: str) -> BeforeValidator:
    return BeforeValidator(lambda value: si(value, unit))


class Limit(BaseModel):
    """One limit: ``at_most`` for rates and largest values, ``at_least`` for gaps, tip margin and distance to crack.

    A level may be passed within ``over`` with probability ``risk`` at most; a rate and a distance to crack hold as
    they stand. Without ``item`` every gap, bracket ... must keep it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    what: What
    item: str = ""
    at_most: float | None = None
    at_least: float | None = None
    over: Annotated[float, Field(gt=0), _quantity("m")] = 1e6
    risk: Annotated[float, Field(gt=0, lt=1), _quantity("1")] = 0.1

    @field_validator("at_most", "at_least", mode="before")
    @classmethod
    def _value(cls, value: Any, info: ValidationInfo) -> float | None:
        kind = KINDS.get(info.data.get("what", ""))
        return None if value is None or kind is None else si(value, kind.unit)

    @model_validator(mode="after")
    def _sides(self) -> Self:
        side, other = ("at_least", "at_most") if self.kind.least else ("at_most", "at_least")
        if getattr(self, side) is None or getattr(self, other) is not None:
            raise ValueError(
                f'a limit on "{self.what}" takes {side} and not {other}; {wanted(self.kind.unit)}'
            )
        if self.kind.rate and self.at_most is not None and not self.at_most > 0:
            raise ValueError(f'a limit of 0 on "{self.what}" can never be shown to hold; allow some')
        if self.kind.damage and self.at_least is not None and not self.at_least > 0:
            raise ValueError(f'a limit on "{self.what}" must be a distance above 0, as in "500000 km"')
        return self

    @property
    def allowed(self) -> float:
        """Rate of passings of a level that meets the stated risk [1/m]; passings are taken as independent."""
        return -math.log1p(-self.risk) / self.over

    def passed(self, extreme: Array) -> Array:
        """Whether each extreme value reaches or passes the limit of a level: 1, 0, or NaN where it is not known."""
        found: Array = (extreme <= self.value if self.kind.least else extreme >= self.value).astype(float)
        found[~np.isfinite(extreme)] = np.nan
        return found

    @property
    def kind(self) -> Kind:
        """What the limit is on."""
        return KINDS[self.what]

    @property
    def value(self) -> float:
        """The limit in SI units."""
        found = self.at_least if self.kind.least else self.at_most
        assert found is not None
        return found
