"""Ways to break a valid input file: values, units, names and structure of its content, or its bare text."""

import copy
import json
import random
from typing import Any

ODD: tuple[Any, ...] = (
    "", " ", "m", "1", "-1 m", "0 m", "1e400 m", "1e308 m", "-1e308 N/mm", "nan m", "inf m", "1 m + 2 m", "1 kg", "9 s",
    "4.5m/0", "١ m", "1 м", "\u202e1 m", "\x00", "\x7f\x1b[31m", "x" * 20_000, "1" * 5_000 + " m",
    "../../etc/passwd", "/dev/zero", "/dev/stdin", "..", ".", "~", "C:\\con", "library:../clinic", "library:", "a/b",
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "${HOME}",
    "__import__('os').system('true')", "'; drop", "%s%n", "\n", "front axle", "rear axle - 1e9 m",
    "front axle + front axle", "10 deg", "200 %", "-5 %", "1e-300 m", "1e-9 m", "1 km", 0, 1, -1, 1.5, -0.0, 10**30,
    -(2**63), 2**64, 1e308, -1e308, 1e-308, float("inf"), float("-inf"), float("nan"), True, False, [], {}, [[]], [{}],
    {"a": {"b": {}}}, ["1 m"] * 500, [1, "1 m"], {"from": "2 m", "to": "1 m"}, {"kind": "none"},
)  # fmt: skip
"""Values that no file needs, or that one place needs and all others must refuse."""

FIGURES = ("1e-12", "1e12", "-1e6", "0", "1e300", "1e-300", "-0.001", "1000")
UNITS = ("m", "kg", "deg", "s", "furlong", "N/m", "%", "m*m", "")
NAMES = ("x" * 5_000, "<b>", "../up", "a.b", "", "ü", "\u202e")
CHARACTERS = "\"'[]{}=.#\\\t-0eé\x00\u2028"


def changed(table: dict[str, Any], chance: random.Random) -> tuple[str, str]:
    """Change one to three places of a document's content; return its text and what was done."""
    table, told = copy.deepcopy(table), []
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        path = chance.choice(_places(table) or [("name",)])
        how = chance.choice(
            ("delete", "replace", "replace", "replace", "figure", "unit", "rename", "move", "nest", "more", "sign")
        )  # fmt: skip
        told.append(f"{how} {'.'.join(map(str, path))[:80]}")
        _change(table, path, how, chance)
    text = "\n".join(f"{_quoted(key)} = {_inline(value)}" for key, value in table.items())
    return text, ", ".join(told)


def scrambled(whole: str, chance: random.Random) -> tuple[str, str]:
    """Damage a text: a line left out, doubled, cut or moved, a character put in; return it and what was done."""
    lines = whole.splitlines()
    at, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    how = chance.choice(("drop", "double", "cut", "character", "end", "swap"))
    if how == "drop":
        del lines[at]
    elif how == "double":
        lines.insert(at, lines[at])
    elif how == "cut":
        lines[at] = lines[at][: chance.randrange(len(lines[at]) + 1)]
    elif how == "end":
        del lines[at:]
    elif how == "swap":
        lines[at], lines[other] = lines[other], lines[at]
    else:
        place = chance.randrange(len(lines[at]) + 1)
        lines[at] = lines[at][:place] + chance.choice(CHARACTERS) + lines[at][place + 1 :]
    return "\n".join(lines), f"{how} line {at + 1}"


def _change(table: dict[str, Any], path: tuple[Any, ...], how: str, chance: random.Random) -> None:
    here, key = table, path[-1]
    for part in path[:-1]:
        here = here[part]
    value = here[key] if not isinstance(here, dict) or key in here else ""
    if how == "delete":
        del here[key]
    elif how == "figure" and isinstance(value, str):
        here[key] = " ".join([chance.choice(FIGURES), *value.split()[1:]])
    elif how == "unit" and isinstance(value, str):
        here[key] = f"{value.split(' ')[0]} {chance.choice(UNITS)}"
    elif how == "rename" and isinstance(here, dict):
        here[chance.choice((*NAMES, f"{key}s", key[::-1]))] = here.pop(key)
    elif how == "move":
        table[str(key)] = value
    elif how == "nest":
        here[key] = _deep(chance.choice((1, 3, 19, 21, 60)))
    elif how == "more" and isinstance(value, list) and value:
        value += [copy.deepcopy(value[0])] * chance.choice((1, 3, 300))
    elif how == "sign" and isinstance(value, str):
        here[key] = f"-{value}"
    else:
        here[key] = copy.deepcopy(chance.choice(ODD))


def _places(table: Any, above: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths of all values of a document, tables and lists among them."""
    inner = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    found = []
    for key, value in inner:
        found += [(*above, key), *_places(value, (*above, key))]
    return found


def _deep(levels: int) -> Any:
    value: Any = "1 m"
    for _ in range(levels):
        value = {"a": value}
    return value


def _inline(value: Any) -> str:
    """Write a value as inline TOML."""
    if isinstance(value, dict):
        return (
            "{" + ", ".join(f"{_quoted(str(key))} = {_inline(inner)}" for key, inner in value.items()) + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return _quoted(value) if isinstance(value, str) else repr(value)


def _quoted(value: str) -> str:
    return json.dumps(value, ensure_ascii=True).replace("\x7f", "\\u007f")
