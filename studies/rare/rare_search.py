"""Search for rare events from results alone: what is asked for, and the findings."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import xarray as xr

from crossaxle.studies.analysis.worst import (
    ExtremeName,
    find_outputs,
    select_candidates,
    select_courses,
    worst_sample,
)
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown, si
from crossaxle.studies.rare.rare_events import RareEvents
from crossaxle.studies.rare.rare_findings import Finding, finding
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.study import from_attributes

STATES = 300
"""States of ground in every step of subset simulation."""


@dataclass(frozen=True)
class Asked:
    """A question about rare events.

    Attributes
    ----------
    output : ExtremeName
    level : float
        SI.
    places : tuple of (candidate, course)
    """

    output: ExtremeName
    level: float
    places: tuple[tuple[int, int], ...]


def asked_for(ds: xr.Dataset, output: str, level: str, candidate: str, course: str) -> Asked:
    """Read a question from words; candidates that do not have the output are left out.

    Raises
    ------
    InputError
        If a word is not understood, or no candidate has the output.
    """
    outputs = find_outputs(ds, output, "--output")
    if len(outputs) > 1:
        raise InputError(
            f"--output: {output} has several items; name one, e.g. '{outputs[0].variable}:{outputs[0].item}'; "
            f"there are: {', '.join(each.item for each in outputs)}"
        )
    chosen = outputs[0]
    try:
        value = _level(level, QUANTITIES[chosen.variable.rpartition("_")[0]].units.replace(" ", "*"))
    except ValueError as error:
        raise InputError(f"--level {level}: {error}") from None
    places = tuple(
        (c.index, at)
        for c in select_candidates(ds, candidate)
        for at in select_courses(ds, course)
        if worst_sample(ds, chosen.variable, chosen.item, c.index, at) is not None
    )
    if not places:
        raise InputError(f"--output: no candidate that was chosen has a value of {output}")
    return Asked(chosen, value, places)


def search(
    ds: xr.Dataset, asked: Asked, repeats: int, seed: int, progress: Callable[[], None]
) -> list[Finding]:
    """Look for the events of every candidate and course asked about; ``progress`` is called after each estimate.

    Raises
    ------
    InputError
        If the results do not hold their study.
    """
    experiment = Experiment(from_attributes(ds.attrs))
    found = []
    for candidate, course in asked.places:
        events = RareEvents(experiment, candidate, course)
        rate = events.rate(
            asked.output.variable,
            asked.output.item,
            asked.level,
            states=STATES,
            repeats=repeats,
            seed=seed,
            progress=progress,
        )
        found.append(
            finding(asked.output, candidate, course, asked.level, rate, events.stretch, STATES, repeats, seed)
        )
    return found


def _level(text: str, unit: str) -> float:
    """Read a quantity; a plain number where the output has no unit.

    Raises
    ------
    ValueError
        If the text is none, or not finite.
    """
    if unit != "1":
        return si(text, unit)
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(f"found {shown(text)}; allowed is a finite number without a unit")
    return value
