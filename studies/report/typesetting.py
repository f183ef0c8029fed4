"""Documents for paper: a template of this package and data, set in type as PDF without a browser.

Names and sentences reach a template as data, never as its language, so that no name can act in it.
"""

import json
import re
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import matplotlib as mpl
import typst

_LONG = re.compile(r"[^\s\u200b]{12}(?=[^\s\u200b]{4})")
"""Stretch of a word after which a line may break."""


def typeset(template: str, data: Any, pictures: Mapping[str, str]) -> bytes:
    """Set a document.

    Parameters
    ----------
    template : str
        File name in templates/.
    data : dicts, lists and texts
        What the template shows.
    pictures : mapping of str to str
        SVG by the name that the data uses.
    """
    made: Any = typst.compile(**sources(template, data, pictures), format="pdf")
    return bytes(made)


def sources(template: str, data: Any, pictures: Mapping[str, str]) -> dict[str, Any]:
    """Return what the typesetter is given: the files by name, and where fonts lie."""
    source = (files("crossaxle.studies.report") / "templates" / template).read_bytes()
    inputs = {
        "main": source,
        "data.json": json.dumps(data).encode("utf-8"),
        **{name: svg.encode("utf-8") for name, svg in pictures.items()},
    }
    return {"input": inputs, "font_paths": [Path(mpl.get_data_path(), "fonts", "ttf")]}


def breakable(text: str) -> str:
    """Let lines break within words longer than a table's column can be expected to hold."""
    return _LONG.sub(lambda found: f"{found[0]}\u200b", text)
