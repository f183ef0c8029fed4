"""Chart of a pedestal test: the truck at the last height, roll of the rails along the frame, loads over height."""

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crossaxle.sim.codes import GOOD
from crossaxle.studies.base.cautions import PEDESTALS, caution_note
from crossaxle.studies.base.number_format import quantity
from crossaxle.studies.charts import style
from crossaxle.studies.pedestal.pedestal_scene import pedestal_scene
from crossaxle.studies.pedestal.pedestal_test import Pedestal
from crossaxle.studies.pictures.frame_roll import draw_frame_roll, label_ends, row_title
from crossaxle.studies.pictures.posture_view import TextBlock, place_block, view_block

_PLOT = 2.4
_HEAD = 0.35
_FOOT = 0.6
_SIDE = 0.55
_NAMES = 1.0
_GAP = 0.15
_MOST_LINES = 4


def pedestal_chart(test: Pedestal, width: float = style.WIDE) -> Figure:
    """Draw a pedestal test.

    Parameters
    ----------
    test : Pedestal
    width : float
        [inches]
    """
    good = [i for i, posture in enumerate(test.postures) if posture.code == GOOD]
    title, note = _words(test, good)
    caution = caution_note(PEDESTALS)
    head = style.heading_height(title, note, width, caution) + 0.1
    rows = _views(test, good[-1], width) if good else []
    heights = [max(block.whole for block in row) for row in rows]
    plots = min(len(good), 2)
    made = style.figure(width, head + sum(heights) + _GAP * len(rows) + plots * (_PLOT + _HEAD + _FOOT))
    style.heading(made, title, note, caution)
    top = made.get_size_inches()[1] - head
    for row, height in zip(rows, heights, strict=True):
        left = 0.1
        for block in row:
            block.draw(place_block(made, block, left, top - height))
            left += block.width + _GAP
        top -= height + _GAP
    if good:
        chosen = np.unique(np.linspace(0, len(good) - 1, min(_MOST_LINES, len(good))).round().astype(int))
        named = [(f"{test.heights[good[i]] * 1e3:.0f} mm", test.postures[good[i]]) for i in chosen]
        draw_frame_roll(_plot(made, top), test.vehicle, named)
    if len(good) > 1:
        _draw_loads(_plot(made, top - _PLOT - _HEAD - _FOOT), test, good)
    return made


def _views(test: Pedestal, number: int, width: float) -> list[list[TextBlock]]:
    """Rows of views: from the left, then from behind and from the front left."""
    scene = pedestal_scene(test, number)
    whole = width - 0.2
    side = view_block([scene], scene, "left", whole, marks=False)
    behind = view_block([scene], scene, "behind", 0.38 * whole, marks=False)
    corner = view_block([scene], scene, "corner", 0.62 * whole - _GAP, marks=False)
    return [[side], [behind, corner]]


def _plot(made: Figure, top: float) -> Axes:
    """Axes over the whole width but for the names at the lines' ends, below ``top`` [inches]."""
    width, height = made.get_size_inches()
    bottom = top - _HEAD - _PLOT
    return made.add_axes((_SIDE / width, bottom / height, (width - _SIDE - _NAMES) / width, _PLOT / height))


def _draw_loads(axes: Axes, test: Pedestal, good: list[int]) -> None:
    style.dress(axes, grid="both")
    heights = np.array([test.heights[i] * 1e3 for i in good])
    order = np.argsort(heights)
    loads = np.array([test.postures[i].y[: len(test.wheels)] for i in good])[order] * 1e-3
    ends = []
    for wheel, name in enumerate(test.wheels):
        appearance = style.look(wheel)
        axes.plot(
            heights[order],
            loads[:, wheel],
            color=appearance.colour,
            linestyle=appearance.line,
            marker=appearance.marker,
            markersize=5,
        )
        ends.append((float(loads[-1, wheel]), name, appearance.colour))
    axes.set_ylim(0.0, float(loads.max()) * 1.08)
    axes.set_xlim(float(heights.min()), float(heights.max()))
    if test.first_free is not None:
        axes.axvline(test.first_free.height * 1e3, color=style.DANGER, linewidth=1.4)
    label_ends(axes, ends)
    axes.set_xlabel("height of the pedestals [mm]", size=style.SMALL, color=style.INK)
    row_title(axes, "wheel loads [kN]", "red: a wheel comes free" if test.first_free is not None else "")


def _words(test: Pedestal, good: list[int]) -> tuple[str, str]:
    """Title that says what happens, and a note on what is drawn."""
    free = test.first_free
    highest = max(test.heights, key=abs)
    if free is not None:
        title = f"The {free.wheel} wheel comes free first, at {quantity(free.height * 1e3, 'mm')}"
    elif not good:
        title = "The truck finds no stable posture at any of these heights"
    elif len(good) < len(test.heights):
        title = f"The truck tips before {quantity(highest * 1e3, 'mm')}"
    elif highest:
        title = f"All wheels stay down up to {quantity(highest * 1e3, 'mm')}"
    else:
        title = "All wheels stay down"
    file = test.vehicle.file
    what = "bare chassis" if test.vehicle.kinematics.bare else f"{file.mount} mount, {file.load_state}"
    drawn = ""
    if good:
        twist = next(i for i, o in enumerate(test.vehicle.structure.outputs) if o.quantity == "frame_twist")
        last = good[-1]
        angle = quantity(math.degrees(abs(float(test.postures[last].y[twist]))), "deg", 2)
        drawn = f" Drawn to scale at {quantity(test.heights[last] * 1e3, 'mm')}: frame twist {angle} between the axles."
    grade, side = (math.degrees(math.atan(tangent)) for tangent in test.slope)
    slope = f" Ground: grade {grade:.1f} deg, side slope {side:.1f} deg." if any(test.slope) else ""
    pedestals = f" Pedestals under {' and '.join(test.under)}." if highest else ""
    return title, f"{file.name}, {what}.{pedestals}{slope}{drawn} Computed, at rest."
