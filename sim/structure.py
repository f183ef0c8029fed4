"""What the simulation needs of a vehicle: the shape of an elastic structure as plain arrays.

Frame: ISO 8855 axes (x forward, y left, z up), small displacements relative to the mean plane through the
wheels' ground points. With gravity g = (gx, gy, gz), the wheels' ground heights z and the normal gravity g_n,

    (K + g_n Kg) q + sum_j row_j^T lambda_j = G^T g + Z^T z + p
    h_j = row_j q + ground_j z + offset_j,      lambda_j = kappa_j max(0, h_j)
    y = output_row q + output_ground z + output_gravity g + output_hinge lambda + output_constant

Any object with these attributes will do; who made it, and from what, does not matter here.
"""

from typing import Protocol

from crossaxle.arrays import Array


class OutputName(Protocol):
    """Name of one scalar output: a quantity of an item in an SI unit, and whether sampling keeps it."""

    @property
    def quantity(self) -> str:
        """What it is, e.g. ``wheel_load``."""

    @property
    def item(self) -> str:
        """Of which wheel, gap, bracket ...; empty where there is only one."""

    @property
    def unit(self) -> str:
        """SI unit: ``N``, ``m``, ``Pa``, ``rad``, ``N m`` or ``1``."""

    @property
    def recorded(self) -> bool:
        """Whether the sampling keeps its extremes."""


class ElasticStructure(Protocol):
    """n degrees of freedom, w wheels, m hinges, k outputs; SI units.

    Shapes: ``stiffness`` and ``geometric`` (n, n); ``load_gravity`` (3, n); ``load_ground`` (w, n);
    ``load_constant`` (n,); ``hinge_row`` (m, n); ``hinge_ground`` (m, w); ``hinge_offset`` and
    ``hinge_stiffness`` (m,), the positive stiffnesses first; ``output_row`` (k, n), ``output_ground`` (k, w),
    ``output_gravity`` (k, 3), ``output_hinge`` (k, m), ``output_constant`` (k,); ``wheel_station`` (distance
    behind the front axle) and ``wheel_y`` (to the left) (w,). The first w outputs are the wheel loads.
    """

    @property
    def stiffness(self) -> Array: ...  # noqa: D102
    @property
    def geometric(self) -> Array: ...  # noqa: D102
    @property
    def load_gravity(self) -> Array: ...  # noqa: D102
    @property
    def load_ground(self) -> Array: ...  # noqa: D102
    @property
    def load_constant(self) -> Array: ...  # noqa: D102
    @property
    def hinge_row(self) -> Array: ...  # noqa: D102
    @property
    def hinge_ground(self) -> Array: ...  # noqa: D102
    @property
    def hinge_offset(self) -> Array: ...  # noqa: D102
    @property
    def hinge_stiffness(self) -> Array: ...  # noqa: D102
    @property
    def output_row(self) -> Array: ...  # noqa: D102
    @property
    def output_ground(self) -> Array: ...  # noqa: D102
    @property
    def output_gravity(self) -> Array: ...  # noqa: D102
    @property
    def output_hinge(self) -> Array: ...  # noqa: D102
    @property
    def output_constant(self) -> Array: ...  # noqa: D102
    @property
    def wheel_station(self) -> Array: ...  # noqa: D102
    @property
    def wheel_y(self) -> Array: ...  # noqa: D102
    @property
    def outputs(self) -> tuple[OutputName, ...]: ...  # noqa: D102
    @property
    def hinge_names(self) -> tuple[str, ...]: ...  # noqa: D102
    @property
    def dof_names(self) -> tuple[str, ...]: ...  # noqa: D102
