"""Limits that a study states: what must not be passed, how far, and with what risk over what distance."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, Self

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
from crossaxle.studies.base.quantities import CYCLES, QUANTITIES, short_name
from crossaxle.studies.inputs.units import shown, si, wanted


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


_EVENTS = {
    "unload events": Kind("unload_events", "wheel", "1/m", rate=True),
    "free events": Kind("free_events", "wheel", "1/m", rate=True),
    "distance to crack": Kind("bracket_cycles_histogram", "bracket", "m", least=True, damage=True),
}
"""What is counted; all other limits are on extremes of the quantities."""


def _quantities() -> dict[str, str]:
    """Quantities by the words of a limit."""
    counted = set(CYCLES.values())
    return {short_name(name): name for name in QUANTITIES if name not in counted}


def _kind(what: str, least: bool) -> Kind:
    """Kind of a limit on one side."""
    if what in _EVENTS:
        return _EVENTS[what]
    name = _quantities()[what]
    quantity = QUANTITIES[name]
    units = quantity.units.replace(" ", "*")
    return Kind(f"{name}_{'minimum' if least else 'maximum'}", quantity.dimension, units, least=least)


def _side(what: str) -> str:
    """Which side a limit takes: ``at_least``, ``at_most``, or empty where it may be either."""
    if what in _EVENTS:
        return "at_least" if _EVENTS[what].least else "at_most"
    worst = QUANTITIES[_quantities()[what]].worst
    return {"least": "at_least", "greatest": "at_most", "either": ""}[worst]


def _quantity(unit: str) -> BeforeValidator:
    return BeforeValidator(lambda value: si(value, unit))


class Limit(BaseModel):
    """One limit on a counted event or on any quantity of the results.

    ``at_most`` for rates and largest values, ``at_least`` for gaps, tip margin and distance to crack; forces and wheel
    loads take either.

    A level may be passed within ``over`` with probability ``risk`` at most; a rate and a distance to crack hold as
    they stand. Without ``item`` every gap, bracket ... must keep it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    what: Annotated[str, Field(examples=["gap"])]
    item: str = ""
    at_most: float | None = None
    at_least: float | None = None
    over: Annotated[float, Field(gt=0), _quantity("m")] = 1e6
    risk: Annotated[float, Field(gt=0, lt=1), _quantity("1")] = 0.1

    @field_validator("what")
    @classmethod
    def _known(cls, what: str) -> str:
        known = [*_EVENTS, *_quantities()]
        if what not in known:
            listed = ", ".join(f'"{one}"' for one in known)
            raise ValueError(f"found {shown(what)}; allowed is one of {listed}")
        return what

    @field_validator("at_most", "at_least", mode="before")
    @classmethod
    def _value(cls, value: Any, info: ValidationInfo) -> float | None:
        what = info.data.get("what")
        return None if value is None or what is None else si(value, _kind(what, least=False).unit)

    @model_validator(mode="after")
    def _sides(self) -> Self:
        side = _side(self.what)
        given = [name for name in ("at_least", "at_most") if getattr(self, name) is not None]
        if len(given) != 1 or side not in ("", given[0]):
            takes = f"{side} and not {'at_most' if side == 'at_least' else 'at_least'}" if side else ""
            raise ValueError(
                f'a limit on "{self.what}" takes {takes or "at_least or at_most, one of the two"}; '
                f"{wanted(_kind(self.what, least=False).unit)}"
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
        return _kind(self.what, self.at_least is not None)

    @property
    def value(self) -> float:
        """The limit in SI units."""
        found = self.at_least if self.kind.least else self.at_most
        assert found is not None
        return found
