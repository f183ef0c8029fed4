"""Findings about rare events, kept beside the results they belong to, so that the report can show them."""

from pathlib import Path

import numpy as np
import xarray as xr
from pydantic import BaseModel, ConfigDict

from crossaxle.studies.analysis.candidates import items, values
from crossaxle.studies.analysis.worst import ExtremeName, item_dimension
from crossaxle.studies.base.intervals import Interval, rate
from crossaxle.studies.base.quantities import is_least
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.rare.rare_events import RareRate

FINDINGS = "rare.json"


class Finding(BaseModel):
    """How often one output of one candidate passes a level on one course.

    Attributes
    ----------
    variable, item : str
        As in results.
    candidate, course : int
        Places in results.
    level : float
        SI.
    per_metre, low, high : float
        Rate and its interval [1/m]; rate 0 where the level was never reached.
    stretch : float
        Length of the stretches looked at [m].
    evaluations, states, repeats, seed : int
        Effort, from which the finding can be made again.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)

    variable: str
    item: str
    candidate: int
    course: int
    level: float
    per_metre: float
    low: float
    high: float
    stretch: float
    evaluations: int
    states: int
    repeats: int
    seed: int

    @property
    def smallest(self) -> bool:
        """Whether the level is passed downwards."""
        return is_least(self.variable)

    @property
    def rate(self) -> Interval:
        """Rate with its interval [1/m]."""
        return Interval(np.asarray(self.per_metre), np.asarray(self.low), np.asarray(self.high))

    def about_the_same(self, other: "Finding") -> bool:
        """Whether another finding answers the same question."""
        asked = ("variable", "item", "candidate", "course", "level")
        return all(getattr(self, name) == getattr(other, name) for name in asked)


class _File(BaseModel):
    """The file: findings, and the identity of the results that they belong to."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    identity: str
    findings: list[Finding]


def finding(
    output: ExtremeName,
    candidate: int,
    course: int,
    level: float,
    found: RareRate,
    stretch: float,
    states: int,
    repeats: int,
    seed: int,
) -> Finding:
    """Put a finding together."""
    per_metre = found.per_metre
    return Finding(
        variable=output.variable,
        item=output.item,
        candidate=candidate,
        course=course,
        level=level,
        per_metre=float(per_metre.value),
        low=float(per_metre.low),
        high=float(per_metre.high),
        stretch=stretch,
        evaluations=found.evaluations,
        states=states,
        repeats=repeats,
        seed=seed,
    )


def read_findings(ds: xr.Dataset, folder: Path) -> list[Finding]:
    """Read the findings kept in a results folder; none if there are none, or they belong to other results.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    path = folder / FINDINGS
    if not path.is_file():
        return []
    try:
        kept = _File.model_validate_json(path.read_bytes())
    except (OSError, ValueError) as error:
        raise InputError(
            f"{path}: is not a readable file of findings; remove it and run `crossaxle rare` again ({error})"
        ) from None
    return kept.findings if kept.identity == _identity(ds) else []


def keep_findings(ds: xr.Dataset, folder: Path, new: list[Finding]) -> None:
    """Add findings to those kept in a results folder; earlier ones to the same questions give way.

    Raises
    ------
    OSError
        If the disk does not take it.
    """
    earlier = [f for f in read_findings(ds, folder) if not any(f.about_the_same(n) for n in new)]
    kept = _File(identity=_identity(ds), findings=[*earlier, *new])
    write_whole(folder / FINDINGS, (kept.model_dump_json(indent=1) + "\n").encode("utf-8"))


def sampled_rate(ds: xr.Dataset, found: Finding) -> tuple[int, int, Interval]:
    """Return what the ordinary samples of results say: samples that passed the level, of how many, rate [1/m]."""
    extreme = values(ds, found.variable, found.course)[found.candidate]
    if found.item:
        extreme = extreme[:, items(ds, item_dimension(ds, found.variable)).index(found.item)]
    passed = np.where(extreme <= found.level if found.smallest else extreme >= found.level, 1.0, 0.0)
    passed[~np.isfinite(extreme)] = np.nan
    distance = values(ds, "distance", found.course)[found.candidate]
    return int(np.nansum(passed)), int(np.isfinite(passed).sum()), rate(passed, distance, bunch=1.0)


def _identity(ds: xr.Dataset) -> str:
    return str(ds.attrs.get("identity", ""))
