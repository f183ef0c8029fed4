# mypy: disable-error-code="no-untyped-call"
"""The frames of a film: one or two trucks from the left and from behind, and the output over the metres driven.

What does not change from frame to frame is drawn once.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from numpy.typing import NDArray

from crossaxle.arrays import Array
from crossaxle.studies.base.cautions import REPLAY, caution_note
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import fold
from crossaxle.studies.pictures.posture_view import TextBlock, place_block, view_block
from crossaxle.studies.pictures.truck_views import View, draw_view
from crossaxle.studies.posture.scene import Scene

WIDTH = 8.0
"""Of a frame [inches]."""

_EDGE = 0.1
_GAP = 0.15
_STRIP = 1.25
_LINE = 0.19


class Strip(NamedTuple):
    """An output along the film: its name with unit, places [m] from the posture the film is about, and lines."""

    heading: str
    places: Array
    lines: Sequence[Array]


class FilmFrames:
    """Draws the frames of a film.

    Parameters
    ----------
    films : sequence of sequences of Scene
        Per truck (one or two), the scenes of all frames: they share their limits.
    names : sequence of str
        What is written above each truck.
    strip : Strip
        With one line per truck.
    dots : int
        Per inch.
    """

    def __init__(
        self, films: Sequence[Sequence[Scene]], names: Sequence[str], strip: Strip, dots: int
    ) -> None:
        self._strip = strip
        self._views: list[tuple[Axes, Sequence[Scene], View]] = []
        self._figure = style.figure(WIDTH, 1.0)
        self._figure.set_dpi(dots)
        self._axes = self._lay_out(films, names)
        self._draw_strip()
        self._canvas = FigureCanvasAgg(self._figure)
        self._canvas.draw()
        self._still = self._canvas.copy_from_bbox(self._figure.bbox)

    def frame(self, at: int) -> NDArray[np.uint8]:
        """Draw frame number ``at``, (height, width, 4)."""
        self._canvas.restore_region(self._still)
        for axes, film, view in self._views:
            known = set(axes.get_children())
            draw_view(axes, film[at], view, marks=False)
            new = sorted((a for a in axes.get_children() if a not in known), key=lambda a: a.get_zorder())
            for artist in new:
                axes.draw_artist(artist)
                artist.remove()
        for k, line in enumerate(self._strip.lines):
            look = style.look(k)
            (dot,) = self._axes.plot(
                self._strip.places[at], line[at], color=look.colour, marker=look.marker, markersize=8
            )
            self._axes.draw_artist(dot)
            dot.remove()
        return np.array(self._canvas.buffer_rgba())

    def _lay_out(self, films: Sequence[Sequence[Scene]], names: Sequence[str]) -> Axes:
        """Place the views; return the axes of the strip."""
        everything = [scene for film in films for scene in film if scene.pieces]
        room = WIDTH - 2 * _EDGE
        pair = len(films) > 1
        broad, narrow = (0.5 * (room - _GAP), 0.235 * room) if pair else (0.70 * room, 0.27 * room)
        lefts = [view_block(everything, everything[0], "left", broad, name, marks=False) for name in names]
        behinds = [view_block(everything, everything[0], "behind", narrow, marks=False) for _ in names]
        below = max(block.whole for block in behinds) if pair else _STRIP + 0.85
        height = max(block.whole for block in (lefts if pair else [*lefts, *behinds])) + below + 0.1
        made = self._figure
        # Everything is placed from the bottom, so that the caution has the top.
        caution = fold(caution_note(REPLAY), room, style.SMALL)
        whole = height + _LINE * len(caution) + 0.05
        made.set_size_inches(WIDTH, whole)
        for row, line in enumerate(caution):
            y = 1 - (_LINE * row + 0.03) / whole
            made.text(_EDGE / WIDTH, y, line, size=style.SMALL, color=style.DANGER, va="top")
        for k, (film, left, behind) in enumerate(zip(films, lefts, behinds, strict=True)):
            self._add(left, film, "left", _EDGE + k * (left.width + _GAP), below)
            if pair:
                self._add(behind, film, "behind", _EDGE + k * (room - behind.width), 0.05)
            else:
                self._add(behind, film, "behind", WIDTH - _EDGE - behind.width, below)
        start, low = (_EDGE + narrow + 0.75, 0.75) if pair else (0.75, 0.5)
        length = room - 2 * narrow - 0.9 if pair else WIDTH - 0.95
        return made.add_axes((start / WIDTH, low / whole, length / WIDTH, _STRIP / whole))

    def _add(self, block: TextBlock, film: Sequence[Scene], view: View, left: float, bottom: float) -> None:
        self._views.append((place_block(self._figure, block, left, bottom), film, view))

    def _draw_strip(self) -> None:
        axes, strip = self._axes, self._strip
        style.dress(axes, grid="both")
        for k, line in enumerate(strip.lines):
            look = style.look(k)
            axes.plot(strip.places, line, color=look.colour, linestyle=look.line, linewidth=1.8)
        axes.axvline(0.0, color=style.SOFT, linewidth=1.0)
        axes.set_xlim(strip.places[0], strip.places[-1])
        room = axes.get_position().width * WIDTH
        axes.set_title(
            "\n".join(fold(strip.heading, room, style.SMALL, weight="bold", most=2)),
            size=style.SMALL,
            weight="bold",
            color=style.INK,
            loc="left",
            pad=4,
        )
        axes.set_xlabel("way from this posture [m]", size=style.SMALL, color=style.INK)
