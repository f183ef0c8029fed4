"""The pedestal test as commanded: wheels, heights, first wheel free, what is told of each posture."""

import json

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import InputError, document, validate
from crossaxle.studies.pedestal.pedestal_test import pedestal_test
from crossaxle.studies.pedestal.pedestal_view import describe_pedestal, pedestal_text, read_heights
from crossaxle.studies.study.library import text
from crossaxle.vehicles.assemble import assemble
from crossaxle.vehicles.file import VehicleFile

STEPS = [0.0, 0.1, 0.2, 0.3, 0.4]


@pytest.fixture(scope="module")
def bare(clinic):
    return pedestal_test(clinic(bare=True), None, [0.05 * i for i in range(13)])


@pytest.fixture(scope="module")
def laden(clinic):
    return pedestal_test(clinic(), None, STEPS)


def test_default_stands_on_two_opposite_wheels(laden):
    assert laden.under == ["front right", "rear left"]


def test_every_posture_carries_the_weight(bare, laden):
    """The ground's mean plane stays level under equal pedestals, so the wheel loads sum to the weight."""
    for test in (bare, laden):
        for posture in describe_pedestal(test)["postures"]:
            total = sum(wheel["load_N"] for wheel in posture["wheels"].values())
            assert total == pytest.approx(test.vehicle.mass * 9.80665, rel=1e-9)


def test_loads_on_a_slope_sum_to_the_normal_part_of_the_weight(clinic):
    """One raised wheel tilts the mean plane: h/2 over the wheelbase and h/2 over the track (four-corner fit)."""
    test = pedestal_test(clinic(), ["rear left"], [0.4])
    loads = [w["load_N"] for w in describe_pedestal(test)["postures"][0]["wheels"].values()]
    slope = np.hypot(0.2 / 4.4, 0.2 / 2.05)
    assert sum(loads) == pytest.approx(test.vehicle.mass * 9.80665 / np.hypot(1, slope), rel=1e-9)


def test_a_wheel_is_either_loaded_or_clear_of_the_ground(bare):
    for posture in describe_pedestal(bare)["postures"]:
        for wheel in posture["wheels"].values():
            assert (wheel["load_N"] > 0) != (wheel["clearance_m"] > 0)


def test_free_wheel_rises_as_far_as_its_axle_lifts_it(bare):
    """A free tyre has its free radius; its clearance is what the beam axle's other end and the frame lift it."""
    k, structure = bare.vehicle.kinematics, bare.vehicle.structure
    height, posture = bare.heights[-1], bare.postures[-1]
    beam = float((k.unit("axle rear", 0) + structure.wheel_y[3] * k.unit("axle rear", 1)) @ posture.q)
    # The mean plane lies half a pedestal up, and rear right is the low corner of the warp.
    clearance = describe_pedestal(bare)["postures"][-1]["wheels"]["rear right"]["clearance_m"]
    assert clearance == pytest.approx(beam + height / 2, abs=1e-9)


def test_first_free_is_where_the_load_vanishes(bare):
    free = bare.first_free
    index = bare.wheels.index(free.wheel)
    just_below, just_above = (
        pedestal_test(bare.vehicle, None, [free.height + d]).postures[0].y[index] for d in (-1e-3, 1e-3)
    )
    assert free.wheel == "rear right"
    # 1 mm below, the load is what the slope of the loaded stretch leaves.
    slope = (bare.postures[0].y[index] - bare.postures[6].y[index]) / 0.3
    assert just_below == pytest.approx(1e-3 * slope, rel=0.01)
    assert just_above == pytest.approx(0, abs=1e-6)


def test_first_free_does_not_depend_on_the_heights_asked_for(bare):
    for heights in ([0.6], [0.6, 0.0], [0.37, 0.5]):
        free = pedestal_test(bare.vehicle, None, heights).first_free
        assert free.wheel == bare.first_free.wheel
        assert free.height == pytest.approx(bare.first_free.height, abs=2e-6)  # twice the search's tolerance
    assert pedestal_test(bare.vehicle, None, [0.3]).first_free is None


def test_pits_under_two_wheels_are_pedestals_under_the_other_two(bare):
    raised = pedestal_test(bare.vehicle, ["front left", "rear right"], [0.4])
    sunk = pedestal_test(bare.vehicle, None, [-0.4])
    assert sunk.postures[0].y == pytest.approx(raised.postures[0].y, rel=1e-9, abs=1e-9)
    assert sunk.first_free.height == pytest.approx(-raised.first_free.height)


def test_all_wheels_of_one_side_are_a_side_slope(clinic):
    """Nothing twists; lean and load transfer are those of the slope h/track, so the right side carries more."""
    posture = describe_pedestal(pedestal_test(clinic(), ["front left", "rear left"], [0.2]))["postures"][0]
    loads = {name: wheel["load_N"] for name, wheel in posture["wheels"].items()}
    assert loads["front right"] + loads["rear right"] > 1.1 * (loads["front left"] + loads["rear left"])
    # The pedestal is in the large-scale slope; what is left of the twist comes from unequal axles alone.
    assert abs(posture["frame_twist_deg"]) < 2.0


