"""Chart: extremes of the samples, the distribution fitted to them, and what it foretells for a long life.

Dots are the samples' own extremes against the distance in which each was met once; the line is the fit, the
band its interval; beyond the distance driven the line is extrapolated.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate, items, values
from crossaxle.studies.analysis.extremes import Extremes, fit_extremes
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import (
    bounds,
    decimals_for,
    fixed,
    kilometres,
    shown_unit,
    tick,
    with_unit,
)
from crossaxle.studies.charts import style
from crossaxle.studies.charts.curve_choice import choose
from crossaxle.studies.charts.panels import Panels, lay_panels

_SIDE = 0.75


@dataclass(frozen=True)
class _Fitted:
    """Extremes of one candidate, larger is worse, in SI units."""

    values: Array
    found: Extremes


def return_levels(
    ds: xr.Dataset,
    variable: str,
    dim: str,
    item: int,
    life: float,
    course: int = 0,
    width: float = style.WIDE,
) -> Figure:
    """Draw the return levels of one output.

    Parameters
    ----------
    variable, dim : str
        Of the extremes, and of its items (empty if there is one only).
    item : int
    life : float
        Distance to look ahead [m].
    """
    choice = choose(ds, course)
    sign = -1.0 if variable.endswith("minimum") else 1.0
    unit, factor = shown_unit(str(ds[variable].attrs.get("units", "")))
    name = items(ds, dim)[item] if dim else str(ds[variable].attrs.get("long_name", variable))
    fitted = {
        c.index: one
        for _, members in choice.panels
        for c in members
        if (one := _fit(ds, variable, item if dim else -1, c, course, sign)) is not None
    }
    title = _title(name, choice.panels, choice.by, fitted, life, sign * factor, unit)
    poor = any(one.found.poor for one in fitted.values())
    note = "Dots: the samples' own extremes. Line: distribution fitted to them (generalised extreme value), band: 95 %"
    note += f" interval. Right of the upright line the distance exceeds that driven. {choice.left_out}"
    if poor:
        note += " Crosses instead of dots: the fit is poor there, do not rely on the line."
    panels = lay_panels(choice, title, note.strip(), width, _SIDE)
    for axes, members in panels:
        _frame(axes, panels, unit, axes.get_position().x0 * width < _SIDE + 0.01)
        for c in members:
            if c.index in fitted:
                _draw(axes, fitted[c.index], c.place.get(choice.by, 0), life, sign * factor)
    _share_range(panels)
    return panels.figure


def _fit(ds: xr.Dataset, variable: str, item: int, c: Candidate, course: int, sign: float) -> _Fitted | None:
    data = values(ds, variable, course)[c.index]
    data = sign * (data[:, item] if item >= 0 else data)
    good = np.isfinite(data)
    if not good.any():
        return None
    found = fit_extremes(data, float(values(ds, "distance", course)[c.index][good].mean()))
    return _Fitted(np.sort(data[good]), found) if found is not None else None


def _frame(axes: Axes, panels: Panels, unit: str, first: bool) -> None:
    style.dress(axes, grid="both")
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(numticks=max(int(panels.room / 0.8), 2)))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.yaxis.set_major_locator(MaxNLocator(6))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.set_xlabel("met once in [km]", size=style.SMALL, color=style.INK, labelpad=2)
    if not first:
        axes.tick_params(labelleft=False)
    axes.set_ylabel(unit if first else "", size=style.SMALL, color=style.INK, labelpad=1)


def _draw(axes: Axes, one: _Fitted, look: int, life: float, scale: float) -> None:
    appearance = style.look(look)
    block, n = one.found.block, one.values.size
    below = (np.arange(1, n + 1) - 0.44) / (n + 0.12)  # Gringorten's plotting positions
    seen = _apart(block / -np.log(below))
    axes.plot(
        block / -np.log(below[seen]) / 1e3,
        scale * one.values[seen],
        linestyle="none",
        marker="x" if one.found.poor else appearance.marker,
        markersize=4,
        color=appearance.colour,
        alpha=0.75,
    )
    distance = np.geomspace(block, max(life, 2 * n * block), 60)
    levels = [one.found.level(float(d)) for d in distance]
    ends = [scale * np.array([float(getattr(v, end)) for v in levels]) for end in ("value", "low", "high")]
    axes.fill_between(distance / 1e3, ends[1], ends[2], color=appearance.colour, alpha=0.18, linewidth=0)
    axes.plot(distance / 1e3, ends[0], color=appearance.colour, linestyle=appearance.line, linewidth=2.2)
    axes.axvline(n * block / 1e3, color=style.SOFT, linewidth=1.0, linestyle=":")
    axes.set_xlim(block / 1e3 * 0.7, distance[-1] / 1e3 * 2)


def _apart(distance: Array) -> list[int]:
    """Return the places of increasing distances (n,) that are 2 % apart; dots nearer than that lie on one another."""
    kept = [0]
    for k in range(1, distance.size):
        if distance[k] > 1.02 * distance[kept[-1]] or k == distance.size - 1:
            kept.append(k)
    return kept


def _share_range(panels: Panels) -> None:
    """Give all panels one vertical range."""
    limits = [axes.get_ylim() for axes, _ in panels if axes.has_data()]
    if limits:
        low, high = min(b for b, _ in limits), max(t for _, t in limits)
        for axes, _ in panels:
            axes.set_ylim(low, high)


def _title(
    name: str,
    panels: list[tuple[str, list[Candidate]]],
    by: str,
    fitted: dict[int, _Fitted],
    life: float,
    scale: float,
    unit: str,
) -> str:
    """Say the level met once in a life by each line of the panel where it is worst."""
    start = f"{name[:1].upper()}{name[1:]}, met once in {kilometres(life)}"
    if not fitted:
        return f"{name[:1].upper()}{name[1:]}: too few or equal values to extrapolate"
    levels = {k: one.found.level(life).times(scale) for k, one in fitted.items()}
    worst = max(fitted, key=lambda k: float(fitted[k].found.level(life).value))
    heading, members = next((h, m) for h, m in panels if worst in [c.index for c in m])
    known = [c for c in members if c.index in levels]
    said = [_number(levels[c.index], unit) for c in known]
    if by and len(known) > 1:
        said = [f"{text} with {c.texts[by]}" for text, c in zip(said, known, strict=True)]
    return f"{start}: {'; '.join(said[:3])}{f' ({heading})' if heading else ''}"


def _number(level: Interval, unit: str) -> str:
    decimals = decimals_for(level)
    return f"{with_unit(fixed(float(level.value), decimals), unit)} ({bounds(level, decimals)})"
