"""What a pydantic complaint allows, in plain words: ``allowed is a whole number``, ``allowed is above 0 kg``."""

from difflib import get_close_matches
from typing import Any

from pydantic_core import ErrorDetails

from crossaxle.studies.inputs.units import quantity_of

_PLAIN = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "list_type": "a list in brackets []",
    "tuple_type": "a list in brackets []",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
}
_NUMBERS = ("float_type", "int_type", "bool_type")
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


def allowed(detail: ErrorDetails, found: Any) -> str:
    """Write what is allowed where something else was found."""
    kind, context, message = detail["type"], detail.get("ctx", {}), detail["msg"]
    if kind in _PLAIN:
        unquoted = isinstance(found, str) and kind in _NUMBERS
        return f"allowed is {_PLAIN[kind]}{', without quotes' if unquoted else ''}"
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
