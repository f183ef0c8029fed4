"""A row per candidate, a dot with its interval per quantity: the chart for comparing candidates by numbers.

Rows are grouped by all choices but one (the *hue*: the mount, where it is swept), which colour and marker tell.
It takes one candidate or forty, and names of any length.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator

from studies.candidates import Candidate, swept
from studies.charts import style
from studies.display import bounds, decimals_for, fixed, tick
from studies.statistics import Interval

_Line = tuple[Candidate | None, str]
_ROW = 0.34
_GROUP = 0.30
_LABELS = 2.5


@dataclass(frozen=True)
class Panel:
    """One quantity: heading, unit, and its estimate for each candidate."""

    heading: str
    unit: str
    estimate: Interval


def hue(ds: xr.Dataset) -> str:
    """Return the swept quantity that colour tells: the mount, else the last one in words, else the last one."""
    names = swept(ds)
    if "mount" in names and ds.sizes["mount"] > 1:
        return "mount"
    several = [n for n in names if ds.sizes[n] > 1]
    words = [n for n in several if ds[n].dtype.kind in "UO"]
    return (words or several or list(names) or [""])[-1]


def dots(
    rows: list[Candidate], by: str, panels: list[Panel], title: str, note: str, width: float = style.WIDE
) -> Figure:
    """Draw the chart; side by side on a wide figure, one below the other on a narrow one.

    Parameters
    ----------
    rows : list of Candidate
    by : str
        The hue; empty where nothing was swept.
    panels : list of Panel
    title, note : str
    width : float
        [inches]
    """
    lines = _lines(rows, by)
    panel_height = sum(_GROUP if c is None else _ROW for c, _ in lines) + 0.15
    columns = min(len(panels), max(int((width - _LABELS) // 2.3), 1)) if width >= 7 else 1
    labels = _LABELS if width >= 7 else 1.55
    bands = -(-len(panels) // columns)
    head = style.heading_height(title, note, width)
    band_height = panel_height + 0.95
    made = style.figure(width, head + bands * band_height)
    style.heading(made, title, note)
    height = made.get_size_inches()[1]
    each = (width - labels - 0.15) / columns
    for k, panel in enumerate(panels):
        band, column = divmod(k, columns)
        bottom = height - head - (band + 1) * band_height + 0.5
        area = (
            (labels + column * each) / width,
            bottom / height,
            (each - 0.2) / width,
            panel_height / height,
        )
        axes = made.add_axes(area)
        _panel(axes, lines, by, panel, each - 0.2)
        if column == 0:
            _names(axes, lines, labels)
    return made


def _lines(rows: list[Candidate], by: str) -> list[_Line]:
    """Rows from top to bottom: a group's name (no candidate), then its candidates with what tells them apart."""
    grouped = any(len(c.texts) > 1 for c in rows) and by
    lines: list[_Line] = []
    groups: dict[str, list[Candidate]] = {}
    for c in rows:
        rest = ", ".join(text for name, text in c.texts.items() if name != by) if grouped else ""
        groups.setdefault(rest, []).append(c)
    for rest, members in groups.items():
        if grouped:
            lines.append((None, rest))
        lines.extend((c, c.texts[by] if by else c.name) for c in members)
    return lines


def _heights(lines: list[_Line]) -> list[float]:
    """Vertical middle of each line [inches from the top]."""
    out, top = [], 0.05
    for c, _ in lines:
        step = _GROUP if c is None else _ROW
        out.append(top + step / 2)
        top += step
    return out


def _names(axes: Axes, lines: list[_Line], room: float) -> None:
    for (c, text), y in zip(lines, _heights(lines), strict=True):
        size = style.SMALL if c is None else style.TEXT
        folded = style.fold(text, (room - 0.25) * 72 / (size * 0.62), most=2)
        if len(folded) > 1:
            size = 8.5
            folded = style.fold(text, (room - 0.25) * 72 / (size * 0.62), most=2)
        axes.text(
            -0.12 if c is not None else -(room - 0.1),
            y,
            "\n".join(folded),
            transform=_inches(axes),
            ha="right" if c is not None else "left",
            va="center",
            size=size,
            color=style.INK if c is not None else style.SOFT,
            linespacing=1.0,
        )


