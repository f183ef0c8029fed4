"""What a study sweeps: keys of the vehicle file, the values each takes, and the candidates they make."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from crossaxle.studies.inputs.complaints import dotted
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import quantity_of, shown

MOST_CANDIDATES = 10_000
"""More combinations are refused."""


@dataclass(frozen=True)
class Swept:
    """One swept key.

    Attributes
    ----------
    key : str
        Dotted key of the vehicle file; also the name of the dimension in results.
    values : tuple
        As they would stand in the vehicle file.
    coordinate : ndarray, (n_values,)
        The same as SI numbers, or as text where they are no quantities.
    unit : str
        SI unit of the coordinate; ``1`` for plain numbers, empty for text.
    """

    key: str
    values: tuple[Any, ...]
    coordinate: np.ndarray[Any, Any]
    unit: str


@dataclass(frozen=True)
class Combination:
    """One candidate: the place of each swept key's value, and what it changes in the vehicle file."""

    place: tuple[int, ...]
    overrides: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Its choices, for messages."""
        return ", ".join(f"{key} = {shown(value)}" for key, value in self.overrides.items())


def read_sweep(table: Mapping[str, Any]) -> tuple[Swept, ...]:
    """Read a study's ``sweep`` table, nested or with dotted keys, in its order.

    Raises
    ------
    InputError
        If a value is not a list of two or more different values, or there are too many combinations.
    """
    swept = tuple(_leaves(table, []))
    count = 1
    for one in swept:
        count *= len(one.values)
    if count > MOST_CANDIDATES:
        raise InputError(f"sweep: makes {count} candidates; at most {MOST_CANDIDATES} are allowed")
    return swept


def combinations(swept: tuple[Swept, ...]) -> tuple[Combination, ...]:
    """All candidates, the last key changing fastest; a single one without changes if nothing is swept."""
    keys = [one.key for one in swept]
    return tuple(
        Combination(
            tuple(place for place, _ in chosen),
            {key: value for key, (_, value) in zip(keys, chosen, strict=True)},
        )
        for chosen in product(*(list(enumerate(one.values)) for one in swept))
    )


def _leaves(table: Mapping[str, Any], above: list[str]) -> list[Swept]:
    found: list[Swept] = []
    for part, value in table.items():
        parts = [*above, part]
        if isinstance(value, dict):
            found.extend(_leaves(value, parts))
        else:
            found.append(_swept(dotted(parts), value))
    return found


def _swept(key: str, values: Any) -> Swept:
    where = f"sweep.{key}"
    if "/" in key:
        raise InputError(f"{where}: a swept key cannot hold a slash; rename the entry in the vehicle file")
    if not isinstance(values, list) or not values:
        raise InputError(f'{where}: found {shown(values)}; allowed is a list of values, e.g. ["a", "b"]')
    if any(isinstance(value, dict | list) for value in values):
        raise InputError(f"{where}: found tables or lists among the values; allowed are texts and numbers")
    try:
        coordinate, unit = _coordinate(values)
    except (ValueError, OverflowError) as error:
        raise InputError(f"{where}: {error}") from None
    if coordinate.dtype == float and not np.isfinite(coordinate).all():
        raise InputError(f"{where}: holds a number that is not finite")
    if len(set(coordinate.tolist())) < len(values):
        raise InputError(f"{where}: holds the same value twice; name every value once")
    return Swept(key, tuple(values), coordinate, unit)


def _coordinate(values: list[Any]) -> tuple[np.ndarray[Any, Any], str]:
    if all(isinstance(value, int | float) and not isinstance(value, bool) for value in values):
        return np.array([float(value) for value in values]), "1"
    quantities = [quantity_of(value) for value in values]
    units = {quantity[1] for quantity in quantities if quantity}
    if len(units) == 1 and all(quantities):
        return np.array([quantity[0] for quantity in quantities if quantity]), units.pop()
    return np.array([str(value) for value in values]), ""
