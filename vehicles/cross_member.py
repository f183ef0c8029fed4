"""A cross-member with its two joints, condensed onto the rails.

Frame: y left, z up; rotation about x (forward) phi = dw/dy; rotation about y chi. The cross-member spans the
clear width between the rails and has its own bending, torsion and warping; each joint couples its end to the
rail's twist theta, slope psi and twist rate theta' (vehicles.rail_element).

Warping joint: the rail's upper flange line lies at z = H_r/2 and moves sideways by -z theta, so it turns
about the vertical by z theta' (s points rearward). The cross-member's upper flange line moves forward by z
chi, so it turns by -z dchi/dy. Their relative rotation is (H_r theta' + H_c dchi/dy)/2 at the upper flange
and the opposite at the lower: in uniform frame twist both rates have one sign, and the flange plane is
sheared at its corners. With a stiffness k per flange the energy is 2 x k/2 x ((H_r theta' + H_c
dchi/dy)/2)^2.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vehicles.rail_element import bending_stiffness, torsion_stiffness
from vehicles.sections import Section

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Joint:
    """Stiffness of the joint between a rail and a cross-member's end [N m/rad]; 0 is free, math.inf rigid.

    A rigid joint shares the degree of freedom; it is no penalty.

    Attributes
    ----------
    bending : float
        Rail twist against the cross-member's end slope.
    torsion : float
        Rail slope against the cross-member's end twist.
    warping : float
        Per flange: rail flange against cross-member flange, turning about the vertical. With a cross-member
        that has no flanges (a closed tube) it holds the rail flange itself.
    gusset : float
        Per flange: rail flange against the frame's plane, turning about the vertical.

    Raises
    ------
    ValueError
        If a stiffness is negative or not a number.
    """

    bending: float = math.inf
    torsion: float = math.inf
    warping: float = 0.0
    gusset: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no spring can have."""
        for name in ("bending", "torsion", "warping", "gusset"):
            if not getattr(self, name) >= 0.0:
                raise ValueError(
                    f"joint: {name} is {getattr(self, name):g} N m/rad; "
                    "it must be 0 (free) or more, or inf (rigid)"
                )


@dataclass(frozen=True)
class CrossMember:
    """A cross-member at a station [m], the same joint at both ends."""

    station: float
    section: Section
    joint: Joint


@dataclass(frozen=True)
class OnRails:
    """A cross-member seen from the rails.

    Attributes
    ----------
    stiffness : (8, 8)
        On (w, psi, theta, theta') of the left rail, then of the right.
    holds_warping : bool
        True where the joint forces theta' = 0 on both rails.
    """

    stiffness: Array
    holds_warping: bool


@lru_cache(maxsize=4096)
def on_rails(
    section: Section, joint: Joint, rail: Section, spacing: float, young: float, shear_modulus: float
) -> OnRails:
    """Condense a cross-member and its joints onto the rails; exact, as nothing loads it between them.

    Parameters
    ----------
    section, joint : Section, Joint
        Of the cross-member.
    rail : Section
        Of both rails at that station.
    spacing : float
        Between the rails' web mid-planes [m].
    young, shear_modulus : float
        [Pa]

    Returns
    -------
    OnRails

    Raises
    ------
    ValueError
        If the rails leave no clear width.
    """
    length = spacing - 2.0 * rail.reach
    if not length > 0.0:
        raise ValueError(
            f"rails {spacing:g} m apart that reach {rail.reach:g} m inwards leave no width for a cross-member"
        )
    rows = np.eye(14)
    rail_left, rail_right = rows[0:4], rows[4:8]
    k = np.zeros((14, 14))
    internal: list[int] = []

    def end(own: int, shared: Array, stiffness: float) -> Array:
        """Row of an end's rotation: the rail's if rigid, else its own with a spring between the two."""
        if math.isinf(stiffness):
            return shared
        internal.append(own)
        free: Array = rows[own]
        k[:] += stiffness * np.outer(free - shared, free - shared)
        return free

    def add(ends: list[Array], stiffness: Array) -> None:
        """Add an element on the given rows of end values."""
        B = np.array(ends)
        k[:] += B.T @ stiffness @ B

    slope_right = end(8, rail_right[2], joint.bending)
    slope_left = end(9, rail_left[2], joint.bending)
    deflection_right = rail_right[0] + rail.reach * rail_right[2]
    deflection_left = rail_left[0] - rail.reach * rail_left[2]
    add(
        [deflection_right, slope_right, deflection_left, slope_left],
        bending_stiffness(young * section.second_moment_y, shear_modulus * section.shear_area_z, length),
    )

    twist_right = end(10, rail_right[1], joint.torsion)
    twist_left = end(11, rail_left[1], joint.torsion)
    H_r, H_c = rail.flange_height, section.flange_height
    warps = section.warping_constant > 0.0
    holds_warping = H_r > 0.0 and (
        math.isinf(joint.gusset) or (math.isinf(joint.warping) and not (warps and H_c > 0.0))
    )
    rates = []
    for own, rail_side in ((12, rail_right), (13, rail_left)):
        rate = np.zeros(14)
        if warps and H_c > 0.0 and math.isinf(joint.warping):
            rate = -H_r / H_c * rail_side[3]
        elif warps:
            internal.append(own)
            rate = rows[own]
        if math.isfinite(joint.warping):
            relative = H_r * rail_side[3] + H_c * rate
            k += joint.warping / 2.0 * np.outer(relative, relative)
        if math.isfinite(joint.gusset):
            k += joint.gusset / 2.0 * H_r**2 * np.outer(rail_side[3], rail_side[3])
        rates.append(rate)
    add(
        [twist_right, rates[0], twist_left, rates[1]],
        torsion_stiffness(shear_modulus * section.torsion_constant, young * section.warping_constant, length),
    )
    if joint.torsion == 0.0:
        # Nothing holds the cross-member's own rotation about its axis: fix one end, which loads nothing.
        internal.remove(10)

    stiffness = k[:8, :8]
    if internal:
        coupling = k[internal, :8]
        stiffness = stiffness - coupling.T @ np.linalg.solve(k[internal][:, internal], coupling)
    stiffness = (stiffness + stiffness.T) / 2.0
    stiffness.setflags(write=False)
    return OnRails(stiffness, holds_warping)
