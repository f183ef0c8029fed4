"""Set one number in a TOML text and leave everything else, comments included, as it is."""

import re
import tomllib
from copy import deepcopy
from typing import Any

_HEADER = re.compile(r"^\s*\[")


def with_number(text: str, table: str, key: str, value: float, comment: str = "") -> str:
    """Return the text with ``key`` of a top-level table set to a number.

    Parameters
    ----------
    text : str
        Valid TOML.
    table, key : str
        Bare keys; the table must stand under its own header, ``[table]``.
    value : float
    comment : str
        Put behind a new line; an existing line keeps its own.

    Raises
    ------
    ValueError
        If the text is laid out so that this cannot be done without changing anything else.
    """
    lines = text.splitlines(keepends=True)
    ending = "\r\n" if "\r\n" in text else "\n"
    header = re.compile(rf"^\s*\[\s*{re.escape(table)}\s*\]\s*(#.*)?$")
    setting = re.compile(rf"^(\s*{re.escape(key)}\s*=\s*)([^\s#]+)(.*)$", re.DOTALL)
    starts = [i for i, line in enumerate(lines) if header.match(line)]
    if len(starts) == 1:
        first = starts[0] + 1
        after = (i for i in range(first, len(lines)) if _HEADER.match(lines[i]))
        for i in range(first, next(after, len(lines))):
            match = setting.match(lines[i])
            if match:
                lines[i] = f"{match[1]}{value!r}{match[3]}"
                break
        else:
            if not lines[first - 1].endswith("\n"):
                lines[first - 1] += ending
            note = f"  # {comment}" if comment else ""
            lines.insert(first, f"{key} = {value!r}{note}{ending}")
        edited = "".join(lines)
        if _same_but(text, edited, table, key, value):
            return edited
    raise ValueError(
        f"{table}.{key} has no place of its own in the file; write it there by hand: {key} = {value!r}"
    )


def _same_but(before: str, after: str, table: str, key: str, value: float) -> bool:
    """Whether the edited text reads as the other with this one value set."""
    expected: dict[str, Any] = deepcopy(tomllib.loads(before))
    if not isinstance(expected.get(table), dict):
        return False
    expected[table][key] = value
    try:
        return tomllib.loads(after) == expected
    except tomllib.TOMLDecodeError:
        return False
