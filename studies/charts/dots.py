"""A row per candidate, a dot with its interval per quantity: the chart for comparing candidates by numbers.

Rows are grouped by all choices but one (the *hue*: the mount, where it is swept), which colour and marker
tell. It takes one candidate or forty, and names of any length.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator
from matplotlib.transforms import ScaledTranslation, Transform, blended_transform_factory

from crossaxle.studies.analysis.candidates import Candidate, swept
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import bounds, decimals_for, fixed, tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold, width

_Line = tuple[Candidate | None, str]
_ROW = 0.34
_GROUP = 0.32
_FOOT = 0.5
_TOP = 0.45


@dataclass(frozen=True)
class DotPanel:
    """One quantity: heading, unit, and its estimate for each candidate.

    ``endless`` is written where the value is infinite; ``mark`` is a value to compare with, drawn as a line.
    """

    heading: str
    unit: str
    estimate: Interval
    endless: str = ""
    mark: float | None = None


def hue(ds: xr.Dataset) -> str:
    """Return the swept quantity that colour tells: the mount, else the last in words, else the last."""
    names = swept(ds)
    if "mount" in names and ds.sizes["mount"] > 1:
        return "mount"
    several = [n for n in names if ds.sizes[n] > 1]
    words = [n for n in several if n in ds.coords and ds[n].dtype.kind in "UO"]
    return (words or several or list(names) or [""])[-1]


def dots(
    rows: list[Candidate],
    by: str,
    panels: list[DotPanel],
    title: str,
    note: str,
    figure_width: float = style.WIDE,
    *,
    common: bool = False,
    linear: bool = False,
) -> Figure:
    """Draw the chart; panels side by side on a wide figure, one below the other on a narrow one.

    Parameters
    ----------
    rows : list of Candidate
    by : str
        The hue; empty where nothing was swept.
    panels : list of DotPanel
    title, note : str
    figure_width : float
        [inches]
    common : bool
        One range for all panels: they show the same quantity.
    linear : bool
        Never a logarithmic axis.
    """
    lines = _lines(rows, by)
    tall = sum(_GROUP if c is None else _ROW for c, _ in lines) + 0.15
    room = _label_room(lines, figure_width)
    columns = min(len(panels), max(int((figure_width - room) // 1.65), 1))
    bands = -(-len(panels) // columns)
    columns = -(-len(panels) // bands)
    head = style.heading_height(title, note, figure_width)
    made = style.figure(figure_width, head + bands * (tall + _TOP + _FOOT))
    style.heading(made, title, note)
    height = made.get_size_inches()[1]
    each = (figure_width - room - 0.1) / columns
    everything = Interval(*(np.stack([getattr(p.estimate, end) for p in panels]) for end in _ENDS))
    for k, panel in enumerate(panels):
        band, column = divmod(k, columns)
        bottom = height - head - (band + 1) * (tall + _TOP + _FOOT) + _FOOT
        box = (room + column * each, bottom, each - 0.3, tall)
        axes = made.add_axes((box[0] / figure_width, box[1] / height, box[2] / figure_width, box[3] / height))
        _panel(axes, lines, panel, everything if common else panel.estimate, box[2], linear)
        _marks(axes, lines, by, panel, box[2])
        if column == 0:
            _names(axes, lines, room)
    return made


_ENDS = ("value", "low", "high")


def _lines(rows: list[Candidate], by: str) -> list[_Line]:
    """List rows from the top: a group's name (no candidate), then its candidates and what sets them apart."""
    grouped = by and any(len(c.texts) > 1 for c in rows)
    groups: dict[str, list[Candidate]] = {}
    for c in rows:
        rest = ", ".join(text for name, text in c.texts.items() if name != by) if grouped else ""
        groups.setdefault(rest, []).append(c)
    lines: list[_Line] = []
    for rest, members in groups.items():
        if grouped:
            lines.append((None, rest))
        lines.extend((c, c.texts[by] if by else c.name) for c in members)
    return lines


def _label_room(lines: list[_Line], figure_width: float) -> float:
    """Width for the names [inches]: what they need, at most a third of the figure."""
    longest = max((width(text, style.SMALL) for c, text in lines if c is not None), default=0.0)
    return min(max(longest, 0.8) + 0.35, figure_width / 3)


def _heights(lines: list[_Line]) -> list[float]:
    """Vertical middle of each line [inches from the top]."""
    steps = [_GROUP if c is None else _ROW for c, _ in lines]
    ends = 0.05 + np.cumsum(steps)
    return [float(end - step / 2) for end, step in zip(ends, steps, strict=True)]


def _names(axes: Axes, lines: list[_Line], room: float) -> None:
    at = _inches(axes)
    for (c, text), y in zip(lines, _heights(lines), strict=True):
        size = style.SMALL
        space = room - 0.25 if c is not None else room + 1.2
        folded = fold(text, space, size, most=1)
        if folded[-1].endswith("…"):
            size = 8.0
            folded = fold(text, space, size, most=2)
        axes.text(
            -0.12 if c is not None else -room + 0.1,
            y + (0.03 if c is None else 0.0),
            "\n".join(folded),
            transform=at,
            ha="right" if c is not None else "left",
            va="center",
            size=size,
            color=style.INK if c is not None else style.SOFT,
            linespacing=1.0,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )


