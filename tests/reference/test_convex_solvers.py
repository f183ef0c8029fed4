"""Postures against general convex solvers: scipy's NNLS and the QP package quadprog.

With every contact that can let go taken away, what is left is a spring structure with one-sided springs of
stiffness |kappa| laid on it. Their forces mu >= 0 are the minimum of the complementary energy

    mu^T (R K^-1 R^T + diag(1/|kappa|)) mu / 2 - b^T mu

(Clapeyron; a non-negative least-squares problem after a Cholesky factorisation). A vehicle so stripped can
still move as a rigid body, which adds equations of equilibrium: a quadratic programme. Gravity's geometric
stiffness, not convex, is put on the right-hand side and iterated.
None of the code under test but its answer is used: plane, gravity and warp are worked out here from the
ground heights.

Tolerance: largest difference of the wheel loads below 1e-6 of the level static wheel load. Both solvers are
exact but for rounding (1e-12 in energy for NNLS and quadprog); the geometric iteration is stopped at steps of
1e-10 m.
"""

import numpy as np
import pytest
import quadprog
from scipy.optimize import nnls

from crossaxle.sim.codes import GOOD, TIPPED
from crossaxle.sim.posture import level_posture
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.vehicles.structure import Structure
from tests.shortcuts import posture_on
from tests.sim.truck import random_structure, truck

GRAVITY = 9.80665
SHARE_OF_STATIC = 1e-6