def _inches(axes: Axes):  # type: ignore[no-untyped-def]
    """Transform: x in inches from the left edge of the axes, y as data."""
    from matplotlib.transforms import ScaledTranslation, blended_transform_factory

    figure = axes.figure
    return blended_transform_factory(figure.dpi_scale_trans, axes.transData) + ScaledTranslation(
        axes.get_position().x0 * figure.get_size_inches()[0], 0, figure.dpi_scale_trans
    )


def _panel(axes: Axes, lines: list[_Line], by: str, panel: Panel, room: float) -> None:
    """Dots, intervals and the numbers beside them."""
    style.dress(axes)
    y = _heights(lines)
    total = y[-1] + _ROW / 2 + 0.1
    axes.set_ylim(total, 0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_title(
        "\n".join(style.fold(panel.heading, room * 72 / (style.TEXT * 0.64), most=2)),
        size=style.TEXT,
        weight="bold",
        color=style.INK,
        loc="left",
        pad=4,
    )
    axes.set_xlabel(panel.unit, size=style.SMALL, color=style.INK, labelpad=2)
    low, high, log = _range(panel.estimate)
    if log:
        axes.set_xscale("log")
        axes.xaxis.set_major_locator(LogLocator(numticks=5))
        axes.xaxis.set_minor_locator(LogLocator(subs=[], numticks=2))
    else:
        axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda v, _: tick(v)))
    axes.set_xlim(low, high)
    for (c, _), middle in zip(lines, y, strict=True):
        if c is None:
            continue
        appearance = style.look(c.place.get(by, 0))
        one = panel.estimate[c.index]
        value = float(one.value)
        left, right = float(np.clip(one.low, low, high)), float(np.clip(one.high, low, high))
        if not np.isfinite(value):
            axes.text(
                0.0,
                middle,
                "  does not apply",
                transform=axes.get_yaxis_transform(),
                va="center",
                size=9,
                color=style.SOFT,
            )
            continue
        axes.plot(
            [left, right], [middle, middle], color=appearance.colour, linewidth=2.2, solid_capstyle="butt"
        )
        if value > 0 or not log:
            axes.plot([value], [middle], marker=appearance.marker, color=appearance.colour, markersize=8)
        else:
            axes.plot([right], [middle], marker="<", color=appearance.colour, markersize=8, fillstyle="none")
        _figures(axes, one, middle, right, left, log)


def _figures(axes: Axes, one: Interval, middle: float, right: float, left: float, log: bool) -> None:
    decimals = decimals_for(one)
    text = fixed(float(one.value), decimals)
    if float(one.value) == 0 and log:
        text = f"none seen; {bounds(one, decimals)}"
    low, high = axes.get_xlim()
    share = np.log(right / low) / np.log(high / low) if log else (right - low) / (high - low)
    inside = share < 0.72
    axes.annotate(
        text,
        (right if inside else left, middle),
        xytext=(6 if inside else -6, 0),
        textcoords="offset points",
        va="center",
        ha="left" if inside else "right",
        size=style.SMALL,
        color=style.INK,
    )


def _range(estimate: Interval) -> tuple[float, float, bool]:
    """Axis limits, and whether the axis is logarithmic: where the largest is over 30 times the smallest."""
    everything = np.concatenate([estimate.value, estimate.low, estimate.high])
    everything = everything[np.isfinite(everything)]
    if everything.size == 0 or (everything.max() <= 0 and everything.min() >= 0):
        return 0.0, 1.0, False
    positive = estimate.value[np.isfinite(estimate.value) & (estimate.value > 0)]
    top = float(everything.max())
    if everything.min() >= 0 and positive.size and (top > 30 * positive.min()):
        uppers = estimate.high[np.isfinite(estimate.high) & (estimate.high > 0)]
        bottom = min(float(positive.min()) / 4, float(uppers.min()) / 4)
        return bottom, top * 1.3, True
    span = top - min(float(everything.min()), 0.0)
    return min(float(everything.min()) - 0.05 * span, 0.0), max(top, 0.0) + 0.08 * span, False
