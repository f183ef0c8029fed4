"""Candidates that no other beats in every outcome (the Pareto set), and how surely the others are beaten."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studies.outcomes import Outcome
from studies.statistics import Array


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

    kept: NDArray[np.bool_]
    beaten_by: tuple[int, ...]
    surely: NDArray[np.bool_]


def trade_off(outcomes: list[Outcome]) -> TradeOff:
    """Compare all candidates in all outcomes; an outcome that does not apply to one of two is left out for them."""
    value = np.stack([o.estimate.value for o in outcomes], axis=1)  # (candidates, outcomes)
    low = np.stack([o.estimate.low for o in outcomes], axis=1)
    high = np.stack([o.estimate.high for o in outcomes], axis=1)
    beaten = _beats(value, value)
    surely = _beats(high, low)
    by = tuple(int(np.flatnonzero(row)[0]) if row.any() else -1 for row in beaten.T)
    return TradeOff(np.logical_not(beaten.any(axis=0)), by, np.asarray(surely.any(axis=0)))


def _beats(mine: Array, theirs: Array) -> NDArray[np.bool_]:
    """[i, j]: candidate i with its values beats candidate j with its."""
    a, b = mine[:, None, :], theirs[None, :, :]
    known = np.isfinite(a) & np.isfinite(b)
    no_worse = np.where(known, a <= b, True).all(axis=2)
    better = np.where(known, a < b, False).any(axis=2)
    return np.asarray(no_worse & better)
