"""A cross-member with its two joints, condensed onto the rails.

Frame: y left, z up; rotation about x (forward) phi = dw/dy; rotation about y chi. The cross-member spans the
clear width between the rails and has its own bending, torsion and warping; each joint couples its end to the
rail's twist theta, slope psi and twist rate theta' (crossaxle.vehicles.rail_element).

Warping: the rail's upper flange line lies at z = H_r/2 and moves sideways by -z theta, so it turns about the
vertical by z theta' (s points rearward). The cross-member's upper flange line moves forward by z chi, so it
turns by -z dchi/dy. Their relative rotation is (H_r theta' + H_c dchi/dy)/2 at the upper flange and the
opposite at the lower: in uniform frame twist both rates have one sign, and the frame's flange planes are
sheared like the panels of a Vierendeel girder. With a stiffness k per flange the energy is
2 k/2 ((H_r theta' + H_c dchi/dy)/2)^2.

Overlap: where the cross-member's flanges lie on the rail's, over a length d from the web, they go with the
rail's flanges. The free cross-member begins at d; its twist there is psi + d theta' on the left, psi - d
theta' on the right. The corner of the two flanges is no rigid plate but shears with k_p = G (t_r + t_c) d B_c
per flange (B_c the width of the cross-member's flange), in series with the fasteners. Rigid arms and a shear
panel are the usual model of a frame's corner; the reference tests hold it against flat shells.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.rail_element import bending_stiffness, torsion_stiffness
from crossaxle.vehicles.sections import Section


@dataclass(frozen=True)
class Joint:
    """Joint between a rail and a cross-member's end; stiffness in N m/rad, 0 is free, math.inf rigid.

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
    overlap : float
        Part of the rail flange's width on which the cross-member's flanges lie: 0 for a cross-member on the
        web alone, 1 for flange on flange to the edge. Without effect where a section has no flanges.

    Raises
    ------
    ValueError
        If a stiffness is negative or not a number, or the overlap not between 0 and 1.
    """

    bending: float = math.inf
    torsion: float = math.inf
    warping: float = 0.0
    gusset: float = 0.0
    overlap: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no joint can have."""
        for name in ("bending", "torsion", "warping", "gusset"):
            if not getattr(self, name) >= 0.0:
                raise ValueError(
                    f"joint: {name} is {getattr(self, name):g} N m/rad; it must be 0 (free) or more"
                )
        if not 0.0 <= self.overlap <= 1.0:
            raise ValueError(f"joint: overlap is {self.overlap:g}; it must be between 0 and 1")


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
    overlap = joint.overlap * rail.flange_width if section.flange_width > 0.0 else 0.0
    arm = max(rail.reach, overlap)
    length = spacing - 2.0 * arm
    if not length > 0.0:
        raise ValueError(
            f"rails {spacing:g} m apart that reach {arm:g} m inwards leave no width for a cross-member"
        )
    warping = joint.warping
    if overlap > 0.0 and warping > 0.0:
        sheets = rail.flange_thickness + section.flange_thickness
        warping = 1.0 / (1.0 / warping + 1.0 / (shear_modulus * sheets * overlap * section.flange_width))

    # Rows of 8 rail and 6 possible internal displacements; the stiffness is built on all and condensed.
    unit = np.eye(14)
    left, right = unit[0:4], unit[4:8]
    k = np.zeros((14, 14))
    internal: list[int] = []

    def spring(row: Array, stiffness: float) -> None:
        k[:] += stiffness * np.outer(row, row)

    def element(rows: list[Array], stiffness: Array) -> None:
        B = np.array(rows)
        k[:] += B.T @ stiffness @ B

    def end(own: int, shared: Array, stiffness: float) -> Array:
        if math.isinf(stiffness):
            return shared
        internal.append(own)
        free: Array = unit[own]
        spring(free - shared, stiffness)
        return free

    slope_right = end(8, right[2], joint.bending)
    slope_left = end(9, left[2], joint.bending)
    element(
        [right[0] + arm * right[2], slope_right, left[0] - arm * left[2], slope_left],
        bending_stiffness(young * section.second_moment_y, shear_modulus * section.shear_area_z, length),
    )

    twist_right = end(10, right[1] - overlap * right[3], joint.torsion)
    twist_left = end(11, left[1] + overlap * left[3], joint.torsion)
    H_r, H_c = rail.flange_height, section.flange_height
    warps = section.warping_constant > 0.0
    shares_flanges = warps and H_c > 0.0
    rates = []
    for own, rail_rate in ((12, right[3]), (13, left[3])):
        rate = np.zeros(14)
        if shares_flanges and math.isinf(warping):
            rate = -H_r / H_c * rail_rate
        elif warps:
            internal.append(own)
            rate = unit[own]
        if math.isfinite(warping):
            spring(H_r * rail_rate + H_c * rate, warping / 2.0)
        if math.isfinite(joint.gusset):
            spring(H_r * rail_rate, joint.gusset / 2.0)
        rates.append(rate)
    element(
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
    held = math.isinf(joint.gusset) or (math.isinf(warping) and not shares_flanges)
    return OnRails(stiffness, holds_warping=held and H_r > 0.0)
