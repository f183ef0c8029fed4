"""Bins of the histograms: chosen from the level posture of all candidates, the same for all of them.

The first and last bin also hold what lies beyond, so the range limits only how far a distribution is resolved.
"""

import math
from collections.abc import Collection, Sequence

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.recorder import Bins
from crossaxle.sim.structure import OutputName
from crossaxle.studies.base.endurance import Curve
from crossaxle.studies.base.quantities import QUANTITIES

MOST_BINS = 400
"""No histogram has more bins."""

LEVEL_MULTIPLE = 4.0
"""Wheel loads and stresses are resolved up to this multiple of the largest level value."""

GAP_BEYOND = (0.15, 0.25)
"""Gaps are resolved from this far below zero to this far above the largest built clearance [m]."""


def choose_bins(level: Sequence[tuple[Sequence[OutputName], Array]]) -> dict[str, Bins]:
    """Choose bins by quantity.

    Parameters
    ----------
    level : sequence of (outputs, values)
        Of every candidate, standing level (SI).
    """
    loads = _of(level, "wheel_load")
    weight = max(sum(values) for values in ([*v[: _count(o, "wheel_load")]] for o, v in level))
    found = {
        "wheel_load": _bins(0.0, LEVEL_MULTIPLE * max(loads), 500.0),
        "body_torque": _bins(0.0, 0.5 * weight, 100.0),
    }
    recorded = {output.quantity for outputs, _ in level for output in outputs}
    found |= {
        name: _bins(*quantity.bins)
        for name, quantity in QUANTITIES.items()
        if quantity.bins is not None and name in recorded
    }
    if gaps := _of(level, "gap"):
        found["gap"] = _bins(-GAP_BEYOND[0], max(gaps) + GAP_BEYOND[1], 0.002)
    if stress := _of(level, "bracket_stress"):
        found["bracket_stress"] = _bins(0.0, max(LEVEL_MULTIPLE * max(map(abs, stress)), 500e6), 2e6)
    return found


CUT_OFF_IN_BINS = 30
"""Bins of stress range below the lowest cut-off: the damage of random ground is then right to well within 2 %."""

HIGHEST_RANGE = 800e6
"""Ranges are resolved up to here [Pa], about twice the yield stress of a good steel, or as the level stress has it."""

MOST_RANGE_BINS = 2000


def choose_range_bins(
    level: Sequence[tuple[Sequence[OutputName], Array]], categories: Collection[float], factor: float
) -> Bins:
    """Choose the bins of stress range in which cycles are counted.

    Parameters
    ----------
    level : sequence of (outputs, values)
        Of every candidate, standing level (SI).
    categories : collection of float
        Detail categories of all brackets of all candidates [Pa].
    factor : float
        By which ranges will be multiplied; the curve is met at smaller ranges by so much.
    """
    width = Curve(min(categories)).cut_off / factor / CUT_OFF_IN_BINS
    stress = max(map(abs, _of(level, "bracket_stress")))
    top = max(HIGHEST_RANGE, 2 * LEVEL_MULTIPLE * stress)
    count = min(math.ceil(top / width), MOST_RANGE_BINS)
    return Bins(0.0, count * width, count)


def _bins(low: float, high: float, width: float) -> Bins:
    """Bins of `width` or, where that makes too many, of the next round width."""
    while (high - low) / width > MOST_BINS:
        decade = 10.0 ** math.floor(math.log10(width * (1 + 1e-9)))
        width = next(step * decade for step in (2.0, 5.0, 10.0) if step * decade > width * (1 + 1e-9))
    first, last = math.floor(low / width + 1e-9), math.ceil(high / width - 1e-9)
    return Bins(first * width, last * width, last - first)


def _of(level: Sequence[tuple[Sequence[OutputName], Array]], quantity: str) -> list[float]:
    return [
        float(value)
        for outputs, values in level
        for output, value in zip(outputs, np.asarray(values), strict=True)
        if output.quantity == quantity
    ]


def _count(outputs: Sequence[OutputName], quantity: str) -> int:
    return sum(output.quantity == quantity for output in outputs)
