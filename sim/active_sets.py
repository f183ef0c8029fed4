"""Compiled solver for the sets of passed hinges, with a table of every set met so far.

On one set of passed hinges both the hinges' h and the outputs are affine in the input u, so a set is worked
out once (factorised, checked for admissibility, turned into two affine maps) and then only evaluated. The
table is a pure cache: what is found does not depend on what it holds. Entry 0 is the set of the level
posture, "home".

For hinges the map gives the *excess*: h for hinges not passed, -h for those passed; a set holds where no
excess is positive. Physics, symbols and the test of admissibility are those of :mod:`crossaxle.sim.reduced`; the
readable counterpart is :mod:`crossaxle.sim.posture`.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Booleans, Integers
from crossaxle.sim.block import affine_point
from crossaxle.sim.codes import GOOD, NO_EQUILIBRIUM, TIPPED
from crossaxle.sim.compiled import compiled, compiled_in_place
from crossaxle.sim.posture import ROUNDS_PER_HINGE
from crossaxle.sim.reduced import HINGE_TOLERANCE, PIVOT_TOLERANCE, ReducedModel

CAPACITY = 2048
"""Sets kept per vehicle; a full table is emptied down to the home set."""

NEWTON_ROUNDS: Final = 12
HOME: Final = 0
UNKNOWN: Final = -1
SINGULAR: Final = -1


class Condensed(NamedTuple):
    """The arrays of a reduced model that the compiled code reads, and the level input ``level`` (w,)."""

    hinge_constant: Array
    hinge_input: Array
    hinge_compliance: Array
    hinge_stiffness: Array
    output_constant: Array
    output_input: Array
    output_hinge: Array
    level: Array


class SetTable(NamedTuple):
    """Open-addressing hash table of sets; one bit per hinge in ``words`` 64-bit words.

    ``slots`` (2^p,) holds entry + 1 or 0; ``masks`` (capacity, words); ``unstable`` (capacity,): negative
    eigenvalues of the stiffness, 0 for an admissible set, or SINGULAR; ``certain`` (capacity,): admissible,
    and no other posture can be the one reached from level ground;
    ``excess`` (capacity, 1 + w, m) and ``output`` (capacity, 1 + w, k): constant and coefficients of u, m and
    k rounded up;
    ``used`` (1,) entries in use; ``wanted`` (words,), ``input`` (w,), ``h`` and ``h_start`` (m,) are
    scratch.
    """

    slots: NDArray[np.int32]
    masks: NDArray[np.uint64]
    unstable: Integers
    certain: Booleans
    excess: Array
    output: Array
    used: Integers
    wanted: NDArray[np.uint64]
    input: Array
    h: Array
    h_start: Array


def condensed(model: ReducedModel, channels: Sequence[int], level: Array) -> Condensed:
    """Contiguous copies of the model's arrays, with the outputs ``channels`` only."""
    return Condensed(
        *(
            np.ascontiguousarray(array, dtype=float)
            for array in (
                model.hinge_constant,
                model.hinge_input,
                model.hinge_compliance,
                model.hinge_stiffness,
                model.output_constant[channels],
                model.output_input[channels],
                model.output_hinge[channels],
                level,
            )
        )
    )


