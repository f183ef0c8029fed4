"""All charts of a results Dataset, by the question they answer, ready to be drawn at any width."""

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import candidates, has_results, items, values
from crossaxle.studies.analysis.drivers import found_drivers
from crossaxle.studies.analysis.fatigue_life import lives
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.charts.convergence import convergence
from crossaxle.studies.charts.crack_distance import fatigue_life
from crossaxle.studies.charts.differences import differences
from crossaxle.studies.charts.drivers import drivers
from crossaxle.studies.charts.gain_and_cost import trade
from crossaxle.studies.charts.pareto import pareto
from crossaxle.studies.charts.return_levels import return_levels
from crossaxle.studies.charts.share_beyond import (
    bracket_shares,
    gap_shares,
    load_shares,
    quantity_shares,
    torque_shares,
    twist_shares,
)
from crossaxle.studies.charts.unloading import unloading
from crossaxle.studies.study.aims import aims

MOST_GAPS = 8
"""Charts are drawn for so many gaps, the tightest first; tables have all."""


FEWEST_TO_CONVERGE = 20
"""With fewer samples there is no convergence to show."""


class ChartEntry(NamedTuple):
    """A chart: file name, the section it belongs to, and a function of the figure's width [inches]."""

    name: str
    section: str
    draw: Callable[[float], Figure]


def catalogue(ds: xr.Dataset, course: int = 0) -> list[ChartEntry]:
    """List the charts for one course, as far as the Dataset has the outputs; none if no sample gave a result."""
    if not has_results(ds, course):
        return []
    entries = [ChartEntry("unload_events", "wheels", partial(unloading, ds, course))]
    if "wheel_load_histogram" in ds:
        entries.append(ChartEntry("wheel_load", "wheels", partial(load_shares, ds, course)))
    if ds.sizes["sample"] >= FEWEST_TO_CONVERGE:
        entries.append(ChartEntry("convergence", "wheels", partial(convergence, ds, course)))
    if "gap_histogram" in ds and ds.sizes["gap"]:
        entries += [
            ChartEntry(f"gap_{k + 1}_{slug(items(ds, 'gap')[k])}", "gaps", partial(gap_shares, ds, k, course))
            for k in _tightest(ds, course)
        ]
    if "bracket_stress_histogram" in ds and ds.sizes["bracket"]:
        entries += [
            ChartEntry(f"bracket_{k + 1}_{slug(name)}", "tanks", partial(bracket_shares, ds, k, course))
            for k, name in enumerate(items(ds, "bracket")[:MOST_GAPS])
        ]
    if lives(ds, course):
        entries.append(ChartEntry("fatigue_life", "tanks", partial(fatigue_life, ds, course)))
    for name, draw in _SHARES.items():
        if f"{name}_histogram" in ds:
            entries.append(ChartEntry(name, "frame", partial(draw, ds, course)))
    entries += _further_quantities(ds, course)
    entries.append(ChartEntry("trade", "trade", partial(trade, ds, course)))
    if len(candidates(ds)) > 1:
        entries.append(ChartEntry("differences", "trade", partial(differences, ds, course)))
        entries.append(ChartEntry("trade_offs", "trade", partial(pareto, ds, course)))
    if found_drivers(ds, course) is not None:
        entries.append(ChartEntry("drivers", "drivers", partial(drivers, ds, course)))
    entries += _long_life(ds, course)
    return entries


_SHARES = {"frame_twist": twist_shares, "body_torque": torque_shares}
"""Charts of quantities of the whole truck that are worded for them."""


def _further_quantities(ds: xr.Dataset, course: int) -> list[ChartEntry]:
    """Quantities with bins in the table of quantities and no chart made for them alone."""
    return [
        ChartEntry(
            slug(f"{name} {item}"),
            known.shown_levels().section or "frame",
            partial(quantity_shares, ds, name, k, course),
        )
        for name, known in QUANTITIES.items()
        if known.bins is not None and name not in _SHARES and f"{name}_histogram" in ds
        for k, item in enumerate(items(ds, known.dimension) if known.dimension else [""])
    ]


def _long_life(ds: xr.Dataset, course: int) -> list[ChartEntry]:
    """Return levels of the worst gap, bracket and mount of any candidate."""
    life = aims(ds).life
    entries = []
    for outcome in headline(ds, course):
        name = outcome.key.split("_once_in")[0]
        if name not in _LONG_LIFE:
            continue
        worst = outcome.item[int(np.nanargmax(outcome.estimate.value))]
        dim = _LONG_LIFE[name]
        item = items(ds, dim).index(worst)
        entries.append(
            ChartEntry(f"life_{name}", "build", partial(return_levels, ds, name, dim, item, life, course))
        )
    return entries


_LONG_LIFE = {
    "gap_minimum": "gap",
    "bracket_stress_maximum": "bracket",
    "mount_travel_maximum": "mount_point",
}


def slug(text: str) -> str:
    """Return a text as part of a file name: small letters, digits and underscores, at most 40, in whole words."""
    kept = "".join(c if c.isascii() and c.isalnum() else " " for c in text.lower())
    name = "_".join(kept.split())
    if len(name) > 40:
        name = name[:41].rpartition("_")[0] or name[:40]
    return name or "unnamed"


def _tightest(ds: xr.Dataset, course: int) -> list[int]:
    least = values(ds, "gap_minimum", course)
    kept = np.argsort(np.where(np.isfinite(least), least, np.inf).min(axis=(0, 1)))[:MOST_GAPS]
    return sorted(int(k) for k in kept)
