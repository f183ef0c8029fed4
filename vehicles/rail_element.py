"""One element of a rail: vertical bending and torsion with restrained warping, coupled by the shear centre.

Frame: station s rearward, w up, theta about the forward axis (positive left side up), ' = d/ds; psi is the
section's rotation about the lateral axis and equals w' where shear flexibility is left out. Degrees of
freedom at each end: w, psi, theta, theta', all at the web's mid-plane. Bending acts at the shear centre,
offset e outboard: with side = +1 for the left rail and -1 for the right, w_s = w + side e theta and psi_s =
psi + side e theta'.

Bending: Timoshenko element with its interdependent shape functions (J. S. Przemieniecki, Theory of matrix
structural analysis, 1968, ch. 5). Torsion: the exact solution of G J theta' - E Cw theta''' = T (V. Z.
Vlasov, Thin-walled elastic beams, 1961, ch. II) without distributed load; a linear one where Cw = 0.
"""

import math
from functools import lru_cache

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.sections import Section

SERIES_BELOW = 1.0
"""Below this length over decay length the hyperbolic functions cancel and their series are used."""

EXPONENTIALS_ABOVE = 4.0
"""Above it, decaying exponentials from both ends replace hyperbolic functions, which would overflow."""

_TERMS = range(8)
_D_TERMS = tuple((2 * n + 2) / math.factorial(2 * n + 4) for n in _TERMS)
_NEAR_TERMS = tuple((2 * n + 2) / math.factorial(2 * n + 3) for n in _TERMS)
_FAR_TERMS = tuple(1 / math.factorial(2 * n + 3) for n in _TERMS)


def bending_stiffness(flexural: float, shear: float, length: float) -> Array:
    """Stiffness on (w, psi) at the start and (w, psi) at the end; shape (4, 4).

    Parameters
    ----------
    flexural : float
        E I [N m2].
    shear : float
        G times shear area [N]; math.inf for none of that flexibility.
    length : float
        [m]
    """
    L, Phi = length, 12.0 * flexural / (shear * length**2)
    return (flexural / ((1.0 + Phi) * L**3)) * np.array(
        [
            [12.0, 6.0 * L, -12.0, 6.0 * L],
            [6.0 * L, (4.0 + Phi) * L**2, -6.0 * L, (2.0 - Phi) * L**2],
            [-12.0, -6.0 * L, 12.0, -6.0 * L],
            [6.0 * L, (2.0 - Phi) * L**2, -6.0 * L, (4.0 + Phi) * L**2],
        ]
    )


def torsion_stiffness(torsional: float, warping: float, length: float) -> Array:
    """Stiffness on (theta, theta') at the start and at the end; shape (4, 4).

    Parameters
    ----------
    torsional : float
        G J [N m2].
    warping : float
        E Cw [N m4]; where it is 0 the rows of theta' are empty.
    length : float
        [m]
    """
    if warping == 0.0:
        k = torsional / length
        return np.array([[k, 0, -k, 0], [0, 0, 0, 0], [-k, 0, k, 0], [0, 0, 0, 0]], dtype=np.float64)
    rate = math.sqrt(torsional / warping)
    x = rate * length
    if x < SERIES_BELOW:
        # D = 2 - 2 cosh x + x sinh x, x cosh x - sinh x and sinh x - x, each by its power series.
        D = x**4 * _series(_D_TERMS, x)
        sinh, cosh_less_1 = math.sinh(x), 2.0 * math.sinh(x / 2.0) ** 2
        near = x**3 * _series(_NEAR_TERMS, x)
        far = x**3 * _series(_FAR_TERMS, x)
    else:
        # All of them times 2 exp(-x).
        q = math.exp(-x)
        D = 4.0 * q - 2.0 * (1.0 + q * q) + x * (1.0 - q * q)
        sinh, cosh_less_1 = 1.0 - q * q, (1.0 - q) ** 2
        near = x * (1.0 + q * q) - (1.0 - q * q)
        far = (1.0 - q * q) - 2.0 * x * q
    a = torsional * rate * sinh / D
    b = torsional * cosh_less_1 / D
    c = torsional / rate * near / D
    d = torsional / rate * far / D
    return np.array([[a, b, -a, b], [b, c, -b, d], [-a, -b, a, -b], [b, d, -b, c]])


@lru_cache(maxsize=4096)
def rail_stiffness(section: Section, length: float, young: float, shear_modulus: float, side: int) -> Array:
    """Stiffness of a rail element on (w, psi, theta, theta') at its start and end; shape (8, 8).

    Parameters
    ----------
    section : Section
    length : float
        [m]
    young, shear_modulus : float
        [Pa]
    side : int
        +1 left, -1 right.
    """
    e = side * section.shear_centre
    bending = bending_stiffness(young * section.second_moment_y, shear_modulus * section.shear_area_z, length)
    torsion = torsion_stiffness(
        shear_modulus * section.torsion_constant, young * section.warping_constant, length
    )
    by_end = np.empty((2, 4, 2, 4))
    at_shear_centre = bending.reshape(2, 2, 2, 2)
    by_end[:, :2, :, :2] = at_shear_centre
    by_end[:, :2, :, 2:] = by_end[:, 2:, :, :2] = e * at_shear_centre
    by_end[:, 2:, :, 2:] = e**2 * at_shear_centre + torsion.reshape(2, 2, 2, 2)
    k = by_end.reshape(8, 8)
    k.setflags(write=False)
    return k


