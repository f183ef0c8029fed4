"""Chart of a pedestal test: the last posture in its views, rail angles along the frame, wheel loads over height."""

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from sim.codes import GOOD
from studies.charts import style
from studies.charts.posture import (
    add_axes,
    draw_rail_angle,
    draw_views,
    label_ends,
    page,
    row_title,
    view_rows,
)
from studies.display import quantity
from studies.pedestal import Pedestal
from studies.posture_shape import posture_shape

_PANEL = 2.5
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
    if not good:
        made = style.figure(width, style.heading_height(title, note, width) + 0.2)
        style.heading(made, title, note)
        return made
    last = good[-1]
    shape = posture_shape(test.vehicle, test.postures[last], test.ground(test.heights[last]))
    made, places = page(title, note, view_rows(shape, width), [_PANEL, _PANEL], width)
    draw_views(made, places[:2], shape, width)
    chosen = np.unique(np.linspace(0, len(good) - 1, min(_MOST_LINES, len(good))).round().astype(int))
    named = [(f"{test.heights[good[i]] * 1e3:.0f} mm", test.postures[good[i]]) for i in chosen]
    draw_rail_angle(_with_margin(made, places[2]), test.vehicle, named)
    _draw_loads(_with_margin(made, places[3]), test, good)
    return made


def _with_margin(made: Figure, place: tuple[float, float]) -> Axes:
    """Axes over the whole width but for the names at the lines' ends."""
    axes = add_axes(made, place, 0, 1)
    box = axes.get_position()
    axes.set_position((box.x0, box.y0, box.width - 0.95 / made.get_size_inches()[0], box.height))
    return axes


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
    if len(heights) > 1:
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
    else:
        title = f"All wheels stay down up to {quantity(highest * 1e3, 'mm')}"
    file = test.vehicle.file
    what = "bare chassis" if test.vehicle.kinematics.bare else f"{file.mount} mount, {file.load_state}"
    drawn = ""
    if good:
        twist = next(i for i, o in enumerate(test.vehicle.structure.outputs) if o.quantity == "frame_twist")
        last = good[-1]
        angle = quantity(math.degrees(abs(float(test.postures[last].y[twist]))), "deg", 2)
        drawn = f" Drawn to scale at {quantity(test.heights[last] * 1e3, 'mm')}: frame twist {angle} between the axles."
    return (
        title,
        f"{file.name}, {what}. Pedestals under {' and '.join(test.under)}.{drawn} Computed, at rest.",
    )
