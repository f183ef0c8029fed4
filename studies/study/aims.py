"""What a study states beside the experiment: its limits, the life to look ahead to, and the risk to size for.

Read from the study's text that the results carry, so that a report can be made from the results alone.
"""

import json
from dataclasses import dataclass
from typing import Annotated, Any

import xarray as xr
from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError

from crossaxle.studies.inputs.complaints import complaints
from crossaxle.studies.inputs.reader import InputError, document
from crossaxle.studies.inputs.units import si
from crossaxle.studies.study.fatigue_factors import FatigueFactors
from crossaxle.studies.study.implied_limits import ImpliedLimits
from crossaxle.studies.study.limits import Limit

USUAL_ALLOWANCE = 0.02
"""Clearance beyond the movement where a study states none [m]: common practice, no source."""
USUAL_LIFE = 1e7
"""Distance to look ahead to where a study states none [m]."""

Metres = Annotated[float, BeforeValidator(lambda value: si(value, "m"))]
Share = Annotated[float, BeforeValidator(lambda value: si(value, "1"))]


class _Stated(BaseModel):
    """The keys of a study file that are read here; all others are left alone."""

    model_config = ConfigDict(extra="ignore")

    limits: list[Limit] = []
    life: Metres | None = None
    risk: Share = 0.1
    fatigue: FatigueFactors = FatigueFactors()
    implied_limits: ImpliedLimits = ImpliedLimits()
    clearance_allowance: Metres = USUAL_ALLOWANCE
    revision: str = ""
    author: str = ""
    checked_by: str = ""


@dataclass(frozen=True)
class Aims:
    """What a study states beside the experiment.

    Attributes
    ----------
    limits : list of Limit
    life : float
        Distance to look ahead to [m]: the stated one, or `USUAL_LIFE`.
    life_is_stated : bool
    risk : float
        Probability.
    fatigue : FatigueFactors
    implied : ImpliedLimits
    allowance : float
        Clearance beyond the movement, for tolerance, dynamics and dirt [m].
    revision, author, checked_by : str
        Of the study, for page one; empty where nothing is said.
    """

    limits: list[Limit]
    life: float
    life_is_stated: bool
    risk: float
    fatigue: FatigueFactors
    implied: ImpliedLimits
    allowance: float
    revision: str
    author: str
    checked_by: str


def aims(ds: xr.Dataset) -> Aims:
    """Read the aims from the results' study text and settings; the usual life and risk where none are stated.

    Raises
    ------
    InputError
        If the text cannot be read: a limit that was stated must not get lost.
    """
    entries: dict[str, Any] = document("results.nc: study", str(ds.attrs.get("study", ""))).table
    try:
        entries |= json.loads(str(ds.attrs.get("settings", "{}")))
        stated = _Stated.model_validate(entries)
    except ValidationError as error:
        wrong = "; ".join(complaints(error, entries, _Stated))
        raise InputError(f"results.nc: study: {wrong}; run the study again with this version") from None
    except ValueError as error:
        raise InputError(f"results.nc: settings: cannot be read: {error}; run the study again") from None
    return Aims(
        list(stated.limits),
        USUAL_LIFE if stated.life is None else stated.life,
        stated.life is not None,
        stated.risk,
        stated.fatigue,
        stated.implied_limits,
        stated.clearance_allowance,
        stated.revision,
        stated.author,
        stated.checked_by,
    )
