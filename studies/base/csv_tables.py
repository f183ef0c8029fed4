"""Tables as CSV files for a spreadsheet: UTF-8 with a mark, units in the headings, value and interval in own columns.

A text cell that a spreadsheet would take for a formula is led by an apostrophe; numbers are plain, with a point.
"""

import csv
import io
import re
from collections.abc import Iterable
from pathlib import Path

from crossaxle.studies.base.number_format import MINUS, NARROW_SPACE
from crossaxle.studies.base.table import Table

_PLAIN = r"-?\d+(?:\.\d+)?"
_BOUNDS = re.compile(
    rf"(?P<low>{_PLAIN})(?:–| to )(?P<high>{_PLAIN})|at least (?P<least>{_PLAIN})|at most (?P<most>{_PLAIN})"
    "|no bound|no spread seen|not known|does not apply|"
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def table_csv(table: Table) -> str:
    """Write a table as CSV: each column of numbers is followed by one with its interval or remark, if it has any."""
    columns = [_column(table, k) for k in range(len(table.head))]
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([_text(heading) for column in columns for heading, _ in column])
    for row in range(len(table.rows)):
        writer.writerow([_value(cells[row]) for column in columns for _, cells in column])
    return out.getvalue()


def write_tables(named: Iterable[tuple[str, Table]], folder: Path) -> list[Path]:
    """Write tables as NAME.csv into a folder, which is made; return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, table in named:
        path = folder / f"{name}.csv"
        path.write_text(table_csv(table), encoding="utf-8-sig", newline="")
        paths.append(path)
    return paths


def _column(table: Table, k: int) -> list[tuple[str, list[str]]]:
    """Split a column of cells into columns of texts with headings."""
    head = table.head[k]
    heading = f"{head.text} [{head.below}]" if head.below else head.text
    cells = [row[k] for row in table.rows]
    split = [(heading, [cell.text for cell in cells])]
    below = [cell.below for cell in cells]
    bounds = [_BOUNDS.fullmatch(_plain(text)) for text in below]
    if any(below) and all(bounds):
        split.append((f"{heading}, interval from", [_either(found, "low", "least") for found in bounds]))
        split.append((f"{heading}, interval to", [_either(found, "high", "most") for found in bounds]))
    elif any(below):
        split.append((f"{heading}, remark", below))
    if any(cell.note for cell in cells):
        split.append((f"{heading}, which", [cell.note for cell in cells]))
    return split


def _either(found: re.Match[str] | None, *names: str) -> str:
    return next((found[name] for name in names if found is not None and found[name]), "")


def _plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ").replace(MINUS, "-")


def _value(text: str) -> str | int | float:
    """A number where the text is one, else text that is safe in a spreadsheet."""
    plain = text.replace(NARROW_SPACE, "").replace(MINUS, "-")
    if not re.fullmatch(_PLAIN, plain):
        return _text(text)
    return float(plain) if "." in plain else int(plain)


def _text(text: str) -> str:
    plain = _plain(text)
    return f"'{plain}" if plain.lstrip().startswith(_FORMULA) else plain