def ground_and_gravity(structure: Structure, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Heights out of the mean plane along its normal, and gravity in the plane's axes, by plain vectors."""
    x, y = -structure.wheel_station, structure.wheel_y
    design = np.column_stack([np.ones_like(x), x, y])
    _, b, c = np.linalg.lstsq(design, z)[0]
    normal = np.array([-b, -c, 1.0])
    normal /= np.linalg.norm(normal)
    along = np.array([1.0, 0.0, b])
    along /= np.linalg.norm(along)
    down = np.array([0.0, 0.0, -GRAVITY])
    gravity = np.array([down @ along, down @ np.cross(normal, along), down @ normal])
    residual = z - design @ np.linalg.lstsq(design, z)[0]
    return residual * normal[2], gravity


class Stripped:
    """A structure without its negative hinges' springs, and the one-sided springs to be laid on it."""

    def __init__(self, structure: Structure, normal_gravity: float) -> None:
        self.structure = s = structure
        self.sign = np.sign(s.hinge_stiffness)
        self.kappa = np.abs(s.hinge_stiffness)
        lost = self.sign < 0
        self.lost = lost
        self.elastic = s.stiffness - s.hinge_row[lost].T @ np.diag(self.kappa[lost]) @ s.hinge_row[lost]
        self.geometric = normal_gravity * s.geometric
        self.rows = self.sign[:, None] * s.hinge_row

    def case(self, z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Load on the stripped structure and offsets of the one-sided springs, for absolute ground heights."""
        s = self.structure
        z, gravity = ground_and_gravity(s, z)
        offset = s.hinge_ground @ z + s.hinge_offset
        load = s.load_gravity.T @ gravity + s.load_ground.T @ z + s.load_constant
        load = load + s.hinge_row[self.lost].T @ (self.kappa[self.lost] * offset[self.lost])
        return load, self.sign * offset, z, gravity

    def outputs(self, q: np.ndarray, z: np.ndarray, gravity: np.ndarray) -> np.ndarray:
        s = self.structure
        h = s.hinge_row @ q + s.hinge_ground @ z + s.hinge_offset
        force = s.hinge_stiffness * np.maximum(0.0, h)
        return (
            s.output_row @ q
            + s.output_ground @ z
            + s.output_gravity @ gravity
            + s.output_hinge @ force
            + s.output_constant
        )

    def active_stiffness(self, q: np.ndarray, z: np.ndarray) -> np.ndarray:
        s = self.structure
        h = s.hinge_row @ q + s.hinge_ground @ z + s.hinge_offset
        rows = s.hinge_row[h > 0.0]
        return s.stiffness + self.geometric + rows.T @ np.diag(s.hinge_stiffness[h > 0.0]) @ rows


def static_load(model: ReducedModel) -> float:
    return float(level_posture(model).y[: model.n_wheels].mean())


def random_heights(rng: np.random.Generator, w: int, size: float) -> np.ndarray:
    return rng.normal(size=w) * size * rng.uniform()


@pytest.mark.slow
@pytest.mark.parametrize("solver", ["nnls", "quadprog"])
def test_random_structures(solver: str, checked) -> None:
    """7,000 postures of random structures with up to 24 hinges, stable even when every contact has let go."""
    rng = np.random.default_rng(20 if solver == "nnls" else 21)
    worst, sets = 0.0, set()
    for trial in range(175):
        structure = random_structure(rng, 2 + trial % 3, 8 + trial % 9, trial % 13, 1 + trial % 12)
        model = reduce(structure, GRAVITY)
        stripped = Stripped(structure, GRAVITY)
        stiffness = stripped.elastic + stripped.geometric
        solved = np.linalg.solve(stiffness, stripped.rows.T)
        compliance = stripped.rows @ solved + np.diag(1.0 / stripped.kappa)
        lower = np.linalg.cholesky(0.5 * (compliance + compliance.T))
        load_scale = static_load(model)
        for _ in range(20):
            heights = random_heights(rng, len(structure.wheel_y), 4.0)
            load, offset, z, gravity = stripped.case(heights)
            target = solved.T @ load + offset
            if solver == "nnls":
                mu = nnls(lower.T, np.linalg.solve(lower, target), maxiter=1000)[0]
            else:
                mu = quadprog.solve_qp(lower @ lower.T, target, np.eye(len(target)), np.zeros(len(target)))[0]
            q = np.linalg.solve(stiffness, load - stripped.rows.T @ mu)
            y = stripped.outputs(q, z, gravity)
            posture = posture_on(model, heights)
            assert posture.code == GOOD
            sets.add((trial, tuple(posture.active)))
            worst = max(worst, float(np.abs(posture.y - y).max()) / load_scale)
    assert len(sets) > 1000
    assert worst < SHARE_OF_STATIC
    checked("wheel loads of random structures, over the static load", "scipy NNLS, quadprog", worst)


def equilibrium(stripped: Stripped, heights: np.ndarray, q: np.ndarray) -> np.ndarray | None:
    """Displacements by a quadratic programme, the geometric stiffness iterated from ``q``; None if there are none."""
    load, offset, _, _ = stripped.case(heights)
    values, vectors = np.linalg.eigh(stripped.elastic)
    rigid = vectors[:, values < 1e-7 * values[-1]]
    bent, springs = vectors[:, values >= 1e-7 * values[-1]], values[values >= 1e-7 * values[-1]]
    flexibility = bent @ (bent / springs).T
    unit = 1e4
    hessian = stripped.rows @ flexibility @ stripped.rows.T + np.diag(1.0 / stripped.kappa)
    constraints = np.hstack([stripped.rows @ rigid, np.eye(len(offset))])
    for _ in range(1000):
        pushed = load - stripped.geometric @ q
        bounds = np.concatenate([rigid.T @ pushed / unit, np.zeros(len(offset))])
        target = stripped.rows @ flexibility @ pushed + offset
        try:
            mu = unit * quadprog.solve_qp(hessian * unit, target, constraints, bounds, rigid.shape[1])[0]
        except ValueError:
            return None
        mu = np.maximum(mu, 0.0)
        q_bent = flexibility @ (pushed - stripped.rows.T @ mu)
        pressed = mu > 1e-6
        missing = (mu / stripped.kappa - stripped.rows @ q_bent - offset)[pressed]
        q_new = q_bent + rigid @ np.linalg.lstsq(stripped.rows[pressed] @ rigid, missing)[0]
        change = np.abs(q_new - q).max()
        q = q_new
        if change < 1e-10:
            return q
        if change > 10.0:
            return None
    raise AssertionError("the geometric iteration neither settles nor diverges")


def wheel_loads(stripped: Stripped, heights: np.ndarray, q: np.ndarray | None, w: int) -> np.ndarray | None:
    """Wheel loads at the displacements ``q``; None if there are none or they are not stable."""
    if q is None:
        return None
    z, gravity = ground_and_gravity(stripped.structure, heights)
    if np.linalg.eigvalsh(stripped.active_stiffness(q, z))[0] <= 0.0:
        return None
    return stripped.outputs(q, z, gravity)[:w]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("stations", "sprung"), [((0.0, 4.4), False), ((0.0, 4.4), True), ((0.0, 3.9, 5.3), True)]
)
def test_trucks_with_stops_lifted_wheels_and_mounts(
    stations: tuple[float, ...], sprung: bool, checked
) -> None:
    """3 x 1,200 postures from gentle to far too steep; those without a stable equilibrium must be called
    tipped.

    A tall body between stops can have two stable equilibria on one ground. Where the iteration from nought
    finds another one than the posture, it is begun again at the posture and must stay there; that may happen
    in 1 % of the cases.
    """
    rng = np.random.default_rng(7 + len(stations) + sprung)
    worst, good, tipped, from_posture = 0.0, 0, 0, 0
    for _ in range(40):
        structure = truck(
            stations,
            stops=True,
            sprung=sprung,
            frame_stiffness=rng.uniform(20e3, 200e3),
            body_height=rng.uniform(1.4, 2.2),
            body_offset=rng.uniform(-0.1, 0.1),
            rear_bias=rng.uniform(0.4, 0.6),
        )
        model = reduce(structure, GRAVITY)
        stripped = Stripped(structure, GRAVITY)
        scale, w, nothing = static_load(model), model.n_wheels, np.zeros(len(structure.dof_names))
        for _ in range(30):
            heights = random_heights(rng, len(structure.wheel_y), 0.5)
            heights = heights + structure.wheel_y * rng.normal() * 0.2 * rng.uniform()
            posture = posture_on(model, heights)
            wanted = wheel_loads(stripped, heights, equilibrium(stripped, heights, nothing), w)
            if posture.code == TIPPED:
                assert wanted is None
                tipped += 1
                continue
            assert posture.code == GOOD
            good += 1
            if wanted is None or np.abs(posture.y[:w] - wanted).max() > SHARE_OF_STATIC * scale:
                # a second equilibrium, or one that only the displaced masses make possible
                wanted = wheel_loads(stripped, heights, equilibrium(stripped, heights, posture.q), w)
                from_posture += 1
            assert wanted is not None
            worst = max(worst, float(np.abs(posture.y[:w] - wanted).max()) / scale)
    assert good > 800 and tipped > 50
    assert from_posture < 0.01 * good
    assert worst < SHARE_OF_STATIC
    checked("wheel loads of trucks with stops, over the static load", "scipy NNLS, quadprog", worst)
