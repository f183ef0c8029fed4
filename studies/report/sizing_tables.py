"""Tables of what to build: one per candidate, and how far swept values can go."""

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates, value_text
from crossaxle.studies.analysis.sizing import FAIR, Need, needs
from crossaxle.studies.analysis.swept_limits import Crossing, crossings
from crossaxle.studies.analysis.trade_offs import considered, trade_off
from crossaxle.studies.base.number_format import fixed, kilometres, tick, with_unit
from crossaxle.studies.base.table import Cell, Table, estimate_cell, name_cell
from crossaxle.studies.report.verdict_tables import limit_text
from crossaxle.studies.study.aims import Aims

MOST_TABLES = 12
"""Candidates with a table of their own; of more, those that no other beats come first."""

_HEAD = (
    Cell("What"),
    name_cell("Of"),
    name_cell("Unit"),
    Cell("Drawn"),
    Cell("Movement"),
    Cell("Build"),
    name_cell("Basis"),
)
_WORDS = {
    "clearance": "Clearance, standing level",
    "stop angle": "Angle to the stop",
    "mount travel": "Free travel",
}


def build_tables(ds: xr.Dataset, aims: Aims, course: int) -> list[Table]:
    """Make the table of what to build for each candidate.

    Clearances, stop angles and travels follow from the samples; a swept value (bracket spacing, spring rate, wheelbase)
    goes as far as it keeps the stated limits, the candidate's other choices held.
    """
    found, limits = needs(ds, aims.risk, aims.life, course), _tightest(crossings(ds, aims.limits, course))
    everyone = candidates(ds)
    shown = _shown(ds, everyone, course)
    tables = []
    for place, c in enumerate(shown):
        rows = [_need_row(need, aims.allowance) for need in found if need.candidate == c.index]
        rows += [_swept_row(ds, c, one) for one in limits if _belongs(one, c)]
        if rows:
            caption = (
                f"What to build {place + 1} of {len(shown)}: {c.name}; movement passed in {kilometres(aims.life)} with "
                f"a probability of {tick(100 * aims.risk)} %; build its upper bound and the allowance of "
                f"{fixed(1e3 * aims.allowance, 0)} mm, never less than drawn"
            )
            tables.append(Table(caption, [*_HEAD], rows))
    return tables


def crossing_table(ds: xr.Dataset, aims: Aims, course: int) -> Table | None:
    """Make the table of swept values that just keep a limit; None if nothing was swept or no limit stated."""
    found = crossings(ds, aims.limits, course)
    if not found:
        return None
    head = [Cell("Limit"), name_cell("Swept"), name_cell("With"), name_cell("Kept"), Cell("Interval")]
    table = Table("How far a swept value can go and keep a limit, others held", head)
    for one in found:
        table.rows.append(
            [
                Cell(_limit_words(one)),
                name_cell(_words(one.quantity)),
                name_cell(_others(ds, one) or "–"),
                name_cell(_kept(ds, one)),
                Cell(_ends(ds, one)),
            ]
        )
    return table


def _shown(ds: xr.Dataset, everyone: list[Candidate], course: int) -> list[Candidate]:
    if len(everyone) <= MOST_TABLES:
        return everyone
    kept = trade_off(considered(ds, course)).kept
    first = sorted(everyone, key=lambda c: not kept[c.index])[:MOST_TABLES]
    return sorted(first, key=lambda c: c.index)


def _tightest(found: list[Crossing]) -> list[Crossing]:
    """Of each swept quantity the crossings of all limits together, or of the one limit there is."""
    together = {(c.quantity, tuple(c.others.items())) for c in found if c.limit is None}
    return [c for c in found if c.limit is None or (c.quantity, tuple(c.others.items())) not in together]


def _belongs(one: Crossing, c: Candidate) -> bool:
    return all(c.place[name] == place for name, place in one.others.items())


def _need_row(need: Need, allowance: float) -> list[Cell]:
    unit, factor = ("deg", 180 / np.pi) if need.what == "stop angle" else ("mm", 1e3)
    needed = need.needed.times(factor)
    build = need.to_build(allowance) * factor
    short = need.built * factor < float(needed.value)
    cell = estimate_cell(needed, "bad" if short else "")
    if need.basis != FAIR:  # a number that rests on no sound fit is none to build by
        cell = Cell(fixed(need.met * factor, 0), "largest met")
    return [
        Cell(_WORDS[need.what]),
        name_cell(need.item),
        name_cell(unit),
        Cell(fixed(need.built * factor, 0) if np.isfinite(need.built) else "–"),
        cell,
        Cell(fixed(build, 0), mark="bad" if build > need.built * factor else "")
        if np.isfinite(build)
        else Cell("–"),
        Cell(need.basis, mark="name" if need.basis == FAIR else "name bad"),
    ]


def _swept_row(ds: xr.Dataset, c: Candidate, one: Crossing) -> list[Cell]:
    now = float(ds[one.quantity].values[c.place[one.quantity]])
    value, low, high = (float(end) for end in (one.at.value, one.at.low, one.at.high))
    outside = now > value if one.keeps_below else now < value
    built, unit = _number(ds, one.quantity, now)
    if np.isfinite(value):
        text, side = _number(ds, one.quantity, value)[0], "at most" if one.keeps_below else "at least"
        basis = f"{side}; read between swept values"
    else:
        text, basis = "–", f"not bracketed by the sweep: {_kept(ds, one)}"
    least, most = (_number(ds, one.quantity, end)[0] if np.isfinite(end) else "" for end in (low, high))
    ends = (
        f"{least}–{most}"
        if least and most
        else f"at least {least}"
        if least
        else f"at most {most}"
        if most
        else ""
    )
    return [
        Cell(_words(one.quantity).capitalize()),
        name_cell(f"keeps {_limit_words(one)}"),
        name_cell(unit),
        Cell(built),
        Cell("–"),
        Cell(text, ends or "no bound", "bad" if outside else ""),
        name_cell(basis),
    ]


def _limit_words(one: Crossing) -> str:
    return "all stated limits together" if one.limit is None else limit_text(one.limit)


def _kept(ds: xr.Dataset, one: Crossing) -> str:
    if one.kept_by_all:
        return "kept by all values swept"
    if one.kept_by_none:
        return "kept by none of the values swept"
    return f"{'at most' if one.keeps_below else 'at least'} {_text(ds, one.quantity, float(one.at.value))}"


def _ends(ds: xr.Dataset, one: Crossing) -> str:
    low, high = float(one.at.low), float(one.at.high)
    if np.isinf([low, high]).all():
        return "beyond the sweep" if low == high else "not known"
    if np.isinf(high):
        return f"{_text(ds, one.quantity, low)} or more"
    if np.isinf(low):
        return f"{_text(ds, one.quantity, high)} or less"
    return f"{_text(ds, one.quantity, low)} to {_text(ds, one.quantity, high)}"


def _number(ds: xr.Dataset, quantity: str, value: float) -> tuple[str, str]:
    """Write a swept value without its name: number and unit."""
    text = value_text(ds, quantity, value).removeprefix(quantity.rsplit(".", 1)[-1].replace("_", " ")).strip()
    number, _, unit = text.partition(" ")
    return number, unit


def _text(ds: xr.Dataset, quantity: str, value: float) -> str:
    return with_unit(*_number(ds, quantity, value))


def _words(quantity: str) -> str:
    return quantity.replace("_", " ").replace(".", " ")


def _others(ds: xr.Dataset, one: Crossing) -> str:
    return ", ".join(value_text(ds, name, ds[name].values[place]) for name, place in one.others.items())
