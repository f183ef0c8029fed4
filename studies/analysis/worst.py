"""Finding in results where an output was at its worst: which candidate, course and sample, and at which position.

An output is written ``VARIABLE:ITEM``, e.g. ``gap_minimum:cab back to body``; without an item the worst of all counts.
Candidates are narrowed down by ``KEY=VALUE`` pairs with commas between, e.g. ``wheelbase=4.4 m, mount=rigid``.
"""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import NamedTuple

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates, items, swept, values
from crossaxle.studies.base.quantities import is_least
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown, si

POSITION = "_position"


class ExtremeName(NamedTuple):
    """An extreme of results: its variable, and its item where there are several."""

    variable: str
    item: str


@dataclass(frozen=True)
class Worst:
    """An extreme that results hold, and where it was met.

    Attributes
    ----------
    variable, item : str
        Such as ``gap_minimum`` and ``cab back to body``; the item is empty where there is only one.
    candidate, course, sample : int
        Candidate as in `crossaxle.studies.analysis.candidates`.
    position : float
        Of the front axle, along the sample [m].
    value : float
        As stored, SI.
    """

    variable: str
    item: str
    candidate: int
    course: int
    sample: int
    position: float
    value: float

    @property
    def quantity(self) -> str:
        """Name of the output without the kind of extreme."""
        return self.variable.rsplit("_", 1)[0]

    @property
    def smallest(self) -> bool:
        """Whether it is a smallest value; else it is a largest one."""
        return is_least(self.variable)


def extreme_variables(ds: xr.Dataset) -> list[str]:
    """List the variables that are extremes with a position."""
    return [str(name) for name in ds.data_vars if f"{name}{POSITION}" in ds]


def find_worst(ds: xr.Dataset, worst: str, candidate: str = "", course: str = "") -> Worst:
    """Find the worst value of an output.

    Parameters
    ----------
    ds : Dataset
    worst : str
        ``VARIABLE`` or ``VARIABLE:ITEM``.
    candidate : str
        ``KEY=VALUE`` pairs; empty: the worst over all candidates.
    course : str
        Its name; empty: the worst over all courses.

    Raises
    ------
    InputError
        If a name is not known, or no sample gave a value.
    """
    outputs = find_outputs(ds, worst, "--worst")
    found = [
        each
        for c in select_candidates(ds, candidate)
        for at in select_courses(ds, course)
        for output in outputs
        if (each := worst_sample(ds, output.variable, output.item, c.index, at)) is not None
    ]
    if not found:
        raise InputError(f"--worst: no sample has a value of {worst} with the candidates and courses chosen")
    pick = min if is_least(outputs[0].variable) else max
    return pick(found, key=lambda each: each.value)


def find_outputs(ds: xr.Dataset, text: str, option: str) -> list[ExtremeName]:
    """List the outputs that ``VARIABLE:ITEM`` names: one, or those of all items if none is named.

    Raises
    ------
    InputError
        If a name is not known; it is said to be that of ``option``.
    """
    variable, colon, item = (part.strip() for part in text.partition(":"))
    known = extreme_variables(ds)
    if variable not in known:
        raise InputError(f"{option}: {_unknown(variable, known)}")
    dimension = item_dimension(ds, variable)
    names = items(ds, dimension) if dimension else [""]
    if colon and (item not in names or not dimension):
        raise InputError(f"{option}: {variable} of: {_unknown(item, names if dimension else [])}")
    return [ExtremeName(variable, name) for name in ([item] if colon else names)]


def select_courses(ds: xr.Dataset, text: str) -> list[int]:
    """Return the place of the course with a name; of all for no text.

    Raises
    ------
    InputError
        If there is no such course.
    """
    courses = items(ds, "course")
    if text and text not in courses:
        raise InputError(f"--course: {_unknown(text, courses)}")
    return [courses.index(text)] if text else list(range(len(courses)))


