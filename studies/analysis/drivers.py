"""Which uncertain value drives which outcome of the candidate with the fewest unload events."""

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates
from crossaxle.studies.analysis.outcomes import Outcome, headline
from crossaxle.studies.analysis.sensitivity import Sensitivity, sensitivity


def found_drivers(
    ds: xr.Dataset, course: int = 0
) -> tuple[Candidate, list[tuple[Outcome, Sensitivity]]] | None:
    """Return the candidate looked at and its sensitivities; None if no value is uncertain or nothing varies."""
    if "drawn_value" not in ds:
        return None
    drawn = np.asarray(ds["drawn_value"].transpose("sample", "uncertain").values, dtype=float)
    outcomes = headline(ds, course)
    rates = outcomes[0].estimate.value
    c = candidates(ds)[int(np.argmin(np.where(np.isfinite(rates), rates, np.inf)))]
    each = [o for o in outcomes if not o.folded]
    found = [(o, s) for o in each if (s := sensitivity(drawn, o.samples[c.index])) is not None]
    return (c, found) if found else None
