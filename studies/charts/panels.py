"""Small multiples: equal panels with heading and a common legend, side by side or, on a phone, one below the other."""

from collections.abc import Iterator
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.charts import style
from crossaxle.studies.charts.curve_choice import Choice
from crossaxle.studies.charts.text import fold, width

_PANEL = 2.35
_GAP = 0.25
_FOOT = 0.6
_LEGEND_LINE = 0.27


@dataclass(frozen=True)
class Panels:
    """The figure, its empty axes with the candidates each shall show, and the width of a panel [inches]."""

    figure: Figure
    axes: list[tuple[Axes, list[Candidate]]]
    room: float

    def __iter__(self) -> Iterator[tuple[Axes, list[Candidate]]]:
        """Go through the panels from left to right, top to bottom."""
        return iter(self.axes)


def lay_panels(
    choice: Choice, title: str, note: str, figure_width: float, side: float, *, each_side: bool = False
) -> Panels:
    """Make the figure with heading, legend and empty panels.

    Parameters
    ----------
    choice : Choice
    title, note : str
    figure_width, side : float
        Of the figure, and of the space for the labels left of the panels [inches].
    each_side : bool
        Whether every panel needs that space, not only the first of a row.
    """
    panels = choice.panels
    least = 2.0 + (side if each_side else 0.0)
    columns = min(len(panels), max(int((figure_width - (0.0 if each_side else side)) // least), 1))
    bands = -(-len(panels) // columns)
    legend = _legend_lines(choice, figure_width)
    head = style.heading_height(title, note, figure_width) + _LEGEND_LINE * len(legend) + 0.1
    band_height = _PANEL + (0.35 if panels[0][0] else 0.1) + _FOOT
    made = style.figure(figure_width, head + bands * band_height)
    _legend(made, legend, style.heading(made, title, note))
    height = made.get_size_inches()[1]
    step = (figure_width - 0.1 - (0.0 if each_side else side)) / columns
    room = step - _GAP - (side if each_side else 0.0)
    laid = []
    for k, (heading, members) in enumerate(panels):
        band, column = divmod(k, columns)
        bottom = height - head - (band + 1) * band_height + _FOOT
        axes = made.add_axes(
            ((side + column * step) / figure_width, bottom / height, room / figure_width, _PANEL / height)
        )
        if heading:
            text = fold(heading, room, style.TEXT, weight="bold", most=1)[0]
            axes.set_title(text, size=style.TEXT, weight="bold", color=style.INK, loc="left", pad=6, y=1.0)
        laid.append((axes, members))
    return Panels(made, laid, room)


_Entry = tuple[int, str, float]


def _legend_lines(choice: Choice, figure_width: float) -> list[list[_Entry]]:
    """Legend entries (look, text, width) broken into lines; none where there is a single line to tell."""
    entries: dict[int, str] = {}
    for _, members in choice.panels:
        for c in members:
            entries.setdefault(c.place.get(choice.by, 0), c.texts.get(choice.by, c.name))
    if len(entries) < 2:
        return []
    lines: list[list[_Entry]] = [[]]
    left = figure_width - 0.2
    for k, text in sorted(entries.items()):
        text = fold(text, figure_width - 1.0, style.TEXT, most=1)[0]
        need = width(text, style.TEXT) + 0.85
        if need > left and lines[-1]:
            lines.append([])
            left = figure_width - 0.2
        lines[-1].append((k, text, need))
        left -= need
    return lines


def _legend(made: Figure, lines: list[list[_Entry]], top: float) -> None:
    """Draw samples of the lines with their names, in rows below the heading."""
    axes = made.add_axes((0, 0, 1, 1), zorder=-1)
    across, height = made.get_size_inches()
    axes.set_axis_off()
    axes.set_xlim(0, across)
    axes.set_ylim(height, 0)
    for row, line in enumerate(lines):
        x, y = 0.12, top + 0.15 + _LEGEND_LINE * row
        for k, text, need in line:
            appearance = style.look(k)
            axes.plot(
                [x, x + 0.45], [y, y], color=appearance.colour, linestyle=appearance.line, linewidth=2.2
            )
            axes.plot([x + 0.225], [y], marker=appearance.marker, color=appearance.colour, markersize=7)
            axes.text(x + 0.53, y, text, size=style.TEXT, color=style.INK, va="center")
            x += need
