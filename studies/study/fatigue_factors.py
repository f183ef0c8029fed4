"""Factors on counted stress ranges that a study states: they are its author's judgement, not the program's."""

from typing import Annotated

from annotated_types import Ge, Le
from pydantic import BaseModel, BeforeValidator, ConfigDict

from crossaxle.studies.inputs.units import si

Dynamic = Annotated[float, Ge(1.0), Le(10.0), BeforeValidator(lambda value: si(value, "1"))]
Partial = Annotated[float, Ge(1.0), Le(2.0), BeforeValidator(lambda value: si(value, "1"))]


class FatigueFactors(BaseModel):
    """Factors for fatigue.

    Attributes
    ----------
    dynamic_factor : float
        By how much driving raises the quasi-static ranges. 1 unless stated: nothing is added.
    partial_factor : float
        Of the fatigue strength, EN 1993-1-9:2005, table 3.1 (recalled): 1.00 damage tolerant and low consequence, 1.15
        either damage tolerant or low consequence, 1.35 safe life and high consequence. The last unless stated.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    dynamic_factor: Dynamic = 1.0
    partial_factor: Partial = 1.35

    @property
    def combined(self) -> float:
        """What the counted ranges are multiplied by before the detail category's own curve is read."""
        return self.dynamic_factor * self.partial_factor
