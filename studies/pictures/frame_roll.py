"""How a frame twists: roll of the pair of rails along the frame, a line per posture."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crossaxle.sim.posture import Posture
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold
from crossaxle.vehicles.assemble import Vehicle


def draw_frame_roll(axes: Axes, vehicle: Vehicle, postures: Sequence[tuple[str, Posture]]) -> None:
    """Draw the roll of the rails against the mean ground, one line per named good posture, with axles and members.

    The axes need room for the names right of them.
    """
    style.dress(axes, grid="both")
    outputs = vehicle.structure.outputs
    places = [i for i, output in enumerate(outputs) if output.quantity == "rail_angle"]
    stations = [float(outputs[i].item) for i in places]
    ends = []
    for k, (name, posture) in enumerate(postures):
        appearance = style.look(k)
        angles = np.degrees(posture.y[places])
        axes.plot(stations, angles, color=appearance.colour, linestyle=appearance.line, linewidth=2.0)
        ends.append((float(angles[-1]), name, appearance.colour))
    for member in vehicle.file.frame.cross_member.values():
        axes.axvline(vehicle.layout.station(member.at), color=style.RULE, linewidth=3, zorder=0)
    for station in vehicle.kinematics.axle_stations:
        axes.axvline(station, color=style.SOFT, linewidth=1.2, linestyle=(0, (5, 2, 1, 2)), zorder=1)
    axes.set_xlim(stations[0], stations[-1])
    label_ends(axes, ends)
    axes.set_xlabel("station behind the front axle [m]", size=style.SMALL, color=style.INK)
    row_title(axes, "roll of the rails against the mean ground [deg]", "grey: cross-members, dash-dot: axles")


def row_title(axes: Axes, title: str, more: str = "") -> None:
    """Write a title above the left edge of axes as wide as the figure; ``more`` only where the line has room for it."""
    room = _size(axes)[0] - 0.7
    long = f"{title} ({more})" if more else title
    text = long if len(fold(long, room, style.SMALL, weight="bold")) == 1 else title
    axes.set_title(text, size=style.SMALL, weight="bold", color=style.INK, loc="left", pad=5)


def label_ends(axes: Axes, ends: Sequence[tuple[float, str, str]]) -> None:
    """Write each line's name right of where it ends (value, name, colour), moved apart where they would overlap."""
    low, high = axes.get_ylim()
    step = (high - low) * 0.17 / (axes.get_position().height * _size(axes)[1])
    order = sorted(range(len(ends)), key=lambda i: ends[i][0])
    places = [ends[i][0] for i in order]
    for i, (_, above) in enumerate(pairwise(list(places))):
        places[i + 1] = max(above, places[i] + step)
    excess = max(0.0, (places[-1] if places else low) - high)
    for place, i in zip(places, order, strict=True):
        _, name, colour = ends[i]
        axes.annotate(
            name,
            (1.0, place - excess),
            xycoords=axes.get_yaxis_transform(),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            size=style.SMALL,
            color=colour,
            annotation_clip=False,
        )


def _size(axes: Axes) -> tuple[float, float]:
    """Width and height of the whole figure [inches]."""
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    width, height = figure.get_size_inches()
    return float(width), float(height)
