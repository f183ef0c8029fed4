"""Chart: which uncertain value drives which outcome of the candidate with the fewest unload events."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import Candidate, items
from crossaxle.studies.analysis.drivers import found_drivers
from crossaxle.studies.analysis.outcomes import Outcome
from crossaxle.studies.analysis.sensitivity import Sensitivity
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import number
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import DotPanel, dots

REST = "terrain and interactions"


def drivers(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw, for every outcome, the share of its spread that each uncertain value explains alone.

    Raises
    ------
    ValueError
        If the study has no uncertain values or no outcome varies; see ``found_drivers``.
    """
    found = found_drivers(ds, course)
    if found is None:
        raise ValueError(
            "the study has no uncertain values, or no outcome that varies; there is nothing to draw"
        )
    c, pairs = found
    names = [*(name.replace("_", " ").replace(".", " ") for name in items(ds, "uncertain")), REST]
    rows = [Candidate(k, {"row": int(k == len(names) - 1)}, {"row": name}) for k, name in enumerate(names)]
    panels = [DotPanel(o.heading, "% of its spread", _percent(s)) for o, s in pairs]
    note = (
        f"For {c.name}. First-order share of the variance between samples; the rest is {REST}. It depends on the "
        "length of the samples. Bars: 95 % interval."
    )
    return dots(rows, "row", panels, _title(names, pairs), note, width, common=True, linear=True)


def _percent(found: Sensitivity) -> Interval:
    ends = (np.append(getattr(found.first, e), getattr(found.rest, e)) for e in ("value", "low", "high"))
    return Interval(*ends).times(100.0)


def _title(names: list[str], pairs: list[tuple[Outcome, Sensitivity]]) -> str:
    """Name the strongest driver, if one is certain; else the ground."""
    outcome, best = max(pairs, key=lambda pair: float(pair[1].first.low.max()))
    k = int(best.first.low.argmax())
    if best.first.low[k] <= 0.02:
        return "No uncertain value certainly drives any outcome: the ground decides"
    share = number(100 * float(best.first.value[k]), 2)
    return f"{names[k][:1].upper()}{names[k][1:]} drives {outcome.heading.lower()}: it explains {share} % of its spread"