@lru_cache(maxsize=65536)
def rail_rows(
    section: Section, length: float, young: float, shear_modulus: float, side: int, position: float
) -> Array:
    """Displacements and section forces inside a rail element per unit of its end values; shape (6, 8).

    Rows: w [m] and psi [rad] at the web's mid-plane, theta [rad], theta' [rad/m], bending moment E I psi_s'
    [N m] (positive: lower flange in tension), bimoment E Cw theta'' [N m2]. The element is taken as
    unloaded between its ends.

    Parameters
    ----------
    section, length, young, shear_modulus, side
        As for ``rail_stiffness``.
    position : float
        Distance behind the element's front end [m].
    """
    flexural = young * section.second_moment_y
    e = side * section.shear_centre
    bending = _bending_shapes(flexural, shear_modulus * section.shear_area_z, length, position)
    torsion = _torsion_shapes(
        shear_modulus * section.torsion_constant, young * section.warping_constant, length, position
    )
    by_end = np.zeros((6, 2, 4))
    for row, shape in ((0, bending[0]), (1, bending[1]), (4, flexural * bending[2])):
        by_end[row, :, :2] = shape.reshape(2, 2)
        by_end[row, :, 2:] = e * shape.reshape(2, 2)
    by_end[2:4, :, 2:] = torsion[:2].reshape(2, 2, 2)
    by_end[5, :, 2:] = young * section.warping_constant * torsion[2].reshape(2, 2)
    by_end[:2] -= e * by_end[2:4]
    rows = by_end.reshape(6, 8)
    rows.setflags(write=False)
    return rows


def _series(terms: tuple[float, ...], x: float) -> float:
    """Sum of terms times even powers of x."""
    square, total = x * x, 0.0
    for term in reversed(terms):
        total = total * square + term
    return total


@lru_cache(maxsize=65536)
def _bending_shapes(flexural: float, shear: float, length: float, position: float) -> Array:
    """w_s, psi_s and psi_s' at a position per unit of (w_s, psi_s) at both ends; shape (3, 4)."""
    L, x, Phi = length, position / length, 12.0 * flexural / (shear * length**2)
    return np.array(
        [
            [
                1 - 3 * x**2 + 2 * x**3 + Phi * (1 - x),
                L * (x - 2 * x**2 + x**3 + Phi / 2 * (x - x**2)),
                3 * x**2 - 2 * x**3 + Phi * x,
                L * (x**3 - x**2 - Phi / 2 * (x - x**2)),
            ],
            [
                6 * (x**2 - x) / L,
                1 - 4 * x + 3 * x**2 + Phi * (1 - x),
                6 * (x - x**2) / L,
                3 * x**2 - 2 * x + Phi * x,
            ],
            [
                6 * (2 * x - 1) / L**2,
                (6 * x - 4 - Phi) / L,
                6 * (1 - 2 * x) / L**2,
                (6 * x - 2 + Phi) / L,
            ],
        ]
    ) / (1.0 + Phi)


@lru_cache(maxsize=65536)
def _torsion_shapes(torsional: float, warping: float, length: float, position: float) -> Array:
    """theta, theta' and theta'' at a position per unit of (theta, theta') at both ends; shape (3, 4)."""
    if warping == 0.0:
        x = position / length
        return np.array([[1 - x, 0, x, 0], [-1 / length, 0, 1 / length, 0], [0, 0, 0, 0]], dtype=np.float64)
    return _torsion_basis(torsional, warping, length, position) @ _torsion_coefficients(
        torsional, warping, length
    )


@lru_cache(maxsize=4096)
def _torsion_coefficients(torsional: float, warping: float, length: float) -> Array:
    """Coefficients of the four basis functions per unit of the end values; shape (4, 4)."""
    front = _torsion_basis(torsional, warping, length, 0.0)
    rear = _torsion_basis(torsional, warping, length, length)
    return np.linalg.inv(np.vstack([front[:2], rear[:2]]))


def _torsion_basis(torsional: float, warping: float, length: float, position: float) -> Array:
    """Four independent solutions of theta'''' = k^2 theta'' with two derivatives; shape (3, 4)."""
    k, s = math.sqrt(torsional / warping), position
    x, whole = k * s, k * length
    if whole > EXPONENTIALS_ABOVE:
        front, rear = math.exp(-x), math.exp(x - whole)
        return np.array(
            [[1, s, front, rear], [0, 1, -k * front, k * rear], [0, 0, k**2 * front, k**2 * rear]]
        )
    cubic = s**3 * _series(_FAR_TERMS, x) if x < SERIES_BELOW else (math.sinh(x) - x) / k**3
    square = 2.0 * (math.sinh(x / 2.0) / k) ** 2
    # (cosh ks - 1)/k^2 and (sinh ks - ks)/k^3, which tend to s^2/2 and s^3/6 where warping rules.
    return np.array(
        [[1, s, square, cubic], [0, 1, math.sinh(x) / k, square], [0, 0, math.cosh(x), math.sinh(x) / k]]
    )
