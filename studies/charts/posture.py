"""A truck in one posture: seen from the left, seen from behind, and how the frame turns along its length.

The views are true to scale, not exaggerated.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon
from numpy.typing import ArrayLike

from sim.posture import Posture
from studies.charts import style
from studies.charts.text import fold
from studies.posture_shape import Array, Shape, posture_shape
from vehicles.assemble import Vehicle

TYRE_WIDTH = 0.36
"""Drawn width of a tyre; the file has none [m]."""

_FAR: dict[str, Any] = {"color": style.SOFT, "linewidth": 1.2, "linestyle": (0, (4, 2))}
_NEAR: dict[str, Any] = {"color": style.INK, "linewidth": 1.8}
_COLOURS = {"cab": "#3b9c8f", "body": "#0f3d5c"}
_PROFILE = 2.3
_ROW_HEAD = 0.4
_VIEW_FOOT = 0.1
_PLOT_FOOT = 0.55
_BELOW = 0.12
"""Drawn below the ground [m]."""


def posture_chart(
    vehicle: Vehicle, posture: Posture, ground: ArrayLike, title: str, note: str, width: float = style.WIDE
) -> Figure:
    """Draw one good posture on ground heights (w,) [m]: views, and the rails' angle along the frame.

    Parameters
    ----------
    vehicle : Vehicle
    posture : Posture
    ground : (w,)
    title, note : str
    width : float
        [inches]
    """
    shape = posture_shape(vehicle, posture, ground)
    made, places = page(title, note, view_rows(shape, width), [_PROFILE], width)
    draw_views(made, places[:-1], shape, width)
    axes = add_axes(made, places[-1], 0, 1)
    draw_rail_angle(axes, vehicle, [("", posture)])
    return made


def page(
    title: str, note: str, views: Sequence[float], plots: Sequence[float], width: float
) -> tuple[Figure, list[tuple[float, float]]]:
    """Make a figure with heading, then rows of views and of plots of given heights; with bottom and height of each row.

    All in inches. Plots have room below for their axis.
    """
    rows = [(height, _VIEW_FOOT) for height in views] + [(height, _PLOT_FOOT) for height in plots]
    head = style.heading_height(title, note, width) + 0.1
    made = style.figure(width, head + sum(height + foot + _ROW_HEAD for height, foot in rows))
    style.heading(made, title, note)
    top = made.get_size_inches()[1] - head
    places = []
    for height, foot in rows:
        top -= height + foot + _ROW_HEAD
        places.append((top + foot, height))
    return made, places


def add_axes(made: Figure, place: tuple[float, float], column: int, columns: int) -> Axes:
    """Add axes in one of several columns of a row."""
    width, height = made.get_size_inches()
    each = (width - 0.1) / columns
    left = column * each + 0.65
    return made.add_axes((left / width, place[0] / height, (each - 0.8) / width, place[1] / height))


def view_rows(shape: Shape, width: float) -> list[float]:
    """Return the heights of the two rows of views: one scale, smaller from behind only where the width asks for it."""
    length, _, top = _extent(shape)
    scale = (width - 0.9) / length
    return [scale * top, min(scale, (0.5 * width - 0.85) / _breadth(shape)) * top]


def draw_views(made: Figure, places: Sequence[tuple[float, float]], shape: Shape, width: float) -> None:
    """Draw the side view, and below it the first and the last axle seen from behind."""
    draw_side(add_axes(made, places[0], 0, 1), shape)
    for column, (axle, words) in enumerate(((0, "first axle"), (len(shape.sections) - 1, "last axle"))):
        axes = add_axes(made, places[1], column, 2)
        draw_from_behind(axes, shape, axle, f"{words}, seen from behind" if width > 6 else words)


def draw_side(axes: Axes, shape: Shape) -> None:
    """Draw the truck seen from the left, front to the left; what is on the far, right side is dashed."""
    _bare(axes)
    row_title(axes, "seen from the left", "right side dashed, free wheels red")
    for part, box in shape.boxes.items():
        for corners, look in ((slice(2, 4), _FAR), (slice(0, 2), _NEAR)):
            face = box[:, corners]
            outline = np.array([face[0, 0], face[0, 1], face[1, 1], face[1, 0], face[0, 0]])
            axes.plot(-outline[:, 0], outline[:, 2], **{**look, "color": _COLOURS[part]})
    for side, look in (("right", _FAR), ("left", _NEAR)):
        axes.plot(-shape.rails[side][:, 0], shape.rails[side][:, 2], **{**look, "linewidth": 2.6})
    for tank in shape.tanks.values():
        axes.plot(
            -tank[1:3, 0], tank[1:3, 2], color=style.LOOKS[1].colour, linewidth=5, solid_capstyle="butt"
        )
    for wheel in shape.wheels:
        near = wheel.centre[1] > 0
        free = wheel.clearance > 0
        axes.add_patch(
            Circle(
                (-wheel.centre[0], wheel.centre[2]),
                wheel.radius,
                fill=False,
                edgecolor=style.DANGER if free else style.INK if near else style.SOFT,
                linewidth=1.8 if near else 1.2,
                linestyle="-" if near else (0, (4, 2)),
            )
        )
        _support(axes, -wheel.ground[0], wheel.ground[2], 0.75 * wheel.radius)
    length, start, top = _extent(shape)
    axes.set_xlim(start, start + length)
    axes.set_ylim(-_BELOW, top - _BELOW)


def draw_from_behind(axes: Axes, shape: Shape, axle: int, title: str) -> None:
    """Draw one axle, the frame there, and cab (first axle) or body, seen from behind: left is left."""
    _bare(axes)
    row_title(axes, title)
    left, right = shape.wheels[2 * axle : 2 * axle + 2]
    box = shape.boxes.get("cab" if axle == 0 else "body")
    if box is not None:
        axes.add_patch(_outline(box[1 if axle else 0], _COLOURS["body" if axle else "cab"], 1.8))
    section = shape.sections[axle]
    for web in (section[:2], section[2:]):
        axes.plot(-web[:, 1], web[:, 2], color=style.INK, linewidth=3.5, solid_capstyle="butt")
    middle = 0.5 * (section[:2].mean(axis=0) + section[2:].mean(axis=0))
    ends = np.array([section[:2].mean(axis=0), middle, section[2:].mean(axis=0)])
    axes.plot(-ends[:, 1], ends[:, 2], color=style.INK, linewidth=1.2)
    beam = np.array([left.centre, right.centre])
    axes.plot(-beam[:, 1], beam[:, 2], color=style.SOFT, linewidth=3.0)
    along = (left.centre - right.centre)[1:] / np.linalg.norm((left.centre - right.centre)[1:])
    for wheel in (left, right):
        corners = [
            wheel.centre[1:]
            + p * 0.5 * TYRE_WIDTH * along
            + q * wheel.radius * np.array([-along[1], along[0]])
            for p, q in ((-1, -1), (-1, 1), (1, 1), (1, -1))
        ]
        points = np.array([[0.0, *corner] for corner in corners])
        axes.add_patch(_outline(points, style.DANGER if wheel.clearance > 0 else style.INK, 1.6))
        _support(axes, -wheel.ground[1], wheel.ground[2], 0.5 * TYRE_WIDTH + 0.06)
    _, _, top = _extent(shape)
    axes.set_xlim(-0.5 * _breadth(shape), 0.5 * _breadth(shape))
    axes.set_ylim(-_BELOW, top - _BELOW)


def draw_rail_angle(axes: Axes, vehicle: Vehicle, postures: Sequence[tuple[str, Posture]]) -> None:
    """Draw the rotation of the pair of rails along the frame, one line per named posture, with axles and members."""
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
    """Write a row's title above its left edge; ``more`` only where the figure has room for it in the line."""
    room = axes.get_figure().get_size_inches()[0] - 0.7  # type: ignore[union-attr]
    long = f"{title} ({more})" if more else title
    text = long if len(fold(long, room, style.TEXT, weight="bold")) == 1 else title
    axes.set_title(text, size=style.TEXT, weight="bold", color=style.INK, loc="left", pad=5)


