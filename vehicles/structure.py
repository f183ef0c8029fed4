"""The elastic structure a vehicle amounts to: plain arrays, the only thing handed to the simulation.

Frame: ISO 8855 axes (x forward, y left, z up), small displacements relative to the mean plane through the
wheels' ground points. Everything elastic is a scalar spring on a linear combination of the degrees of
freedom q. With the wheels' ground heights z and gravity g = (gx, gy, gz) (level ground: (0, 0, -9.80665)),

    (K + g_n Kg) q + sum_j row_j^T lambda_j = G^T g + Z^T z + p
    h_j = row_j q + ground_j z + offset_j,      lambda_j = kappa_j max(0, h_j)

where K holds every spring on its reference segment (all wheels down, no stop touched), Kg is gravity's
geometric stiffness per unit of normal gravity g_n = g cos(alpha), and a *hinge* j is a kink in a
force law: passing it (h_j > 0) changes that spring's stiffness by kappa_j, which is negative where a
contact lets go (a tyre leaving the ground) and positive where a stop or a helper spring comes in.
"""

from dataclasses import dataclass

from crossaxle.arrays import Array


@dataclass(frozen=True)
class Output:
    """Name of one scalar output.

    Attributes
    ----------
    quantity : str
        What it is, e.g. ``wheel_load``, ``gap``, ``bracket_stress``, ``frame_twist``.
    item : str
        Of which wheel, gap, bracket ...; empty where there is only one.
    unit : str
        SI unit: ``N``, ``m``, ``Pa``, ``rad``, ``N m`` or ``1``.
    place : str
        Where on the item (a corner, a section, a side). Outputs that share quantity and item are one group, of
        which the worst place counts: the smallest for ``gap`` and ``tip_margin``, else the largest magnitude.
    recorded : bool
        True where the sampling keeps its extremes; False for outputs that only postures show.
    """

    quantity: str
    item: str
    unit: str
    place: str = ""
    recorded: bool = True


@dataclass(frozen=True)
class Structure:
    """A vehicle as arrays; n degrees of freedom, w wheels, m hinges, k outputs. SI units.

    Attributes
    ----------
    stiffness : (n, n)
        K, symmetric; positive definite, or so nearly singular that the vehicle is refused.
    geometric : (n, n)
        Kg, geometric stiffness per unit of normal gravity [N s2/m2 ...]; negative semidefinite.
    load_gravity : (3, n)
        Generalised force per unit of gravity's components along x, y, z.
    load_ground : (w, n)
        Generalised force per unit of ground height under each wheel.
    load_constant : (n,)
        Generalised force of preloads and strain-free assembly.
    hinge_row, hinge_ground, hinge_offset, hinge_stiffness : (m, n), (m, w), (m,), (m,)
        The hinges of the module's docstring. All positive ``hinge_stiffness`` come before the negative ones.
    output_row, output_ground, output_gravity, output_hinge, output_constant : (k, n), (k, w), (k, 3), (k, m), (k,)
        y = row q + ground z + gravity g + hinge lambda + constant.
    wheel_station, wheel_y : (w,)
        Distance behind the front axle (positive rearward) and lateral position (positive left) of each wheel [m].
        Order: axle by axle from the front, left before right.
    outputs : tuple of Output, length k
        The first w are the wheel loads, in the order of the wheels.
    hinge_names : tuple of str, length m
    dof_names : tuple of str, length n
    """

    stiffness: Array
    geometric: Array
    load_gravity: Array
    load_ground: Array
    load_constant: Array
    hinge_row: Array
    hinge_ground: Array
    hinge_offset: Array
    hinge_stiffness: Array
    output_row: Array
    output_ground: Array
    output_gravity: Array
    output_hinge: Array
    output_constant: Array
    wheel_station: Array
    wheel_y: Array
    outputs: tuple[Output, ...]
    hinge_names: tuple[str, ...]
    dof_names: tuple[str, ...]
