"""What a pydantic validation found wrong, in the words of the file: ``key: found X; allowed Y``.

Union tags and validator names that pydantic puts into its paths are taken out, and complaints about the
same place are merged.
"""

import types
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from studies.units import quantity_of, shown

MOST_COMPLAINTS = 20
"""Further complaints about one file are only counted."""

LONGEST_KEY = 80
"""Characters; a longer key is shown cut short, as texts are."""

_PLAIN = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
}
_BOUNDS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
}
_LENGTHS = {
    "too_short": ("at least", "min_length", "entries"),
    "too_long": ("at most", "max_length", "entries"),
    "string_too_short": ("at least", "min_length", "characters"),
    "string_too_long": ("at most", "max_length", "characters"),
}


@dataclass(frozen=True)
class Members:
    """What a place of a model may hold.

    Attributes
    ----------
    models : tuple of model classes
        One where the place is a table with fixed keys, several where it is one of several kinds.
    entries : tuple of annotations
        What the entries hold, where the place is a table with free keys or a list.
    """

    models: tuple[type[BaseModel], ...] = ()
    entries: tuple[Any, ...] = ()

    @property
    def known(self) -> set[str]:
        """Keys that are known here."""
        return {field.alias or name for model in self.models for name, field in model.model_fields.items()}

    def of(self, part: str | int) -> "Members":
        """Look up what may stand under one key, or in one entry of a list."""
        found = [
            field.annotation
            for model in self.models
            for name, field in model.model_fields.items()
            if part == (field.alias or name)
        ]
        return members(*found, *self.entries)

    def tagged(self, tag: str | int) -> "Members":
        """Only the kind that a union's tag, or the name of its model, points to."""
        chosen = tuple(
            model
            for model in self.models
            if model.__name__ == tag
            or any(tag in _choices(field.annotation) for field in model.model_fields.values())
        )
        return Members(chosen, self.entries) if chosen else self


def members(*annotations: Any) -> Members:
    """Look up what may stand in a place that is annotated so (several annotations: any of them)."""
    models: list[type[BaseModel]] = []
    entries: list[Any] = []
    for annotation in annotations:
        origin, arguments = get_origin(annotation), get_args(annotation)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            models.append(annotation)
        elif origin is Annotated:
            models.extend(members(arguments[0]).models)
            entries.extend(members(arguments[0]).entries)
        elif origin in (Union, types.UnionType):
            models.extend(members(*arguments).models)
            entries.extend(members(*arguments).entries)
        elif isinstance(origin, type) and issubclass(origin, Mapping):
            entries.append(arguments[1])
        elif origin in (list, tuple):
            entries.extend(a for a in arguments if a is not Ellipsis)
    return Members(tuple(models), tuple(entries))


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
        text = _text(detail, found, place)
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


def _text(detail: ErrorDetails, found: Any, place: Members) -> str:
    kind, context = detail["type"], detail.get("ctx", {})
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return unknown_key(place.known, str(detail["loc"][-1]))
    if kind == "value_error":
        return str(context["error"])
    if kind == "union_tag_not_found":
        return "is missing"
    return f"found {_found(found, context)}; {_allowed(kind, context, found, detail['msg'])}"


def _found(found: Any, context: Mapping[str, Any]) -> str:
    if isinstance(found, dict) and "tag" in context:
        return shown(context["tag"])
    return shown(found)


def _allowed(kind: str, context: Mapping[str, Any], found: Any, message: str) -> str:
    if kind in _PLAIN:
        return f"allowed is {_PLAIN[kind]}"
    if kind in _BOUNDS:
        word, bound = _BOUNDS[kind]
        quantity = quantity_of(found)
        return f"allowed is {word} {context[bound]:g}{f' {quantity[1]}' if quantity else ''}"
    if kind in _LENGTHS:
        word, bound, what = _LENGTHS[kind]
        return f"allowed is {word} {context[bound]} {what}"
    if kind in ("literal_error", "union_tag_invalid"):
        choices = str(context.get("expected") or context["expected_tags"]).replace("'", '"')
        value = str(context.get("tag", found))
        near = get_close_matches(value, [c.strip('" ') for c in choices.replace(" or ", ",").split(",")], 1)
        return f"allowed is {choices}" + (f'; did you mean "{near[0]}"?' if near else "")
    return message.replace("Input should be", "allowed is").replace("Input should", "it should")


def _merged(texts: list[str]) -> str:
    """Join complaints about one place; those of the branches of a union share what was found."""
    first, *others = texts
    start = first.partition("; allowed is ")[0] + "; allowed is "
    if others and all(t.startswith(start) for t in texts):
        return first + "".join(f", or {t[len(start) :]}" for t in others)
    return "; ".join(texts)


def _choices(annotation: Any) -> tuple[Any, ...]:
    return get_args(annotation) if get_origin(annotation) is Literal else ()
