"""The one reader of input files: TOML text to a validated model, with all that is wrong said at once.

A file is data and nothing else. It is read whole within a size bound, parsed, changed by overrides (a sweep's
values, ``--set KEY=VALUE``) and validated by a pydantic model of the room that knows the content. Every
complaint names file, key, what was found, what is allowed and, where there is one, the nearest known key.
"""

import json
import os
import stat
import tomllib
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from crossaxle.studies.inputs.complaints import complaints, dotted, unknown_key
from crossaxle.studies.inputs.members import members
from crossaxle.studies.inputs.toml_hints import not_toml
from crossaxle.studies.inputs.units import shown, si

LARGEST_FILE = 200_000
"""A larger input file is refused [bytes]."""
MOST_DOTS = 200
"""More dots on one line are refused: reading a dotted key takes time with the square of its parts."""
DEEPEST_NESTING = 20
"""Deeper tables or lists are refused [levels]."""

MOST_NAMES = 6
"""So many files of a folder are named in a message."""

_TELLING = {"study": "courses", "vehicle": "frame", "course": "sections"}
"""A key that only this kind of file has and always has."""

_TAKEN_BY = {
    "study": "`crossaxle check` and `crossaxle run` take studies",
    "vehicle": "`crossaxle check` and `crossaxle pedestal` take vehicles",
    "course": "`crossaxle ground` takes courses",
}

M = TypeVar("M", bound=BaseModel)


class InputError(Exception):
    """Bad input: one message per line, each naming file, key, what was found and what is allowed."""

    def __init__(self, *messages: str) -> None:
        # Names and values from files may hold characters that change what a terminal shows.
        self.messages = tuple(
            "".join(c if c.isprintable() or c == "\n" else "?" for c in m) for m in messages
        )
        super().__init__("\n".join(self.messages))


@dataclass(frozen=True)
class Document:
    """A parsed input file.

    Attributes
    ----------
    name : str
        Path or name, for messages.
    text : str
        The whole text; with `name` it is all that is needed to make the same document again.
    table : dict
        The parsed content, unchecked.
    """

    name: str
    text: str
    table: dict[str, Any]


def read(path: Path | str, model: type[M], overrides: Mapping[str, Any] | None = None) -> M:
    """Read, parse and validate a file.

    Parameters
    ----------
    path : path
        A TOML file.
    model : subclass of pydantic.BaseModel
        What the file must hold.
    overrides : mapping, optional
        Dotted key to value, as for `validate`.

    Raises
    ------
    InputError
        If the file cannot be read, is no TOML, or does not fit the model.
    """
    return validate(open_document(path), model, overrides)


def open_document(path: Path | str) -> Document:
    """Read and parse a TOML file; raise InputError if it cannot be read or is no TOML."""
    return document(readable(path), text_of(path))


def readable(path: Path | str) -> str:
    """Write a path as text that any file can hold: bytes that the locale could not read are taken as UTF-8."""
    return os.fsencode(path).decode("utf-8", "replace")


def document(name: str, text: str) -> Document:
    """Parse a TOML text; raise InputError with the line if it is none."""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > MOST_DOTS:
            raise InputError(f"{name}: line {number} has more than {MOST_DOTS} dots; break it up")
    try:
        table = tomllib.loads(text)
        deep = _depth_exceeds(table, DEEPEST_NESTING)
    except RecursionError:
        deep = True
    except ValueError as error:
        raise InputError(f"{name}: {not_toml(text, error)}") from None
    if deep:
        raise InputError(f"{name}: is nested too deeply; at most {DEEPEST_NESTING} levels are allowed")
    return Document(name, text, table)


def text_of(path: Path | str) -> str:
    """Read a text file within the size bound; raise InputError if that cannot be done."""
    try:
        return bytes_of(path, LARGEST_FILE).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            f"{path}: is not a text in UTF-8; save it from a text editor, with UTF-8 as its encoding"
        ) from None


def bytes_of(path: Path | str, largest: int) -> bytes:
    """Read an ordinary file of at most `largest` bytes; raise InputError if that cannot be done."""
    try:
        path = Path(path)
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            inside = sorted(entry.name for entry in path.glob("*.toml"))
            raise InputError(f"{path}: is a folder; a file is needed{_or_else(inside, path)}")
        if not stat.S_ISREG(status.st_mode):
            raise InputError(f"{path}: is not an ordinary file; name a text file")
        if status.st_size > largest:
            raise InputError(f"{path}: has {status.st_size} bytes; at most {largest} are allowed")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(f"{path}: cannot be read: {reason}{_instead(path, error)}") from None


