"""The readable reference solver: equilibrium of one posture, followed from level ground.

From the level posture the input u is moved along a straight line, u(t), to its target at t = 1. On each set of
passed hinges everything is linear in t, so the next hinge to be passed or left is known exactly; it is
flipped, and the path goes on. Where the stiffness on the new set has a negative determinant the vehicle moves
by itself: the path of equilibria turns back (t falls) until the motion is caught, say by a stop. A path that
turns back beyond level ground, or ends on a set that is not admissible (see :mod:`crossaxle.sim.reduced`), is reported
as tipped, never as a number.

Reference: parametric principal pivoting, e.g. Cottle, Pang and Stone, The Linear Complementarity Problem
(1992), section 4.5; the turning of the path by the determinant's sign is that of piecewise linear homotopies,
Eaves and Scarf, Mathematics of Operations Research 1 (1976).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array, Booleans, Integers
from crossaxle.sim.codes import GOOD, NO_EQUILIBRIUM, NOT_FINITE, TIPPED
from crossaxle.sim.ground_plane import level_input
from crossaxle.sim.reduced import HINGE_TOLERANCE, PIVOT_TOLERANCE, ReducedModel

ROUNDS_PER_HINGE = 10
"""Flips allowed on a path, per hinge, before the search is given up."""

FAR_FROM_HINGES = -1.0
"""Start of the path to level ground: every hinge this far [m or rad] before its kink."""


@dataclass(frozen=True)
class Posture:
    """One equilibrium, or the code that says why there is none (all numbers are then NaN).

    Attributes
    ----------
    code : int
        From :mod:`crossaxle.sim.codes`.
    u : (w,)
        Input.
    q : (n,)
        Displacements [m or rad] relative to the mean plane of the ground.
    y : (k,)
        Outputs.
    force : (m,)
        lambda of each hinge [N or N m].
    active : (m,) of bool
        Hinges passed.
    rounds : int
        Flips on the path.
    """

    code: int
    u: Array
    q: Array
    y: Array
    force: Array
    active: Booleans
    rounds: int


@dataclass(frozen=True)
class Factor:
    """L D L^T of the matrix (diag(1/kappa) + C) on a set of hinges.

    ``unstable`` counts the pivots whose sign is not that of kappa: the negative eigenvalues of the stiffness.
    """

    lower: Array
    pivots: Array
    unstable: int


def factorise(model: ReducedModel, hinges: Integers) -> Factor | None:
    """Factor for ``hinges``; None if a pivot vanishes, where the vehicle stands on a knife's edge."""
    matrix = model.hinge_compliance[np.ix_(hinges, hinges)] + np.diag(1.0 / model.hinge_stiffness[hinges])
    lower = np.eye(len(hinges))
    pivots = np.zeros(len(hinges))
    for i in range(len(hinges)):
        pivots[i] = matrix[i, i]
        if not abs(pivots[i] * model.hinge_stiffness[hinges[i]]) > PIVOT_TOLERANCE:
            return None
        lower[i + 1 :, i] = matrix[i + 1 :, i] / pivots[i]
        matrix[i + 1 :, i + 1 :] -= np.outer(lower[i + 1 :, i], matrix[i, i + 1 :])
    return Factor(lower, pivots, int((pivots * model.hinge_stiffness[hinges] < 0.0).sum()))


def solve_posture(model: ReducedModel, u: ArrayLike, start: Posture | None = None) -> Posture:
    """Posture for input ``u`` (w,), followed from level ground or from ``start``.

    ``start`` must be a good posture of the same model.
    """
    u = np.asarray(u, dtype=float)
    if not np.isfinite(u).all():
        return _failed(model, u, NOT_FINITE, 0)
    begin = start or level_posture(model)
    if begin.code != GOOD:
        return _failed(model, u, begin.code, begin.rounds)
    free = model.hinge_constant + model.hinge_input @ begin.u
    target = model.hinge_constant + model.hinge_input @ u
    return _follow(model, u, free, target, begin.active)


def level_posture(model: ReducedModel) -> Posture:
    """Posture on level ground, followed from an imagined state in which no hinge is passed."""
    u = level_input(model.n_wheels)
    target = model.hinge_constant + model.hinge_input @ u
    free = np.minimum(target, FAR_FROM_HINGES)
    return _follow(model, u, free, target, np.zeros(len(target), dtype=bool))


def _follow(model: ReducedModel, u: Array, begin: Array, end: Array, active: Booleans) -> Posture:
    """Follow the equilibrium while h without hinge forces goes from ``begin`` (t = 0) to ``end`` (t = 1)."""
    active = active.copy()
    t = 0.0
    for rounds in range(ROUNDS_PER_HINGE * (len(active) + 2)):
        hinges = np.flatnonzero(active)
        factor = factorise(model, hinges)
        if factor is None:
            return _failed(model, u, TIPPED, rounds)
        forwards = factor.unstable % 2 == 0
        side = np.where(active, -1.0, 1.0)
        at_begin = side * _on_set(model, begin, hinges, factor)[1]
        force, h = _on_set(model, end, hinges, factor)
        at_end = side * h
        rise = at_end - at_begin
        leaving = (at_end > HINGE_TOLERANCE) & (rise > 0.0) if forwards else rise < 0.0
        if not leaving.any():
            if factor.unstable:
                return _failed(model, u, TIPPED, rounds)
            return _posture(model, u, force, active, rounds)
        direction = 1.0 if forwards else -1.0
        distance = np.full(len(active), np.inf)
        distance[leaving] = direction * (-at_begin[leaving] / rise[leaving] - t)
        flipped = int(np.argmin(distance))
        t += direction * max(0.0, float(distance[flipped]))
        if t < 0.0:
            return _failed(model, u, TIPPED, rounds)
        active[flipped] = not active[flipped]
    return _failed(model, u, NO_EQUILIBRIUM, rounds + 1)


def _on_set(model: ReducedModel, free: Array, hinges: Integers, factor: Factor) -> tuple[Array, Array]:
    """Hinge forces and h, (m,), with exactly ``hinges`` passed; ``free`` (m,) is h without hinge forces."""
    force = np.zeros_like(free)
    force[hinges] = np.linalg.solve(
        factor.lower.T, np.linalg.solve(factor.lower, free[hinges]) / factor.pivots
    )
    h = free - model.hinge_compliance @ force
    h[hinges] = force[hinges] / model.hinge_stiffness[hinges]
    return force, h


def _posture(model: ReducedModel, u: Array, force: Array, active: Booleans, rounds: int) -> Posture:
    y = model.output_constant + model.output_input @ u + model.output_hinge @ force
    q = model.dof_constant + model.dof_input @ u + model.dof_hinge @ force
    if not (np.isfinite(y).all() and np.isfinite(q).all()):
        return _failed(model, u, NOT_FINITE, rounds)
    return Posture(GOOD, u, q, y, force, active, rounds)


def _failed(model: ReducedModel, u: Array, code: int, rounds: int) -> Posture:
    m = len(model.hinge_stiffness)
    nothing = np.full(m, np.nan)
    return Posture(
        code,
        u,
        np.full(len(model.dof_constant), np.nan),
        np.full(len(model.output_constant), np.nan),
        nothing,
        np.zeros(m, dtype=bool),
        rounds,
    )
