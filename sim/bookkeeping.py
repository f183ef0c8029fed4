"""Compiled bookkeeping of a block: extremes, wheel events, range of validity, histograms and cycles.

Before any output is evaluated at the block's positions it is bounded (:func:`crossaxle.sim.block.bounds`): one that can
reach neither a running extreme nor a threshold in this block is left out. The bounds include the rounding of
the evaluation, so what is kept is the same, bit for bit, as if everything had been evaluated.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Booleans, Integers
from crossaxle.sim.block import BLOCK, PART, PARTS, affine_part, affine_row, bounds_in_parts
from crossaxle.sim.compiled import compiled, compiled_in_place
from crossaxle.sim.plan import (
    CLOSED,
    CONTACT_POSITIONS,
    LANES,
    NOWHERE,
    OUTSIDE_POSITIONS,
    Plan,
    RecordedOutputs,
)
from crossaxle.sim.rainflow import follow
from crossaxle.sim.recorder import Combine

LARGEST_MAGNITUDE: Final = int(Combine.LARGEST_MAGNITUDE)
LEAST: Final = int(Combine.LEAST)


class Values(NamedTuple):
    """Outputs of one block; k outputs.

    ``home`` (1 + w, k) their affine map where the home set holds, of the inputs ``u`` (w, BLOCK), whose
    ranges in parts of the block are ``middle`` and ``half`` (w, PARTS); ``low``, ``high`` (k,) bounds; ``at``
    (BLOCK,) the positions solved one by one and ``solved`` (BLOCK, k) their outputs, NaN where there is no
    posture, from ``first_solved`` (PARTS + 1,) on in each part; ``solved_low``, ``solved_high`` (k,) their
    extremes; ``y`` (k, BLOCK) the values as far as ``known`` (k,); the rest is working memory.
    """

    home: Array
    u: Array
    low: Array
    high: Array
    at: Integers
    solved: Array
    y: Array
    known: Booleans
    sparse_u: Array
    sparse: Array
    bin_of: NDArray[np.int32]
    outside: Booleans
    solved_low: Array
    solved_high: Array
    first_solved: Integers
    middle: Array
    half: Array
    reach: Array
    part: Array


def new_values(home: Array, u: Array, middle: Array, half: Array) -> Values:
    """Working arrays for outputs with the affine map ``home`` (1 + w, k) of the block's inputs."""
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
        solved_low=np.zeros(k),
        solved_high=np.zeros(k),
        first_solved=np.zeros(PARTS + 1, dtype=np.int64),
        middle=middle,
        half=half,
        reach=np.zeros((2, PARTS)),
        part=np.zeros(PART),
    )


@compiled
def _evaluate(
    home: Array,
    channel: int,
    u: Array,
    at: Integers,
    solved: Array,
    n_solved: int,
    y: Array,
    known: Booleans,
) -> None:
    """Make sure that one row of ``y`` is known."""
    if known[channel]:
        return
    affine_row(home, channel, u, BLOCK, y, channel)
    for q in range(n_solved):
        y[channel, at[q]] = solved[q, channel]
    known[channel] = True


@compiled_in_place
def _reaches(low: float, high: float, least: float, greatest: float, magnitude: bool) -> bool:
    """Whether a value between ``low`` and ``high`` may be below ``least`` or (in magnitude) above ``greatest``."""
    return low < least or high > greatest or (magnitude and -low > greatest)


@compiled_in_place
def keep_extremes(plan: Plan, kept: RecordedOutputs, values: Values, block: int, n: int) -> None:
    """Update the running extremes, evaluating an output only in those parts of the block that may reach them."""
    channels, first, combine, minima, maxima = (
        plan.channel,
        plan.first,
        plan.combine,
        plan.minimum,
        plan.maximum,
    )
    home, u, low, high, at, solved = values.home, values.u, values.low, values.high, values.at, values.solved
    solved_low, solved_high, first_solved = values.solved_low, values.solved_high, values.first_solved
    middle, half, reach, y = values.middle, values.half, values.reach, values.part
    for r in range(len(combine)):
        # an extreme that is not wanted cannot be reached
        least = kept.minimum[r] if minima[r] else -np.inf
        greatest = kept.maximum[r] if maxima[r] else np.inf
        least_at, greatest_at = kept.minimum_at[r], kept.maximum_at[r]
        magnitude = combine[r] == LARGEST_MAGNITUDE
        for c in range(first[r], first[r + 1]):
            channel = channels[c]
            if not _reaches(low[channel], high[channel], least, greatest, magnitude):
                continue
            bounds_in_parts(home, channel, middle, half, reach)
            for part in range(PARTS):
                below, above = reach[0, part], reach[1, part]
                if first_solved[part] < first_solved[part + 1]:
                    below, above = min(below, solved_low[channel]), max(above, solved_high[channel])
                if not _reaches(below, above, least, greatest, magnitude):
                    continue
                begin = part * PART
                affine_part(home, channel, u, begin, y)
                for q in range(first_solved[part], first_solved[part + 1]):
                    y[at[q] - begin] = solved[q, channel]
                for i in range(min(PART, n - begin)):
                    size = abs(y[i]) if magnitude else y[i]
                    if y[i] < least:
                        least, least_at = y[i], block + begin + i
                    if size > greatest:
                        greatest, greatest_at = size, block + begin + i
        if minima[r]:
            kept.minimum[r], kept.minimum_at[r] = least, least_at
        if maxima[r]:
            kept.maximum[r], kept.maximum_at[r] = greatest, greatest_at


