"""What to write for a key that a file lacks: what its type wants, in the words of the complaint about a wrong value."""

import json

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from crossaxle.studies.inputs.allowed_values import allowed
from crossaxle.studies.inputs.members import choices, members
from crossaxle.studies.inputs.units import si

_TABLES = ("dict_type", "model_type", "model_attributes_type", "union_tag_not_found")


def missing(models: tuple[type[BaseModel], ...], part: str, key: str) -> str:
    """Say that a key is missing, and what to write.

    Parameters
    ----------
    models : tuple of model classes
        Of the table that lacks the key: one, or several where it may be of several kinds.
    part : str
        The key.
    key : str
        The same with all tables above it, as it stands in messages.
    """
    fields = {model: field for model in models if (field := _field(model, part)) is not None}
    texts = [f'"{text}"' for field in fields.values() for text in choices(field.annotation)]
    if texts:
        return f"is missing; write {'one of ' if len(texts) > 1 else ''}{', '.join(texts)}"
    for model, field in fields.items():
        if field.examples:
            return f"is missing; write e.g. {part} = {json.dumps(field.examples[0], ensure_ascii=False)}"
        return f"is missing; {_wanted(model, field, part, key)}"
    return "is missing"


def _field(model: type[BaseModel], part: str) -> FieldInfo | None:
    return next((f for name, f in model.model_fields.items() if part == (f.alias or name)), None)


def _wanted(model: type[BaseModel], field: FieldInfo, part: str, key: str) -> str:
    """What the field wants, from its complaint about an empty value."""
    try:
        model.model_validate_json(json.dumps({part: None}), context={"si": si})
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            if detail["loc"][:1] == (part,):
                break
        else:
            return "write it"
    kind = detail["type"]
    if kind == "value_error":
        return str(detail["ctx"]["error"]).partition("; ")[2]
    if kind == "string_type":
        return f'write a text in quotes, as in {part} = "..."'
    if kind in ("list_type", "tuple_type"):
        return f'write a list, as in {part} = ["...", "..."]'
    if kind in _TABLES:
        return _table(field, key)
    return allowed(detail, None).replace("allowed is", "write", 1)


def _table(field: FieldInfo, key: str) -> str:
    inside = members(field.annotation)
    if not inside.models:
        return f"write one or several tables [{key}.NAME]"
    needed = [
        {f.alias or name for name, f in model.model_fields.items() if f.is_required()}
        for model in inside.models
    ]
    shared = [name for name in inside.models[0].model_fields if all(name in names for names in needed)]
    return f"write a table [{key}]" + (f" with {', '.join(shared)} ..." if shared else "")
