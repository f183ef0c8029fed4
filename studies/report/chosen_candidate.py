"""One candidate of results and one course: named by the reader, or the one that the report recommends."""

import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.analysis.worst import select_candidates, select_courses
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown
from crossaxle.studies.report.page_one import page_one


def chosen_candidate(ds: xr.Dataset, text: str = "", course: int = 0) -> Candidate:
    """Return the candidate named by ``KEY=VALUE`` pairs; the recommended one for no text.

    Parameters
    ----------
    ds : Dataset
    text : str
        E.g. ``wheelbase=4.4 m, mount=rigid``; what only one candidate has is enough.
    course : int
        On which the recommendation rests.

    Raises
    ------
    InputError
        If none or several candidates have the values, or there is nothing to recommend.
    """
    if text.strip():
        return named_candidate(ds, text)
    best = page_one(ds, course).shown
    if not best:
        raise InputError("--candidate: no sample gave a result, so none is recommended")
    return best[0]


def named_candidate(ds: xr.Dataset, text: str) -> Candidate:
    """Return the one candidate that ``KEY=VALUE`` pairs fit; raise InputError if they fit none or several."""
    found = select_candidates(ds, text)
    if len(found) != 1:
        names = "; ".join(candidate.name for candidate in found[:4])
        more = " ..." if len(found) > 4 else ""
        raise InputError(
            f"--candidate: {shown(text)} fits {len(found)} candidates ({names}{more}); allowed is what fits one: add "
            "the other swept values, e.g. 'wheelbase=4.4 m, mount=rigid'"
        )
    return found[0]


def chosen_course(ds: xr.Dataset, name: str = "") -> int:
    """Return the place of the course of a name, the first for no name; raise InputError if there is none."""
    return select_courses(ds, name)[0]
