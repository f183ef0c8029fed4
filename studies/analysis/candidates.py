"""The candidates of a results Dataset: one for every combination of swept values, with names people can read.

Everything downstream works on arrays whose first axis is the candidate, in the order given here.
"""

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.base.number_format import shown_unit, tick

_METRES = ("wheelbase",)
"""Swept lengths that are spoken of in metres; others in mm."""


@dataclass(frozen=True)
class Candidate:
    """One combination of swept values.

    Attributes
    ----------
    index : int
        Place along the first axis of the arrays from ``values``.
    place : dict of str to int
        Swept quantity to the index of its value.
    texts : dict of str to str
        Swept quantity to its value in words; empty where nothing was swept.
    """

    index: int
    place: dict[str, int]
    texts: dict[str, str]

    @property
    def name(self) -> str:
        """All its choices in words."""
        return ", ".join(self.texts.values()) or "the vehicle"


def swept(ds: xr.Dataset) -> tuple[str, ...]:
    """Return the names of the swept quantities: all dimensions of the distance but course and sample."""
    return tuple(str(d) for d in ds["distance"].dims if d not in ("course", "sample"))


def candidates(ds: xr.Dataset) -> list[Candidate]:
    """List the candidates, the last swept quantity changing fastest."""
    names = swept(ds)
    words = {name: [value_text(ds, name, v) for v in _coordinate(ds, name)] for name in names}
    combinations = product(*(range(ds.sizes[name]) for name in names))
    return [
        Candidate(
            i,
            dict(zip(names, place, strict=True)),
            {n: words[n][k] for n, k in zip(names, place, strict=True)},
        )
        for i, place in enumerate(combinations)
    ]


def values(ds: xr.Dataset, name: str, course: int = 0) -> Array:
    """Return a variable on one course as (candidate, sample or fold, items ...).

    A variable without course is the same on all. Samples that ended without a result
    (``sample_status`` above 1) are NaN.
    """
    variable = ds.variables[name]  # without coordinates, which take several times as long to carry along
    if "sample" in variable.dims and "sample_status" in ds and name != "sample_status":
        variable = variable.where(ds.variables["sample_status"] <= 1)  # type: ignore[no-untyped-call]
    first = [d for d in swept(ds) if d in variable.dims]
    rest = [str(d) for d in variable.dims if d not in first]
    variable = variable.transpose(*first, *rest)
    if "course" in rest:
        variable = variable.isel(course=course)
        rest.remove("course")
    shape = tuple(variable.sizes[d] for d in rest)
    count = int(np.prod([variable.sizes[d] for d in first], dtype=int))
    array: Array = np.asarray(variable.values, dtype=float).reshape(count, *shape)
    return array


def has_results(ds: xr.Dataset, course: int = 0) -> bool:
    """Tell whether any sample of any candidate gave a result."""
    return bool(np.nansum(values(ds, "distance", course)) > 0)


def items(ds: xr.Dataset, dim: str) -> list[str]:
    """Return the names along an item dimension (wheels, gaps, brackets ...)."""
    return [str(v) for v in _coordinate(ds, dim)]


def neighbours(of: Candidate, among: list[Candidate]) -> list[Candidate]:
    """Return the candidates that differ from one in a single swept quantity."""
    return [c for c in among if sum(c.place[n] != k for n, k in of.place.items()) == 1]


def value_text(ds: xr.Dataset, name: str, value: Any) -> str:
    """Write a swept value in words: ``wheelbase 4.4 m``, ``rigid mount``."""
    words = name.rsplit(".", 1)[-1].replace("_", " ")
    if isinstance(value, str | np.str_):
        return f"{value} {words}" if name == "mount" else f"{words} {value}"
    unit, factor = shown_unit(str(ds[name].attrs.get("units", "")) if name in ds.coords else "")
    if name in _METRES:
        unit, factor = "m", 1.0
    return f"{words} {tick(float(value) * factor)} {unit}".rstrip()


def _coordinate(ds: xr.Dataset, dim: str) -> Any:
    return ds[dim].values if dim in ds.coords else np.arange(1, ds.sizes[dim] + 1)
