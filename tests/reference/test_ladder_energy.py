"""Ladder in uniform twist: torsional stiffness from energy.

With rails stiff in bending, every part of a ladder follows the one motion w = y kappa s. Rails, a length l
between the loads at their ends, twist by kappa per length; the ends of a cross-member turn by +-kappa b/2
about y over its clear width c. Without warping the energy is kappa^2/2 (2 G J_r l + n G J_c b^2/c), and the
torque over the roll kappa l between the ends is that bracket over l^2.
"""

import math

import numpy as np
import pytest

from crossaxle.vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame, torsional_stiffness
from crossaxle.vehicles.sections import Section

YOUNG, SHEAR = 2.1e11, 8.08e10

STIFF = 1.0
"""Second moment [m4] of members that must not bend; far stiffer ones would leave the answer to rounding."""


def member(J, second=STIFF, e=0.0, reach=0.0):
    """Section without warping; one off its shear centre is too stiff in warping for any but a uniform twist."""
    return Section(2e-3, second, J, 1e-4, shear_centre=e, reach=reach, warping_constant=1e-1 if e else 0.0)


def energy(J_rail, J_cross, count, length, spacing, reach):
    clear = spacing - 2 * reach
    return (2 * SHEAR * J_rail * length + count * SHEAR * J_cross * spacing**2 / clear) / length**2


@pytest.mark.parametrize("reach", [0.0, 0.05])
@pytest.mark.parametrize("e", [0.0, 0.02])
@pytest.mark.parametrize("count", [2, 5, 9])
def test_rails_stiff_in_bending(count, e, reach, checked):
    """Bending stiffness a million times that of the torsion: the energy formula to 1e-4, on or off the shear centre."""
    length, spacing = 4.5, 0.85
    rail, cross = member(4e-8, e=e, reach=reach), member(4e-6)
    stations = np.linspace(0, length, count)
    frame = ladder_frame(
        [RailSpan(0.0, length, rail)],
        [CrossMember(float(s), cross, Joint()) for s in stations],
        spacing,
        YOUNG,
        SHEAR,
    )
    expected = energy(4e-8, 4e-6, count, length, spacing, reach)
    found = torsional_stiffness(frame, 0.0, length)
    assert found == pytest.approx(expected, rel=1e-4)
    checked("torsional stiffness of ladders", "energy of uniform twist", abs(found / expected - 1))


def test_rails_that_bend_are_softer():
    """The formula takes the least motion that carries the twist, so it bounds any real ladder from above."""
    rail, cross = member(4e-8, second=3e-5), member(4e-6, second=1e-5)
    frame = ladder_frame(
        [RailSpan(0.0, 4.5, rail)],
        [CrossMember(s, cross, Joint()) for s in (0.0, 1.5, 3.0, 4.5)],
        0.85,
        YOUNG,
        SHEAR,
    )
    bound = energy(4e-8, 4e-6, 4, 4.5, 0.85, 0.0)
    assert 0.5 * bound < torsional_stiffness(frame, 0.0, 4.5) < bound


def test_open_cross_members_whose_torsion_joint_is_free_leave_the_rails_alone():
    rail, cross = member(4e-8), member(4e-6)
    frame = ladder_frame(
        [RailSpan(0.0, 4.5, rail)],
        [CrossMember(s, cross, Joint(torsion=0.0)) for s in (0.0, 2.0, 4.5)],
        0.85,
        YOUNG,
        SHEAR,
    )
    expected = energy(4e-8, 0.0, 0, 4.5, 0.85, 0.0)
    assert torsional_stiffness(frame, 0.0, 4.5) == pytest.approx(expected, rel=1e-4)


def test_flange_planes_sheared_like_a_rectangular_frame():
    """Warping alone: the four upper flanges of a two-member ladder are a rigid-cornered rectangle in their plane.

    A flange's in-plane second moment follows from Cw = 2 I (H/2)^2. The twist kappa shears the upper plane by
    gamma = 2 (H/2) kappa and the lower one backwards. In a rectangle sheared by gamma all corners turn alike;
    every side bends with equal end moments M = 6 E I/L times its chord's turn from the corner, and a corner
    is in balance when both sides' moments are equal: gamma = M (l/(6 E I_r) + b/(6 E I_c)). Work of M at four
    corners of two planes over gamma is the energy.
    """
    H, length, spacing = 0.25, 2.0, 0.8
    Cw_r, Cw_c = 2e-8, 1e-8
    tiny = 1e-13
    rail = Section(2e-3, 1e2, tiny, 1.0, warping_constant=Cw_r, flange_height=H)
    cross = Section(2e-3, 1e2, tiny, 1.0, warping_constant=Cw_c, flange_height=H)
    joint = Joint(warping=math.inf)
    frame = ladder_frame(
        [RailSpan(0.0, length, rail)],
        [CrossMember(s, cross, joint) for s in (0.0, length)],
        spacing,
        YOUNG,
        SHEAR,
    )
    I_r, I_c = 2 * Cw_r / H**2, 2 * Cw_c / H**2
    moment_per_gamma = 6 * YOUNG / (length / I_r + spacing / I_c)
    twice_the_energy = 2 * 4 * moment_per_gamma * H**2
    expected = twice_the_energy / length**2
    assert torsional_stiffness(frame, 0.0, length) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("joint", "cross_height", "lever"),
    [
        (Joint(gusset=3e5), 0.0, 0.25),
        (Joint(warping=3e5), 0.0, 0.25),
        (Joint(warping=3e5), 0.2, 0.25 + 0.2),
    ],
    ids=["gussets", "flanges held by tubes", "flanges on flanges"],
)
def test_springs_between_flanges_in_uniform_twist(joint, cross_height, lever, checked):
    """Each flange turns by kappa H/2, rail's and cross-member's against each other: k ((H_r + H_c)/2)^2 kappa^2/2.

    Four flanges at each of n cross-members add n k (H_r + H_c)^2 to the bracket of the formula. Members are too
    stiff in warping for any but the uniform twist.
    """
    rail = Section(2e-3, STIFF, 4e-8, 1.0, warping_constant=10.0, flange_height=0.25)
    cross = Section(
        2e-3, STIFF, 4e-6, 1.0, warping_constant=10.0 if cross_height else 0.0, flange_height=cross_height
    )
    stations = np.linspace(0.0, 4.5, 4)
    frame = ladder_frame(
        [RailSpan(0.0, 4.5, rail)],
        [CrossMember(float(s), cross, joint) for s in stations],
        0.85,
        YOUNG,
        SHEAR,
    )
    expected = energy(4e-8, 4e-6, 4, 4.5, 0.85, 0.0) + 4 * 3e5 * lever**2 / 4.5**2
    found = torsional_stiffness(frame, 0.0, 4.5)
    assert found == pytest.approx(expected, rel=1e-4)
    checked(
        "torsional stiffness of ladders with warping springs",
        "energy of uniform twist",
        abs(found / expected - 1),
    )
