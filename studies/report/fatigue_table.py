"""Table of the brackets' fatigue: category, largest range, damage and distance to a crack."""

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.fatigue_life import ENDLESS, Life, distance_text, lives
from crossaxle.studies.base.number_format import fixed, kilometres, number, tick
from crossaxle.studies.base.table import Cell, Table, estimate_cell, name_cell
from crossaxle.studies.study.aims import aims


def fatigue_table(ds: xr.Dataset, course: int) -> Table | None:
    """Make the table, a row per bracket and candidate; None if no bracket has a detail category."""
    found, everyone, factors = lives(ds, course), candidates(ds), aims(ds).fatigue
    if not found:
        return None
    caption = (
        "Fatigue of the brackets, EN 1993-1-9:2005: quasi-static ranges as counted, times "
        f"{tick(factors.dynamic_factor)} for dynamics and {tick(factors.partial_factor)} as partial factor, as in the "
        "study; a crack is due at a damage of 100 %"
    )
    head = [
        Cell("Bracket"),
        name_cell("Candidate"),
        Cell("Detail category", "MPa"),
        Cell("Largest range, no factor", "MPa"),
        Cell("Damage in 1,000 km", "%"),
        Cell("Distance to a crack"),
    ]
    table = Table(caption, head)
    for life in sorted(found, key=lambda one: one.bracket):
        table.rows.append(
            [
                Cell(life.bracket),
                name_cell(everyone[life.candidate].name),
                Cell(fixed(life.category / 1e6, 0)),
                Cell(f"{'over ' if life.beyond else ''}{fixed(life.largest / 1e6, 0)}"),
                *_damage_cells(life),
            ]
        )
    return table


def _damage_cells(life: Life) -> list[Cell]:
    if np.isinf(float(life.distance.value)):
        return [Cell("0"), Cell("no crack expected", "no counted range does damage", "name")]
    if life.endless:
        beyond = f"not within {kilometres(ENDLESS)}"
        return [estimate_cell(life.damage.times(1e8)), Cell("no crack expected", beyond, "name")]
    value, _, bounds = distance_text(life.distance, "–").partition(" (")
    beyond = f"at most: {number(life.beyond)} cycles lie beyond the bins" if life.beyond else ""
    return [
        estimate_cell(life.damage.times(1e8)),
        Cell(value, bounds.rstrip(")"), "bad" if beyond else "", beyond),
    ]
