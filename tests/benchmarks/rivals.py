"""Other ways to the same numbers, and the machine's own limits; all on one thread."""

import numpy as np
import quadprog
from scipy.optimize import nnls
from threadpoolctl import threadpool_limits

from crossaxle.sim.ground_plane import GRAVITY, input_vector
from crossaxle.sim.reduced import reduce
from crossaxle.vehicles.assemble import Vehicle
from tests.benchmarks.scene import OUTPUTS, POSITIONS, best
from tests.shortcuts import posture_on

CALLS = 2000


def numpy_rate(made: Vehicle) -> float:
    """Positions per second of the linear part alone in vectorised NumPy: no contact, no extremes, no events."""
    model = reduce(made.structure)
    z = np.random.default_rng(1).normal(0, 0.1, (4, POSITIONS))
    slope_x, slope_y, warp = model.plane.slope_x, model.plane.slope_y, model.plane.warp
    gain, constant = model.output_input[:OUTPUTS], model.output_constant[:OUTPUTS, None]

    def work() -> np.ndarray:
        b, c = slope_x @ z, slope_y @ z
        n = 1 / np.sqrt(1 + b * b + c * c)
        m = 1 / np.sqrt(1 + b * b)
        u = np.vstack([-GRAVITY * b * m, -GRAVITY * c * n * m, -GRAVITY * n, n * (warp.T @ z)])
        return gain @ u + constant

    with threadpool_limits(1):
        return POSITIONS / best(work)


def library_rates(made: Vehicle) -> dict[str, float]:
    """Positions per second of general libraries called once per position for the tyres' contact alone.

    Quadratic programming by quadprog, and non-negative least squares by scipy with the Cholesky factor made
    beforehand. Minimise f^T C f / 2 - h^T f over f >= 0.
    """
    model = reduce(made.structure)
    lifts = [i for i, name in enumerate(model.hinge_names) if name.startswith("lift")][:4]
    compliance = np.diag(1.0 / -model.hinge_stiffness[lifts]) - model.hinge_compliance[np.ix_(lifts, lifts)]
    # All four wheels cannot lift, so the matrix is singular there; a little give makes it one that the libraries
    # take, which serves to time them.
    values = np.linalg.eigvalsh(compliance)
    compliance += (1e-3 * values[-1] - min(values[0], 0.0)) * np.eye(4)
    rng = np.random.default_rng(2)
    inputs = [input_vector(model.plane, z) for z in rng.normal(0, 0.3, (CALLS, 4))]
    excess = [(model.hinge_constant + model.hinge_input @ u)[lifts] for u in inputs]
    identity, zero = np.eye(4), np.zeros(4)
    upper = np.ascontiguousarray(np.linalg.cholesky(compliance).T)
    inverse = np.linalg.inv(upper.T)

    def by_quadprog() -> None:
        for h in excess:
            quadprog.solve_qp(compliance, h, identity, zero)

    def by_nnls() -> None:
        for h in excess:
            nnls(upper, inverse @ h)

    with threadpool_limits(1):
        return {"quadprog": CALLS / best(by_quadprog, 5), "scipy nnls": CALLS / best(by_nnls, 5)}


def memory_bandwidth() -> float:
    """Bytes copied per second by one core, read and write counted."""
    a = np.zeros(16_000_000)
    b = np.empty_like(a)
    return 2 * a.nbytes / best(lambda: np.copyto(b, a))


def multiply_add_rate() -> float:
    """Multiplications and additions per second of a matrix product on one core."""
    a = np.random.default_rng(0).normal(size=(1200, 1200))
    with threadpool_limits(1):
        return 2 * 1200**3 / best(lambda: a @ a, 5)


def gravity_error(made: Vehicle, slope: float) -> float:
    """Largest wheel-load error of plain g in the geometric stiffness, as a share of static load, on a side slope."""
    exact = posture_on(reduce(made.structure, GRAVITY * np.cos(slope)), np.zeros(4), 0, np.tan(slope)).y[:4]
    held = posture_on(reduce(made.structure), np.zeros(4), 0, np.tan(slope)).y[:4]
    level = posture_on(reduce(made.structure), np.zeros(4)).y[:4]
    return float(np.abs((held - exact) / level).max())