def worst_sample(ds: xr.Dataset, variable: str, item: str, candidate: int, course: int) -> Worst | None:
    """Return the worst sample of one item for one candidate and course; None if no sample has a value."""
    value, position = (values(ds, name, course)[candidate] for name in (variable, f"{variable}{POSITION}"))
    dimension = item_dimension(ds, variable)
    if dimension:
        place = items(ds, dimension).index(item)
        value, position = value[:, place], position[:, place]
    if np.isnan(value).all():
        return None
    sample = int(np.nanargmin(value) if is_least(variable) else np.nanargmax(value))
    return Worst(variable, item, candidate, course, sample, float(position[sample]), float(value[sample]))


def select_candidates(ds: xr.Dataset, text: str) -> list[Candidate]:
    """List the candidates that have all the values named in ``KEY=VALUE`` pairs; all of them for no text.

    Raises
    ------
    InputError
        If a key is not swept or no candidate has the value.
    """
    chosen = candidates(ds)
    keys = swept(ds)
    for pair in re.split(r",(?=[^,=]*=)", text) if text.strip() else []:
        key, equals, value = (part.strip() for part in pair.partition("="))
        if key not in keys:
            raise InputError(f"--candidate: {_unknown(key, list(keys))}; write KEY=VALUE")
        if not equals:
            raise InputError(
                f"--candidate: {shown(key)} has no value; write KEY=VALUE, e.g. {_example(ds, key)}"
            )
        place = _place_of(ds, key, value)
        chosen = [c for c in chosen if c.place[key] == place]
    return chosen


def worst_course(ds: xr.Dataset, candidate: int) -> int:
    """Find the course on which a candidate uses up the largest share of the clearance of any gap; 0 without gaps."""
    if not ds.sizes.get("gap"):
        return 0
    built = values(ds, "gap_static")[candidate]
    used = []
    for course in range(ds.sizes["course"]):
        least = values(ds, "gap_minimum", course)[candidate]  # (samples, gaps)
        known = np.isfinite(least).any(axis=0) & (built > 0)
        lowest = np.nanmin(least[:, known], axis=0) if known.any() else np.zeros(0)
        used.append(float((1 - lowest / built[known]).max(initial=-np.inf)))
    return int(np.argmax(used))


def item_dimension(ds: xr.Dataset, variable: str) -> str:
    """Return the dimension of a variable's items; empty where there is only one."""
    own = [str(d) for d in ds[variable].dims if d not in (*swept(ds), "course", "sample")]
    return own[0] if own else ""


def _place_of(ds: xr.Dataset, key: str, text: str) -> int:
    coordinate = ds[key].values
    text = text.strip("\"'")
    if coordinate.dtype.kind == "f":
        try:
            value = _number(text, str(ds[key].attrs.get("units", "1")))
        except ValueError as error:
            raise InputError(f"--candidate: {key}: {error}") from None
        near = np.flatnonzero(np.isclose(coordinate, value, rtol=1e-9, atol=0.0))
    else:
        near = np.flatnonzero(coordinate == text)
    if not near.size:
        unit = "" if coordinate.dtype.kind != "f" else f" {ds[key].attrs.get('units', '')}".rstrip()
        allowed = [f"{each}{unit}" for each in coordinate.tolist()]
        raise InputError(f"--candidate: {key}: {_unknown(text, allowed)}")
    return int(near[0])


def _example(ds: xr.Dataset, key: str) -> str:
    unit = str(ds[key].attrs.get("units", "")) if ds[key].dtype.kind == "f" else ""
    return shown(f"{key}={ds[key].values[0]} {unit}".strip())


def _number(text: str, unit: str) -> float:
    """Read a quantity, or a bare number in SI units."""
    try:
        return float(text)
    except ValueError:
        return si(text, unit)


def _unknown(found: str, known: list[str]) -> str:
    near = get_close_matches(found, known, 1) or [name for name in known if found and name.startswith(found)]
    hint = f" (did you mean {shown(near[0])}?)" if near else ""
    return f"found {shown(found)}{hint}; allowed: {', '.join(known) if known else 'no item here'}"
