# mypy: disable-error-code="untyped-decorator,no-any-return"
"""Compiled kernel: contact along whole tracks, with extremes, histograms and wheel events taken on the way.

Positions go through in blocks. In a block everything is evaluated for many positions at once with the affine
maps of the home set (all wheels down, in an ordinary vehicle); positions at which that set does not hold are
solved one by one (:mod:`sim.active_sets`) and put in their places. Before any output is evaluated, the
block's extent of each input bounds it: an output that can reach neither a running extreme nor a threshold in
this block is left out. The bounds include the rounding of the evaluation, so what is kept is the same, bit
for bit, as if everything had been evaluated.

No sum depends on how the compiler arranges it (no fast-math), so results are the same bits compiled or
interpreted.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from sim.active_sets import HOME, Condensed, SetTable, evaluate, settle
from sim.codes import GOOD, NOT_FINITE, TIPPED
from sim.ground_plane import GRAVITY
from sim.recorder import Combine
from sim.reduced import HINGE_TOLERANCE
from sim.structure import Array

Integers = NDArray[np.int64]

BLOCK = 256
"""Positions evaluated together."""

ROUNDING = 1e-12
"""Share of a bound's terms by which it is widened; the evaluation's rounding is a thousandth of that."""

VALUE = int(Combine.VALUE)
LARGEST_MAGNITUDE = int(Combine.LARGEST_MAGNITUDE)
LEAST = int(Combine.LEAST)
CLOSED = -1


class Ground(NamedTuple):
    """Ground under one vehicle: wheel i at position p touches line[i] at index p + offset[i] + share[i].

    ``heights`` (lines, points); ``grade``, ``side_slope`` (points,); ``line``, ``offset`` (w,) integers,
    ``share`` (w,) in [0, 1); ``slope_offset`` (1,) index of the slopes relative to p; ``slope_x``,
    ``slope_y`` (w,), ``warp`` (w, w - 3) as in :class:`sim.ground_plane.GroundPlane`.
    """

    heights: NDArray[np.floating]
    grade: Array
    side_slope: Array
    line: Integers
    offset: Integers
    share: Array
    slope_offset: Integers
    slope_x: Array
    slope_y: Array
    warp: Array


class Plan(NamedTuple):
    """The recorder as arrays; r records over c channels, channels of record i at first[i] : first[i + 1]."""

    channel: Integers
    first: Integers
    combine: Integers
    minimum: NDArray[np.bool_]
    maximum: NDArray[np.bool_]
    bins: Integers
    bin_first: Integers
    bin_low: Array
    bin_scale: Array
    limit: Array
    slope_limit: float
    load_start: Array
    load_end: Array
    load_free: Array
    shortest: int
    stride: int


class Kept(NamedTuple):
    """What a sample has given so far; positions are counted from its first.

    ``minimum``, ``maximum`` (r,) and where, ``minimum_at``, ``maximum_at``; ``histogram`` flat; per wheel
    ``unload_events``, ``unloaded``, ``free_events``, ``free`` (counts, positions) and ``open_since`` (start
    of a current event or CLOSED), ``is_free``; ``totals``: positions tipped, without equilibrium, outside the
    range, off the home set.
    """

    minimum: Array
    maximum: Array
    minimum_at: Integers
    maximum_at: Integers
    histogram: Integers
    unload_events: Integers
    unloaded: Integers
    free_events: Integers
    free: Integers
    open_since: Integers
    is_free: NDArray[np.bool_]
    totals: Integers


class Scratch(NamedTuple):
    """Working arrays of one block; w inputs, k outputs, m hinges."""

    u: Array
    z: Array
    low: Array
    high: Array
    lane: Array
    excess: Array
    y: Array
    known: NDArray[np.bool_]
    y_low: Array
    y_high: Array
    solved: Array
    at: Integers
    sparse_u: Array
    sparse: Array
    combined: Array
    outside: NDArray[np.bool_]


def new_scratch(n_wheels: int, n_outputs: int) -> Scratch:
    """Working arrays for a vehicle."""
    return Scratch(
        u=np.zeros((n_wheels, BLOCK)),
        z=np.zeros((n_wheels, BLOCK)),
        low=np.zeros(n_wheels),
        high=np.zeros(n_wheels),
        lane=np.zeros(BLOCK),
        excess=np.zeros(BLOCK),
        y=np.zeros((n_outputs, BLOCK)),
        known=np.zeros(n_outputs, dtype=bool),
        y_low=np.zeros(n_outputs),
        y_high=np.zeros(n_outputs),
        solved=np.zeros((BLOCK, n_outputs)),
        at=np.zeros(BLOCK, dtype=np.int64),
        sparse_u=np.zeros((n_wheels, BLOCK)),
        sparse=np.zeros(BLOCK),
        combined=np.zeros(BLOCK),
        outside=np.zeros(BLOCK, dtype=bool),
    )


@njit(cache=True, nogil=True)
def run_segment(
    vehicle: Condensed,
    table: SetTable,
    ground: Ground,
    plan: Plan,
    kept: Kept,
    scratch: Scratch,
    start: int,
    stop: int,
    linearised: bool,
) -> int:
    """Take positions ``start`` to ``stop`` into ``kept``; GOOD, or NOT_FINITE at the first such block."""
    guess = HOME
    for block in range(start, stop, BLOCK):
        n = min(BLOCK, stop - block)
        _inputs(ground, block, n, linearised, scratch)
        if not _extents(scratch):
            return NOT_FINITE
        n_solved, failures, guess = _solve_exceptions(vehicle, table, guess, n, kept, scratch)
        _bound_outputs(table, n_solved, scratch)
        _extremes(table, plan, kept, scratch, block, n, n_solved, failures)
        _wheel_events(table, plan, kept, scratch, block, n, n_solved)
        _outside_range(table, plan, kept, scratch, n, n_solved)
        _histograms(table, plan, kept, scratch, block, n, n_solved)
    return GOOD


@njit(cache=True, nogil=True)
def _inputs(ground: Ground, block: int, n: int, linearised: bool, scratch: Scratch) -> None:
    """Fill in the inputs u (w, BLOCK) of the block; lanes beyond its ``n`` positions repeat the last one."""
    w = len(ground.line)
    b, c = scratch.u[0], scratch.u[1]
    slope_at = block + ground.slope_offset[0]
    grade, side_slope = ground.grade[slope_at : slope_at + n], ground.side_slope[slope_at : slope_at + n]
    for i in range(n):
        b[i] = grade[i]
        c[i] = side_slope[i]
    for warp in range(w - 3):
        scratch.u[3 + warp, :n] = 0.0
    for wheel in range(w):
        first = block + ground.offset[wheel]
        z = scratch.z[wheel]
        here = ground.heights[ground.line[wheel], first : first + n]
        share = ground.share[wheel]
        if share == 0.0:
            for i in range(n):
                z[i] = here[i]
        else:
            ahead = ground.heights[ground.line[wheel], first + 1 : first + 1 + n]
            for i in range(n):
                z[i] = (1.0 - share) * here[i] + share * ahead[i]
        for i in range(n):
            b[i] += ground.slope_x[wheel] * z[i]
            c[i] += ground.slope_y[wheel] * z[i]
        for warp in range(w - 3):
            omega = scratch.u[3 + warp]
            for i in range(n):
                omega[i] += ground.warp[wheel, warp] * z[i]
    gx, gy, gz = scratch.u[0], scratch.u[1], scratch.u[2]
    if linearised:
        for i in range(n):
            gx[i] *= -GRAVITY
            gy[i] *= -GRAVITY
            gz[i] = -GRAVITY
    else:
        cosine = scratch.lane
        for i in range(n):
            along = 1.0 + b[i] * b[i]
            m, full = np.sqrt(along), np.sqrt(along + c[i] * c[i])
            shrink = 1.0 / (m * full)
            gx[i] *= -GRAVITY * (full * shrink)
            gy[i] *= -GRAVITY * shrink
            cosine[i] = m * shrink
            gz[i] = -GRAVITY * cosine[i]
        for warp in range(w - 3):
            omega = scratch.u[3 + warp]
            for i in range(n):
                omega[i] *= cosine[i]
    for i in range(w):
        scratch.u[i, n:] = scratch.u[i, n - 1]


@njit(cache=True, nogil=True)
def _least(x: Array, lane: Array) -> float:
    """Least of (BLOCK,) values, none of them NaN."""
    half = BLOCK // 2
    for i in range(half):
        lane[i] = x[i] if x[i] < x[half + i] else x[half + i]
    while half > 1:
        half //= 2
        for i in range(half):
            lane[i] = lane[i] if lane[i] < lane[half + i] else lane[half + i]
    return lane[0]


@njit(cache=True, nogil=True)
def _greatest(x: Array, lane: Array) -> float:
    """Greatest of (BLOCK,) values, none of them NaN."""
    half = BLOCK // 2
    for i in range(half):
        lane[i] = x[i] if x[i] > x[half + i] else x[half + i]
    while half > 1:
        half //= 2
        for i in range(half):
            lane[i] = lane[i] if lane[i] > lane[half + i] else lane[half + i]
    return lane[0]


@njit(cache=True, nogil=True)
def _extents(scratch: Scratch) -> bool:
    """Least and greatest of each input in the block; False if one is not finite."""
    finite = True
    for i in range(len(scratch.u)):
        u = scratch.u[i]
        good = 0
        for j in range(BLOCK):
            good += u[j] - u[j] == 0.0
        if good < BLOCK:
            finite = False
        scratch.low[i] = _least(u, scratch.lane)
        scratch.high[i] = _greatest(u, scratch.lane)
    return finite


@njit(cache=True, nogil=True)
def _bound(affine: Array, column: int, low: Array, high: Array) -> tuple[float, float]:
    """Bounds of one column of an affine map over the box ``low`` to ``high``, rounding included."""
    least = greatest = affine[0, column]
    size = abs(affine[0, column])
    for i in range(len(low)):
        a, b = affine[1 + i, column] * low[i], affine[1 + i, column] * high[i]
        least += min(a, b)
        greatest += max(a, b)
        size += max(abs(a), abs(b))
    return least - ROUNDING * size, greatest + ROUNDING * size


@njit(cache=True, nogil=True)
def _affine(affine: Array, column: int, u: Array, n: int, out: Array) -> None:
    """One column of an affine map at ``n`` inputs; the order of the terms is that of ``evaluate``."""
    a, a0, a1, a2 = affine[0, column], affine[1, column], affine[2, column], affine[3, column]
    u0, u1, u2 = u[0], u[1], u[2]
    if len(u) == 4:
        a3, u3 = affine[4, column], u[3]
        for i in range(n):
            out[i] = a + u0[i] * a0 + u1[i] * a1 + u2[i] * a2 + u3[i] * a3
    else:
        for i in range(n):
            out[i] = a + u0[i] * a0 + u1[i] * a1 + u2[i] * a2
        for j in range(3, len(u)):
            aj, uj = affine[1 + j, column], u[j]
            for i in range(n):
                out[i] += uj[i] * aj


@njit(cache=True, nogil=True)
def _solve_exceptions(
    vehicle: Condensed, table: SetTable, guess: int, n: int, kept: Kept, scratch: Scratch
) -> tuple[int, int, int]:
    """Solve the positions at which the home set does not hold.

    Their places go to ``scratch.at``, their outputs (NaN where there is no posture) to ``scratch.solved``.
    Gives how many there are, how many of them failed, and the set of the block's last position.
    """
    w, m = len(scratch.u), len(table.h)
    excess = scratch.excess
    doubtful = False
    for j in range(m):
        if not _bound(table.excess[HOME], j, scratch.low, scratch.high)[1] <= HINGE_TOLERANCE:
            h = scratch.lane
            _affine(table.excess[HOME], j, scratch.u, BLOCK, h)
            if doubtful:
                for i in range(BLOCK):
                    excess[i] = h[i] if h[i] > excess[i] else excess[i]
            else:
                excess[:] = h
                doubtful = True
    if not doubtful or _greatest(excess, scratch.lane) <= HINGE_TOLERANCE:
        return 0, 0, HOME
    count, failures, last = 0, 0, -1
    for i in range(n):
        if excess[i] <= HINGE_TOLERANCE:
            continue
        if i > 0 and last != i - 1:
            guess = HOME
        last = i
        for j in range(w):
            table.input[j] = scratch.u[j, i]
        guess, code = settle(vehicle, table, guess)
        if code == GOOD:
            evaluate(table.output[guess], table.input, scratch.solved[count])
        else:
            kept.totals[0 if code == TIPPED else 1] += 1
            scratch.solved[count] = np.nan
            failures += 1
        scratch.at[count] = i
        count += 1
    kept.totals[3] += count
    return count, failures, guess if last == n - 1 else HOME


@njit(cache=True, nogil=True)
def _bound_outputs(table: SetTable, n_solved: int, scratch: Scratch) -> None:
    """Bounds of every output over the block, and nothing known of its values yet."""
    for c in range(len(scratch.y_low)):
        scratch.y_low[c], scratch.y_high[c] = _bound(table.output[HOME], c, scratch.low, scratch.high)
        scratch.known[c] = False
    for q in range(n_solved):
        for c in range(len(scratch.y_low)):
            y = scratch.solved[q, c]
            scratch.y_low[c] = y if y < scratch.y_low[c] else scratch.y_low[c]
            scratch.y_high[c] = y if y > scratch.y_high[c] else scratch.y_high[c]


@njit(cache=True, nogil=True)
def _values(table: SetTable, channel: int, n_solved: int, scratch: Scratch) -> Array:
    """Values (BLOCK,) of one output; NaN where there is no posture."""
    y = scratch.y[channel]
    if not scratch.known[channel]:
        _affine(table.output[HOME], channel, scratch.u, BLOCK, y)
        for q in range(n_solved):
            y[scratch.at[q]] = scratch.solved[q, channel]
        scratch.known[channel] = True
    return y


@njit(cache=True, nogil=True)
def _extremes(
    table: SetTable,
    plan: Plan,
    kept: Kept,
    scratch: Scratch,
    block: int,
    n: int,
    n_solved: int,
    failures: int,
) -> None:
    """Update the running extremes where the block's bounds can reach them."""
    for r in range(len(plan.combine)):
        for c in range(plan.first[r], plan.first[r + 1]):
            channel = plan.channel[c]
            if plan.minimum[r] and scratch.y_low[channel] < kept.minimum[r]:
                y = _values(table, channel, n_solved, scratch)
                if failures > 0 or n < BLOCK or _least(y, scratch.lane) < kept.minimum[r]:
                    for i in range(n):
                        if y[i] < kept.minimum[r]:
                            kept.minimum[r] = y[i]
                            kept.minimum_at[r] = block + i
            if not plan.maximum[r]:
                continue
            if scratch.y_high[channel] > kept.maximum[r]:
                y = _values(table, channel, n_solved, scratch)
                if failures > 0 or n < BLOCK or _greatest(y, scratch.lane) > kept.maximum[r]:
                    for i in range(n):
                        if y[i] > kept.maximum[r]:
                            kept.maximum[r] = y[i]
                            kept.maximum_at[r] = block + i
            if plan.combine[r] == LARGEST_MAGNITUDE and -scratch.y_low[channel] > kept.maximum[r]:
                y = _values(table, channel, n_solved, scratch)
                if failures > 0 or n < BLOCK or -_least(y, scratch.lane) > kept.maximum[r]:
                    for i in range(n):
                        if -y[i] > kept.maximum[r]:
                            kept.maximum[r] = -y[i]
                            kept.maximum_at[r] = block + i


