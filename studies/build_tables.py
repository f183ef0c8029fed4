"""Tables of decisions: verdicts on stated limits, what to build, and where swept values stop keeping a limit."""

import numpy as np
import xarray as xr

from studies.aims import Aims
from studies.candidates import candidates, value_text
from studies.display import chance, fixed, kilometres, number, shown_unit, tick, with_unit
from studies.limits import Limit
from studies.sizing import Crossing, crossings, needs
from studies.tables import Cell, Table, estimate_cell, name_cell
from studies.verdicts import MEETS, MISSES, Verdict, verdicts

_MARKS = {MEETS: "name good", MISSES: "name bad"}


def limit_text(limit: Limit) -> str:
    """Write a limit in words: ``gap at least 10 mm, passed in 1 000 km with a chance of at most 10 %``."""
    what = f"{limit.what} of {limit.item}" if limit.item else limit.what
    side = "at least" if limit.kind.least else "at most"
    if limit.kind.rate:
        return f"{what} {side} {tick(limit.value * 1e5)} per 100 km"
    if limit.kind.damage:
        return f"{what} {side} {kilometres(limit.value)}"
    unit, factor = shown_unit(limit.kind.unit)
    text = f"{what} {side} {with_unit(tick(limit.value * factor), unit)}"
    return f"{text}, passed in {kilometres(limit.over)} with a chance of at most {tick(100 * limit.risk)} %"


def verdict_table(ds: xr.Dataset, limits: list[Limit], course: int) -> Table | None:
    """Make the table of verdicts, a row per candidate and a column per limit; None where no limit is stated."""
    found = {(v.candidate, v.limit): v for v in verdicts(ds, limits, course)}
    if not found:
        return None
    table = Table("Stated limits, with the chance that the candidate keeps them", [Cell("Candidate")])
    table.head.extend(name_cell(limit_text(limit)) for limit in limits)
    for c in candidates(ds):
        cells = [_verdict_cell(found.get((c.index, limit))) for limit in limits]
        table.rows.append([Cell(c.name), *cells])
    return table


def need_table(ds: xr.Dataset, aims: Aims, course: int) -> Table | None:
    """Make the table of what to build, a row per item and candidate; None if nothing can be foretold."""
    everyone = candidates(ds)
    found = needs(ds, aims.risk, aims.life, course)
    if not found:
        return None
    caption = (
        f"What to build so that the chance of passing it in {kilometres(aims.life)} is "
        f"{tick(100 * aims.risk)} %: estimate and interval; the upper end is on the safe side"
    )
    head = [
        Cell("What"),
        name_cell("Of"),
        name_cell("Candidate"),
        Cell("Built now"),
        Cell("Needed"),
        Cell("Fit"),
    ]
    table = Table(caption, head)
    for need in sorted(found, key=lambda n: (n.what, n.item)):
        unit, factor = ("deg", 180 / np.pi) if need.what == "pivot angle" else ("mm", 1e3)
        needed = need.needed.times(factor)
        cell = estimate_cell(needed)
        short = need.built * factor < float(needed.value)
        table.rows.append(
            [
                Cell(need.what),
                name_cell(need.item),
                name_cell(everyone[need.candidate].name),
                Cell(with_unit(fixed(need.built * factor, 0), unit) if np.isfinite(need.built) else "–"),
                Cell(with_unit(cell.text, unit), cell.below, "bad" if short else ""),
                Cell("poor", mark="bad") if need.poor else Cell("fair"),
            ]
        )
    return table


def crossing_table(ds: xr.Dataset, aims: Aims, course: int) -> Table | None:
    """Make the table of swept values that just keep a limit; None if nothing was swept or no limit stated."""
    found = crossings(ds, aims.limits, course)
    if not found:
        return None
    head = [Cell("Limit"), name_cell("Swept"), name_cell("With"), name_cell("Kept"), Cell("Interval")]
    table = Table("How far a swept value can go and keep a limit, others held", head)
    for crossing in found:
        table.rows.append(
            [
                Cell(limit_text(crossing.limit)),
                name_cell(crossing.quantity.replace("_", " ").replace(".", " ")),
                name_cell(crossing.others or "–"),
                name_cell(_kept(ds, crossing)),
                Cell(_ends(ds, crossing)),
            ]
        )
    return table


def _verdict_cell(verdict: Verdict | None) -> Cell:
    if verdict is None:
        return Cell("–", "does not apply", "name")
    note = verdict.item
    if verdict.further:
        many = number(verdict.further, 2) if np.isfinite(verdict.further) else "very many"
        note = f"{note + '; ' if note else ''}{many} further samples would probably decide"
    elif verdict.basis == "extrapolated":
        note = f"{note + '; ' if note else ''}foretold by fitted extremes"
    return Cell(verdict.status, chance(verdict.probability), _MARKS.get(verdict.status, "name"), note)


def _kept(ds: xr.Dataset, crossing: Crossing) -> str:
    value = float(crossing.at.value)
    if np.isinf(value):
        return "by all values swept" if (value > 0) == crossing.keeps_below else "by no value swept"
    return f"{'up to' if crossing.keeps_below else 'from'} {value_text(ds, crossing.quantity, value)}"


def _ends(ds: xr.Dataset, crossing: Crossing) -> str:
    ends = [
        value_text(ds, crossing.quantity, float(end)) if np.isfinite(end) else "beyond those swept"
        for end in (crossing.at.low, crossing.at.high)
    ]
    return " to ".join(ends)
