"""What it saves to drive all candidates over the same ground: the variance of a difference, unpaired over paired.

With the variances of two candidates' samples and of their differences, a study on ground of their own would need
(var a + var b) / var(a - b) times as many samples for the same interval of the difference.
"""

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.analysis.outcomes import Outcome, headline
from crossaxle.studies.base.number_format import number
from crossaxle.studies.base.table import Cell, Table

MOST = 1e6
"""A larger saving means that the two hardly differ by chance at all; no number is given."""


def pairing_gain(a: Array, b: Array) -> float:
    """Return the variance of a difference of means, unpaired over paired, from the samples of two candidates (n,).

    NaN where fewer than two pairs have a value, or neither candidate's samples differ from one another.
    """
    good = np.isfinite(a) & np.isfinite(b)
    a, b = a[good], b[good]
    if a.size < 2:
        return float("nan")
    apart, together = float(a.var() + b.var()), float((a - b).var())
    if apart <= 0:
        return float("nan")
    return apart / together if together > apart / MOST else float("inf")


def outcome_gain(outcome: Outcome, a: int, b: int) -> float:
    """Return what pairing saves for the difference of two candidates in one outcome."""
    if outcome.every:
        return pairing_gain(outcome.samples[a], outcome.samples[b])
    with np.errstate(divide="ignore", invalid="ignore"):
        return pairing_gain(*(outcome.samples[k] / outcome.distance[k] for k in (a, b)))


def pairing_table(ds: xr.Dataset, course: int, a: Candidate, b: Candidate) -> Table | None:
    """Make the table of what pairing saves between two candidates; None where no outcome tells."""
    table = Table(
        f"What the same ground saves in comparing {a.name} with {b.name}",
        [Cell("Outcome"), Cell("Samples that ground of their own would need", "times as many")],
    )
    for outcome in headline(ds, course):
        gain = outcome_gain(outcome, a.index, b.index)
        if not np.isnan(gain):
            text = number(gain, 2) if np.isfinite(gain) else "very many"
            table.rows.append([Cell(outcome.heading), Cell(text)])
    return table if table.rows else None
