"""The posture of a truck that stands on level ground with every spring on its reference segment."""

import numpy as np
from scipy.linalg import lapack

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.gravity import GravityLoads
from crossaxle.vehicles.suspension import GRAVITY

LEVEL = np.array([0.0, 0.0, -GRAVITY])


def stand(equations: Equations, gravity: GravityLoads, how: str) -> Array:
    """Displacements on level ground with all wheels down and no stop touched, (n,).

    Parameters
    ----------
    equations : Equations
    gravity : GravityLoads
    how : str
        Loaded how, for messages.

    Raises
    ------
    ValueError
        If the springs cannot hold the masses up, or a wheel would have to pull.
    """
    # Symmetric, so the transpose is the same matrix in the order LAPACK wants, which then works in place.
    matrix = GRAVITY * gravity.geometric
    matrix += equations.stiffness
    _, topples = lapack.dpotrf(matrix.T, lower=1, clean=0, overwrite_a=1)
    matrix[:] = equations.stiffness
    load = LEVEL @ gravity.load + equations.load_constant
    _, q, sinks = lapack.dposv(matrix.T, load, lower=1, overwrite_a=1)
    if topples or sinks:
        raise ValueError(
            f"the truck does not stand {how}: its springs cannot hold its height of centre of mass; "
            "check spring tracks, spring rates and heights of masses"
        )
    loads = equations.wheel_load_rows()[0] @ q
    for name, load in zip(equations.wheel_names, loads.tolist(), strict=True):
        if load <= 0:
            raise ValueError(
                f"{how} the {name} wheel would carry {load / 1e3:.1f} kN: the centre of mass lies outside the "
                "wheels; check positions of body and masses"
            )
    return np.asarray(q)
