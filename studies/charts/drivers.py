"""Chart: which uncertain value drives which outcome of the candidate with the fewest unload events."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from studies.candidates import Candidate, candidates, items
from studies.charts import style
from studies.charts.dots import Panel, dots
from studies.display import number
from studies.outcomes import Outcome, headline
from studies.sensitivity import Sensitivity, sensitivity
from studies.statistics import Interval

REST = "ground and interplay"


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
    panels = [Panel(o.heading, "% of its spread", _percent(s)) for o, s in pairs]
    note = (
        f"For {c.name}. Share of the variance between samples (the square of their spread) that each value explains "
        f"alone; {REST} is the luck of the ground and what values do only together. Bars: 95 % interval."
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
