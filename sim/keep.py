"""Compiled bookkeeping of a block: extremes, wheel events, range of validity, histograms and cycles.

Before any output is evaluated at the block's positions it is bounded (:func:`sim.block.bounds`): one that can
reach neither a running extreme nor a threshold in this block is left out. The bounds include the rounding of
the evaluation, so what is kept is the same, bit for bit, as if everything had been evaluated.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sim.block import BLOCK, PART, affine_row, extent
from sim.compiled import compiled, compiled_in_place
from sim.plan import CLOSED, LANES, OUTSIDE_POSITIONS, Kept, Plan
from sim.rainflow import follow
from sim.recorder import Combine
from sim.structure import Array

Integers = NDArray[np.int64]

LARGEST_MAGNITUDE: Final = int(Combine.LARGEST_MAGNITUDE)
LEAST: Final = int(Combine.LEAST)


class Values(NamedTuple):
    """Outputs of one block; k outputs.

    ``home`` (1 + w, k) their affine map where the home set holds, of the inputs ``u`` (w, BLOCK); ``low``,
    ``high`` (k,) bounds; ``at`` (BLOCK,) the positions solved one by one and ``solved`` (BLOCK, k) their
    outputs, NaN where there is no posture; ``y`` (k, BLOCK) the values as far as ``known`` (k,); the rest is
    working memory.
    """

    home: Array
    u: Array
    low: Array
    high: Array
    at: Integers
    solved: Array
    y: Array
    known: NDArray[np.bool_]
    sparse_u: Array
    sparse: Array
    bin_of: NDArray[np.int32]
    outside: NDArray[np.bool_]
    work_low: Array
    work_high: Array


def new_values(home: Array, u: Array) -> Values:
    """Working arrays for outputs with the affine map ``home`` (1 + w, k)."""
    k = home.shape[1]
    return Values(
        home=home,
        u=u,
        low=np.zeros(k),
        high=np.zeros(k),
        at=np.zeros(BLOCK, dtype=np.int64),
        solved=np.zeros((BLOCK, k)),
        y=np.zeros((k, BLOCK)),
        known=np.zeros(k, dtype=bool),
        sparse_u=np.zeros_like(u),
        sparse=np.zeros((2, BLOCK)),
        bin_of=np.zeros(BLOCK, dtype=np.int32),
        outside=np.zeros(BLOCK, dtype=bool),
        work_low=np.zeros(PART),
        work_high=np.zeros(PART),
    )


@compiled
def _evaluate(values: Values, channel: int, n_solved: int) -> None:
    """Make sure that one row of ``y`` is known."""
    if values.known[channel]:
        return
    y, at, solved = values.y, values.at, values.solved
    affine_row(values.home, channel, values.u, BLOCK, y, channel)
    for q in range(n_solved):
        y[channel, at[q]] = solved[q, channel]
    values.known[channel] = True


@compiled
def _first_equal(y: Array, row: int, value: float) -> int:
    i = 0
    while y[row, i] != value:
        i += 1
    return i


@compiled_in_place
def keep_extremes(
    plan: Plan, kept: Kept, values: Values, block: int, n: int, n_solved: int, whole: bool
) -> None:
    """Update the running extremes where the block's bounds reach them; ``whole``: all BLOCK lanes are postures."""
    channels, first, combine, minima, maxima = (
        plan.channel,
        plan.first,
        plan.combine,
        plan.minimum,
        plan.maximum,
    )
    low, high, y = values.low, values.high, values.y
    minimum, maximum = kept.minimum, kept.maximum
    for r in range(len(combine)):
        least, greatest = minimum[r], maximum[r]
        magnitude = combine[r] == LARGEST_MAGNITUDE
        for c in range(first[r], first[r + 1]):
            channel = channels[c]
            if not (
                (minima[r] and low[channel] < least)
                or (maxima[r] and (high[channel] > greatest or (magnitude and -low[channel] > greatest)))
            ):
                continue
            _evaluate(values, channel, n_solved)
            if whole:
                y_low, y_high = extent(y, channel, values.work_low, values.work_high)
            else:
                y_low, y_high = np.inf, -np.inf
                for i in range(n):
                    y_low = y[channel, i] if y[channel, i] < y_low else y_low
                    y_high = y[channel, i] if y[channel, i] > y_high else y_high
            if not y_low <= y_high:
                continue
            if minima[r] and y_low < least:
                least = y_low
                kept.minimum_at[r] = block + _first_equal(y, channel, y_low)
            if not maxima[r]:
                continue
            top_at = y_high
            if magnitude and -y_low > y_high:
                top_at = y_low
            top = abs(top_at) if magnitude else top_at
            if top > greatest:
                greatest = top
                kept.maximum_at[r] = block + _first_equal(y, channel, top_at)
        minimum[r], maximum[r] = least, greatest


