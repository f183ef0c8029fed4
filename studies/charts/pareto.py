"""Chart: candidates that no other beats in everything, two outcomes against each other in each panel."""

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import Candidate, candidates
from crossaxle.studies.analysis.outcomes import Outcome
from crossaxle.studies.analysis.trade_offs import MASS_HEIGHT, TradeOff, considered, trade_off
from crossaxle.studies.base.number_format import tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import hue
from crossaxle.studies.charts.text import fold, plain
from crossaxle.studies.charts.text import width as text_width

_PAIRS = (
    ("unload_events", "body_roll_maximum"),
    ("unload_events", "gap_minimum"),
    ("unload_events", "body_torque_maximum"),
    (MASS_HEIGHT, "gap_minimum"),
)
"""Outcomes across and up; the height of the mass where it differs between candidates."""
MOST_NAMES = 12
MOST_STACKED = 3
"""Of more candidates none is named beside its mark, and of marks that lie on one another no more than so many."""


def pareto(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw outcome against outcome: filled what no other candidate beats in everything, hollow what one does.

    Raises
    ------
    ValueError
        If there is one candidate only.
    """
    everyone, outcomes = candidates(ds), considered(ds, course)
    if len(everyone) < 2:
        raise ValueError("one candidate cannot be compared with another")
    found = trade_off(outcomes)
    named = {
        key: o
        for o in outcomes
        for key in dict(_PAIRS) | dict(p[::-1] for p in _PAIRS)
        if o.key.startswith(key)
    }
    pairs = [(named[x], named[y]) for x, y in _PAIRS if x in named and y in named]
    note = (
        "Filled: no other candidate is as good in every outcome and better in one. Hollow: another is. Lower left is "
        "better; all outcomes count, also those not drawn here."
    )
    title = _title(everyone, found)
    columns = min(len(pairs), max(int(width // 2.9), 1))
    bands = -(-len(pairs) // columns)
    columns = -(-len(pairs) // bands)
    tall, foot, top = 2.5, 0.62, 0.15
    by = hue(ds)
    key = {c.place[by]: fold(c.texts[by], width - 0.6, 9.0, most=1)[0] for c in everyone} if by else {}
    abreast = max(int((width - 0.2) // (max(map(_long, key.values()), default=1.0) + 0.5)), 1)
    head = style.heading_height(title, note, width) + 0.15 + 0.2 * -(-len(key) // abreast)
    made = style.figure(width, head + bands * (tall + foot + top))
    style.heading(made, title, note)
    height = made.get_size_inches()[1]
    each = width / columns
    for k, (x, y) in enumerate(pairs):
        band, column = divmod(k, columns)
        bottom = height - head - (band + 1) * (tall + foot + top) + foot
        box = (column * each + 0.75, bottom, each - 0.95, tall)
        axes = made.add_axes((box[0] / width, box[1] / height, box[2] / width, box[3] / height))
        _panel(axes, everyone, by, x, y, found, box[2])
    _legend(made, key, abreast, 1 - (style.heading_height(title, note, width) + 0.05) / height)
    return made


def _panel(
    axes: Axes, everyone: list[Candidate], by: str, x: Outcome, y: Outcome, found: TradeOff, room: float
) -> None:
    style.dress(axes)
    across, up = x.estimate.value, y.estimate.value
    for c in everyone:
        look = style.look(c.place.get(by, 0))
        if not np.isfinite([across[c.index], up[c.index]]).all():
            continue
        axes.plot(
            [across[c.index]],
            [up[c.index]],
            marker=look.marker,
            color=look.colour,
            markersize=8,
            fillstyle="full" if found.kept[c.index] else "none",
            linestyle="none",
            zorder=3,
        )
    axes.set_xlabel(f"{x.heading} [{x.unit}]", size=style.SMALL, color=style.INK, labelpad=2)
    axes.set_ylabel("\n".join(fold(f"{y.heading} [{y.unit}]", 2.4, style.SMALL, most=2)), size=style.SMALL)
    for axis, numbers in ((axes.xaxis, across), (axes.yaxis, up)):
        axis.set_major_locator(MaxNLocator(max(int(room / 0.6), 2)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
        _limits(axes, axis is axes.xaxis, numbers)
    _names(axes, everyone, by, across, up)


def _limits(axes: Axes, across: bool, numbers: Array) -> None:
    good = numbers[np.isfinite(numbers)]
    if not good.size:
        return
    low, high = float(good.min()), float(good.max())
    margin = 0.14 * (high - low) or 0.1 * abs(high) or 1.0
    set_limits = axes.set_xlim if across else axes.set_ylim
    set_limits(low - margin, high + margin)


def _names(axes: Axes, everyone: list[Candidate], by: str, across: Array, up: Array) -> None:
    """Write what sets a candidate apart beside its mark, but for what colour tells, where there are few enough.

    Names that would lie on one another or on a mark are moved up, or left away where that is too far.
    """
    shown = [c for c in everyone if np.isfinite([across[c.index], up[c.index]]).all()]
    if len(everyone) > MOST_NAMES or not any(len(c.texts) > 1 for c in shown):
        return
    corner, size = axes.transData.transform, axes.bbox
    dots = axes.figure.dpi
    places = [corner((across[c.index], up[c.index])) for c in shown]
    half = 5 / 72 * dots
    # left end, right end and height of marks and of what is written
    taken: list[tuple[float, float, float]] = [(x - half, x + half, y) for x, y in places]
    for c in sorted(shown, key=lambda c: up[c.index]):
        x, y = corner((across[c.index], up[c.index]))
        left = x > size.x0 + 0.7 * size.width
        text = ", ".join(_short(text) for name, text in c.texts.items() if name != by)
        long, aside = text_width(text, 8.0) * dots, 7 / 72 * dots
        ends = (x - aside - long, x - aside) if left else (x + aside, x + aside + long)
        step, at = dots / 72 * 9.5, y
        for first, last, height in sorted(taken, key=lambda one: one[2]):
            if first < ends[1] and last > ends[0] and abs(at - height) < step:
                at = height + step
        if at - y > (MOST_STACKED - 1) * step:
            continue
        taken.append((*ends, at))
        axes.annotate(
            plain(text),
            (across[c.index], up[c.index]),
            xytext=(-7 if left else 7, (at - y) * 72 / dots),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center",
            size=8,
            color=style.SOFT,
        )


def _short(text: str) -> str:
    """Leave a swept quantity's name away where a number follows: ``wheelbase 4.4 m`` to ``4.4 m``."""
    number = next((k for k, c in enumerate(text) if c.isdigit()), None)
    return text if number is None else text[number:]


def _legend(made: Figure, key: dict[int, str], abreast: int, top: float) -> None:
    """Name the choices that colour and marker tell, in lines under the heading."""
    handles = []
    for k, text in sorted(key.items()):
        look = style.look(k)
        handles += made.axes[0].plot(
            [], [], marker=look.marker, color=look.colour, linestyle="none", label=text
        )
    if handles:
        made.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(0.0, top), ncols=min(len(handles), abreast),
            fontsize=9, frameon=False, borderaxespad=0.0, handletextpad=0.3,
        )  # fmt: skip


def _long(text: str) -> float:
    """Length of a name of the key [inches]."""
    return text_width(text, 9.0)


def _title(everyone: list[Candidate], found: TradeOff) -> str:
    kept = [c for c in everyone if found.kept[c.index]]
    if len(kept) == len(everyone):
        return "No candidate is beaten in every outcome: each choice trades one for another"
    if len(kept) == 1:
        return f"{kept[0].name} beats all others in every outcome"
    sure = int(found.surely.sum())
    text = f"{len(kept)} of {len(everyone)} candidates are worth weighing; the others are beaten in every outcome"
    return f"{text}, {sure} of them for sure" if sure else text
