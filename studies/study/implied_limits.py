"""Limits that every study implies: what any truck that is to be built must keep, unless the study switches it off."""

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from crossaxle.studies.inputs.units import si

Share = Annotated[float, Field(gt=0.0, le=1.0), BeforeValidator(lambda value: si(value, "1"))]


class ImpliedLimits(BaseModel):
    """Limits that hold in every study unless they are switched off.

    ``gaps``: none closes. ``stops``: no pivot uses more than ``stop_share`` of the angle to its stop. ``loads``: no
    axle carries more than is permitted. ``cracks``: no bracket cracks before the stated life. ``tipping``: no sample
    tips.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    gaps: bool = True
    stops: bool = True
    stop_share: Share = 0.95
    loads: bool = True
    cracks: bool = True
    tipping: bool = True