@compiled_in_place
def keep_wheel_events(
    plan: Plan, kept: Kept, values: Values, block: int, n: int, n_solved: int, whole: bool
) -> None:
    """Count unloaded and free stretches; positions without a posture end them. ``whole`` as for extremes."""
    load_start, load_end, load_free = plan.load_start, plan.load_end, plan.load_free
    open_since, is_free, low, y = kept.open_since, kept.is_free, values.low, values.y
    for wheel in range(len(load_start)):
        since, free = open_since[wheel], is_free[wheel]
        begins, ends, nothing = load_start[wheel], load_end[wheel], load_free[wheel]
        if since == CLOSED and not free and low[wheel] >= begins and low[wheel] > nothing:
            continue
        _evaluate(values, wheel, n_solved)
        if since == CLOSED and not free and whole:
            least = extent(y, wheel, values.work_low, values.work_high)[0]
            if least >= begins and least > nothing:
                continue
        free_positions = 0
        for i in range(n):
            load = y[wheel, i]
            if since == CLOSED:
                if load < begins:
                    since = block + i
            elif not load <= ends:
                close_event(plan, kept, wheel, since, block + i)
                since = CLOSED
            if load <= nothing:
                free_positions += 1
                if not free:
                    kept.free_events[wheel] += 1
                free = True
            else:
                free = False
        kept.free[wheel] += free_positions
        open_since[wheel], is_free[wheel] = since, free


@compiled
def close_event(plan: Plan, kept: Kept, wheel: int, since: int, end: int) -> None:
    """End the unload event of a wheel that began at ``since``; it counts if it is long enough."""
    if end - since >= plan.shortest:
        kept.unload_events[wheel] += 1
        kept.unloaded[wheel] += end - since


@compiled_in_place
def keep_cycles(plan: Plan, kept: Kept, values: Values, n: int, n_solved: int) -> None:
    """Follow the outputs whose cycles are counted; positions without a posture are passed over."""
    followed = plan.followed
    for signal in range(len(followed)):
        _evaluate(values, followed[signal], n_solved)
        follow(kept.flow, signal, values.y[followed[signal], :n])


@compiled_in_place
def keep_range(plan: Plan, kept: Kept, values: Values, tilt: float, n: int, n_solved: int) -> None:
    """Count positions outside the range; ``tilt`` is a bound of the squared in-plane gravity in the block."""
    limited, limit, low, high, outside = plan.limited, plan.limit, values.low, values.high, values.outside
    touched = tilt > plan.steepest
    if touched:
        u = values.u
        for i in range(n):
            outside[i] = u[0, i] * u[0, i] + u[1, i] * u[1, i] > plan.steepest
    for j in range(len(limited)):
        channel = limited[j]
        if max(-low[channel], high[channel]) > limit[j]:
            if not touched:
                outside[:] = False
                touched = True
            _evaluate(values, channel, n_solved)
            for i in range(n):
                outside[i] |= abs(values.y[channel, i]) > limit[j]
    if touched:
        count = 0
        for i in range(n):
            count += outside[i]
        kept.totals[OUTSIDE_POSITIONS] += count


@compiled_in_place
def keep_histograms(
    plan: Plan, kept: Kept, values: Values, block: int, n: int, n_solved: int, failures: int
) -> None:
    """Count every ``stride``-th position of the sample that has a posture."""
    stride = plan.stride
    begin = (stride - block % stride) % stride
    count = (n - begin + stride - 1) // stride
    if count <= 0 or len(plan.counted) == 0:
        return
    u, sparse_u, x, bin_of = values.u, values.sparse_u, values.sparse, values.bin_of
    at, solved, home, histogram = values.at, values.solved, values.home, kept.histogram
    channels, first, combine = plan.channel, plan.first, plan.combine
    for i in range(len(u)):
        for j in range(count):
            sparse_u[i, j] = u[i, begin + j * stride]
    for counted in range(len(plan.counted)):
        r = plan.counted[counted]
        for c in range(first[r], first[r + 1]):
            row = 0 if c == first[r] else 1
            affine_row(home, channels[c], sparse_u, count, x, row)
            for q in range(n_solved):
                place = at[q] - begin
                if place >= 0 and place % stride == 0:
                    x[row, place // stride] = solved[q, channels[c]]
            if combine[r] == LARGEST_MAGNITUDE:
                for j in range(count):
                    x[row, j] = abs(x[row, j])
            if row == 0:
                continue
            if combine[r] == LEAST:
                for j in range(count):
                    x[0, j] = x[1, j] if x[1, j] < x[0, j] else x[0, j]
            else:
                for j in range(count):
                    x[0, j] = x[1, j] if x[1, j] > x[0, j] else x[0, j]
        good = count
        if failures > 0:
            good = 0
            for j in range(count):
                if x[0, j] == x[0, j]:
                    x[0, good] = x[0, j]
                    good += 1
        start, low, scale = plan.bin_first[counted], plan.bin_low[counted], plan.bin_scale[counted]
        last = np.float64(plan.bins[counted] - 1)
        for j in range(good):
            bin_at = (x[0, j] - low) * scale
            bin_at = bin_at if bin_at > 0.0 else 0.0
            bin_of[j] = np.int32(bin_at if bin_at < last else last)
        # unsigned: an index that cannot count from the end is cheaper
        turns = good - good % LANES
        for j in range(0, turns, LANES):
            histogram[0, np.uint64(start + bin_of[j])] += 1
            histogram[1, np.uint64(start + bin_of[j + 1])] += 1
            histogram[2, np.uint64(start + bin_of[j + 2])] += 1
            histogram[3, np.uint64(start + bin_of[j + 3])] += 1
        for j in range(turns, good):
            histogram[0, np.uint64(start + bin_of[j])] += 1
