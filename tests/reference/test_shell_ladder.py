"""Ladder frames against flat-shell models of the same ladders (tests/reference/shell_ladder.py, run by hand).

The shells know nothing of shear centres, warping or joints: rails and cross-members are plates that meet. They
are bonded as if welded all over. Kept numbers are with elements of 12.5 mm; halving from 30 mm moves them by 2 % at most.
"""

import math

import numpy as np
import pytest

from tests.reference.shell_ladder import LADDERS
from tests.reference.shell_ladder import torsional_stiffness as shell_stiffness
from vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame, torsional_stiffness
from vehicles.frame_kinds import frame_kind
from vehicles.sections import channel
from vehicles.tubes import rectangular_tube

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
WELDED = Joint(warping=math.inf, overlap=1.0)


def outer(height, flange, thickness):
    """Channel of given mid-line dimensions."""
    return channel(height + thickness, flange + thickness / 2, thickness)


def grillage(ladder, joint):
    """Torsional stiffness of the same ladder as a grillage [N m/deg]."""
    if ladder.make == "tubes on the web":
        side = ladder.member_height + ladder.member_thickness
        member, reach = rectangular_tube(side, side, ladder.member_thickness), ladder.member_height / 2
    else:
        member, reach = outer(ladder.member_height, ladder.member_flange, ladder.member_thickness), 0.0
    rail = outer(ladder.rail_height, ladder.rail_flange, ladder.rail_thickness)
    stations = [float(station) for station in ladder.stations]
    span = RailSpan(stations[0] - reach, stations[-1] + reach, rail)
    members = [CrossMember(station, member, joint or frame_kind("cross-members on the web").joint(member))
               for station in stations]  # fmt: skip
    frame = ladder_frame([span], members, ladder.spacing, YOUNG, SHEAR)
    return torsional_stiffness(frame, 0.0, ladder.base) * math.pi / 180


@pytest.mark.parametrize("name", ["flanges on flanges", "five members", "narrow and light"])
def test_open_cross_members_flange_on_flange(name):
    """Welded corner: rigid arms and shear panel, nothing fitted."""
    assert grillage(LADDERS[name], WELDED) == pytest.approx(SHELL[name], rel=0.10)


@pytest.mark.parametrize("name", ["tubes", "slender tubes"])
def test_tube_cross_members(name):
    """The joint's bending stiffness comes from a single tube on a web in shells; without that, 5 % instead of 2 %."""
    assert grillage(LADDERS[name], None) == pytest.approx(SHELL[name], rel=0.02)
    assert grillage(LADDERS[name], Joint()) == pytest.approx(SHELL[name], rel=0.05)


@pytest.mark.parametrize("name", ["channels on the web", "five channels on the web"])
def test_open_cross_members_on_the_web(name):
    """The warping joint of this kind was fitted to the first of the two: the second is the check."""
    assert grillage(LADDERS[name], None) == pytest.approx(SHELL[name], rel=0.05)


def test_what_each_part_of_the_corner_is_for():
    """Joint at the web without arms: a fifth too soft. Web-only joint without warping spring: far too soft."""
    assert (
        grillage(LADDERS["flanges on flanges"], Joint(warping=math.inf)) < 0.85 * SHELL["flanges on flanges"]
    )
    assert grillage(LADDERS["channels on the web"], Joint()) < 0.4 * SHELL["channels on the web"]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["flanges on flanges", "tubes"])
def test_kept_numbers_are_those_of_the_generator(name):
    """Elements of 40 mm, which cost the shells 3 % at the flanges."""
    assert shell_stiffness(LADDERS[name], 0.04) * np.pi / 180 == pytest.approx(SHELL[name], rel=0.04)
