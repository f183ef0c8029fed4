"""Gaps: level clearance, the closest corner of two boxes, and what finite rotations add."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from crossaxle.vehicles.gaps import gap_places, gap_with_finite_rotations
from crossaxle.vehicles.kinematics import Pose
from tests.shortcuts import posture_on


def gaps(vehicle, heights):
    posture = posture_on(reduce(vehicle.structure), heights)
    named = zip(vehicle.structure.outputs, posture.y, strict=True)
    return posture, {(o.item, o.place): y for o, y in named if o.quantity == "gap"}


def test_level_gaps_are_the_clearances_of_the_file(clinic):
    vehicle = clinic()
    _, found = gaps(vehicle, np.zeros(4))
    assert found["cab roof to alcove", ""] == pytest.approx(0.100, abs=1e-9)
    # Box over box: 1.44 m to 1.17 m.
    assert [
        found["rear tyre to wheel box", p.place] for p in gap_places(vehicle.layout)[-4:]
    ] == pytest.approx([0.27] * 4, abs=1e-9)


def test_a_lifted_wheel_closes_its_own_wheel_box(clinic):
    vehicle = clinic({"mount": "rigid"})
    _, lifted = gaps(vehicle, [0, 0, 0.2, 0])
    _, dropped = gaps(vehicle, [0, 0, -0.2, 0])
    corners = [key for key in lifted if key[0] == "rear tyre to wheel box"]
    assert all(lifted[key] < 0.27 < dropped[key] for key in corners)
    # The outer corner of the facing sides is the closest when the wheel on that side goes up.
    assert min(corners, key=lifted.get)[1].split()[1] == "left"


def test_finite_rotation_of_a_high_corner():
    """A corner 1.1 m out and 2 m up, rolled by 7.6 deg: exact rotation against the linear one, from geometry."""
    angle = np.deg2rad(7.6)
    moved = Pose(np.zeros(3), np.zeros(3), angle, 0.0).moved(np.array([[0.0, 1.1, 2.0]]))[0]
    exact = np.array([1.1 * np.cos(angle) - 2 * np.sin(angle), 1.1 * np.sin(angle) + 2 * np.cos(angle)]) - [
        1.1,
        2.0,
    ]
    assert moved[1:] == pytest.approx(exact, abs=1e-12)
    linear = np.array([-2.0 * angle, 1.1 * angle])
    assert abs(moved[2] - linear[1]) == pytest.approx(0.018, abs=0.001)


def test_pitch_and_roll_turn_the_right_way():
    """Roll lifts the left side; pitch (dw/ds, s rearward) lifts the rear."""
    pose = Pose(np.zeros(3), np.zeros(3), 0.01, 0.02)
    left, rear = pose.moved(np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]))
    assert left[2] == pytest.approx(0.01, rel=1e-3)
    assert rear[2] == pytest.approx(0.02, rel=1e-3)


def test_finite_and_linear_gaps_agree_in_small_postures(clinic):
    """Second order: ten times smaller heights, a hundred times smaller difference."""
    vehicle = clinic({"mount": "pivoting"})
    differences = []
    for scale in (0.1, 0.01):
        posture, found = gaps(vehicle, scale * np.array([0.5, -0.5, -0.5, 0.5]))
        worst = 0.0
        for place in gap_places(vehicle.layout):
            finite = gap_with_finite_rotations(place, vehicle.kinematics, posture.q, vehicle.level)
            worst = max(worst, abs(finite - found[place.name, place.place]))
        differences.append(worst)
    assert 0 < differences[0] < 0.01
    assert differences[1] < 0.02 * differences[0] + 2e-5


def test_boxes_that_overlap_or_miss_are_refused(clinic):
    boxes = {
        "over": [
            {"start": "rear axle - 0.4 m", "end": "rear axle + 0.4 m", "right": "0.8 m", "left": "1.2 m",
             "bottom": "0.6 m", "top": "1.5 m"},
            {"start": "rear axle - 0.6 m", "end": "rear axle + 0.6 m", "right": "0.8 m", "left": "1.2 m",
             "bottom": "1.44 m", "top": "1.8 m"},
        ]
    }  # fmt: skip
    with pytest.raises(ValueError, match=r"overlap by 0\.06 m"):
        clinic({'gap."rear tyre to wheel box".boxes': boxes["over"]})
    aside = [dict(boxes["over"][0], top="1.2 m"), dict(boxes["over"][1], right="-1.2 m", left="-0.8 m")]
    with pytest.raises(ValueError, match="do not face each other"):
        clinic({'gap."rear tyre to wheel box".boxes': aside})