def label_ends(axes: Axes, ends: Sequence[tuple[float, str, str]]) -> None:
    """Write each line's name right of where it ends (value, name, colour), moved apart where they would overlap."""
    low, high = axes.get_ylim()
    height = axes.get_position().height * axes.get_figure().get_size_inches()[1]  # type: ignore[union-attr]
    step = (high - low) * 0.17 / height
    order = sorted(range(len(ends)), key=lambda i: ends[i][0])
    places = [ends[i][0] for i in order]
    for i, (below, above) in enumerate(pairwise(list(places))):
        places[i + 1] = max(above, places[i] + step, below)
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


def _outline(points: Array, colour: str, linewidth: float) -> Polygon:
    corners = np.column_stack([-points[:, 1], points[:, 2]])
    return Polygon(corners, closed=True, fill=False, edgecolor=colour, linewidth=linewidth)


def _support(axes: Axes, at: float, height: float, half: float) -> None:
    """Ground line under a wheel; a pedestal below it where it stands high."""
    if height > 0.005:
        corners = [(at - half, 0.0), (at - half, height), (at + half, height), (at + half, 0.0)]
        axes.add_patch(Polygon(corners, facecolor=style.RULE, edgecolor=style.SOFT, linewidth=1.0, zorder=0))
    else:
        axes.plot([at - half, at + half], [height, height], color=style.SOFT, linewidth=2.0)


def _bare(axes: Axes) -> None:
    axes.set_aspect("equal", anchor="SW")
    axes.set_axis_off()
    axes.axhline(0.0, color=style.SOFT, linewidth=1.0, zorder=0)


def _extent(shape: Shape) -> tuple[float, float, float]:
    """Length and first station of the side view, and its height, with a margin [m]."""
    points, radius = _points(shape), max(wheel.radius for wheel in shape.wheels)
    start, end = -float(points[:, 0].max()) - 0.1, -float(points[:, 0].min()) + 0.1
    first, last = (-shape.wheels[i].centre[0] for i in (0, -1))
    start, end = min(start, first - radius - 0.1), max(end, last + radius + 0.1)
    return end - start, start, float(points[:, 2].max()) + 0.1 + _BELOW


def _breadth(shape: Shape) -> float:
    """Breadth of the views from behind, with a margin [m]."""
    outermost = max(float(np.abs(_points(shape)[:, 1]).max()), abs(shape.wheels[0].centre[1]) + TYRE_WIDTH)
    return float(2.0 * (outermost + 0.1))


def _points(shape: Shape) -> Array:
    wheels = np.array([wheel.centre + wheel.radius * np.array([0.0, 0.0, 1.0]) for wheel in shape.wheels])
    boxes = [box.reshape(-1, 3) for box in shape.boxes.values()]
    return np.concatenate([*shape.rails.values(), *boxes, wheels])