@njit(cache=True, nogil=True)
def _wheel_events(
    table: SetTable, plan: Plan, kept: Kept, scratch: Scratch, block: int, n: int, n_solved: int
) -> None:
    """Count unloaded and free stretches; positions without a posture end them."""
    for wheel in range(len(plan.load_start)):
        since, free = kept.open_since[wheel], kept.is_free[wheel]
        clear = (
            scratch.y_low[wheel] >= plan.load_start[wheel] and scratch.y_low[wheel] > plan.load_free[wheel]
        )
        if clear and since == CLOSED and not free:
            continue
        load = _values(table, wheel, n_solved, scratch)
        for i in range(n):
            if since == CLOSED:
                if load[i] < plan.load_start[wheel]:
                    since = block + i
            elif not load[i] <= plan.load_end[wheel]:
                close_event(plan, kept, wheel, since, block + i)
                since = CLOSED
            if load[i] <= plan.load_free[wheel]:
                kept.free[wheel] += 1
                if not free:
                    kept.free_events[wheel] += 1
                free = True
            else:
                free = False
        kept.open_since[wheel], kept.is_free[wheel] = since, free


@njit(cache=True, nogil=True)
def close_event(plan: Plan, kept: Kept, wheel: int, since: int, end: int) -> None:
    """End the unload event of a wheel that began at ``since``; it counts if it is long enough."""
    if end - since >= plan.shortest:
        kept.unload_events[wheel] += 1
        kept.unloaded[wheel] += end - since


