"""What a study states beside the experiment: its limits, the life to look ahead to, and the risk to size for.

Read from the study's text that the results carry, so that a report can be made from the results alone.
"""

import json
import tomllib
from dataclasses import dataclass
from typing import Annotated, Any

import xarray as xr
from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from studies.fatigue_factors import FatigueFactors
from studies.limits import Limit
from studies.units import si

Metres = Annotated[float, BeforeValidator(lambda value: si(value, "m"))]
Share = Annotated[float, BeforeValidator(lambda value: si(value, "1"))]


class _Stated(BaseModel):
    """The keys of a study file that are read here; all others are left alone."""

    model_config = ConfigDict(extra="ignore")

    limits: list[Limit] = []
    life: Metres = 1e7
    risk: Share = 0.1
    fatigue: FatigueFactors = FatigueFactors()


@dataclass(frozen=True)
class Aims:
    """Limits, life [m], risk (a probability) and factors on stress ranges."""

    limits: list[Limit]
    life: float
    risk: float
    fatigue: FatigueFactors


def aims(ds: xr.Dataset) -> Aims:
    """Read the aims from the results' study text and settings; the usual life and risk where none are stated."""
    try:
        entries: dict[str, Any] = tomllib.loads(str(ds.attrs.get("study", "")))
        entries |= json.loads(str(ds.attrs.get("settings", "{}")))
        stated = _Stated.model_validate(entries)
    except (tomllib.TOMLDecodeError, ValueError, ValidationError):
        stated = _Stated()
    return Aims(list(stated.limits), stated.life, stated.risk, stated.fatigue)