def _instead(path: Path | str, error: Exception) -> str:
    """Say what to do about a file that cannot be read: the nearest name there is, or where to get one."""
    if isinstance(error, PermissionError):
        return "; allow reading it, or copy it to where you may read it"
    if not isinstance(error, FileNotFoundError | NotADirectoryError):
        return ""
    path = Path(path)
    if not path.parent.is_dir():
        return f"; there is no folder {path.parent}"
    there = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    near = get_close_matches(path.name, there, 1, 0.75)
    if near:
        return f'; did you mean "{path.parent / near[0]}"?'
    alike = sorted(name for name in there if Path(name).suffix == path.suffix)
    return _or_else(alike, path.parent) if alike or path.suffix == ".toml" else ""


def _or_else(names: list[str], folder: Path) -> str:
    if not names:
        return "; `crossaxle example DIR` writes files to start from"
    return (
        f"; in {folder} there are {', '.join(names[:MOST_NAMES])}{' ...' if len(names) > MOST_NAMES else ''}"
    )


def validate(source: Document, model: type[M], overrides: Mapping[str, Any] | None = None) -> M:
    """Check a document against a model.

    Parameters
    ----------
    source : Document
    model : subclass of pydantic.BaseModel
        Its quantity types find the unit reader as ``info.context["si"]``.
    overrides : mapping, optional
        Dotted key to value, both as they would stand in the file (``{"tank.water.spacing": "1.2 m"}``; a part
        with blanks in quotes: ``gap."cab back to body".clearance``; one of a list by its place from 1:
        ``mounts.rigid.at.2``). They replace the file's values first.

    Raises
    ------
    InputError
        With every complaint about the document, or about an override whose key the model does not know.
    """
    if not source.table:
        raise InputError(f"{source.name}: holds no keys; `crossaxle example DIR` writes files to start from")
    table = deepcopy(source.table) if overrides else source.table
    for key, value in (overrides or {}).items():
        _override(table, key, value, model, source.name)
    try:
        return model.model_validate_json(json.dumps(table, default=str), context={"si": si})
    except ValidationError as error:
        found = _another_kind(table, model) or complaints(error, table, model)
    raise InputError(*(f"{source.name}: {text}" for text in found))


def _another_kind(table: Mapping[str, Any], model: type[BaseModel]) -> list[str]:
    """Say so if a file is of another kind than the one needed, where every single key would be complained about."""
    needed = [kind for kind, key in _TELLING.items() if key in model.model_fields]
    found = [kind for kind, key in _TELLING.items() if key in table]
    if len(needed) != 1 or len(found) != 1 or found == needed:
        return []
    return [f"is a {found[0]} file; a {needed[0]} file is needed here; {_TAKEN_BY[found[0]]}"]


def assignment(text: str) -> tuple[str, Any]:
    """Split ``KEY=VALUE`` of a command line; the value is read as TOML where it is TOML, else as a text.

    Raises
    ------
    InputError
        If there is no key or no ``=``.
    """
    key, equals, value = text.partition("=")
    if not equals or not key.strip():
        raise InputError(f'{shown(text)} is not an assignment; write KEY=VALUE, e.g. wheelbase="4.4 m"')
    try:
        return key.strip(), tomllib.loads(f"value = {value}")["value"]
    except (ValueError, RecursionError):
        return key.strip(), value.strip()


def key_parts(key: str) -> list[str]:
    """Split a dotted key as TOML does; raise InputError if it is none."""
    parts: list[str] = []
    try:
        table: Any = tomllib.loads(f"{key} = 0") if "\n" not in key and len(key) < 500 else 0
    except (ValueError, RecursionError):
        table = 0
    while isinstance(table, dict) and len(table) == 1:
        part, table = next(iter(table.items()))
        parts.append(part)
    if not parts or table != 0:
        raise InputError(
            f'{shown(key)} is not a dotted key; write e.g. wheelbase or gap."cab back".clearance'
        )
    return parts


def _override(table: dict[str, Any], key: str, value: Any, model: type[BaseModel], name: str) -> None:
    """Set one value in place; tables that the file leaves to their defaults are made on the way."""
    parts = key_parts(key)
    here: Any = table
    place = members(model)
    for depth, part in enumerate(parts):
        where = dotted(parts[: depth + 1])
        if isinstance(here, list) and depth == len(parts) - 1:
            if not (part.isdecimal() and 1 <= int(part) <= len(here)):
                raise InputError(f"{name}: {where}: is not a known key; the list has places 1 to {len(here)}")
            here[int(part) - 1] = value
            return
        if not isinstance(here, dict):
            above = f"{dotted(parts[:depth])} holds {shown(here)}"
            raise InputError(f"{name}: {where}: is not a known key; {above}")
        if part not in here and part not in place.known:
            raise InputError(f"{name}: {where}: {unknown_key({*place.known, *here}, part)}")
        place = place.of(part)
        if depth == len(parts) - 1:
            here[part] = value
        else:
            here = here.setdefault(part, {})


def _depth_exceeds(value: Any, levels: int) -> bool:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return levels < 0 or any(_depth_exceeds(v, levels - 1) for v in inner if isinstance(v, dict | list))
