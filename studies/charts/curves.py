"""Small multiples of share-of-distance curves: a panel per wheelbase or other value, a line per mount.

The vertical axis is logarithmic and reads in distance: one kilometre in ten, one metre in a kilometre.
"""

from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedFormatter, FixedLocator, FuncFormatter, MaxNLocator, NullLocator

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.curve_choice import Choice
from crossaxle.studies.charts.panels import lay_panels
from crossaxle.studies.charts.text import fold, plain, width

_SHARES = {
    1.0: "all of it",
    0.1: "100 m in 1 km",
    0.01: "10 m in 1 km",
    1e-3: "1 m in 1 km",
    1e-4: "10 cm in 1 km",
    1e-5: "1 cm in 1 km",
}


@dataclass(frozen=True)
class Mark:
    """A vertical line with its meaning; ``danger`` also hatches the side that must not be entered."""

    at: float
    text: str
    danger: str = ""


@dataclass(frozen=True)
class Curves:
    """What to draw, in the units shown.

    Attributes
    ----------
    at : (levels,)
    share : Interval, (candidates, levels)
        By candidate index.
    label : str
        Of the horizontal axis, with unit.
    marks : list of Mark
    """

    at: Array
    share: Interval
    label: str
    marks: list[Mark] = field(default_factory=list)


def curves(choice: Choice, what: Curves, title: str, note: str, figure_width: float = style.WIDE) -> Figure:
    """Draw the chart: panels side by side, or one below the other on a narrow figure."""
    note = f"{note} {choice.left_out}".strip()
    panels = lay_panels(choice, title, note, figure_width, _side())
    limits = _limits(choice, what)
    for axes, members in panels:
        first = axes.get_position().x0 * figure_width < _side() + 0.01
        _panel(axes, what, limits, first, panels.room)
        for c in members:
            _line(axes, what, c, choice.by)
        _marks(axes, what.marks, panels.room)
    return panels.figure


def _side() -> float:
    return width(max(_SHARES.values(), key=len), style.SMALL) + 0.3


def _limits(choice: Choice, what: Curves) -> tuple[float, float, float]:
    """Left, right, and lowest share, common to all panels."""
    kept = [c.index for _, members in choice.panels for c in members]
    share = what.share.value[kept]
    drawn = np.isfinite(share) & (share < 0.9999)
    lowest = float(np.nanmin(np.where(share > 0, share, np.nan))) if np.isfinite(share).any() else 1e-3
    levels = what.at[drawn.any(axis=0)]
    ends = [*levels[[0, -1]].tolist()] if levels.size else [0.0, 1.0]
    ends += [m.at for m in what.marks]
    span = (max(ends) - min(ends)) or 1.0
    return min(ends) - 0.04 * span, max(ends) + 0.04 * span, max(10 ** np.floor(np.log10(lowest)), 1e-5)


def _panel(axes: Axes, what: Curves, limits: tuple[float, float, float], first: bool, room: float) -> None:
    style.dress(axes, grid="both")
    axes.set_yscale("log")
    axes.set_xlim(limits[0], limits[1])
    axes.set_ylim(limits[2], 1.5)
    ticks = [s for s in _SHARES if s >= limits[2] * 0.99]
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FixedFormatter([_SHARES[s] if first else "" for s in ticks]))
    axes.xaxis.set_major_locator(MaxNLocator(max(int(room / 0.6), 2)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.set_xlabel(what.label, size=style.SMALL, color=style.INK, labelpad=2)


def _line(axes: Axes, what: Curves, c: Candidate, by: str) -> None:
    appearance = style.look(c.place.get(by, 0))
    value, low, high = (end[c.index] for end in (what.share.value, what.share.low, what.share.high))
    floor = axes.get_ylim()[0]
    axes.fill_between(what.at, np.maximum(low, floor), high, color=appearance.colour, alpha=0.18, linewidth=0)
    axes.plot(what.at, value, color=appearance.colour, linestyle=appearance.line, linewidth=2.2)
    seen = np.flatnonzero(np.isfinite(value) & (value < 0.9999) & (value >= floor))
    if seen.size:
        last = seen[np.argmin(value[seen])]
        axes.plot(what.at[last], value[last], marker=appearance.marker, color=appearance.colour, markersize=7)


def _marks(axes: Axes, marks: list[Mark], room: float) -> None:
    left, right = axes.get_xlim()
    for row, mark in enumerate(marks):
        axes.axvline(mark.at, color=style.DANGER if mark.danger else style.INK, linewidth=1.4)
        if mark.danger:
            edge = left if mark.danger == "left" else right
            axes.axvspan(edge, mark.at, facecolor="none", edgecolor=style.DANGER, alpha=0.25, hatch="////")
        before = (mark.at - left) / (right - left) * room
        need = width(mark.text, 9.0) + 0.1
        text = plain(mark.text)
        near_right = before > need if mark.danger else room - before < need
        widest = max(width(word, 9.0) for word in mark.text.split()) + 0.15
        if near_right and not mark.danger and room - before > widest:
            # Curves that fall to the left lie there: rather two lines of text on the right than one over them.
            text, near_right = "\n".join(fold(mark.text, room - before - 0.1, 9.0)), False
        axes.annotate(
            text,
            (mark.at, 0.93 if mark.danger else 0.02 + 0.09 * row),
            xycoords=("data", "axes fraction"),
            xytext=(-4 if near_right else 4, 0),
            textcoords="offset points",
            ha="right" if near_right else "left",
            va="top" if mark.danger else "bottom",
            size=9.0,
            color=style.DANGER if mark.danger else style.INK,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
        )
