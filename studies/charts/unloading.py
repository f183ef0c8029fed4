"""Chart: how often wheels unload, per axle and candidate."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import Candidate, candidates, items
from crossaxle.studies.analysis.comparison import compare_rates
from crossaxle.studies.analysis.outcomes import Outcome, wheel_rate
from crossaxle.studies.base.number_format import kilometres, multiple, number
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import DotPanel, dots, hue


def axles(ds: xr.Dataset) -> dict[str, list[int]]:
    """Group the wheels by axle: "front left" and "front right" make "front"."""
    groups: dict[str, list[int]] = {}
    for k, wheel in enumerate(items(ds, "wheel")):
        groups.setdefault(wheel.rsplit(" ", 1)[0], []).append(k)
    return groups


def unloading(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw unload events per km by axle for every candidate, with intervals."""
    rows, by = candidates(ds), hue(ds)
    rates = {name: wheel_rate(ds, course, wheels) for name, wheels in axles(ds).items()}
    panels = [DotPanel(f"{name} wheels", "unload events per km", r.estimate) for name, r in rates.items()]
    busiest = max(rates, key=lambda name: float(np.nansum(rates[name].samples)))
    share = 100 * float(ds.attrs.get("unload_below", 0.10))
    note = (
        f"Unload event: a wheel's load falls below {share:.0f} % of its level load. Bars: 95 % interval; "
        "the true rate lies within it 19 times out of 20."
    )
    return dots(rows, by, panels, _title(rows, by, busiest, rates[busiest]), note, width, common=True)


def _title(rows: list[Candidate], by: str, axle: str, found: Outcome) -> str:
    """Say which choice unloads the wheels most often, and how much more often than the best."""
    total, distance = found.samples, found.distance
    if not np.nansum(total):
        return f"No wheel unloaded in {kilometres(float(np.nansum(distance)))} driven"
    groups: dict[str, list[int]] = {}
    for c in rows:
        if np.nansum(distance[c.index]):
            groups.setdefault(c.texts.get(by, c.name), []).append(c.index)
    if len(groups) < 2:
        return f"The {axle} wheels unload {number(float(np.nanmax(found.estimate.value)), 2)} times per km"
    pooled = {text: (total[k].sum(axis=0), distance[k].sum(axis=0)) for text, k in groups.items()}
    by_rate = sorted(pooled, key=lambda text: np.nansum(pooled[text][0]) / np.nansum(pooled[text][1]))
    best, worst = by_rate[0], by_rate[-1]
    ratio = compare_rates(pooled[worst][0], pooled[best][0], pooled[worst][1], pooled[best][1]).ratio
    if not float(ratio.low) > 1.0:
        return f"No certain difference in how often the {axle} wheels unload"
    return f"{worst[0].upper()}{worst[1:]} unloads the {axle} wheels {multiple(ratio, 'often')} {best}"
