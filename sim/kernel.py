"""Compiled kernel: contact along whole tracks, with extremes, histograms, events and cycles taken on the way.

Positions go through in blocks. In a block everything is evaluated for many positions at once with the affine
maps of the home set (all wheels down, in an ordinary vehicle); positions at which that set does not hold are
solved one by one (:mod:`crossaxle.sim.active_sets`) and put in their places.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Integers
from crossaxle.sim.active_sets import HOME, Condensed, SetTable, holds, settle
from crossaxle.sim.block import (
    BLOCK,
    PART,
    PARTS,
    affine_point,
    affine_row,
    bounds,
    bounds_in_parts,
    extent,
    extents,
    raise_to_affine_row,
    resolve_gravity,
    slopes_and_warp,
    slopes_finite,
    wheel_heights,
)
from crossaxle.sim.bookkeeping import (
    Values,
    keep_contact,
    keep_cycles,
    keep_extremes,
    keep_histograms,
    keep_range,
    keep_wheel_events,
)
from crossaxle.sim.codes import GOOD, TIPPED
from crossaxle.sim.compiled import compiled, compiled_in_place
from crossaxle.sim.plan import (
    EXCEPTIONAL_POSITIONS,
    TIPPED_POSITIONS,
    UNSOLVED_POSITIONS,
    Plan,
    RecordedOutputs,
)
from crossaxle.sim.reduced import HINGE_TOLERANCE


class KernelGround(NamedTuple):
    """Ground under one vehicle: wheel i at position p touches line[i] at index p + offset[i] + share[i].

    ``heights`` (lines, points); ``grade``, ``side_slope`` (points,); ``line``, ``offset`` (w,) integers,
    ``share`` (w,) in [0, 1); ``slope_offset`` index of the slopes relative to p; ``slope_x``,
    ``slope_y`` (w,), ``warp`` (w, w - 3) as in :class:`crossaxle.sim.ground_plane.GroundPlane`.
    """

    heights: NDArray[np.floating]
    grade: Array
    side_slope: Array
    line: Integers
    offset: Integers
    share: Array
    slope_offset: int
    slope_x: Array
    slope_y: Array
    warp: Array


class Inputs(NamedTuple):
    """Inputs of one block; w inputs, m hinges.

    ``home`` (1 + w, m) affine map of the home set's excess; ``z``, ``u`` (w, BLOCK) ground heights and
    inputs, ``low``, ``high`` (w,) their extents, ``middle``, ``half`` (w, PARTS) those in parts of the block;
    ``h_low``, ``h_high`` (m,) bounds; ``excess`` (2, BLOCK), the rest is working memory.
    """

    home: Array
    z: Array
    u: Array
    low: Array
    high: Array
    h_low: Array
    h_high: Array
    excess: Array
    work: Array
    middle: Array
    half: Array
    extent_work: Array
    reach: Array


def new_inputs(home: Array) -> Inputs:
    """Working arrays for hinges with the affine map ``home`` (1 + w, m)."""
    n_wheels, n_hinges = home.shape[0] - 1, home.shape[1]
    return Inputs(
        home=home,
        z=np.zeros((n_wheels, BLOCK)),
        u=np.zeros((n_wheels, BLOCK)),
        low=np.zeros(n_wheels),
        high=np.zeros(n_wheels),
        h_low=np.zeros(n_hinges),
        h_high=np.zeros(n_hinges),
        excess=np.zeros((2, BLOCK)),
        work=np.zeros((2, PART)),
        middle=np.zeros((n_wheels, PARTS)),
        half=np.zeros((n_wheels, PARTS)),
        extent_work=np.zeros((2, PARTS, 4)),
        reach=np.zeros((2, PARTS)),
    )


@compiled
def run_segment(
    vehicle: Condensed,
    table: SetTable,
    ground: KernelGround,
    plan: Plan,
    kept: RecordedOutputs,
    inputs: Inputs,
    values: Values,
    start: int,
    stop: int,
    linearised: bool,
) -> bool:
    """Take positions ``start`` to ``stop`` into ``kept``; False at the first block that is not finite."""
    u, low, high = inputs.u, inputs.low, inputs.high
    for block in range(start, stop, BLOCK):
        n = min(BLOCK, stop - block)
        wheel_heights(ground.heights, ground.line, ground.offset, ground.share, block, n, inputs.z)
        at = block + ground.slope_offset
        grade, side_slope = ground.grade[at : at + n], ground.side_slope[at : at + n]
        slopes_and_warp(grade, side_slope, inputs.z, ground.slope_x, ground.slope_y, ground.warp, n, u)
        if not slopes_finite(u, n):
            return False
        resolve_gravity(linearised, n, u)
        extents(u, linearised, low, high, inputs.middle, inputs.half, inputs.extent_work)
        n_solved, failures = 0, 0
        bounds(inputs.home, low, high, inputs.h_low, inputs.h_high)
        if _home_fails(inputs):
            n_solved, failures = _solve_exceptions(vehicle, table, n, inputs, values, kept)
        bounds(values.home, low, high, values.low, values.high)
        _include_solved(values, n_solved)
        tilt = max(low[0] * low[0], high[0] * high[0]) + max(low[1] * low[1], high[1] * high[1])
        keep_extremes(plan, kept, values, block, n)
        keep_wheel_events(plan, kept, values, block, n, n_solved)
        keep_cycles(plan, kept, values, n, n_solved)
        keep_range(plan, kept, values, tilt, n, n_solved)
        keep_contact(plan, kept, values, n, n_solved)
        keep_histograms(plan, kept, values, block, n, n_solved, failures)
    return True


@compiled_in_place
def _home_fails(inputs: Inputs) -> bool:
    """Whether some hinge is on the other side than in the home set; ``inputs.excess[0]`` then tells where."""
    home, h_high, excess, reach = inputs.home, inputs.h_high, inputs.excess, inputs.reach
    doubtful = False
    for j in range(len(h_high)):
        if h_high[j] <= HINGE_TOLERANCE:
            continue
        bounds_in_parts(home, j, inputs.middle, inputs.half, reach)
        highest = reach[1, 0]
        for part in range(1, PARTS):
            highest = max(highest, reach[1, part])
        if highest <= HINGE_TOLERANCE:
            continue
        if doubtful:
            raise_to_affine_row(home, j, inputs.u, excess)
        else:
            affine_row(home, j, inputs.u, BLOCK, excess, 0)
            doubtful = True
    return doubtful and extent(excess, 0, inputs.work[0], inputs.work[1])[1] > HINGE_TOLERANCE


@compiled
def _solve_exceptions(
    vehicle: Condensed, table: SetTable, n: int, inputs: Inputs, values: Values, kept: RecordedOutputs
) -> tuple[int, int]:
    """Solve the positions at which the home set does not hold, one by one.

    Their places go to ``values.at``, their outputs (NaN where there is no posture) to ``values.solved``.
    Gives how many there are, and how many failed.
    """
    u, excess, at, solved, certain = inputs.u, inputs.excess, values.at, values.solved, table.certain
    point, h, set_excess, set_output = table.input, table.h, table.excess, table.output
    count, failures = 0, 0
    entry = int(HOME)
    for i in range(n):
        if excess[0, i] <= HINGE_TOLERANCE:
            continue
        for j in range(len(point)):
            point[j] = u[j, i]
        code = GOOD
        if not (certain[entry] and holds(set_excess, entry, point, h)):
            entry, code = settle(vehicle, table, entry)
        if code == GOOD:
            affine_point(set_output, entry, point, solved, count)
        else:
            kept.totals[TIPPED_POSITIONS if code == TIPPED else UNSOLVED_POSITIONS] += 1
            solved[count] = np.nan
            failures += 1
        at[count] = i
        count += 1
    kept.totals[EXCEPTIONAL_POSITIONS] += count
    return count, failures


@compiled_in_place
def _include_solved(values: Values, n_solved: int) -> None:
    """Widen the outputs' bounds by the exceptional positions; nothing is known yet of the block's values."""
    low, high, solved, at, first_solved = (
        values.low,
        values.high,
        values.solved,
        values.at,
        values.first_solved,
    )
    least, greatest = values.solved_low, values.solved_high
    values.known[:] = False
    least[:] = np.inf
    greatest[:] = -np.inf
    first_solved[:] = n_solved
    for q in range(n_solved - 1, -1, -1):
        first_solved[at[q] // PART] = q
        for c in range(len(low)):
            least[c] = solved[q, c] if solved[q, c] < least[c] else least[c]
            greatest[c] = solved[q, c] if solved[q, c] > greatest[c] else greatest[c]
    for part in range(PARTS - 1, -1, -1):
        first_solved[part] = min(first_solved[part], first_solved[part + 1])
    for c in range(len(low)):
        low[c] = least[c] if least[c] < low[c] else low[c]
        high[c] = greatest[c] if greatest[c] > high[c] else high[c]
