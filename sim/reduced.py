"""Static condensation of a structure to its hinges and outputs.

With the input u = (gx, gy, gz, warp coordinates) of :mod:`crossaxle.sim.ground_plane` and a fixed normal gravity g_n,

    h = h0 + Hu u - C lambda,      lambda = kappa max(0, h)
    y = y0 + Yu u + Yr lambda,     q = q0 + Qu u + Ql lambda

A set A of hinges that are passed at once is *admissible* if the stiffness K + g_n Kg + sum_A kappa row^T row
is positive definite. The inertia of a bordered matrix (Haynsworth, Linear Algebra and its Applications 1,
1968) turns that into a small test: with the positive kappa first, the pivots of L D L^T of (diag(1/kappa) +
C)_AA have the signs of kappa.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from crossaxle.arrays import Array
from crossaxle.sim.ground_plane import GRAVITY, GroundPlane, ground_plane
from crossaxle.sim.structure import ElasticStructure, OutputName

HINGE_TOLERANCE = 1e-12
"""A hinge this near its kink [m or rad] may count as on either side; the two answers agree to rounding."""

PIVOT_TOLERANCE = 1e-9
"""Share of 1/kappa below which a pivot counts as zero: the vehicle stands on a knife's edge."""


@dataclass(frozen=True)
class ReducedModel:
    """Everything a posture depends on: w wheels, w inputs, m hinges, k outputs, n degrees of freedom.

    Attributes
    ----------
    normal_gravity : float
        g_n at which gravity's geometric stiffness is held [m/s2].
    hinge_constant, hinge_input, hinge_compliance, hinge_stiffness : (m,), (m, w), (m, m), (m,)
        h0, Hu, C and kappa.
    output_constant, output_input, output_hinge : (k,), (k, w), (k, m)
        y0, Yu and Yr. The first w outputs are the wheel loads.
    dof_constant, dof_input, dof_hinge : (n,), (n, w), (n, m)
        q0, Qu and Ql.
    plane : GroundPlane
    wheel_station, wheel_y : (w,)
    outputs, hinge_names, dof_names
        As in the structure.
    """

    normal_gravity: float
    hinge_constant: Array
    hinge_input: Array
    hinge_compliance: Array
    hinge_stiffness: Array
    output_constant: Array
    output_input: Array
    output_hinge: Array
    dof_constant: Array
    dof_input: Array
    dof_hinge: Array
    plane: GroundPlane
    wheel_station: Array
    wheel_y: Array
    outputs: tuple[OutputName, ...]
    hinge_names: tuple[str, ...]
    dof_names: tuple[str, ...]

    @property
    def n_wheels(self) -> int:
        """Number of wheels, and of inputs."""
        return len(self.wheel_station)


def reduce(structure: ElasticStructure, normal_gravity: float = GRAVITY) -> ReducedModel:
    """Condense ``structure`` with the geometric stiffness of ``normal_gravity`` [m/s2].

    Raises
    ------
    ValueError
        If a shape is wrong, a number is not finite, or the vehicle is unstable on its reference segments.
    """
    _check(structure)
    n, m, w = len(structure.load_constant), len(structure.hinge_offset), len(structure.wheel_station)
    plane = ground_plane(structure.wheel_station, structure.wheel_y)
    right = np.empty((n, 1 + w + m), order="F")
    right[:, 0] = structure.load_constant
    right[:, 1:4] = structure.load_gravity.T
    right[:, 4 : 1 + w] = structure.load_ground.T @ plane.warp
    right[:, 1 + w :] = structure.hinge_row.T
    solved = _solve(structure, normal_gravity, right)
    q0, qu, ql = solved[:, 0], solved[:, 1 : 1 + w], -solved[:, 1 + w :]

    hinge_input = structure.hinge_row @ qu
    hinge_input[:, 3:] += structure.hinge_ground @ plane.warp
    compliance = -(structure.hinge_row @ ql)
    output_input = structure.output_row @ qu
    output_input[:, :3] += structure.output_gravity
    output_input[:, 3:] += structure.output_ground @ plane.warp
    return ReducedModel(
        normal_gravity=normal_gravity,
        hinge_constant=structure.hinge_row @ q0 + structure.hinge_offset,
        hinge_input=hinge_input,
        hinge_compliance=0.5 * (compliance + compliance.T),
        hinge_stiffness=np.array(structure.hinge_stiffness, dtype=float),
        output_constant=structure.output_row @ q0 + structure.output_constant,
        output_input=output_input,
        output_hinge=structure.output_row @ ql + structure.output_hinge,
        dof_constant=q0,
        dof_input=qu,
        dof_hinge=ql,
        plane=plane,
        wheel_station=np.array(structure.wheel_station, dtype=float),
        wheel_y=np.array(structure.wheel_y, dtype=float),
        outputs=structure.outputs,
        hinge_names=structure.hinge_names,
        dof_names=structure.dof_names,
    )


def _solve(structure: ElasticStructure, normal_gravity: float, right: Array) -> Array:
    # Symmetric, so its transpose is the same matrix in the order LAPACK wants, which may then work in place.
    factor, failed = lapack.dpotrf(_stiffness(structure, normal_gravity).T, lower=1, clean=0, overwrite_a=1)
    if failed:
        values, vectors = np.linalg.eigh(_stiffness(structure, normal_gravity))
        dof = structure.dof_names[int(np.argmax(np.abs(vectors[:, 0])))]
        raise ValueError(
            "the vehicle is unstable with all wheels down: the lowest eigenvalue of its stiffness, gravity "
            f"at {normal_gravity:.4g} m/s2 included, is {values[0]:.3g}; it must be positive. The motion is "
            f'mostly in "{dof}": a spring there is missing or too soft, or the centre of mass too high'
        )
    solved: Array = lapack.dpotrs(factor, right, lower=1, overwrite_b=1)[0]
    return solved


def _stiffness(structure: ElasticStructure, normal_gravity: float) -> Array:
    stiffness = normal_gravity * structure.geometric
    stiffness += structure.stiffness
    return stiffness


def _check(structure: ElasticStructure) -> None:
    n, m = len(structure.load_constant), len(structure.hinge_offset)
    w, k = len(structure.wheel_station), len(structure.output_constant)
    shapes = {
        "stiffness": (n, n),
        "geometric": (n, n),
        "load_gravity": (3, n),
        "load_ground": (w, n),
        "load_constant": (n,),
        "hinge_row": (m, n),
        "hinge_ground": (m, w),
        "hinge_offset": (m,),
        "hinge_stiffness": (m,),
        "output_row": (k, n),
        "output_ground": (k, w),
        "output_gravity": (k, 3),
        "output_hinge": (k, m),
        "output_constant": (k,),
        "wheel_station": (w,),
        "wheel_y": (w,),
    }
    for name, shape in shapes.items():
        array: Array = getattr(structure, name)
        if array.shape != shape:
            raise ValueError(f"structure: {name} has shape {array.shape}; {shape} is needed")
        if not np.isfinite(array).all():
            raise ValueError(f"structure: {name} contains values that are not finite")
    for name, names, count in (
        ("outputs", structure.outputs, k),
        ("hinge_names", structure.hinge_names, m),
        ("dof_names", structure.dof_names, n),
    ):
        if len(names) != count:
            raise ValueError(f"structure: {len(names)} {name}; {count} are needed")
    kappa = structure.hinge_stiffness
    if (kappa == 0.0).any() or (np.diff(np.sign(kappa)) > 0).any():
        raise ValueError(
            "structure: hinge_stiffness must be non-zero, all positive values before the negative ones"
        )
