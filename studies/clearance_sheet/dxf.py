# mypy: disable-error-code="no-untyped-call"
"""The clearance sheet as DXF: everything at full size in mm in model space, and the sheet as a layout with viewports.

Every panel stands at its own place in model space, so that distances measured there are true; the viewports
of the layout show it at its scale. Needs ezdxf, which is an extra.
"""

from collections.abc import Callable
from io import StringIO
from typing import TYPE_CHECKING, Any

from crossaxle.studies.charts.text import width
from crossaxle.studies.clearance_sheet.drawing_parts import (
    DIMENSION_TEXT,
    LAYERS,
    Circle,
    Dimension,
    Entity,
    Line,
    Point,
    Sheet,
    Text,
)
from crossaxle.studies.inputs.reader import InputError

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

CAPITALS = 0.72
"""Height of capitals, by which DXF measures text, over the font's em."""
LAYOUT = "Clearance sheet"
_STYLE, _BOLD = "Words", "Bold words"
_BETWEEN = 2000.0
"""Between panels in model space [mm]."""
_CORNERS = {"left": "MIDDLE_LEFT", "middle": "MIDDLE_CENTER", "right": "MIDDLE_RIGHT"}


def dxf(sheet: Sheet) -> str:
    """Write a sheet as DXF (2010).

    Raises
    ------
    InputError
        If ezdxf is not installed.
    """
    try:
        from ezdxf.filemanagement import new
    except ImportError:
        raise InputError(
            "DXF needs ezdxf, which is not installed: pip install 'crossaxle[drawing]', or choose a name that ends in "
            ".svg or .pdf"
        ) from None
    document = new("R2010", units=4)
    document.header["$INSUNITS"] = 4
    document.header["$MEASUREMENT"] = 1
    _set_up(document, sheet)
    document.layouts.rename("Layout1", LAYOUT)
    paper = document.paperspace(LAYOUT)
    paper.page_setup(size=sheet.size, margins=(0, 0, 0, 0), units="mm")
    place = 0.0
    for number, panel in enumerate(sheet.panels, 1):
        size = panel.size[0] / panel.scale, panel.size[1] / panel.scale
        shift = place - panel.origin[0], -panel.origin[1]
        _draw_all(document.modelspace(), panel.entities, shift, 1 / panel.scale, _style(panel.scale))
        corner, middle = panel.corner, (place + 0.5 * size[0], 0.5 * size[1])
        viewport = paper.add_viewport(
            center=(corner[0] + 0.5 * panel.size[0], corner[1] + 0.5 * panel.size[1]),
            size=panel.size,
            view_center_point=middle,
            view_height=size[1],
            status=number + 1,
        )
        viewport.dxf.layer = "Viewports"
        place += size[0] + _BETWEEN
    _draw_all(paper, sheet.entities, (0.0, 0.0), 1.0, _style(1.0))
    out = StringIO()
    document.write(out)
    return out.getvalue()


def _set_up(document: "Drawing", sheet: Sheet) -> None:
    from ezdxf.colors import RGB

    document.styles.add(_STYLE, font="arial.ttf")
    document.styles.add(_BOLD, font="arialbd.ttf")
    document.linetypes.add("Hidden", [0.9, 0.6, -0.3], description="hidden, __ __ __")
    for name, look in LAYERS.items():
        layer = document.layers.add(name)
        layer.rgb = RGB.from_hex(look.colour)
        layer.dxf.lineweight = _line_weight(look.width)
    document.layers.add("Viewports").dxf.plot = 0  # their frames are not printed
    for scale in {panel.scale for panel in sheet.panels}:
        style: Any = document.dimstyles.add(_style(scale)).dxf
        style.dimscale = 1 / scale  # the sizes below are mm of paper
        style.dimtxt = CAPITALS * DIMENSION_TEXT
        style.dimtsz = 1.0  # strokes, not arrows: they stay clear where the distance is short
        style.dimexo, style.dimexe, style.dimgap = 0.5, 1.0, 0.8
        style.dimdec, style.dimzin = 1, 8  # one decimal, none if it is zero
        style.dimtad, style.dimtih, style.dimtoh = 1, 0, 0
        style.dimtix, style.dimtofl, style.dimtmove = 0, 1, 2
        style.dimlunit, style.dimdsep, style.dimlfac = 2, ord("."), 1.0
        style.dimtxsty = _STYLE


def _style(scale: float) -> str:
    return f"Scale 1 to {1 / scale:g}"


def _line_weight(width: float) -> int:
    """Return the nearest line width that DXF knows [hundredths of mm]."""
    return min((13, 18, 25, 35, 50), key=lambda known: abs(known - 100 * width))


def _draw_all(
    layout: "BaseLayout", entities: tuple[Entity, ...], shift: Point, enlarge: float, style: str
) -> None:
    """Draw entities, moved by ``shift``; what is stated in mm of paper becomes ``enlarge`` times as large."""

    def moved(point: Point) -> Point:
        return point[0] + shift[0], point[1] + shift[1]

    for entity in entities:
        if isinstance(entity, Line):
            _draw_line(layout, entity, [moved(point) for point in entity.points], enlarge)
        elif isinstance(entity, Circle):
            layout.add_circle(moved(entity.centre), entity.radius * enlarge, {"layer": entity.layer})
        elif isinstance(entity, Text):
            _write(layout, entity, moved(entity.at), enlarge)
        else:
            _draw_dimension(layout, entity, moved, enlarge, style)


def _draw_line(layout: "BaseLayout", line: Line, points: list[Point], enlarge: float) -> None:
    from ezdxf.colors import RGB

    if line.filled:
        area = layout.add_hatch(dxfattribs={"layer": line.layer})
        area.rgb = RGB.from_hex(LAYERS[line.layer].area)
        area.paths.add_polyline_path(points, is_closed=True)
    look: dict[str, Any] = {"layer": line.layer}
    if line.dashed:
        look |= {"linetype": "Hidden", "ltscale": 3 * enlarge}
    layout.add_lwpolyline(points, close=line.closed, dxfattribs=look)


def _write(layout: "BaseLayout", text: Text, at: Point, enlarge: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    written = layout.add_text(
        _literal(text.text),
        height=CAPITALS * text.size * enlarge,
        dxfattribs={"layer": text.layer, "style": _BOLD if text.bold else _STYLE},
    )
    written.set_placement(at, align=TextEntityAlignment[_CORNERS[text.anchor]])


def _literal(text: str) -> str:
    """Keep a text from being read as DXF's own codes."""
    return text.replace("^", "^ ").replace("%%", "%%%%%%")


def _draw_dimension(
    layout: "BaseLayout",
    dimension: Dimension,
    moved: Callable[[Point], Point],
    enlarge: float,
    style: str,
) -> None:
    along_x = dimension.along == "x"
    base = moved((dimension.first[0], dimension.line) if along_x else (dimension.line, dimension.first[1]))
    made = layout.add_linear_dim(
        base=base,
        p1=moved(dimension.first),
        p2=moved(dimension.second),
        angle=0 if along_x else 90,
        text=f"{dimension.prefix} <>".strip(),
        text_rotation=0,
        dimstyle=style,
        dxfattribs={"layer": "Dimensions"},
    )
    if dimension.text_at:
        # DXF places a dimension's text by its middle.
        half = 0.5 * 25.4 * enlarge * width(dimension.text, DIMENSION_TEXT * 72 / 25.4)
        x, y = moved(dimension.text_at)
        made.set_location((x + {"left": half, "middle": 0.0, "right": -half}[dimension.anchor], y))
    made.render()
