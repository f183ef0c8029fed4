"""Candidates that no other beats in every outcome (the Pareto set), and how surely the others are beaten."""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array, Booleans
from crossaxle.studies.analysis.candidates import candidates, values
from crossaxle.studies.analysis.outcomes import Outcome, headline
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.table import Cell, Table, name_cell

MASS_HEIGHT = "mass_height_static"


@dataclass(frozen=True)
class TradeOff:
    """Whether a candidate is worth looking at.

    Attributes
    ----------
    kept : (candidates,) bool
        No other is at least as good in every outcome and better in one.
    beaten_by : tuple of int
        For each candidate one that beats it in all outcomes, or -1.
    surely : (candidates,) bool
        It is beaten even if every comparison is turned in its favour within the intervals.
    """

    kept: Booleans
    beaten_by: tuple[int, ...]
    surely: Booleans


def considered(ds: xr.Dataset, course: int = 0) -> list[Outcome]:
    """Return what candidates are weighed by: the headline outcomes, and the height of the mass where it differs."""
    found = headline(ds, course)
    if MASS_HEIGHT in ds and float(np.ptp(height := values(ds, MASS_HEIGHT))) > 1e-6:
        none = np.zeros((height.size, 0))
        meaning = "Height of the centre of mass above level ground: what tipping goes by."
        shown = Interval(height, height, height).times(1e3)
        found.append(
            Outcome(MASS_HEIGHT, "Height of mass", "mm", meaning, shown, ("",) * height.size, none, none, 1e3)
        )
    return found


def trade_off_table(ds: xr.Dataset, course: int) -> Table | None:
    """Make the table of candidates worth considering and those that another beats; None for a single candidate."""
    everyone = candidates(ds)
    if len(everyone) < 2:
        return None
    outcomes = considered(ds, course)
    found = trade_off(outcomes)
    names = ", ".join(o.heading.lower() for o in outcomes)
    table = Table(
        f"Trade-offs: who is beaten in every outcome ({names})",
        [Cell("Candidate"), name_cell("Standing"), name_cell("Best in")],
    )
    best = [
        int(np.nanargmin(o.estimate.value)) if np.isfinite(o.estimate.value).any() else -1 for o in outcomes
    ]
    for c in everyone:
        by = found.beaten_by[c.index]
        standing = Cell("no other beats it in everything", mark="name good")
        if by >= 0:
            sure = "for sure" if found.surely[c.index] else "by the estimates"
            standing = Cell(
                f"beaten {sure} by {everyone[by].name}", mark="name bad" if sure == "for sure" else "name"
            )
        own = [o.heading.lower() for o, k in zip(outcomes, best, strict=True) if k == c.index]
        table.rows.append([Cell(c.name), standing, name_cell(", ".join(own) or "–")])
    return table


def trade_off(outcomes: list[Outcome]) -> TradeOff:
    """Compare all candidates in all outcomes; an outcome that does not apply to one of two is left out for them."""
    value = np.stack([o.estimate.value for o in outcomes], axis=1)  # (candidates, outcomes)
    low = np.stack([o.estimate.low for o in outcomes], axis=1)
    high = np.stack([o.estimate.high for o in outcomes], axis=1)
    beaten = _beats(value, value)
    surely = _beats(high, low)
    by = tuple(int(np.flatnonzero(row)[0]) if row.any() else -1 for row in beaten.T)
    return TradeOff(np.logical_not(beaten.any(axis=0)), by, np.asarray(surely.any(axis=0)))


def _beats(mine: Array, theirs: Array) -> Booleans:
    """[i, j]: candidate i with its values beats candidate j with its."""
    a, b = mine[:, None, :], theirs[None, :, :]
    known = np.isfinite(a) & np.isfinite(b)
    no_worse = np.where(known, a <= b, True).all(axis=2)
    better = np.where(known, a < b, False).any(axis=2)
    return np.asarray(no_worse & better)
