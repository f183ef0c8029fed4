"""Numbers of the shop's clearance sheet: what one candidate's gaps, pivots and mounts go through, and what to build.

Met values are the extremes over all samples of one course. What to build and how far hoses and bellows must stretch
follow from the fitted extremes of the samples, as in `crossaxle.studies.analysis.sizing`.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate, candidates, has_results, items, values
from crossaxle.studies.analysis.sizing import ALIKE, FEW, POOR, needed_for
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.study.aims import aims
from crossaxle.studies.study.study import from_attributes
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.gaps import GapPlace, gap_places


@dataclass(frozen=True)
class Clearance:
    """One gap of the candidate; lengths in m.

    Attributes
    ----------
    number : int
        On the sheet, from 1.
    name : str
    item, against : str
        The part that sweeps, and the part it is seen from: the body if it is one of the two.
    places : tuple of GapPlace
    built, least, widest : float
        Standing level, and the extremes met.
    needed, stretch : Interval or None
        Movement passed with the stated risk, and widening beyond what is built; None: cannot be extrapolated.
    poor : bool
        The extremes do not look like the fitted distribution.
    """

    number: int
    name: str
    item: str
    against: str
    places: tuple[GapPlace, ...]
    built: float
    least: float
    widest: float
    needed: Interval | None
    stretch: Interval | None
    poor: bool

    def to_build(self, allowance: float) -> float:
        """Clearance to build [m]: the movement's upper bound and the allowance, never less than drawn.

        NaN where there is no sound number.
        """
        if self.needed is None or self.poor:
            return math.nan
        return max(self.built, float(self.needed.high) + allowance)

    @property
    def too_small(self) -> bool:
        """Whether it closed, or less is built than the movement to be expected."""
        return self.least <= 0 or (self.needed is not None and self.built < float(self.needed.value))


@dataclass(frozen=True)
class Travel:
    """How far a pivot turns [rad] or a mount point moves [m].

    Attributes
    ----------
    item : str
    turns : bool
        A pivot; else a mount point.
    met : float
    needed : Interval or None
    stop, lever : float
        Where the stop is [rad], and the radius at which it stands [m]; NaN for a mount point.
    """

    item: str
    turns: bool
    met: float
    needed: Interval | None
    stop: float = math.nan
    lever: float = math.nan

    @property
    def beyond_stop(self) -> bool:
        """Whether the stop was met, or stands nearer than the estimate of what is needed."""
        return max(self.met, float(self.needed.value) if self.needed else 0.0) >= self.stop


@dataclass(frozen=True)
class ClearanceSheet:
    """Everything that the sheet says of one candidate on one course; ``life``, ``allowance`` and ``driven`` in m."""

    vehicle: Vehicle
    candidate: Candidate
    course: str
    title: str
    clearances: tuple[Clearance, ...]
    travels: tuple[Travel, ...]
    risk: float
    life: float
    allowance: float
    driven: float
    samples: int
    seed: str
    versions: str


def clearance_sheet(ds: xr.Dataset, candidate: int, course: int = 0) -> ClearanceSheet:
    """Gather the sheet of one candidate.

    Parameters
    ----------
    ds : Dataset
        Results with the study they came from.
    candidate : int
        As in `crossaxle.studies.analysis.candidates`.
    course : int

    Raises
    ------
    InputError
        If no sample of the candidate gave a result, or the results do not carry their study.
    """
    chosen = candidates(ds)[candidate]
    one = ds.isel({name: [place] for name, place in chosen.place.items()})
    if not has_results(one, course):
        raise InputError(f"{chosen.name}: no sample gave a result, so there are no clearances to draw")
    vehicle = assemble(from_attributes(ds.attrs).vehicle_files()[candidate])
    stated = aims(ds)
    distance = values(one, "distance", course)[0]

    def risked(largest: Array) -> tuple[Interval | None, bool]:
        """Value passed with the stated risk within the life, and whether the fit is poor."""
        figure, basis = needed_for(largest, distance, stated.risk, stated.life)
        return (None if basis in (FEW, ALIKE) else figure), basis == POOR

    return ClearanceSheet(
        vehicle,
        chosen,
        str(ds["course"].values[course]),
        str(ds.attrs.get("title", "")),
        _clearances(one, course, vehicle, risked),
        _travels(one, course, vehicle, risked),
        stated.risk,
        stated.life,
        stated.allowance,
        float(np.nansum(distance)),
        int(np.isfinite(distance).sum()),
        str(ds.attrs.get("seed", "")),
        str(ds.attrs.get("versions", "")),
    )


def _clearances(
    one: xr.Dataset, course: int, vehicle: Vehicle, risked: Callable[[Array], tuple[Interval | None, bool]]
) -> tuple[Clearance, ...]:
    if "gap_minimum" not in one:
        return ()
    least, widest = (values(one, name, course)[0] for name in ("gap_minimum", "gap_maximum"))
    built = values(one, "gap_static")[0]
    places: dict[str, list[GapPlace]] = {}
    for place in gap_places(vehicle.layout):
        places.setdefault(place.name, []).append(place)
    clearances: list[Clearance] = []
    for k, name in enumerate(items(one, "gap")):
        if name not in places or np.isnan(least[:, k]).all():
            continue
        first, second = places[name][0].parts
        needed, poor = risked(built[k] - least[:, k])
        stretch, _ = risked(widest[:, k] - built[k])
        clearances.append(
            Clearance(
                len(clearances) + 1,
                name,
                second if first == "body" else first,
                first if first == "body" else second,
                tuple(places[name]),
                float(built[k]),
                float(np.nanmin(least[:, k])),
                float(np.nanmax(widest[:, k])),
                needed,
                stretch,
                poor,
            )
        )
    return tuple(clearances)


def _travels(
    one: xr.Dataset, course: int, vehicle: Vehicle, risked: Callable[[Array], tuple[Interval | None, bool]]
) -> tuple[Travel, ...]:
    travels = []
    supports = vehicle.layout.supports()
    for variable, dim in (("pivot_angle_maximum", "pivot"), ("mount_travel_maximum", "mount_point")):
        if variable not in one:
            continue
        largest = values(one, variable, course)[0]
        turns = dim == "pivot"
        for k, item in enumerate(items(one, dim)):
            if np.isnan(largest[:, k]).all():
                continue
            met, needed = float(np.nanmax(largest[:, k])), risked(largest[:, k])[0]
            pivot = supports[item].pivot if turns else None
            stop, lever = (pivot.stop_angle, pivot.stop_lever) if pivot else (math.nan, math.nan)
            travels.append(Travel(item, turns, met, needed, stop, lever))
    return tuple(travels)
