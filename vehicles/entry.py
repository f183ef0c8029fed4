"""What all tables of a vehicle file have in common: their rules, and the names that the file gives to its parts."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class VehicleTable(BaseModel):
    """Common rules of every table: nothing unknown, nothing infinite, nothing changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


Name = Annotated[str, Field(min_length=1, max_length=60)]