@compiled_in_place
def keep_wheel_events(
    plan: Plan, kept: RecordedOutputs, values: Values, block: int, n: int, n_solved: int
) -> None:
    """Count unloaded and free stretches; positions without a posture end them."""
    load_start, load_end, load_free = plan.load_start, plan.load_end, plan.load_free
    open_since, is_free, low, y, reach = kept.open_since, kept.is_free, values.low, values.y, values.reach
    for wheel in range(len(load_start)):
        since, free = open_since[wheel], is_free[wheel]
        begins, ends, nothing = load_start[wheel], load_end[wheel], load_free[wheel]
        if since == CLOSED and not free:
            if low[wheel] >= begins and low[wheel] > nothing:
                continue
            bounds_in_parts(values.home, wheel, values.middle, values.half, reach)
            least = values.solved_low[wheel]
            for part in range(PARTS):
                least = min(least, reach[0, part])
            if least >= begins and least > nothing:
                continue
        _evaluate(values.home, wheel, values.u, values.at, values.solved, n_solved, y, values.known)
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


@compiled_in_place
def close_event(plan: Plan, kept: RecordedOutputs, wheel: int, since: int, end: int) -> None:
    """End the unload event of a wheel that began at ``since``; it counts if it is long enough."""
    if end - since >= plan.shortest:
        kept.unload_events[wheel] += 1
        kept.unloaded[wheel] += end - since


@compiled
def forget(kept: RecordedOutputs) -> None:
    """Make ready for another sample."""
    kept.minimum[:] = np.inf
    kept.maximum[:] = -np.inf
    kept.minimum_at[:] = NOWHERE
    kept.maximum_at[:] = NOWHERE
    kept.histogram[:] = 0
    kept.unload_events[:] = 0
    kept.unloaded[:] = 0
    kept.free_events[:] = 0
    kept.free[:] = 0
    kept.open_since[:] = CLOSED
    kept.is_free[:] = False
    kept.totals[:] = 0
    kept.flow.open[:] = 0
    kept.flow.half_cycles[:] = 0


@compiled
def finish_sample(plan: Plan, kept: RecordedOutputs, end: int) -> None:
    """End the unload events that are open at the end of the sample; add the histogram's lanes up in the first."""
    histogram = kept.histogram
    for lane in range(1, len(histogram)):
        for i in range(histogram.shape[1]):
            histogram[0, i] += histogram[lane, i]
    for wheel in range(len(kept.open_since)):
        if kept.open_since[wheel] != CLOSED:
            close_event(plan, kept, wheel, kept.open_since[wheel], end)


@compiled_in_place
def keep_cycles(plan: Plan, kept: RecordedOutputs, values: Values, n: int, n_solved: int) -> None:
    """Follow the outputs whose cycles are counted; positions without a posture are passed over."""
    followed = plan.followed
    for signal in range(len(followed)):
        _evaluate(
            values.home,
            followed[signal],
            values.u,
            values.at,
            values.solved,
            n_solved,
            values.y,
            values.known,
        )
        follow(kept.flow, signal, values.y[followed[signal], :n])


@compiled_in_place
def keep_range(plan: Plan, kept: RecordedOutputs, values: Values, tilt: float, n: int, n_solved: int) -> None:
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
            _evaluate(
                values.home, channel, values.u, values.at, values.solved, n_solved, values.y, values.known
            )
            for i in range(n):
                outside[i] |= abs(values.y[channel, i]) > limit[j]
    if touched:
        count = 0
        for i in range(n):
            count += outside[i]
        kept.totals[OUTSIDE_POSITIONS] += count


@compiled_in_place
def keep_contact(plan: Plan, kept: RecordedOutputs, values: Values, n: int, n_solved: int) -> None:
    """Count positions at which some gap is below zero: there the parts overlap, which a real truck cannot do."""
    touching, low, inside = plan.touching, values.low, values.outside
    touched = False
    for j in range(len(touching)):
        channel = touching[j]
        if low[channel] < 0.0:
            if not touched:
                inside[:] = False
                touched = True
            _evaluate(
                values.home, channel, values.u, values.at, values.solved, n_solved, values.y, values.known
            )
            for i in range(n):
                inside[i] |= values.y[channel, i] < 0.0
    if touched:
        count = 0
        for i in range(n):
            count += inside[i]
        kept.totals[CONTACT_POSITIONS] += count


@compiled_in_place
def keep_histograms(
    plan: Plan, kept: RecordedOutputs, values: Values, block: int, n: int, n_solved: int, failures: int
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
