"""Rainflow counting of a signal as it comes, position by position.

Four-point method (ASTM E1049-85, section 5.4.4, in the form that closes an inner range between two larger ones): of
four successive turning points the middle range counts as one cycle if neither neighbour is smaller, and its two points
go.
What is left at the end counts as half cycles, range by range, which gives the standard's own counts.

Reversals no larger than a gate are passed over, and cycles are counted in uniform bins of range, the last of which also
holds what lies beyond.
"""

from typing import Final, NamedTuple

import numpy as np

from crossaxle.arrays import Array, Integers
from crossaxle.sim.compiled import compiled, compiled_in_place

DEPTH: Final = 512
"""Turning points kept open; beyond that the oldest range counts as a half cycle."""


class Rainflow(NamedTuple):
    """Counters of k signals.

    ``turning`` (k, DEPTH) open turning points, the last of them still moving, ``open`` (k,) how many;
    ``half_cycles`` (k, bins) counts; ``scale`` (k,) bins per unit of range; ``gate`` (k,) largest reversal passed over.
    """

    turning: Array
    open: Integers
    half_cycles: Integers
    scale: Array
    gate: Array


def new_rainflow(widths: Array, bins: int) -> Rainflow:
    """Counters for signals whose ranges are counted in bins of ``widths`` (k,); the gate is half a bin."""
    count = len(widths)
    return Rainflow(
        np.zeros((count, DEPTH)),
        np.zeros(count, dtype=np.int64),
        np.zeros((count, bins), dtype=np.int64),
        1.0 / np.asarray(widths, dtype=float),
        0.5 * np.asarray(widths, dtype=float),
    )


@compiled_in_place
def _count(counts: Integers, place: float, half_cycles: int) -> None:
    """Count a range that lies ``place`` bins above zero."""
    last = len(counts) - 1
    # unsigned: an index that cannot count from the end is cheaper
    counts[np.uint64(last if place >= last else np.int64(place))] += half_cycles


@compiled_in_place
def _close(turning: Array, counts: Integers, scale: float, n: int, tip: float) -> int:
    """Count the inner ranges that are closed by ``tip``, the last of ``n`` points; return how many stay open."""
    while n >= 4:
        before, after = turning[n - 3], turning[n - 2]
        inner = abs(after - before)
        if inner > abs(before - turning[n - 4]) or inner > abs(tip - after):
            break
        _count(counts, inner * scale, 2)
        n -= 2
    turning[n - 1] = tip
    return n


@compiled
def follow(flow: Rainflow, signal: int, values: Array) -> None:
    """Take the next values (n,) of a signal; NaN are passed over (they fail every comparison)."""
    turning, counts = flow.turning[signal], flow.half_cycles[signal]
    gate, scale = flow.gate[signal], flow.scale[signal]
    n, start = flow.open[signal], 0
    while n < 2 and start < len(values):
        value = values[start]
        if (n == 0 and value == value) or abs(value - turning[0]) > gate:
            turning[n] = value
            n += 1
        start += 1
    flow.open[signal] = n
    if n < 2:
        return
    # Falling stretches are followed upside down.
    sign = 1.0 if turning[n - 1] > turning[n - 2] else -1.0
    tip = sign * turning[n - 1]
    for i in range(start, len(values)):
        here = sign * values[i]
        # no branch on whether the tip moves: that is as good as random, and a wrong guess of the processor dear
        tip = here if here > tip else tip
        if tip - here > gate:
            n = _close(turning, counts, scale, n, sign * tip)
            if n == DEPTH:
                _count(counts, abs(turning[1] - turning[0]) * scale, 1)
                for j in range(n - 1):
                    turning[j] = turning[j + 1]
                n -= 1
            turning[n] = values[i]
            n += 1
            sign, tip = -sign, -here
    turning[n - 1] = sign * tip
    flow.open[signal] = n


@compiled
def finish(flow: Rainflow) -> None:
    """Count what is still open: cycles that the last points close, the rest as half cycles; then forget it."""
    for signal in range(len(flow.open)):
        turning, counts, scale = flow.turning[signal], flow.half_cycles[signal], flow.scale[signal]
        n = flow.open[signal]
        if n > 0:
            n = _close(turning, counts, scale, n, turning[n - 1])
        for i in range(n - 1):
            _count(counts, abs(turning[i + 1] - turning[i]) * scale, 1)
        flow.open[signal] = 0
