"""Tables of verdicts on stated limits."""

import numpy as np

from crossaxle.studies.analysis.candidates import Candidate
from crossaxle.studies.analysis.implied import STOP_SHARE
from crossaxle.studies.analysis.verdicts import MEETS, MISSES, Verdict
from crossaxle.studies.base.number_format import chance, kilometres, number, shown_unit, tick, with_unit
from crossaxle.studies.base.table import Cell, Table, name_cell
from crossaxle.studies.study.limits import Limit

MOST_LIMITS = 4
"""Columns of limits beside each other."""

_MARKS = {MEETS: "name good", MISSES: "name bad"}


def limit_text(limit: Limit) -> str:
    """Write a limit in words: ``gap at least 10 mm, passed in 1 000 km with a chance of at most 10 %``."""
    what = f"{limit.what} of {limit.item}" if limit.item else limit.what
    side = "at least" if limit.kind.least else "at most"
    if limit.kind.rate:
        return f"{what} {side} {tick(limit.value * 1e5)} per 100 km"
    if limit.kind.damage:
        return f"{what} {side} {kilometres(limit.value)}"
    unit, factor = ("%", 100.0) if limit.what == STOP_SHARE else shown_unit(limit.kind.unit)
    text = f"{what} {side} {with_unit(tick(limit.value * factor), unit)}"
    return f"{text}, passed in {kilometres(limit.over)} with a chance of at most {tick(100 * limit.risk)} %"


def verdict_table(
    everyone: list[Candidate], judged: list[Verdict], limits: list[Limit], caption: str
) -> Table | None:
    """Make the table of verdicts, a row per candidate and a column per limit; None where nothing was judged."""
    found = {(v.candidate, v.limit): v for v in judged}
    if not found or not limits:
        return None
    table = Table(f"{caption}, with the chance that the candidate keeps them", [Cell("Candidate")])
    table.head.extend(name_cell(limit_text(limit)) for limit in limits)
    for c in everyone:
        cells = [_verdict_cell(found.get((c.index, limit))) for limit in limits]
        table.rows.append([Cell(c.name), *cells])
    return table


def verdict_tables(everyone: list[Candidate], judged: list[Verdict], limits: list[Limit]) -> list[Table]:
    """Make the tables of all verdicts, a few limits in each so that their columns stay readable."""
    tables = []
    for start in range(0, len(limits), MOST_LIMITS):
        some = limits[start : start + MOST_LIMITS]
        caption = f"All stated limits {start + 1} to {start + len(some)}"
        if (table := verdict_table(everyone, judged, some, caption)) is not None:
            tables.append(table)
    return tables


def _verdict_cell(verdict: Verdict | None) -> Cell:
    if verdict is None:
        return Cell("–", "does not apply", "name")
    note = verdict.item
    if verdict.further:
        many = number(verdict.further, 2) if np.isfinite(verdict.further) else "very many"
        note = f"{note + '; ' if note else ''}{many} further samples would probably decide"
    elif verdict.basis == "extrapolated":
        note = f"{note + '; ' if note else ''}extrapolated (GEV)"
    return Cell(verdict.status, chance(verdict.probability), _MARKS.get(verdict.status, "name"), note)
