"""Standing text of the report, read once for page and paper.

In templates/report_words.toml terms and dangers stand between asterisks; numbers are put in by name.
"""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple


class TextPiece(NamedTuple):
    """A stretch of text; ``term`` if it is to stand out."""

    text: str
    term: bool


Paragraph = list[TextPiece]


def paragraph(section: str, key: str, **numbers: str) -> Paragraph:
    """Return a text with its numbers put in; empty where there is none of that name."""
    return pieces(str(_words()[section].get(key, "")), **numbers)


def paragraphs(section: str, key: str) -> list[Paragraph]:
    """Return a list of texts."""
    return [pieces(text) for text in _words()[section][key]]


def pieces(text: str, **numbers: str) -> Paragraph:
    """Split a text at its asterisks; numbers are put in after that, so that theirs mean nothing."""
    split = text.split("*")
    return [TextPiece(part.format(**numbers), bool(k % 2)) for k, part in enumerate(split) if part]


@cache
def _words() -> dict[str, Any]:
    return tomllib.loads(
        (files("crossaxle.studies.report") / "templates" / "report_words.toml").read_text(encoding="utf-8")
    )
