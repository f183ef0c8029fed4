# mypy: disable-error-code="no-untyped-call"
"""Breaking text to a width, measured with the font that draws it."""

import re
from functools import cache

from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import FontProperties

_DPI = 72.0


def fold(text: str, room: float, size: float, *, weight: str = "normal", most: int = 0) -> list[str]:
    """Break a text into lines of at most ``room`` inches; words that are longer are broken too.

    Parameters
    ----------
    text : str
    room : float
        [inches]
    size : float
        [points]
    weight : str
        ``normal`` or ``bold``.
    most : int
        If given, the text is cut with an ellipsis after so many lines.
    """
    lines: list[str] = []
    # Not at every kind of space: the narrow one within numbers must not break.
    rest = [word for word in re.split(r"[ \t\r\n]+", text) if word]
    while rest:
        line = rest.pop(0)
        if not _fits(line, room, size, weight):
            keep = _longest(line, room, size, weight)
            rest.insert(0, line[keep:])
            line = line[:keep]
        else:
            while rest and _fits(f"{line} {rest[0]}", room, size, weight):
                line = f"{line} {rest.pop(0)}"
        lines.append(line)
    if most and len(lines) > most:
        last = lines[most - 1]
        last = last[: _longest(f"{last}…", room, size, weight)].rstrip(" …")
        while last and not _fits(f"{last}…", room, size, weight):
            last = last[:-1]
        lines = [*lines[: most - 1], f"{last}…"]
    return [plain(line) for line in lines]


def plain(text: str) -> str:
    """Keep matplotlib from reading dollar signs as formulas."""
    return text.replace("$", r"\$")


@cache
def width(text: str, size: float, weight: str = "normal") -> float:
    """Return the width of one line [inches]."""
    points = _renderer().get_text_width_height_descent(text, FontProperties(size=size, weight=weight), False)
    return float(points[0]) / _DPI


def _fits(text: str, room: float, size: float, weight: str) -> bool:
    """Tell whether a line fits; laid out and measured only where its characters alone leave it open."""
    about = sum(_advance(character, size, weight) for character in text)
    if abs(about - room) > 0.03 * room + 2 / _DPI:
        return about < room
    return width(text, size, weight) <= room


@cache
def _advance(character: str, size: float, weight: str) -> float:
    """Return how far a character takes the pen, between two others [inches]."""
    return width(f"n{character}n", size, weight) - width("nn", size, weight)


def _longest(word: str, room: float, size: float, weight: str) -> int:
    """Return how many characters of a word fit, at least one."""
    keep = len(word)
    while keep > 1 and not _fits(word[:keep], room, size, weight):
        keep -= 1
    return keep


@cache
def _renderer() -> RendererAgg:
    return RendererAgg(100, 100, _DPI)
