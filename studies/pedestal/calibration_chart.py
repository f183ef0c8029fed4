"""Fit chart of a calibration: readings with their uncertainty and computed values before and after, over height."""

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crossaxle.studies.base.cautions import CALIBRATION, caution_note
from crossaxle.studies.base.number_format import number
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold
from crossaxle.studies.pedestal.calibration import Calibration
from crossaxle.studies.pedestal.calibration_view import SHOWN

_PANEL = 1.9
_BAND = 2.95
_BEFORE, _AFTER, _READ = style.look(4), style.look(0), style.look(1)


def calibration_chart(found: Calibration, width: float = style.WIDE) -> Figure:
    """Draw a calibration: one panel per thing measured.

    Parameters
    ----------
    found : Calibration
    width : float
        [inches]
    """
    panels: dict[tuple[str, tuple[str, ...]], list[int]] = {}
    for i, reading in enumerate(found.readings):
        panels.setdefault((reading.name, reading.under), []).append(i)
    title, note = _words(found)
    columns = 1 if width < 6 else min(len(panels), 3)
    rows = -(-len(panels) // columns)
    caution = caution_note(CALIBRATION)
    head = style.heading_height(title, note, width, caution) + 0.1
    made = style.figure(width, head + rows * _BAND)
    style.heading(made, title, note, caution)
    height, each = made.get_size_inches()[1], (width - 0.1) / columns
    several = len({reading.under for reading in found.readings}) > 1
    for k, ((name, under), members) in enumerate(panels.items()):
        row, column = divmod(k, columns)
        left, bottom = column * each + 0.7, height - head - (row + 1) * _BAND + 0.55
        axes = made.add_axes((left / width, bottom / height, (each - 0.85) / width, _PANEL / height))
        text = f"{name}, pedestals under {' and '.join(under)}" if several else name
        unit = SHOWN[found.readings[members[0]].kind][0]
        lines = fold(f"{text} [{unit}]", each - 0.3, style.SMALL, weight="bold", most=2)
        axes.set_title(
            "\n".join(lines), size=style.SMALL, weight="bold", color=style.INK, loc="left", pad=5, x=-0.12
        )
        _draw(axes, found, members)
    return made


def _draw(axes: Axes, found: Calibration, members: list[int]) -> None:
    style.dress(axes, grid="both")
    _, factor, _ = SHOWN[found.readings[members[0]].kind]
    order = sorted(members, key=lambda i: found.readings[i].height)
    heights = [found.readings[i].height * 1e3 for i in order]
    for look, values in ((_BEFORE, found.before), (_AFTER, found.after)):
        axes.plot(heights, values[order] * factor, color=look.colour, linestyle=look.line, linewidth=1.8)
        if len(order) == 1:
            axes.plot(heights, values[order] * factor, color=look.colour, marker=look.marker, linestyle="")
    axes.errorbar(
        heights,
        [found.readings[i].value * factor for i in order],
        yerr=[2 * found.readings[i].uncertainty * factor for i in order],
        color=_READ.colour,
        marker=_READ.marker,
        markersize=5,
        linestyle="",
        capsize=3,
        zorder=3,
    )
    margin = 0.06 * max(np.ptp(heights), 50.0)
    axes.set_xlim(min(heights) - margin, max(heights) + margin)
    axes.set_xlabel("height of the pedestals [mm]", size=style.SMALL, color=style.INK)


def _words(found: Calibration) -> tuple[str, str]:
    stiffness = found.frame_stiffness.times(math.radians(1.0) / 1e3)
    title = (
        f"Fitted stiffness {number(stiffness.value, 3)} kN m/deg between the axles; file: "
        f"{number(stiffness.before, 3)}"
    )
    note = (
        f"{found.file.name}. Squares: readings with two standard uncertainties. Full line: computed with the fitted "
        "frame. Dashed grey: with the file's."
    )
    return title, note