def test_contract_of_the_data(laden, bare):
    for test, mounted in ((laden, True), (bare, False)):
        found = json.loads(json.dumps(describe_pedestal(test), allow_nan=False))
        assert {"vehicle", "mount", "wheelbase_m", "postures", "first_free"} <= set(found)
        assert found["wheelbase_m"] == 4.4
        assert found["mount"] == ("pivoting" if mounted else None)
        posture = found["postures"][2]
        assert posture["height_m"] == pytest.approx(0.2 if mounted else 0.1)
        assert set(posture["wheels"]) == {"front left", "front right", "rear left", "rear right"}
        assert set(posture["wheels"]["front left"]) == {"load_N", "clearance_m"}
        assert (posture["body_roll_deg"] is not None) == mounted
        assert (posture["body_torque_Nm"] is not None) == mounted
        assert (posture["cab_to_body_deg"] is not None) == mounted
        for key in ("gaps", "gaps_finite", "brackets", "tanks", "mounts", "pivots_deg"):
            assert bool(posture[key]) == mounted
        assert posture["tipped"] is False
        assert posture["outside_range"] is False
    tank = describe_pedestal(laden)["postures"][1]["tanks"]["water"]
    assert set(tank) == {"level_difference_m", "torque_Nm"}
    assert set(describe_pedestal(laden)["postures"][1]["mounts"]["pivot"]) == {"force_N", "travel_m"}


def test_rail_angles_contain_the_twist(laden):
    """Frame twist is roll at the first axle minus roll at the last; the drawn angles run through both."""
    posture = describe_pedestal(laden)["postures"][-1]
    stations, angles = posture["rail_angle"]["station_m"], posture["rail_angle"]["angle_deg"]
    front, rear = np.interp([0.0, 4.4], stations, angles)
    # Linear interpolation between drawn stations 0.18 m apart.
    assert front - rear == pytest.approx(posture["frame_twist_deg"], rel=2e-3)


def test_finite_rotations_matter_high_up_and_agree_when_level(laden):
    level, *_, twisted = describe_pedestal(laden)["postures"]
    assert level["gaps_finite"] == pytest.approx(level["gaps"], abs=1e-4)
    differences = [abs(twisted["gaps_finite"][name] - gap) for name, gap in twisted["gaps"].items()]
    assert max(differences) > 0.005


def test_small_angles_are_left_where_the_twist_is_large(clinic):
    """Angles of the vehicle may reach 0.26 rad, 14.9 deg; the slope of the mean plane 0.35 rad, 20.05 deg."""
    test = pedestal_test(clinic({"mounts.pivoting.stop_angle": "30 deg"}), None, [0.2, 0.9])
    within, beyond = describe_pedestal(test)["postures"]
    assert not within["outside_range"]
    assert beyond["outside_range"]
    steep = describe_pedestal(pedestal_test(clinic(bare=True), ["front left", "rear left"], [0.72, 0.8]))
    # atan(0.72 / 2.05) = 19.4 deg, atan(0.8 / 2.05) = 21.3 deg.
    assert [posture["outside_range"] for posture in steep["postures"]] == [False, True]


def test_a_truck_that_tips_has_no_numbers(clinic):
    test = pedestal_test(clinic(), ["front left", "rear left"], [0.2, 1.6])
    stands, tipped = describe_pedestal(test)["postures"]
    assert not stands["tipped"]
    assert tipped["tipped"]
    assert tipped["frame_twist_deg"] is None
    assert all(wheel == {"load_N": None, "clearance_m": None} for wheel in tipped["wheels"].values())
    json.dumps(tipped, allow_nan=False)
    assert "tipped" in pedestal_text(describe_pedestal(test))


@pytest.mark.parametrize(
    ("under", "message"),
    [
        (
            ["front right", "rear middle"],
            'found "rear middle"; allowed are front left, front right, rear left',
        ),
        ([], "found no wheel"),
        (["front left", "front right", "rear left", "rear right"], "leave at least one on the ground"),
    ],
)
def test_wheels_that_cannot_be_raised(clinic, under, message):
    with pytest.raises(ValueError, match=message):
        pedestal_test(clinic(), under, [0.1])


def test_heights():
    assert read_heights("0.4 m") == [0.4]
    assert read_heights("150 mm") == [0.15]
    assert read_heights("0 m:0.6 m:0.2 m") == pytest.approx([0, 0.2, 0.4, 0.6])
    assert read_heights("0 m:0.5 m:0.2 m") == pytest.approx([0, 0.2, 0.4])
    assert read_heights("0.4 m:0 m:-0.1 m") == pytest.approx([0.4, 0.3, 0.2, 0.1, 0])


@pytest.mark.parametrize(
    ("found", "message"),
    [
        ("0.4", '"0.4" is a bare number'),
        ("0 m:0.4 m", "from, to and step"),
        ("0 m:0.4 m:-0.1 m", "never lead"),
        ("0 m:0.4 m:0 m", "never lead"),
        ("0 m:1 m:0.01 mm", "at most 500"),
        ("0 m:30 m:1 m", "found 30 m"),
        ("high", "is not a number"),
    ],
)
def test_heights_that_are_none(found, message):
    with pytest.raises(InputError, match=message):
        read_heights(found)


def test_trucks_with_more_axles_name_their_wheels():
    for name, axles in (("laboratory", 3), ("rescue", 4)):
        file = validate(document(name, text("vehicle", name)), VehicleFile)
        test = pedestal_test(assemble(file), None, [0.1])
        assert test.under == ["axle 1 right", f"axle {axles} left"]
        assert len(describe_pedestal(test)["postures"][0]["wheels"]) == 2 * axles
