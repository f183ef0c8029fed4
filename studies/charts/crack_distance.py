"""Chart: how far each candidate goes until a bracket cracks, a panel per bracket, against the stated life."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.fatigue_life import ENDLESS, Life, distance_text, lives
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import kilometres, tick
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import DotPanel, dots, hue
from crossaxle.studies.study.aims import aims

MOST_BRACKETS = 6
"""Brackets drawn, those that crack first; the table has all."""


def fatigue_life(ds: xr.Dataset, course: int = 0, width: float = style.WIDE) -> Figure:
    """Draw the distance to a crack of every candidate and bracket.

    Raises
    ------
    ValueError
        If no bracket has a detail category.
    """
    everyone, found, stated = candidates(ds), lives(ds, course), aims(ds)
    if not found:
        raise ValueError("no bracket has a detail category; there is nothing to draw")
    first: dict[str, int] = {}
    for life in sorted(found, key=lambda one: float(one.distance.value)):
        first.setdefault(life.bracket, len(first))
    panels = []
    for bracket in sorted(first, key=lambda name: first[name])[:MOST_BRACKETS]:
        ends = np.full((3, len(everyone)), np.nan)
        for life in found:
            if life.bracket == bracket:
                value = np.inf if life.endless else float(life.distance.value)
                ends[:, life.candidate] = value, life.distance.low, life.distance.high
        estimate = Interval(*(ends / 1e6))
        panels.append(
            DotPanel(
                bracket,
                "thousand km to a crack",
                estimate,
                "no crack expected",
                stated.life / 1e6 if stated.life_is_stated else None,
            )
        )
    factors = stated.fatigue
    dashed = f" Dashed: the stated life, {kilometres(stated.life)}." if stated.life_is_stated else ""
    note = (
        f"Detail categories and damage sum of EN 1993-1-9:2005. Quasi-static stress ranges, times "
        f"{tick(factors.dynamic_factor)} for dynamics and {tick(factors.partial_factor)} (partial factor) as in the "
        f"study. Bars: 95 % interval.{dashed}"
    )
    return dots(
        everyone, hue(ds), panels, _title(found, [c.name for c in everyone]), note, width, common=True
    )


def _title(found: list[Life], names: list[str]) -> str:
    worst = min(found, key=lambda life: float(life.distance.value))
    if worst.endless:
        return f"No crack of a bracket expected within {kilometres(ENDLESS)}"
    of = f"{worst.bracket}, {names[worst.candidate]}" if len(names) > 1 else worst.bracket
    return f"Shortest predicted life: {distance_text(worst.distance)}, {of}"