def _inches(axes: Axes) -> Transform:
    """Transform: x in inches from the left edge of the axes, y as data."""
    made = axes.get_figure()
    assert isinstance(made, Figure)
    left = axes.get_position().x0 * made.get_size_inches()[0]
    shift = ScaledTranslation(left, 0, made.dpi_scale_trans)
    return blended_transform_factory(made.dpi_scale_trans + shift, axes.transData)


def _panel(
    axes: Axes, lines: list[_Line], panel: DotPanel, ranged: Interval, room: float, linear: bool
) -> None:
    """Frame, heading and axis of one panel."""
    style.dress(axes)
    y = _heights(lines)
    axes.set_ylim(y[-1] + _ROW / 2 + 0.1, 0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    for (c, _), middle in zip(lines, y, strict=True):
        if c is None:
            axes.axhline(middle - _GROUP / 2, color=style.RULE, linewidth=0.8)
    heading = "\n".join(fold(panel.heading, room, style.TEXT, weight="bold", most=2))
    axes.set_title(heading, size=style.TEXT, weight="bold", color=style.INK, loc="left", pad=4, y=1.0)
    axes.set_xlabel(panel.unit, size=style.SMALL, color=style.INK, labelpad=2)
    low, high, log = _range(ranged, room, linear, panel.mark)
    if log:
        axes.set_xscale("log")
        axes.xaxis.set_major_locator(LogLocator(numticks=max(int(room / 0.55), 2)))
        axes.xaxis.set_minor_locator(NullLocator())
    else:
        axes.xaxis.set_major_locator(MaxNLocator(max(int(room / 0.6), 2)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.set_xlim(low, high)
    if low < 0 < high:
        axes.axvline(0.0, color=style.INK, linewidth=1.0)


def _marks(axes: Axes, lines: list[_Line], by: str, panel: DotPanel, room: float) -> None:
    """Dot, interval and number of each candidate."""
    if panel.mark is not None:
        axes.axvline(panel.mark, color=style.INK, linewidth=1.2, linestyle=(0, (4, 2)))
    low, high = axes.get_xlim()
    log = axes.get_xscale() == "log"
    for (c, _), middle in zip(lines, _heights(lines), strict=True):
        if c is None:
            continue
        appearance = style.look(c.place.get(by, 0))
        one = panel.estimate[c.index]
        value = float(one.value)
        if not np.isfinite(value):
            said = panel.endless if np.isposinf(value) else "does not apply"
            axes.text(
                0.02, middle, said, transform=axes.get_yaxis_transform(), va="center",
                size=9, color=style.SOFT,
            )  # fmt: skip
            continue
        left, right = float(np.clip(one.low, low, high)), float(np.clip(one.high, low, high))
        axes.plot([left, right], [middle, middle], color=appearance.colour, linewidth=2.2)
        none = log and value <= 0
        marker, at, fill = ("<", right, "none") if none else (appearance.marker, value, "full")
        axes.plot([at], [middle], marker=marker, color=appearance.colour, markersize=8, fillstyle=fill)
        _figure_beside(axes, one, middle, (min(left, at), max(right, at)), room)


def _figure_beside(axes: Axes, one: Interval, y: float, ends: tuple[float, float], room: float) -> None:
    """Write the number right of the interval, or left of it where there is more space."""
    decimals = decimals_for(one)
    text = fixed(float(one.value), decimals)
    low, high = axes.get_xlim()
    log = axes.get_xscale() == "log"
    if log and float(one.value) <= 0:
        text = f"none ({bounds(one, decimals)})"
    scaled = [np.log(v / low) / np.log(high / low) if log else (v - low) / (high - low) for v in ends]
    need = width(text, style.SMALL) + 0.15
    right = (1 - scaled[1]) * room >= need or scaled[0] * room < need
    axes.annotate(
        text,
        (ends[1] if right else ends[0], y),
        xytext=(7 if right else -7, 0),
        textcoords="offset points",
        va="center",
        ha="left" if right else "right",
        size=style.SMALL,
        color=style.INK,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )


def _range(estimate: Interval, room: float, linear: bool, mark: float | None) -> tuple[float, float, bool]:
    """Axis limits, and whether the axis is logarithmic: where the largest is over 30 times the smallest."""
    everything = np.concatenate([np.ravel(getattr(estimate, end)) for end in _ENDS])
    everything = np.append(everything[np.isfinite(everything)], [] if mark is None else [mark])
    if not everything.size or not everything.any():
        return 0.0, 1.0, False
    least, most = float(everything.min()), float(everything.max())
    positive = estimate.value[np.isfinite(estimate.value) & (estimate.value > 0)]
    # Where a number is left of its interval it must not run over the edge: leave it room on the right.
    beside = min(0.75 / room, 0.4)
    if not linear and least >= 0 and positive.size and most > 30 * positive.min():
        uppers = estimate.high[np.isfinite(estimate.high) & (estimate.high > 0)]
        bottom = min(float(positive.min()), float(uppers.min(initial=np.inf)), mark or np.inf) / 4
        return bottom, float(bottom * (most / bottom) ** (1 / (1 - beside))), True
    left = min(least, 0.0)
    right = max(most, 0.0)
    return left * 1.1, left + (right - left) / (1 - beside), False
