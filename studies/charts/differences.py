"""Chart: what changes if another candidate is taken instead of the best, on the same ground."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import chance
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import DotPanel, dots, hue

MOST_ROWS = 12


def differences(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw paired differences of the headline outcomes to the candidate with the fewest unload events.

    Raises
    ------
    ValueError
        If there is one candidate only.
    """
    everyone, outcomes = candidates(ds), headline(ds, course)
    if len(everyone) < 2:
        raise ValueError("one candidate cannot be compared with another")
    keys = [np.where(np.isfinite(o.estimate.value), o.estimate.value, np.inf) for o in outcomes]
    order = np.lexsort(keys[::-1])
    best = everyone[int(order[0])]
    shown = sorted(int(k) for k in order[1 : MOST_ROWS + 1])
    panels = []
    for outcome in outcomes:
        ends = np.full((3, len(everyone)), np.nan)
        for k in shown:
            change = outcome.compare(k, best.index).difference
            ends[:, k] = float(change.value), float(change.low), float(change.high)
        panels.append(DotPanel(outcome.heading, outcome.unit, Interval(ends[0], ends[1], ends[2])))
    more = [1 - outcomes[0].compare(k, best.index).chance_less for k in shown]
    nearest = shown[int(np.argmin(more))]
    title = (
        f"Chance that {everyone[nearest].name} truly unloads more often than {best.name}: {chance(min(more))}; "
        "at least that for the others"
    )
    if len(shown) == 1:
        title = title.removesuffix("; at least that for the others")
    if not np.nansum(outcomes[0].samples):
        title = f"No wheel unloaded: what sets the others apart from {best.name}"
    note = (
        f"Difference from {best.name} on identical terrain, sample by sample. Bars: 95 % interval; not significant "
        "where it includes zero."
    )
    return dots([everyone[k] for k in shown], hue(ds), panels, title, note, width)
