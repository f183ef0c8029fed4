"""What a study file may say: one vehicle, one or several courses, what is swept, how much is driven."""

from typing import Annotated, Any, Self

from annotated_types import Ge, Le
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from crossaxle.studies.inputs.units import si
from crossaxle.studies.study.fatigue_factors import FatigueFactors
from crossaxle.studies.study.implied_limits import ImpliedLimits
from crossaxle.studies.study.limits import Limit
from crossaxle.studies.study.uncertain import AnyDistribution


def _quantity(unit: str) -> BeforeValidator:
    return BeforeValidator(lambda value: si(value, unit))


Reference = Annotated[str, Field(min_length=1, max_length=300)]
Title = Annotated[str, Field(min_length=1, max_length=200, examples=["Wheelbase of the field clinic"])]
ShortText = Annotated[str, Field(max_length=100)]
SampleLength = Annotated[float, Ge(10.0), Le(1e6), _quantity("m")]
Spacing = Annotated[float, Ge(0.001), Le(1.0), _quantity("m")]
UnloadShare = Annotated[float, Ge(1e-6), Le(1.0), _quantity("1")]
LongDistance = Annotated[float, Ge(1e3), Le(1e12), _quantity("m")]
Risk = Annotated[float, Ge(1e-9), Le(0.5), _quantity("1")]
ShortLength = Annotated[float, Ge(0.0), Le(100.0), _quantity("m")]
RangeAngle = Annotated[float, Ge(0.01), Le(1.57), _quantity("rad")]


class StudyTable(BaseModel):
    """Common rules of every table: nothing unknown, nothing infinite, nothing changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Thresholds(StudyTable):
    """When a wheel counts as unloaded, and where the small angles of the model end.

    An unload event begins where the load falls below ``unload_below`` of its level static value, ends above
    ``unload_ends_above``, and counts if it is at least ``unload_shortest`` long. A position is outside the
    range if the ground's mean plane slopes by more than ``range_slope``, or frame twist, lean or a pivot's angle
    exceeds ``range_angle``.
    """

    unload_below: UnloadShare = 0.10
    unload_ends_above: UnloadShare = 0.15
    unload_shortest: ShortLength = 0.1
    range_slope: RangeAngle = 0.35
    range_angle: RangeAngle = 0.26

    @model_validator(mode="after")
    def _ends_above(self) -> Self:
        if self.unload_ends_above < self.unload_below:
            raise ValueError(
                f"unload_ends_above is {100 * self.unload_ends_above:g} %; it must not be below "
                f"unload_below, {100 * self.unload_below:g} %"
            )
        return self


class StudyFile(StudyTable):
    """A study.

    ``implied_limits`` are limits that hold unless they are switched off; ``clearance_allowance`` is built beyond the
    movement of a gap, for tolerance, dynamics and dirt; ``revision``, ``author`` and ``checked_by``
    stand on the report's first page. ``vehicle`` and each of ``courses`` is a path relative to the study file, or
    ``library:NAME``. ``sweep`` maps keys of the vehicle file to the values they take; every combination is a
    candidate. ``uncertain``
    maps (quoted, dotted) keys of the vehicle file to distributions, from which every sample has its own draw.
    """

    title: Title
    note: str = ""
    vehicle: Annotated[Reference, Field(examples=["vehicle.toml"])]
    courses: Annotated[list[Reference], Field(min_length=1, max_length=100, examples=[["course.toml"]])]
    seed: Annotated[int, Field(ge=0, lt=2**63)] = 0
    samples: Annotated[int, Field(ge=1, le=10**8, examples=[200])]
    sample_length: SampleLength = 1000.0
    spacing: Spacing = 0.05
    thresholds: Thresholds = Thresholds()
    sweep: dict[str, Any] = {}
    uncertain: Annotated[dict[str, AnyDistribution], Field(max_length=30)] = {}
    limits: Annotated[list[Limit], Field(max_length=100)] = []
    life: LongDistance | None = None
    risk: Risk = 0.1
    fatigue: FatigueFactors = FatigueFactors()
    implied_limits: ImpliedLimits = ImpliedLimits()
    clearance_allowance: ShortLength = 0.02
    revision: ShortText = ""
    author: ShortText = ""
    checked_by: ShortText = ""

    @model_validator(mode="after")
    def _category_is_certain(self) -> Self:
        drawn = [key for key in self.uncertain if key.endswith(".detail_category")]
        if drawn:
            raise ValueError(
                f'uncertain: "{drawn[0]}" cannot be drawn; scatter of endurance is in the categories and '
                "in fatigue.partial_factor; sweep it to compare categories"
            )
        return self
