"""Readings of a real pedestal test, from a CSV file.

One reading per row, with units in the cells:

    height,under,measured,value,uncertainty,direction
    200 mm,front right and rear left,twist front axle to rear axle,-3.9 deg,0.1 deg,raising
    200 mm,front right and rear left,wheel load front left,2110 kg,20 kg,raising
    200 mm,front right and rear left,gap cab back to body,228 mm,2 mm,

``uncertainty`` is one standard deviation. A ``twist`` is the roll of the rails at the first position minus that at
the second, positive with the left side up, of instruments set to zero with the truck level; loads and gaps are taken
as they are. Rows without a value are left out, so that a prepared file may be filled in part.

Leaf springs stick: the same reading taken raising and lowering differs. Such a pair becomes its mean; half of the
difference counts as a further uncertainty, and for readings of the same thing taken one way only as well.
"""

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from crossaxle.studies.inputs.reader import InputError, text_of
from crossaxle.studies.inputs.units import shown, si

COLUMNS = ("height", "under", "measured", "value", "uncertainty", "direction")
DIRECTIONS = ("raising", "lowering", "")
MOST_READINGS = 2000
GRAVITY = 9.80665

Kind = Literal["twist", "wheel load", "gap"]
_UNITS: dict[Kind, tuple[str, ...]] = {"twist": ("rad",), "wheel load": ("N", "kg"), "gap": ("m",)}


@dataclass(frozen=True)
class Reading:
    """One reading, or several of the same thing put together.

    Attributes
    ----------
    rows : tuple of int
        Lines of the file it comes from.
    height : float
        Of the pedestals [m].
    under : tuple of str
        Wheels that stand on them.
    kind : str
        ``twist``, ``wheel load`` or ``gap``.
    of : str
        What was measured: wheel, gap, or ``FROM to TO`` of a twist.
    value, uncertainty : float
        [rad, N or m]
    direction : str
        ``raising``, ``lowering``, ``both`` where the springs' sticking is in the uncertainty, or empty.
    """

    rows: tuple[int, ...]
    height: float
    under: tuple[str, ...]
    kind: Kind
    of: str
    value: float
    uncertainty: float
    direction: str = ""

    @property
    def name(self) -> str:
        """What was measured, as in the file."""
        return f"{self.kind} {self.of}"


def read_readings(path: Path | str) -> list[Reading]:
    """Read the readings of a CSV file.

    Raises
    ------
    InputError
        If the file cannot be read or rows are wrong: one message per row, with what is allowed.
    """
    lines = text_of(path).splitlines()
    delimiter = ";" if lines and ";" in lines[0] and "," not in lines[0] else ","
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter, skipinitialspace=True))
    except csv.Error as error:
        raise InputError(f"{path}: is no table of comma-separated values: {error}") from None
    head = [cell.strip().lower() for cell in rows[0]] if rows else []
    if sorted(head) not in (sorted(COLUMNS), sorted(COLUMNS[:-1])):
        raise InputError(
            f"{path}: line 1: found columns {shown(', '.join(head)) if head else 'none'}; "
            f"allowed are {', '.join(COLUMNS)}"
        )
    if len(rows) - 1 > MOST_READINGS:
        raise InputError(f"{path}: has {len(rows) - 1} rows; at most {MOST_READINGS} readings are allowed")
    readings, problems = [], []
    for number, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if len(cells) > len(head):
            problems.append(
                f"{path}: line {number}: has {len(cells)} cells for {len(head)} columns; write decimal points, and "
                "quotes round a cell with a comma"
            )
            continue
        filled = dict(zip(head, [*cells, *[""] * (len(head) - len(cells))], strict=True))
        if not filled["value"]:
            continue
        try:
            readings.append(_reading(number, filled))
        except ValueError as error:
            problems.append(f"{path}: line {number}: {error}")
    if problems:
        raise InputError(*problems[:20])
    if not readings:
        raise InputError(f"{path}: holds no reading with a value")
    return readings


