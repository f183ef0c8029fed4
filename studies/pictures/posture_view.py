"""Pictures of a truck in a posture on its ground: from the left, from behind, from the front left, and figures.

All views of a picture have one scale. Gaps are marked by numbers that the table explains, and wheels by their loads.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold
from crossaxle.studies.charts.text import width as text_width
from crossaxle.studies.pictures.frame_alone import draw_frame, enlargement, frame_extent
from crossaxle.studies.pictures.truck_views import View, draw_view, extent
from crossaxle.studies.posture.posture_words import FigureTable, gap_table, ground_words, other_table
from crossaxle.studies.posture.scene import Scene

_EDGE = 0.1
_GAP = 0.15
_TITLE = 0.28
_LOADS = 0.42
_LINE = 0.2
_NAMES = {"left": "from the left", "behind": "from behind", "corner": "from the front left"}


class Limits(NamedTuple):
    """What axes show [m]."""

    left: float
    right: float
    bottom: float
    top: float

    @property
    def width(self) -> float:
        """From left to right [m]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From bottom to top [m]."""
        return self.top - self.bottom


class TextBlock(NamedTuple):
    """A rectangle of a picture: width and height [inches], what it shows, lines above it, and how it is drawn."""

    width: float
    height: float
    limits: Limits
    title: list[str]
    draw: Callable[[Axes], None]

    @property
    def whole(self) -> float:
        """Height with the lines above it [inches]."""
        return self.height + _TITLE + _LINE * (len(self.title) - 1)


Column = Sequence[TextBlock]
"""Blocks below each other."""


def draw_posture(
    scene: Scene, title: str, note: str = "", width: float = style.WIDE, caution: str = ""
) -> Figure:
    """Draw one truck in a posture.

    Parameters
    ----------
    scene : Scene
        With a posture.
    title, note : str
        Written above; what the ground is like and how it is drawn follows the note.
    width : float
        [inches]
    caution : str
        Written below the note.
    """
    whole = width - 2 * _EDGE
    side = view_block([scene], scene, "left", whole)
    if width > style.NARROW + 1:
        scale = side.width / side.limits.width
        behind = view_block(
            [scene], scene, "behind", min(scale * _limits([scene], "behind").width, 0.4 * whole)
        )
        rest = whole - behind.width - _GAP
        rows: list[list[Column]] = [
            [[side]],
            [[behind], [view_block([scene], scene, "corner", rest), frame_block([scene], scene, rest)]],
        ]
    else:
        half = 0.5 * (whole - _GAP)
        rows = [
            [[side]],
            [[view_block([scene], scene, "behind", half)], [frame_block([scene], scene, half)]],
            [[view_block([scene], scene, "corner", whole)]],
        ]
    words = f"{note} {ground_words([scene])}".strip()
    return _compose(title, words, rows, _tables([scene], ["here"]), width, caution)


def draw_pair(
    scenes: Sequence[Scene], names: Sequence[str], title: str, note: str = "", width: float = style.WIDE
) -> Figure:
    """Draw two trucks in their postures side by side, to one scale, on the same ground.

    Parameters
    ----------
    scenes : two Scene
        Of two candidates at the same position of the same sample, each with a posture.
    names : two str
        What is written above each.
    title, note : str
    width : float
        [inches]; a narrow picture has one above the other.
    """
    whole = width - 2 * _EDGE
    wide = width > style.NARROW + 1
    half = 0.5 * (whole - _GAP)
    small = 0.5 * (half - _GAP) if wide else half
    sides: list[Column] = []
    below: list[Column] = []
    for letter, scene, name in zip("AB", scenes, names, strict=True):
        sides.append([view_block(scenes, scene, "left", half if wide else whole, f"{letter}: {name}")])
        below.append([view_block(scenes, scene, "behind", small)])
        below.append(
            [view_block(scenes, scene, "corner", small, marks=False), frame_block(scenes, scene, small)]
        )
    rows = [sides, below] if wide else [sides[:1], below[:2], sides[1:], below[2:]]
    return _compose(title, f"{note} {ground_words(scenes)}".strip(), rows, _tables(scenes, "AB"), width)


def view_block(
    scenes: Sequence[Scene], scene: Scene, view: View, width: float, title: str = "", marks: bool = True
) -> TextBlock:
    """Lay out a view of one scene with the limits that hold all the scenes."""
    limits = _limits(scenes, view)
    scale = width / limits.width
    if view == "left":
        limits = limits._replace(bottom=limits.bottom - _LOADS / scale)
    return TextBlock(
        width,
        scale * limits.height,
        limits,
        fold(title or _NAMES[view], width, style.SMALL, weight="bold", most=2),
        lambda axes: draw_view(axes, scene, view, marks),
    )


def frame_block(scenes: Sequence[Scene], scene: Scene, width: float) -> TextBlock:
    """Lay out the drawing of the frame alone."""
    factor = enlargement(scenes)
    left, right, bottom, top = frame_extent(scenes, factor)
    room = 0.08 * (right - left)
    limits = Limits(left - room, right + room, bottom - 2.5 * room, top + 2 * room)
    return TextBlock(
        width,
        width / limits.width * limits.height,
        limits,
        fold(f"frame alone, warping × {factor}", width, style.SMALL, weight="bold", most=2),
        lambda axes: draw_frame(axes, scene, factor),
    )


def place_block(made: Figure, block: TextBlock, left: float, bottom: float) -> Axes:
    """Add the axes of a block at a place of the figure [inches], with limits and the lines above them."""
    width, height = made.get_size_inches()
    axes = made.add_axes((left / width, bottom / height, block.width / width, block.height / height))
    axes.set_xlim(block.limits.left, block.limits.right)
    axes.set_ylim(block.limits.bottom, block.limits.top)
    axes.set_axis_off()
    axes.set_title(
        "\n".join(block.title), size=style.SMALL, weight="bold", color=style.INK, loc="left", pad=4, y=1.0
    )
    return axes


def _limits(scenes: Sequence[Scene], view: View) -> Limits:
    left, right, bottom, top = extent(view, scenes)
    return Limits(left, right, bottom - 0.15, top + 0.35)


def _compose(
    title: str,
    note: str,
    rows: Sequence[Sequence[Column]],
    tables: Sequence[FigureTable],
    width: float,
    caution: str = "",
) -> Figure:
    """Put heading, rows of columns of blocks, and tables below each other; tables side by side where there is room."""
    wide = width > style.NARROW + 1
    head = style.heading_height(title, note, width, caution) + 0.1
    heights = [max(sum(block.whole for block in column) for column in row) for row in rows]
    lines = [len(table.rows) + 1 for table in tables]
    foot = _LINE * (max(lines) if wide else sum(lines) + 0.5) + 0.15
    made = style.figure(width, head + sum(heights) + _GAP * len(rows) + foot)
    style.heading(made, title, note, caution)
    top = made.get_size_inches()[1] - head
    for row, height in zip(rows, heights, strict=True):
        left = _EDGE
        for column in row:
            bottom = top - height
            for block in reversed(column):
                block.draw(place_block(made, block, left, bottom))
                bottom += block.whole
            left += column[0].width + _GAP
        top -= height + _GAP
    whole = width - 2 * _EDGE
    # Gaps have the longer names.
    places = [(_EDGE, 0.58 * whole), (_EDGE + 0.62 * whole, 0.38 * whole)] if wide else [(_EDGE, whole)] * 2
    for table, (left, room) in zip(tables, places, strict=False):
        _write(made, table, left, top, room)
        top -= 0.0 if wide else _LINE * (len(table.rows) + 1.5)
    return made


def _tables(scenes: Sequence[Scene], names: Sequence[str]) -> list[FigureTable]:
    found = gap_table(scenes, names), other_table(scenes, names)
    return [table for table in found if table.rows]


def _write(made: Figure, table: FigureTable, left: float, top: float, room: float) -> None:
    """Write a table with its left upper corner at a place of the figure [inches]."""
    width, height = made.get_size_inches()
    count = len(table.head) - 1
    cells = [
        max(text_width(row[k], style.SMALL, "bold") for row in (table.head, *table.rows)) + 0.18
        for k in range(1, count + 1)
    ]
    for number, row in enumerate((table.head, *table.rows)):
        weight = "normal" if number else "bold"
        y = (top - (number + 0.7) * _LINE) / height
        name = fold(row[0], room - sum(cells), style.SMALL, weight=weight, most=1)[0]
        made.text(left / width, y, name, size=style.SMALL, color=style.INK, weight=weight)
        for k, text in enumerate(row[1:]):
            at = left + room - sum(cells[k + 1 :])
            made.text(at / width, y, text, size=style.SMALL, color=style.INK, weight=weight, ha="right")
