"""Ladder frames against our own flat-shell models of the same ladders (tests/reference/shell_ladder.py, run by hand).

The shells know nothing of shear centres, warping or joints: rails and cross-members are plates that meet.
They are bonded as if welded all over. Kept numbers are with elements of 12.5 mm; halving from 30 mm moves
them by 2 % at most.
"""

import math

import numpy as np
import pytest

from crossaxle.vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame, torsional_stiffness
from crossaxle.vehicles.frame_kinds import frame_kind
from crossaxle.vehicles.open_sections import channel
from crossaxle.vehicles.rail_stress import stress_rows
from crossaxle.vehicles.tubes import rectangular_tube
from tests.reference.shell_ladder import LADDERS, STATIONS
from tests.reference.shell_ladder import torsional_stiffness as shell_stiffness

YOUNG, SHEAR = 2.1e11, 2.1e11 / 2.6
SHELL = {  # N m/deg
    "flanges on flanges": 1009.7,
    "five members": 441.1,
    "narrow and light": 260.2,
    "channels on the web": 188.8,
    "five channels on the web": 116.6,
    "tubes": 2336.2,
    "slender tubes": 283.8,
}
FITTED = "channels on the web"
"""The ladder to which the joint's warping stiffness was fitted; what it gives is no check."""

WELDED = Joint(warping=math.inf, overlap=1.0)


def outer(height, flange, thickness):
    """Channel of given mid-line dimensions."""
    return channel(height + thickness, flange + thickness / 2, thickness)


def built(ladder, joint):
    """The same ladder as a grillage; joint None for that of cross-members on the web."""
    if ladder.make == "tubes on the web":
        side = ladder.member_height + ladder.member_thickness
        member, reach = rectangular_tube(side, side, ladder.member_thickness), ladder.member_height / 2
    else:
        member, reach = outer(ladder.member_height, ladder.member_flange, ladder.member_thickness), 0.0
    rail = outer(ladder.rail_height, ladder.rail_flange, ladder.rail_thickness)
    stations = [float(station) for station in ladder.stations]
    joint = joint or frame_kind("cross-members on the web").joint(member)
    return ladder_frame(
        [RailSpan(stations[0] - reach, stations[-1] + reach, rail)],
        [CrossMember(station, member, joint) for station in stations],
        ladder.spacing,
        YOUNG,
        SHEAR,
        extra_stations=(0.0, ladder.base),
    )


def grillage(ladder, joint):
    """Torsional stiffness of the same ladder as a grillage [N m/deg]."""
    return torsional_stiffness(built(ladder, joint), 0.0, ladder.base) * math.pi / 180


@pytest.mark.parametrize("name", ["flanges on flanges", "five members", "narrow and light"])
def test_open_cross_members_flange_on_flange(name, checked):
    """Welded corner: rigid arms and shear panel, nothing fitted."""
    found = grillage(LADDERS[name], WELDED)
    assert found == pytest.approx(SHELL[name], rel=0.10)
    checked(
        "ladders with open cross-members, flange on flange",
        "flat-shell finite elements of our own",
        abs(found / SHELL[name] - 1),
    )


@pytest.mark.parametrize("name", ["tubes", "slender tubes"])
def test_tube_cross_members(name, checked):
    """The joint's bending stiffness comes from a single tube on a web in shells; without that, 5 % instead of 2 %."""
    found = grillage(LADDERS[name], None)
    assert found == pytest.approx(SHELL[name], rel=0.02)
    checked(
        "ladders with tube cross-members",
        "flat-shell finite elements of our own",
        abs(found / SHELL[name] - 1),
    )
    assert grillage(LADDERS[name], Joint()) == pytest.approx(SHELL[name], rel=0.05)


@pytest.mark.parametrize("name", ["channels on the web", "five channels on the web"])
def test_open_cross_members_on_the_web(name, checked):
    """The warping joint of this kind was fitted to the first of the two: only the second is a check."""
    found = grillage(LADDERS[name], None)
    assert found == pytest.approx(SHELL[name], rel=0.05)
    if name != FITTED:
        checked(
            "ladder with five open cross-members on the web",
            "flat-shell finite elements of our own",
            abs(found / SHELL[name] - 1),
        )


def test_what_each_part_of_the_corner_is_for():
    """Joint at the web without arms: a fifth too soft. Web-only joint without warping spring: far too soft."""
    assert (
        grillage(LADDERS["flanges on flanges"], Joint(warping=math.inf)) < 0.85 * SHELL["flanges on flanges"]
    )
    assert grillage(LADDERS["channels on the web"], Joint()) < 0.4 * SHELL["channels on the web"]


STRESS = {  # Pa/(N m) at the lower flange's edge and at the web corner, left rail, at STATIONS
    "flanges on flanges": [[6473, -4907], [-18657, 6573], [-5434, 1357], [13870, -5785], [-14496, 6663]],
    "channels on the web": [[4328, -4055], [-14512, 4663], [-3866, 697], [10451, -4262], [-10446, 5089]],
    "tubes": [[-2362, -298], [-455, -2554], [-641, -912], [-921, 1546], [898, -1155]],
}


@pytest.mark.parametrize("name", STRESS)
def test_stress_from_bending_and_warping(name, checked):
    """Both points of both rails, with sign, to 15 % of the largest: the shells' flanges also shear and dish."""
    ladder = LADDERS[name]
    frame = built(ladder, WELDED if ladder.make == "flanges on flanges" else None)
    row = frame.roll_row(0.0) - frame.roll_row(ladder.base)
    rigid = np.linalg.qr(frame.rigid_motions().T)[0]
    q = np.linalg.solve(frame.stiffness + 1e6 * rigid @ rigid.T, row)
    expected = np.array(STRESS[name], dtype=float)
    for side, sign in (("left", 1), ("right", -1)):
        own = np.array([stress_rows(frame, side, station)[2:] @ q for station in STATIONS])
        np.testing.assert_allclose(sign * own, expected, atol=0.15 * np.abs(expected).max(), rtol=0)
        worst = np.abs(sign * own - expected).max() / np.abs(expected).max()
        checked("rail stress, over the largest", "flat-shell finite elements of our own", worst)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["flanges on flanges", "tubes"])
def test_kept_numbers_are_those_of_the_generator(name):
    """Elements of 40 mm, which cost the shells 3 % at the flanges."""
    assert shell_stiffness(LADDERS[name], 0.04) * np.pi / 180 == pytest.approx(SHELL[name], rel=0.04)
