"""What may stand in a place of an input file, looked up in the models that its content is checked against."""

import types
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel


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
            or any(tag in choices(field.annotation) for field in model.model_fields.values())
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


def choices(annotation: Any) -> tuple[Any, ...]:
    """List the values that are allowed where only certain ones are; none where others are too."""
    return get_args(annotation) if get_origin(annotation) is Literal else ()
