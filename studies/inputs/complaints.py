"""What a pydantic validation found wrong, in the words of the file: ``key: found X; allowed Y``.

Union tags and validator names that pydantic puts into its paths are taken out, and complaints about the
same place are merged.
"""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from crossaxle.studies.inputs.allowed_values import allowed
from crossaxle.studies.inputs.members import Members, members
from crossaxle.studies.inputs.missing_keys import missing
from crossaxle.studies.inputs.units import shown

MOST_COMPLAINTS = 20
"""Further complaints about one file are only counted."""

LONGEST_KEY = 80
"""Characters; a longer key is shown cut short, as texts are."""


def complaints(error: ValidationError, table: Mapping[str, Any], model: type[BaseModel]) -> list[str]:
    """Write every complaint of a validation as ``key: found X; allowed Y``.

    Parameters
    ----------
    error : pydantic.ValidationError
    table : mapping
        The content that was validated, before any conversion.
    model : subclass of pydantic.BaseModel

    Returns
    -------
    list of str
        At most `MOST_COMPLAINTS` lines and, where there are more, a count of the others.
    """
    texts: dict[str, list[str]] = {}
    for detail in error.errors(include_url=False):
        key, found, place = _place(detail, table, model)
        text = _text(detail, found, place, key)
        if text not in (known := texts.setdefault(key, [])):
            known.append(text)
    lines = [f"{key}: {_merged(several)}" if key else _merged(several) for key, several in texts.items()]
    more = len(lines) - MOST_COMPLAINTS
    return lines if more <= 0 else [*lines[:MOST_COMPLAINTS], f"and {more} more complaints"]


def unknown_key(known: set[str], key: str) -> str:
    """Say that a key is not known and which one is nearest."""
    near = get_close_matches(key, known, 1)
    if near:
        return f'is not a known key; did you mean "{near[0]}"?'
    return f"is not a known key; known here: {', '.join(sorted(known))}" if known else "is not a known key"


def dotted(parts: list[str]) -> str:
    """Write a path of keys as TOML does: dots between, quotes round a part with blanks; entries as [n]."""
    bare = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-"
    text = ""
    for part in parts:
        if part.startswith("["):
            text += part
        else:
            plain = 0 < len(part) <= LONGEST_KEY and all(c in bare for c in part)
            text += ("." if text else "") + (part if plain else shown(part))
    return text


def _place(detail: ErrorDetails, table: Any, model: type[BaseModel]) -> tuple[str, Any, Members]:
    """Key as in the file, what it holds, and what may stand there (for an unknown key: around it)."""
    here, place, parts = table, members(model), list[str]()
    location = detail["loc"]
    for index, part in enumerate(location):
        last = index == len(location) - 1
        if isinstance(here, dict) and part in here:
            if last and detail["type"] == "extra_forbidden":
                return dotted([*parts, str(part)]), here[part], place
            here, place = here[part], place.of(part)
            parts.append(str(part))
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here, place = here[part], place.of(part)
            parts.append(f"[{part + 1}]")
        elif last and detail["type"] == "missing":
            parts.append(str(part))
        else:
            place = place.tagged(part)
    if "discriminator" in detail.get("ctx", {}) and isinstance(here, dict):
        parts.append(detail["ctx"]["discriminator"].strip("'"))
    return dotted(parts), here, place


def _text(detail: ErrorDetails, found: Any, place: Members, key: str) -> str:
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "missing":
        return missing(place.models, str(detail["loc"][-1]), key)
    if kind == "extra_forbidden":
        return unknown_key(place.known, str(detail["loc"][-1]))
    if kind == "value_error":
        return str(context["error"])
    if kind == "union_tag_not_found":
        return missing(place.models, context["discriminator"].strip("'"), key)
    return f"found {_found(found, context)}; {allowed(detail, found)}"


def _found(found: Any, context: Mapping[str, Any]) -> str:
    if isinstance(found, dict) and "tag" in context:
        return shown(context["tag"])
    return shown(found)


def _merged(texts: list[str]) -> str:
    """Join complaints about one place; those of the branches of a union share what was found."""
    first, *others = texts
    start = first.partition("; allowed is ")[0] + "; allowed is "
    if others and all(t.startswith(start) for t in texts):
        return first + "".join(f", or {t[len(start) :]}" for t in others)
    return "; ".join(texts)
