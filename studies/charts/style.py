"""One look for all charts: sizes, colours and headings. No global state of matplotlib is touched.

Series differ in colour, in lightness, in marker and in line style, so that they stay apart for colour-blind
readers and in grey print. Text is set for a figure shown at its own size: 10 inches wide on a page or
projector, 4.6 inches wide on a phone.
"""

from collections.abc import Callable
from typing import Any, Literal, NamedTuple

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from crossaxle.studies.charts.text import fold

WIDE = 10.0
NARROW = 4.6
INK = "#1c2730"
SOFT = "#5a6670"
RULE = "#d5dadd"
BAND = "#f1f3f4"
DANGER = "#a3162b"
HEAD = 15.0
TEXT = 12.0
SMALL = 10.5


class Look(NamedTuple):
    """How one series is drawn."""

    colour: str
    marker: str
    line: Any


LOOKS = (
    Look("#0f3d5c", "o", "-"),
    Look("#dd7a1e", "s", (0, (6, 2))),
    Look("#3b9c8f", "^", (0, (1, 1.3))),
    Look("#8c2f5e", "D", (0, (7, 2, 1, 2))),
    Look("#8b9095", "v", (0, (3, 1.5))),
    Look("#5b7fbf", "P", (0, (1, 3))),
)

Chart = Callable[[float], Figure]
"""A chart waiting for its width in inches."""


def look(index: int) -> Look:
    """Return the look of series number ``index``; from the seventh on they repeat."""
    return LOOKS[index % len(LOOKS)]


def figure(width: float, height: float) -> Figure:
    """Return an empty white figure [inches] with an Agg canvas."""
    made = Figure(figsize=(width, height), facecolor="white")
    FigureCanvasAgg(made)
    return made


def heading(made: Figure, title: str, note: str = "", caution: str = "") -> float:
    """Write title, note and caution at the top left, wrapped to the width; return the height they take [inches].

    The figure's label becomes their text, for readers who cannot see the chart. The figure must be made high
    enough: see ``heading_height``.
    """
    made.set_label(" ".join(words for words in (f"{title}.", note, caution) if words))
    width, height = made.get_size_inches()
    lines, notes, warned = _wrapped(title, note, width, caution)
    top = height - 0.08
    for line in lines:
        made.text(0.1 / width, top / height, line, size=HEAD, weight="bold", color=INK, va="top")
        top -= _HEAD_LINE
    top -= 0.03
    for line in notes:
        made.text(0.1 / width, top / height, line, size=SMALL, color=SOFT, va="top")
        top -= _NOTE_LINE
    for line in warned:
        made.text(0.1 / width, top / height, line, size=SMALL, color=DANGER, va="top")
        top -= _NOTE_LINE
    return float(height - top)


def heading_height(title: str, note: str, width: float, caution: str = "") -> float:
    """Return the height [inches] that ``heading`` will take."""
    lines, notes, warned = _wrapped(title, note, width, caution)
    return 0.11 + len(lines) * _HEAD_LINE + (len(notes) + len(warned)) * _NOTE_LINE


_HEAD_LINE = 0.26
_NOTE_LINE = 0.19


def _wrapped(title: str, note: str, width: float, caution: str) -> tuple[list[str], list[str], list[str]]:
    room = width - 0.25
    warned = fold(caution, room, SMALL) if caution else []
    return fold(title, room, HEAD, weight="bold"), fold(note, room, SMALL), warned


def dress(axes: Axes, *, grid: Literal["x", "y", "both"] = "x") -> None:
    """Give axes the common look: thin left and bottom lines, quiet grid along one axis."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(SOFT)
    axes.set_facecolor("white")
    axes.grid(visible=True, axis=grid, color=RULE, linewidth=0.8)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=SMALL, colors=INK, length=3)