def _padded(columns: int) -> int:
    """Columns of a map, rounded up so that vector instructions have no remainder; extra ones are never met."""
    return -(-columns // 16) * 16


def new_table(vehicle: Condensed, home: Booleans, capacity: int = CAPACITY) -> SetTable:
    """Table that holds only the set ``home`` (m,)."""
    m, w = vehicle.hinge_input.shape
    k = len(vehicle.output_constant)
    words = max(1, (m + 63) // 64)
    table = SetTable(
        slots=np.zeros(4 * capacity, dtype=np.int32),
        masks=np.zeros((capacity, words), dtype=np.uint64),
        unstable=np.zeros(capacity, dtype=np.int64),
        certain=np.zeros(capacity, dtype=bool),
        excess=np.zeros((capacity, 1 + w, _padded(m))),
        output=np.zeros((capacity, 1 + w, _padded(k))),
        used=np.zeros(1, dtype=np.int64),
        wanted=np.zeros(words, dtype=np.uint64),
        input=np.zeros(w),
        h=np.zeros((1, _padded(m))),
        h_start=np.zeros((1, _padded(m))),
    )
    for hinge in np.flatnonzero(home):
        table.wanted[hinge // 64] |= np.uint64(1) << np.uint64(hinge % 64)
    find_set(vehicle, table)
    return table


@compiled_in_place
def is_passed(words: NDArray[np.uint64], hinge: int) -> bool:
    """Whether the hinge's bit is set."""
    return bool((words[hinge >> 6] >> np.uint64(hinge & 63)) & np.uint64(1) != np.uint64(0))


@compiled_in_place
def _flip(words: NDArray[np.uint64], hinge: int) -> None:
    words[hinge >> 6] ^= np.uint64(1) << np.uint64(hinge & 63)


@compiled_in_place
def _slot(slots: NDArray[np.int32], masks: NDArray[np.uint64], wanted: NDArray[np.uint64]) -> int:
    """Where ``wanted`` is or would be."""
    mixed = np.uint64(0)
    for word in wanted:
        mixed = mixed ^ word ^ (word >> np.uint64(13)) ^ (word >> np.uint64(29)) ^ (word >> np.uint64(47))
    slot = np.int64(mixed & np.uint64(len(slots) - 1))
    while slots[slot] != 0:
        entry = slots[slot] - 1
        same = True
        for i in range(len(wanted)):
            if masks[entry, i] != wanted[i]:
                same = False
        if same:
            break
        slot = (slot + 1) & (len(slots) - 1)
    return int(slot)


@compiled
def find_set(vehicle: Condensed, table: SetTable) -> int:
    """Entry of the set ``table.wanted``, worked out now if it is new."""
    slot = _slot(table.slots, table.masks, table.wanted)
    if table.slots[slot] != 0:
        return int(table.slots[slot]) - 1
    if table.used[0] == len(table.masks):
        table.slots[:] = 0
        table.used[0] = 1
        table.slots[_slot(table.slots, table.masks, table.masks[HOME])] = HOME + 1
        slot = _slot(table.slots, table.masks, table.wanted)
    entry = table.used[0]
    table.used[0] += 1
    table.slots[slot] = entry + 1
    for i in range(len(table.wanted)):
        table.masks[entry, i] = table.wanted[i]
    table.unstable[entry] = _work_out(vehicle, table.wanted, table.excess[entry], table.output[entry])
    table.certain[entry] = table.unstable[entry] == 0 and _is_certain(
        vehicle, table.masks[HOME], table.masks[entry]
    )
    return int(entry)


@compiled
def _factorise(vehicle: Condensed, hinges: Integers, lower: Array, pivots: Array) -> int:
    """L D L^T of (diag(1/kappa) + C) on ``hinges``; gives the number of negative eigenvalues or SINGULAR."""
    n = len(hinges)
    unstable = 0
    for a in range(n):
        for b in range(a, n):
            lower[b, a] = vehicle.hinge_compliance[hinges[b], hinges[a]]
        lower[a, a] += 1.0 / vehicle.hinge_stiffness[hinges[a]]
    for a in range(n):
        pivots[a] = lower[a, a]
        relative = pivots[a] * vehicle.hinge_stiffness[hinges[a]]
        if not abs(relative) > PIVOT_TOLERANCE:
            return SINGULAR
        if relative < 0.0:
            unstable += 1
        for b in range(a + 1, n):
            share = lower[b, a] / pivots[a]
            for c in range(b, n):
                lower[c, b] -= share * lower[c, a]
        for b in range(a + 1, n):
            lower[b, a] /= pivots[a]
    return unstable


@compiled_in_place
def _passed(words: NDArray[np.uint64], m: int) -> Integers:
    """Hinges of a set, ascending."""
    n = 0
    hinges = np.empty(m, dtype=np.int64)
    for j in range(m):
        if is_passed(words, j):
            hinges[n] = j
            n += 1
    return hinges[:n]


@compiled_in_place
def _is_certain(vehicle: Condensed, home: NDArray[np.uint64], passed: NDArray[np.uint64]) -> bool:
    """Whether the weakest set on any way between ``home`` and ``passed`` is admissible.

    Then the energy is strictly convex there, and the path from level ground can only end in this posture.
    Weakest are all negative hinges of either set, and of the positive ones only those in both.
    """
    m = len(vehicle.hinge_stiffness)
    n = 0
    hinges = np.empty(m, dtype=np.int64)
    for j in range(m):
        either, both = is_passed(home, j) or is_passed(passed, j), is_passed(home, j) and is_passed(passed, j)
        if both or (either and vehicle.hinge_stiffness[j] < 0.0):
            hinges[n] = j
            n += 1
    return _factorise(vehicle, hinges[:n], np.zeros((n, n)), np.zeros(n)) == 0


@compiled_in_place
def _work_out(vehicle: Condensed, passed: NDArray[np.uint64], excess: Array, output: Array) -> int:
    """Fill the affine maps of one set; gives the entry of ``unstable``."""
    m, w = vehicle.hinge_input.shape
    k = len(vehicle.output_constant)
    hinges = _passed(passed, m)
    n = len(hinges)
    lower, pivots = np.zeros((n, n)), np.zeros(n)
    unstable = _factorise(vehicle, hinges, lower, pivots)
    if unstable == SINGULAR:
        return SINGULAR
    force = np.zeros((n, 1 + w))
    for a in range(n):
        force[a, 0] = vehicle.hinge_constant[hinges[a]]
        for i in range(w):
            force[a, 1 + i] = vehicle.hinge_input[hinges[a], i]
    for a in range(n):
        for b in range(a):
            for i in range(1 + w):
                force[a, i] -= lower[a, b] * force[b, i]
    for a in range(n - 1, -1, -1):
        for i in range(1 + w):
            force[a, i] /= pivots[a]
            for b in range(a + 1, n):
                force[a, i] -= lower[b, a] * force[b, i]
    for j in range(m):
        excess[0, j] = vehicle.hinge_constant[j]
        for i in range(w):
            excess[1 + i, j] = vehicle.hinge_input[j, i]
        for i in range(1 + w):
            for a in range(n):
                excess[i, j] -= vehicle.hinge_compliance[j, hinges[a]] * force[a, i]
    for j in range(m, excess.shape[1]):
        excess[0, j] = -1.0
    for a in range(n):
        for i in range(1 + w):
            excess[i, hinges[a]] = -force[a, i] / vehicle.hinge_stiffness[hinges[a]]
    for c in range(k):
        output[0, c] = vehicle.output_constant[c]
        for i in range(w):
            output[1 + i, c] = vehicle.output_input[c, i]
        for i in range(1 + w):
            for a in range(n):
                output[i, c] += vehicle.output_hinge[c, hinges[a]] * force[a, i]
    return unstable


@compiled_in_place
def holds(excess: Array, entry: int, u: Array, h: Array) -> bool:
    """Whether the set of an entry holds at the input ``u``; its excess goes to ``h`` (1, columns)."""
    affine_point(excess, entry, u, h, 0)
    beyond = 0
    for j in range(h.shape[1]):
        beyond += h[0, j] > HINGE_TOLERANCE
    return beyond == 0


@compiled
def settle(vehicle: Condensed, table: SetTable, guess: int) -> tuple[int, int]:
    """Entry of the posture that is reached from level ground at the input ``table.input``, and the code.

    Newton's method on the set of hinges, begun at the entry ``guess``, finds the posture quickly; where it
    does not, or where another posture may be the one reached from level ground, the path is followed. So the
    guess has no influence.
    """
    entry = guess
    for _ in range(NEWTON_ROUNDS):
        if table.unstable[entry] != 0:
            break
        if holds(table.excess, entry, table.input, table.h):
            if table.certain[entry]:
                return entry, GOOD
            break
        for i in range(len(table.wanted)):
            table.wanted[i] = table.masks[entry, i]
        for j in range(table.h.shape[1]):
            if table.h[0, j] > HINGE_TOLERANCE:
                _flip(table.wanted, j)
        entry = table.slots[_slot(table.slots, table.masks, table.wanted)] - 1
        if entry == UNKNOWN:
            entry = find_set(vehicle, table)
    return _follow(vehicle, table)


@compiled_in_place
def _follow(vehicle: Condensed, table: SetTable) -> tuple[int, int]:
    """Path from level ground to ``table.input``, one hinge at a time, as in :mod:`crossaxle.sim.posture`."""
    entry = HOME
    t = 0.0
    m = len(vehicle.hinge_stiffness)
    for _ in range(ROUNDS_PER_HINGE * (m + 2)):
        if table.unstable[entry] == SINGULAR:
            return HOME, TIPPED
        direction = 1.0 if table.unstable[entry] % 2 == 0 else -1.0
        affine_point(table.excess, entry, vehicle.level, table.h_start, 0)
        affine_point(table.excess, entry, table.input, table.h, 0)
        nearest, flipped = np.inf, UNKNOWN
        for j in range(m):
            rise = table.h[0, j] - table.h_start[0, j]
            if direction * rise > 0.0 and (direction < 0.0 or table.h[0, j] > HINGE_TOLERANCE):
                distance = direction * (-table.h_start[0, j] / rise - t)
                if distance < nearest:
                    nearest, flipped = distance, j
        if flipped == UNKNOWN:
            return (entry, GOOD) if table.unstable[entry] == 0 else (HOME, TIPPED)
        t += direction * max(0.0, nearest)
        if t < 0.0:
            return HOME, TIPPED
        for i in range(len(table.wanted)):
            table.wanted[i] = table.masks[entry, i]
        _flip(table.wanted, flipped)
        entry = find_set(vehicle, table)
    return HOME, NO_EQUILIBRIUM
