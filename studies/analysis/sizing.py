"""The question turned round: what must be built to meet a stated risk over a stated distance, with intervals.

Clearance, stop angle and mount travel follow from the fitted extremes of each candidate. Where a quantity
was swept (bracket spacing, spring rate, wheelbase ...), see ``crossaxle.studies.analysis.swept_limits``.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import candidates, items, values
from crossaxle.studies.analysis.extremes import FEWEST, fit_extremes
from crossaxle.studies.base.intervals import Interval

FAIR, POOR, FEW, ALIKE = "fair fit", "poor fit", "too few samples", "all samples alike"
CUT = "cut off by the stop"
STOPPED = 0.95
"""Share of the angle to its stop from which a pivot's largest angles are the stop's and not the ground's."""


@dataclass(frozen=True)
class Need:
    """What one item of one candidate needs, in SI units.

    Attributes
    ----------
    candidate : int
    what, item : str
    built : float
        As drawn; NaN if the file states no figure.
    needed : Interval
        Movement passed with the stated risk. Where nothing can be extrapolated the value and the lower bound are the
        largest met, and there is no upper bound.
    met : float
        Largest movement met.
    basis : str
        ``FAIR`` or ``POOR`` extremes, or why they say nothing: ``FEW``, ``ALIKE``, ``CUT``.
    """

    candidate: int
    what: str
    item: str
    built: float
    needed: Interval
    met: float
    basis: str

    def to_build(self, allowance: float) -> float:
        """Clearance to build [m]: the movement's upper bound and the allowance, never less than drawn.

        NaN where there is no sound number.
        """
        if self.what != "clearance" or self.basis != FAIR:
            return float("nan")
        return max(self.built, float(self.needed.high) + allowance)


def needs(ds: xr.Dataset, risk: float, over: float, course: int = 0) -> list[Need]:
    """Return what must be built so that each figure is passed with probability ``risk`` within ``over`` metres.

    Gaps: clearance when standing level. Pivots: angle to the stop. Mounts: free travel.
    """
    found = []
    for what, variable, dim in (
        ("clearance", "gap_minimum", "gap"),
        ("stop angle", "pivot_angle_maximum", "pivot"),
        ("mount travel", "mount_travel_maximum", "mount_point"),
    ):
        if variable not in ds:
            continue
        data, distance = values(ds, variable, course), values(ds, "distance", course)
        drawn = {"clearance": "gap_static", "stop angle": "pivot_stop_angle"}.get(what, "")
        static = values(ds, drawn) if drawn in ds else np.full(data.shape[::2], np.nan)
        for c in candidates(ds):
            for k, item in enumerate(items(ds, dim)):
                built = float(static[c.index, k])
                used = built - data[c.index, :, k] if what == "clearance" else data[c.index, :, k]
                if np.isfinite(used).any():
                    needed, basis = needed_for(used, distance[c.index], risk, over)
                    if what == "stop angle" and float(np.nanmax(used)) >= STOPPED * built:
                        basis = CUT
                    found.append(Need(c.index, what, item, built, needed, float(np.nanmax(used)), basis))
    return found


def needed_for(used: Array, distance: Array, risk: float, over: float) -> tuple[Interval, str]:
    """Return what must be built for one figure, and the basis, as in ``Need``.

    Parameters
    ----------
    used : (samples,)
        What each sample used up at most, SI units; NaN where it has no value.
    distance : (samples,)
        Metres driven.
    risk, over : float
        Probability of passing the figure within so many metres.
    """
    good = np.isfinite(used)
    fitted = fit_extremes(used, float(distance[good].mean()))
    if fitted is None:
        most = np.asarray(used[good].max())
        return Interval(most, most, np.asarray(np.inf)), FEW if good.sum() < FEWEST else ALIKE
    return fitted.risked(risk, over), POOR if fitted.poor else FAIR