@njit(cache=True, nogil=True)
def _outside_range(table: SetTable, plan: Plan, kept: Kept, scratch: Scratch, n: int, n_solved: int) -> None:
    """Count positions at which the slope or a record is beyond its limit."""
    outside = scratch.outside
    touched = False
    tilt = max(scratch.low[0] ** 2, scratch.high[0] ** 2) + max(scratch.low[1] ** 2, scratch.high[1] ** 2)
    steepest = (GRAVITY * np.sin(plan.slope_limit)) ** 2
    if tilt > steepest:
        touched = True
        gx, gy = scratch.u[0], scratch.u[1]
        for i in range(n):
            outside[i] = gx[i] * gx[i] + gy[i] * gy[i] > steepest
    for r in range(len(plan.combine)):
        for c in range(plan.first[r], plan.first[r + 1]):
            channel = plan.channel[c]
            if max(-scratch.y_low[channel], scratch.y_high[channel]) > plan.limit[r]:
                if not touched:
                    outside[:n] = False
                    touched = True
                y = _values(table, channel, n_solved, scratch)
                for i in range(n):
                    outside[i] |= abs(y[i]) > plan.limit[r]
    if touched:
        for i in range(n):
            kept.totals[2] += outside[i]


@njit(cache=True, nogil=True)
def _histograms(
    table: SetTable, plan: Plan, kept: Kept, scratch: Scratch, block: int, n: int, n_solved: int
) -> None:
    """Count every ``stride``-th position of the sample."""
    w, stride = len(scratch.u), plan.stride
    begin = (stride - block % stride) % stride
    count = (n - begin + stride - 1) // stride
    if count <= 0:
        return
    for i in range(w):
        u, sparse_u = scratch.u[i], scratch.sparse_u[i]
        for j in range(count):
            sparse_u[j] = u[begin + j * stride]
    x, combined = scratch.sparse, scratch.combined
    for r in range(len(plan.combine)):
        if plan.bins[r] == 0:
            continue
        for c in range(plan.first[r], plan.first[r + 1]):
            channel = plan.channel[c]
            _affine(table.output[HOME], channel, scratch.sparse_u, count, x)
            for q in range(n_solved):
                place = scratch.at[q] - begin
                if place >= 0 and place % stride == 0:
                    x[place // stride] = scratch.solved[q, channel]
            if plan.combine[r] == LARGEST_MAGNITUDE:
                for j in range(count):
                    x[j] = abs(x[j])
            if c == plan.first[r]:
                for j in range(count):
                    combined[j] = x[j]
            elif plan.combine[r] == LEAST:
                for j in range(count):
                    combined[j] = x[j] if x[j] < combined[j] else combined[j]
            else:
                for j in range(count):
                    combined[j] = x[j] if x[j] > combined[j] else combined[j]
        top = plan.bins[r] - 1
        first, low, scale = plan.bin_first[r], plan.bin_low[r], plan.bin_scale[r]
        for j in range(count):
            place_in = (combined[j] - low) * scale
            if place_in == place_in:
                kept.histogram[first + int(min(max(place_in, 0.0), float(top)))] += 1
