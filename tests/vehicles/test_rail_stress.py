"""Rail stress: plain bending by hand, the hand of left and right rails, points that carry it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from crossaxle.vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame
from crossaxle.vehicles.open_sections import channel, i_section
from crossaxle.vehicles.rail_stress import stress_rows
from crossaxle.vehicles.tubes import rectangular_tube

YOUNG, SHEAR = 2.1e11, 8.077e10
BOX = rectangular_tube(0.2, 0.08, 0.006)
RAIL = channel(0.270, 0.075, 0.007, bend_radius=0.010)


def ladder(rail, joint=None):
    return ladder_frame(
        [RailSpan(0.0, 4.0, rail)],
        [CrossMember(s, BOX, joint or Joint()) for s in (0.0, 2.0, 4.0)],
        0.85,
        YOUNG,
        SHEAR,
        extra_stations=(1.0,),
    )


def sagged(frame):
    """Both rails pushed down at station 1 by 10 kN each, held up at their ends."""
    pairs = {0.0: 7.5e3, 1.0: -1e4, 4.0: 2.5e3}
    load = sum(f * frame.deflection_row(side, s) for side in ("left", "right") for s, f in pairs.items())
    rigid = np.linalg.qr(frame.rigid_motions().T)[0]
    return np.linalg.solve(frame.stiffness + 1e6 * rigid @ rigid.T, load)


def test_closed_rail_in_plain_bending():
    """Statically determinate: M = P a b/L = 7.5 kN m under the load, tension in the lower flange."""
    frame = ladder(BOX)
    q = sagged(frame)
    for side in ("left", "right"):
        np.testing.assert_allclose(
            stress_rows(frame, side, 1.0) @ q, 7.5e3 / BOX.section_modulus_y, rtol=1e-6
        )
        # Half way down the longer arm: 3.75 kN m at every fibre, warping has no part in it.
        np.testing.assert_allclose(
            stress_rows(frame, side, 2.5) @ q, 3.75e3 / BOX.section_modulus_y, rtol=1e-6
        )


def test_mirrored_rails_carry_the_same_stress():
    frame = ladder(RAIL)
    q = sagged(frame)
    for s in (0.4, 1.0, 1.7, 3.1):
        np.testing.assert_allclose(
            stress_rows(frame, "left", s) @ q, stress_rows(frame, "right", s) @ q, rtol=1e-6
        )
    # Edge and corner differ: the load hangs off the shear centre, so that the rail warps.
    edge, corner = (stress_rows(frame, "left", 1.0) @ q)[:2]
    assert abs(edge - corner) > 0.1 * abs(edge)


def test_moment_jumps_at_a_cross_member_are_kept_apart():
    """One rail up, one down: the tube's torque bends the rails; ahead and behind differ there and nowhere else."""
    frame = ladder(RAIL)
    load = frame.roll_row(0.0) - frame.roll_row(4.0)
    rigid = np.linalg.qr(frame.rigid_motions().T)[0]
    q = np.linalg.solve(frame.stiffness + 1e6 * rigid @ rigid.T, load * 1e3)
    at, between = stress_rows(frame, "left", 2.0) @ q, stress_rows(frame, "left", 1.5) @ q
    assert np.abs(at[:2] - at[2:]).max() > 0.1 * np.abs(at).max()
    np.testing.assert_allclose(between[:2], between[2:], rtol=1e-9)


def test_edge_and_corner_of_a_channel_and_of_an_i_section():
    """On the mid-line: omega at the edge (B - e) H/2, at the corner e H/2; an I section has edges of both signs."""
    sharp = channel(0.270, 0.075, 0.007)
    H, B, e = 0.263, 0.0715, sharp.shear_centre
    assert sharp.sectorial_coordinate == pytest.approx((B - e) * H / 2, rel=1e-12)
    assert sharp.opposite_sectorial_coordinate == pytest.approx(e * H / 2, rel=1e-12)
    beam = i_section(0.2, 0.1, 0.006, 0.009)
    assert beam.opposite_sectorial_coordinate == pytest.approx(beam.sectorial_coordinate, rel=1e-12)


def test_unknown_corner_counts_as_an_edge():
    table = replace(RAIL, opposite_sectorial_coordinate=math.nan)
    equal = replace(RAIL, opposite_sectorial_coordinate=RAIL.sectorial_coordinate)
    np.testing.assert_array_equal(
        stress_rows(ladder(table), "left", 1.2), stress_rows(ladder(equal), "left", 1.2)
    )


def test_station_off_the_rail_is_refused():
    with pytest.raises(ValueError, match="off the rail"):
        stress_rows(ladder(RAIL), "left", 4.1)
