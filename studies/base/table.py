"""Tables of the report: every number with unit and interval, as text in cells that a template can lay out."""

from dataclasses import dataclass, field

import numpy as np

from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import decimals_for, fixed, short_bounds


@dataclass(frozen=True)
class Cell:
    """A number or name, with interval or unit and a note small below it.

    ``mark`` is ``best``, ``unsure``, ``good``, ``bad``, ``name`` (words, not a number) or nothing.
    """

    text: str
    below: str = ""
    mark: str = ""
    note: str = ""


@dataclass(frozen=True)
class Table:
    """Caption, column headings (text and unit), and rows, whose first cell names the row."""

    caption: str
    head: list[Cell]
    rows: list[list[Cell]] = field(default_factory=list)


def estimate_cell(estimate: Interval, mark: str = "", note: str = "") -> Cell:
    """Make a cell of a value with its interval (and a note) below."""
    if not np.isfinite(float(estimate.value)):
        return Cell("–", "does not apply")
    if float(estimate.value) == 0 and np.isinf(float(estimate.high)):
        return Cell("0", "none seen", mark, note)
    decimals = decimals_for(estimate)
    return Cell(fixed(float(estimate.value), decimals), short_bounds(estimate, decimals), mark, note)


def name_cell(text: str) -> Cell:
    """Make a cell that holds words, set to the left."""
    return Cell(text, mark="name")
