"""Rare events as text, as data and as a table of the report."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates, items
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import chance, kilometres, number, quantity, shown_unit, with_unit
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.base.table import Cell, Table, name_cell
from crossaxle.studies.rare.rare_findings import Finding, sampled_rate


def event_words(found: Finding) -> str:
    """Say what happens: ``gap, cab back to body, falls to 0 mm``."""
    known = QUANTITIES[found.variable.rpartition("_")[0]]
    unit, factor = shown_unit(known.units)
    item = f", {found.item}," if found.item else ""
    verb = "falls to" if found.smallest else "reaches"
    return f"{known.long_name}{item} {verb} {quantity(found.level * factor, unit)}"


def rare_text(ds: xr.Dataset, found: Finding, life: float) -> str:
    """Tell a finding in lines of text."""
    lines = [f"{_capital(event_words(found))}: {_once(found.rate)}"]
    lines.append(f"  {candidates(ds)[found.candidate].name}, {items(ds, 'course')[found.course]}")
    lines.append(f"  chance in {kilometres(life)}: {chance(_within(found.per_metre, life))}")
    lines.append(f"  ordinary samples: {_sampled(ds, found)}")
    return "\n".join(lines)


def describe_rare(ds: xr.Dataset, found: Finding) -> dict[str, Any]:
    """Describe a finding as plain numbers and texts, SI units or with the unit in the key."""
    passed, of, sampled = sampled_rate(ds, found)
    return {
        "output": found.variable,
        "item": found.item,
        "candidate": candidates(ds)[found.candidate].texts,
        "course": items(ds, "course")[found.course],
        "level": found.level,
        "unit": QUANTITIES[found.variable.rpartition("_")[0]].units,
        "per_km": found.per_metre * 1e3,
        "per_km_interval": [found.low * 1e3, found.high * 1e3],
        "stretch_m": found.stretch,
        "stretches_driven": found.evaluations,
        "ordinary_samples": of,
        "ordinary_samples_that_passed": passed,
        "ordinary_per_km": float(sampled.value) * 1e3,
        "ordinary_per_km_interval": [float(sampled.low) * 1e3, float(sampled.high) * 1e3],
    }


def rare_table(ds: xr.Dataset, findings: Sequence[Finding], life: float, course: int) -> Table | None:
    """Make the table of rare events on one course, a row per finding; None where there is none."""
    own = [f for f in findings if f.course == course]
    if not own:
        return None
    head = [
        Cell("Event"),
        name_cell("Candidate"),
        Cell("Happens once in", "km"),
        Cell(f"Chance in {kilometres(life)}"),
        name_cell("Ordinary samples alone"),
    ]
    table = Table("Rare events, beyond what ordinary samples reach", head)
    everyone = candidates(ds)
    for f in sorted(own, key=lambda f: (f.variable, f.item, f.level, f.candidate)):
        once = (
            Cell(_km(f.per_metre), f"{_km(f.high)}–{_km(f.low)}")
            if f.per_metre
            else Cell("not reached", f"more than {_km(f.high)}")
        )
        low, high = (chance(_within(rate, life)) for rate in (f.low, f.high))
        table.rows.append(
            [
                Cell(event_words(f)),
                name_cell(everyone[f.candidate].name),
                once,
                Cell(chance(_within(f.per_metre, life)), low if low == high else f"{low} to {high}"),
                name_cell(_sampled(ds, f)),
            ]
        )
    return table


def _km(rate: float) -> str:
    """Distance between events [km] as text."""
    return number(1e-3 / rate, 2) if rate > 0 else "any"


def _once(rate: Interval) -> str:
    if not rate.value > 0:
        return f"not reached; rarer than once in {with_unit(_km(float(rate.high)), 'km')}"
    ends = f"{_km(float(rate.high))} to {_km(float(rate.low))}"
    return f"once in {with_unit(_km(float(rate.value)), 'km')} ({ends})"


def _within(rate: float, distance: float) -> float:
    """Chance of at least one event."""
    return float(-np.expm1(-rate * distance))


def _sampled(ds: xr.Dataset, found: Finding) -> str:
    """Say what the ordinary samples show, and no more than they show."""
    passed, of, rate = sampled_rate(ds, found)
    if not of:
        return "gave no value"
    if not passed:
        return f"none in {of}: no more than once in {with_unit(_km(float(rate.high)), 'km')}"
    return f"{passed} of {of}: {_once(rate)}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
