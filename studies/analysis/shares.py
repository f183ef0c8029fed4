"""Share of the distance that an output spends beyond each level, with intervals, from the folded histograms.

A fold is a twentieth of the samples; folds are independent, so the spread between them tells how sure a
share is.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.studies.analysis.candidates import values
from crossaxle.studies.base.intervals import Interval, rate

Side = Literal["below", "above", "beyond"]


@dataclass(frozen=True)
class Shares:
    """Shares of the distance.

    Attributes
    ----------
    at : (levels,)
        Levels in SI units, increasing.
    share : Interval, (candidates, items, levels)
        NaN where the output never got there.
    """

    at: Array
    share: Interval


def shares(ds: xr.Dataset, name: str, side: Side, course: int = 0, keep: list[int] | None = None) -> Shares:
    """Return the share of distance at or below, at or above, or beyond plus or minus each level.

    Parameters
    ----------
    ds : Dataset
    name : str
        Of the output, e.g. ``gap``; ``NAME_histogram`` and ``NAME_bin`` are read.
    side : {"below", "above", "beyond"}
        "beyond" takes both signs together, for outputs such as twist.
    course : int
    keep : list of int, optional
        Candidates wanted; all by default.

    Returns
    -------
    Shares
        With one item where the output has no items.
    """
    counts = values(ds, f"{name}_histogram", course)  # (candidate, fold, item, bin) or without item
    counts = counts if keep is None else counts[keep]
    counts = counts[:, :, None, :] if counts.ndim == 3 else counts
    middle = np.asarray(ds[f"{name}_bin"].values, dtype=float)
    half = float(ds[f"{name}_bin"].attrs["bin_width"]) / 2
    total = counts.sum(axis=-1)
    if side == "below":
        at, amount = middle + half, np.cumsum(counts, axis=-1)
    elif side == "above":
        at, amount = middle - half, _from_top(counts)
    else:
        at, amount = _both(counts, middle, half)
    amount = np.moveaxis(amount, 1, -1)  # (candidate, item, level, fold)
    found = rate(amount, np.moveaxis(total, 1, -1)[:, :, None, :], bunch=1.0)
    never = amount.sum(axis=-1) == 0
    blank = [np.where(never, np.nan, end) for end in (found.value, found.low, np.minimum(found.high, 1.0))]
    return Shares(at, Interval(blank[0], blank[1], blank[2]))


def level_at(at: Array, share: Array, wanted: float) -> float:
    """Return the level whose share is ``wanted``, between the levels on a logarithmic scale of shares.

    NaN where even the first level's share is smaller; shares may rise or fall along the levels.
    """
    good = np.isfinite(share) & (share > 0)
    if not good.any() or share[good].max() < wanted:
        return float("nan")
    order = np.argsort(share[good], kind="stable")
    return float(np.interp(np.log(wanted), np.log(share[good][order]), at[good][order]))


def _from_top(counts: Array) -> Array:
    return np.cumsum(counts[..., ::-1], axis=-1)[..., ::-1]


def _both(counts: Array, middle: Array, half: float) -> tuple[Array, Array]:
    """Levels from zero up, and the counts in bins wholly beyond plus or minus each."""
    reach = float(np.abs(middle).max()) + half
    at = np.arange(0.0, reach, 2 * half)
    above, below = _from_top(counts), np.cumsum(counts, axis=-1)
    slack = 1e-9 * half
    first = np.searchsorted(middle - half, at - slack)  # first bin at or above +level
    last = np.searchsorted(middle + half, -at + slack, side="right") - 1  # last bin at or below -level
    up = np.where(first < middle.size, above[..., np.minimum(first, middle.size - 1)], 0.0)
    down = np.where(last >= 0, below[..., np.maximum(last, 0)], 0.0)
    return at, up + down
