"""The clearance sheet on paper: one figure of its true size, for SVG, PDF or PNG."""

from typing import Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle as Disc
from matplotlib.patches import Polygon

from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import plain
from crossaxle.studies.clearance_sheet.drawing_parts import (
    DIMENSION_TEXT,
    LAYERS,
    Circle,
    Dimension,
    Entity,
    Line,
    Point,
    Sheet,
    SheetPanel,
    Text,
)

POINTS = 72 / 25.4
"""Points in a mm."""
_TICK = 1.0


def clearances(sheet: Sheet) -> Figure:
    """Draw a sheet at its own size."""
    made = style.figure(sheet.size[0] / 25.4, sheet.size[1] / 25.4)
    made.set_label(sheet.title)
    axes = made.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, sheet.size[0])
    axes.set_ylim(0, sheet.size[1])
    paper = SheetPanel(1.0, (0.0, 0.0), sheet.size, (0.0, 0.0), sheet.entities)
    for panel in (*sheet.panels, paper):
        for entity in panel.entities:
            _draw(axes, panel, entity)
    return made


def _draw(axes: Axes, panel: SheetPanel, entity: Entity) -> None:
    if isinstance(entity, Line):
        _draw_line(axes, entity, [panel.on_sheet(point) for point in entity.points])
    elif isinstance(entity, Circle):
        layer = LAYERS[entity.layer]
        disc = Disc(
            panel.on_sheet(entity.centre),
            entity.radius,
            facecolor=layer.area,
            edgecolor=layer.colour,
            linewidth=layer.width * POINTS,
            zorder=3,
        )
        axes.add_patch(disc)
    elif isinstance(entity, Text):
        _write(
            axes,
            panel.on_sheet(entity.at),
            entity.text,
            entity.size,
            entity.anchor,
            bold=entity.bold,
            layer=entity.layer,
        )
    else:
        _draw_dimension(axes, panel, entity)


def _draw_line(axes: Axes, line: Line, points: list[Point]) -> None:
    layer = LAYERS[line.layer]
    axes.add_patch(
        Polygon(
            points,
            closed=line.closed,
            facecolor=layer.area if line.filled else "none",
            edgecolor=layer.colour,
            linewidth=layer.width * POINTS,
            linestyle=(0, (5, 3)) if line.dashed else "-",
            joinstyle="miter",
            zorder=1,
        )
    )


def _draw_dimension(axes: Axes, panel: SheetPanel, dimension: Dimension) -> None:
    """Draw extension lines, the dimension line with a stroke at either end, and the text."""
    layer = LAYERS["Dimensions"]
    feet = [panel.on_sheet(point) for point in (dimension.first, dimension.second)]
    k = 1 if dimension.along == "x" else 0
    at = panel.on_sheet((dimension.line, dimension.line))[k]
    ends: list[Point] = [(foot[0], at) if k else (at, foot[1]) for foot in feet]
    look = {"color": layer.colour, "linewidth": layer.width * POINTS, "zorder": 2}
    for foot, end in zip(feet, ends, strict=True):
        axes.plot((foot[0], end[0]), (foot[1], end[1]), **look)  # type: ignore[arg-type]
        axes.plot(
            (end[0] - _TICK, end[0] + _TICK),
            (end[1] - _TICK, end[1] + _TICK),
            color=layer.colour,
            linewidth=0.35 * POINTS,
            zorder=2,
        )
    axes.plot((ends[0][0], ends[1][0]), (ends[0][1], ends[1][1]), **look)  # type: ignore[arg-type]
    middle = 0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1])
    beside = (middle[0], middle[1] + 2.2) if k else (middle[0] + 1.5, middle[1])
    place = panel.on_sheet(dimension.text_at) if dimension.text_at else beside
    anchor = dimension.anchor if dimension.text_at or k else "left"
    _write(axes, place, dimension.text, DIMENSION_TEXT, anchor)


def _write(
    axes: Axes,
    at: Point,
    text: str,
    size: float,
    anchor: Literal["left", "middle", "right"],
    *,
    bold: bool = False,
    layer: str = "Text",
) -> None:
    axes.text(
        *at,
        plain(text),
        size=size * POINTS,
        ha="center" if anchor == "middle" else anchor,
        va="center",
        weight="bold" if bold else "normal",
        color=LAYERS[layer].colour,
        zorder=4,
    )
