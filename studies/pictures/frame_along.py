"""Chart: how the frame twists along its length in the worst posture of each of a few candidates."""

from typing import NamedTuple

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from crossaxle.arrays import Array
from crossaxle.studies.base.number_format import quantity, tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold

_HEIGHT = 2.6
_SIDE = 0.75
_LINE = 0.27


class FrameLine(NamedTuple):
    """Roll of the pair of rails [rad] at stations behind the front axle [m], and the axles' stations [m]."""

    name: str
    stations: Array
    roll: Array
    axles: Array


def frame_along(lines: list[FrameLine], width: float = style.WIDE) -> Figure:
    """Draw the roll of the rails along the frame, a line per candidate, against that at the first axle.

    Parameters
    ----------
    lines : list of FrameLine
        One candidate each, in the posture in which its frame is twisted most.
    width : float
        [inches]
    """
    turned = [np.degrees(line.roll - np.interp(line.axles[0], line.stations, line.roll)) for line in lines]
    twists = [
        abs(float(np.interp(line.axles[-1], line.stations, roll)))
        for line, roll in zip(lines, turned, strict=True)
    ]
    said = [
        f"{quantity(twist, 'deg', 2)} with {line.name}" for twist, line in zip(twists, lines, strict=True)
    ]
    title = f"Between the axles the frame twists at worst by {' and '.join(said)}"
    note = (
        "Roll of the pair of rails against that at the front axle, in the posture in which the candidate's frame is "
        "twisted most, drawn to the same side for all. Hollow marks: axles. Steep stretches are where the frame gives."
    )
    legend = [fold(line.name, width - 1.2, style.TEXT, most=1)[0] for line in lines]
    head = style.heading_height(title, note, width) + _LINE * len(lines) + 0.1
    made = style.figure(width, head + _HEIGHT + 0.55)
    used = style.heading(made, title, note)
    height = made.get_size_inches()[1]
    axes = made.add_axes((_SIDE / width, 0.55 / height, (width - _SIDE - 0.3) / width, _HEIGHT / height))
    style.dress(axes, grid="both")
    key = made.add_axes((0, 0, 1, 1), zorder=-1)
    key.set_axis_off()
    key.set_xlim(0, width)
    key.set_ylim(height, 0)
    for k, (line, roll, text) in enumerate(zip(lines, turned, legend, strict=True)):
        look = style.look(k)
        side = np.sign(np.interp(line.axles[-1], line.stations, roll)) or 1.0
        axes.plot(line.stations, side * roll, color=look.colour, linestyle=look.line, linewidth=2.2)
        axes.plot(
            line.axles,
            np.interp(line.axles, line.stations, side * roll),
            linestyle="none",
            marker=look.marker,
            markersize=8,
            markerfacecolor="white",
            markeredgewidth=2,
            color=look.colour,
        )
        y = used + 0.15 + _LINE * k
        key.plot([0.12, 0.57], [y, y], color=look.colour, linestyle=look.line, linewidth=2.2)
        key.text(0.65, y, text, size=style.TEXT, color=style.INK, va="center")
    axes.xaxis.set_major_locator(MaxNLocator(8))
    axes.yaxis.set_major_locator(MaxNLocator(6))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _: tick(value)))
    axes.set_xlabel("station behind the front axle [m]", size=style.SMALL, color=style.INK, labelpad=2)
    axes.set_ylabel("roll of the rails [deg]", size=style.SMALL, color=style.INK, labelpad=2)
    return made
