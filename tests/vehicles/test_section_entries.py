"""Every section shape that a vehicle file may name makes a frame."""

import numpy as np
import pytest

from crossaxle.vehicles.frame import torsional_stiffness

SHAPES = [
    {"shape": "channel", "height": "220 mm", "width": "75 mm", "thickness": "8 mm", "flange_thickness": "12 mm"},
    {"shape": "hat", "height": "120 mm", "width": "80 mm", "lip": "30 mm", "thickness": "5 mm"},
    {"shape": "z", "height": "200 mm", "width": "60 mm", "thickness": "6 mm"},
    {"shape": "i", "height": "200 mm", "width": "100 mm", "thickness": "6 mm", "flange_thickness": "9 mm"},
    {"shape": "rectangular tube", "height": "120 mm", "width": "80 mm", "thickness": "5 mm"},
    {"shape": "round tube", "diameter": "114 mm", "thickness": "6.3 mm"},
    {"shape": "nested channels", "height": "220 mm", "width": "75 mm", "thickness": "7 mm", "inner_width": "65 mm",
     "inner_thickness": "5 mm"},
    {"shape": "back-to-back channels", "height": "200 mm", "width": "60 mm", "thickness": "6 mm"},
    {"shape": "plated channel", "height": "220 mm", "width": "75 mm", "thickness": "7 mm", "plate_height": "160 mm",
     "plate_thickness": "8 mm"},
    {"shape": "flat", "height": "200 mm", "width": "20 mm"},
    {"shape": "properties", "area": "40 cm2", "second_moment": "2500 cm4", "section_modulus": "230 cm3",
     "torsion_constant": "30 cm4"},
]  # fmt: skip


@pytest.mark.parametrize("section", SHAPES, ids=lambda s: s["shape"])
def test_shape_makes_a_cross_member(clinic, section):
    vehicle = clinic({"frame.cross_member.middle.section": section})
    stiffness = torsional_stiffness(vehicle.kinematics.frame, 0.0, 4.4) * np.pi / 180
    assert 300 < stiffness < 5000  # N m/deg


def test_a_stiffer_middle_cross_member_stiffens_the_frame(clinic):
    found = []
    for thickness in ("3 mm", "5 mm", "8 mm"):
        tube = {"shape": "round tube", "diameter": "114 mm", "thickness": thickness}
        frame = clinic({"frame.cross_member.middle.section": tube}).kinematics.frame
        found.append(torsional_stiffness(frame, 0.0, 4.4))
    assert np.all(np.diff(found) > 0)


def test_overlap_of_a_joint_can_be_stated(clinic):
    """Flange on flange to the edge ties the frame more than a cross-member that stops at the web."""
    channel = {"shape": "channel", "height": "270 mm", "width": "75 mm", "thickness": "7 mm"}
    found = []
    for overlap in (0.0, 1.0):
        changes = {
            "frame.cross_member.middle": {
                "at": "0.56 wheelbase",
                "section": channel,
                "joint": {"overlap": overlap},
            }
        }
        found.append(torsional_stiffness(clinic(changes).kinematics.frame, 0.0, 4.4))
    assert found[1] > found[0]
