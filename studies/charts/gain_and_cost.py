"""Chart: what a candidate gains in wheel contact and what it costs in lean, movement and body torque."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.outcomes import Outcome, headline, once_in
from crossaxle.studies.base.number_format import kilometres, multiple, quantity
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import DotPanel, dots, hue

_SHOWN = (
    "unload_events",
    "body_torque_maximum",
    "frame_twist_maximum",
    "body_roll_maximum",
    "mount_travel_maximum",
)


def trade(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw unload events, body torque, frame twist, lean and mount travel of every candidate side by side."""
    found = {name: o for o in headline(ds, course) for name in _SHOWN if o.key.startswith(name)}
    panels = [DotPanel(o.heading, o.unit, o.estimate) for o in found.values()]
    note = (
        f"Torque, twist, lean and travel: the level met about once in {kilometres(once_in(ds, course))}. "
        "Bars: 95 % interval. Less is better in every column."
    )
    return dots(candidates(ds), hue(ds), panels, _title(found), note, width)


def _title(found: dict[str, Outcome]) -> str:
    """Say what the candidate with the fewest unload events gains over the worst, and at what price."""
    events = found["unload_events"].estimate.value
    if len(events) < 2 or not np.isfinite(events).any():
        return "Wheel contact, and what it costs in lean and movement"
    best, worst = int(np.nanargmin(events)), int(np.nanargmax(events))
    ratio = found["unload_events"].compare(worst, best).ratio
    if not float(ratio.low) > 1:
        return "No certain difference in wheel contact; lean and movement set the candidates apart"
    start = f"The worst unloads {multiple(ratio, 'often')} the best"
    costs = []
    for name, unit, word in (
        ("body_roll_maximum", "deg", "lean"),
        ("mount_travel_maximum", "mm", "movement"),
    ):
        if name in found:
            more = found[name].compare(best, worst).difference
            if float(more.low) > 0:
                costs.append(f"{quantity(float(more.value), unit, 2)} more {word}")
    return (
        f"{start}; the best costs {' and '.join(costs)} than the worst"
        if costs
        else f"{start}, at no certain cost in lean or movement"
    )