def together(readings: Sequence[Reading]) -> list[Reading]:
    """Put readings of the same thing at the same height together: repeats averaged, raising and lowering paired.

    A reading taken one way only gets the further uncertainty of the pairs of the same thing at other heights, root
    mean square.
    """
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for reading in readings:
        groups.setdefault((round(reading.height, 6), *_thing(reading)), []).append(reading)
    halves: dict[tuple[object, ...], list[float]] = {}
    for group in groups.values():
        half = _half_difference(group)
        if half is not None:
            halves.setdefault(_thing(group[0]), []).append(half)
    return [_one(group, halves.get(_thing(group[0]), [])) for group in groups.values()]


def _thing(reading: Reading) -> tuple[object, ...]:
    return frozenset(reading.under), reading.kind, reading.of


def _ways(group: list[Reading]) -> list[tuple[float, float] | None]:
    return [_mean([r for r in group if r.direction == way]) for way in ("raising", "lowering")]


def _half_difference(group: list[Reading]) -> float | None:
    raised, lowered = _ways(group)
    return None if raised is None or lowered is None else 0.5 * (raised[0] - lowered[0])


def _one(group: list[Reading], halves: Sequence[float]) -> Reading:
    raised, lowered = _ways(group)
    if raised is not None and lowered is not None:
        value = 0.5 * (raised[0] + lowered[0])
        own = 0.5 * math.hypot(raised[1], lowered[1])
        return _merged(group, value, math.hypot(own, 0.5 * (raised[0] - lowered[0])), "both")
    mean = _mean(group)
    assert mean is not None
    if halves and group[0].direction:
        sticking = math.sqrt(sum(half**2 for half in halves) / len(halves))
        return _merged(group, mean[0], math.hypot(mean[1], sticking), "both")
    return _merged(group, *mean, group[0].direction)


def _mean(readings: list[Reading]) -> tuple[float, float] | None:
    """Mean and its uncertainty: that of a single reading, for an instrument errs alike each time."""
    if not readings:
        return None
    return (
        sum(r.value for r in readings) / len(readings),
        max(r.uncertainty for r in readings),
    )


def _merged(group: list[Reading], value: float, uncertainty: float, direction: str) -> Reading:
    first = group[0]
    rows = tuple(row for reading in group for row in reading.rows)
    return Reading(rows, first.height, first.under, first.kind, first.of, value, uncertainty, direction)


def _reading(number: int, cells: dict[str, str]) -> Reading:
    kind, of = _measured(cells["measured"])
    value = _quantity("value", cells["value"], kind)
    uncertainty = _quantity("uncertainty", cells["uncertainty"], kind)
    if not uncertainty > 0:
        raise ValueError(f"uncertainty: found {shown(cells['uncertainty'])}; allowed is more than 0")
    direction = cells.get("direction", "").lower()
    if direction not in DIRECTIONS:
        raise ValueError(f"direction: found {shown(direction)}; allowed are raising, lowering or nothing")
    under = tuple(name.strip() for name in cells["under"].split(" and ") if name.strip())
    if any(mark in cells["under"] for mark in ",;+&"):
        raise ValueError(
            f'under: found {shown(cells["under"])}; write "and" between wheels, as in "front right and rear left"'
        )
    if not under:
        raise ValueError('under: is empty; write the raised wheels, e.g. "front right and rear left"')
    height = _number("height", cells["height"], "m")
    return Reading((number,), height, under, kind, of, value, uncertainty, direction)


def _measured(text: str) -> tuple[Kind, str]:
    text = " ".join(text.split())
    for kind in _UNITS:
        if text.startswith(f"{kind} "):
            of = text.removeprefix(f"{kind} ")
            if kind != "twist" or len(of.split(" to ")) == 2:
                return kind, of
    raise ValueError(
        f'measured: found {shown(text)}; allowed are "wheel load WHEEL", "gap GAP" and "twist POSITION to POSITION", '
        'e.g. "twist front axle to rear axle"'
    )


def _quantity(column: str, text: str, kind: Kind) -> float:
    """Read a value in one of the units of what was measured; a mass on a scale stands for its weight."""
    for unit in _UNITS[kind][1:]:
        try:
            return si(text, unit) * GRAVITY
        except ValueError:
            continue
    return _number(column, text, _UNITS[kind][0])


def _number(column: str, text: str, unit: str) -> float:
    if not text:
        raise ValueError(f"{column}: is empty")
    try:
        return si(text, unit)
    except ValueError as error:
        raise ValueError(f"{column}: {error}") from None
