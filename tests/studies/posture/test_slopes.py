"""Slopes on which a truck tips, and postures on a slope."""

import math

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pedestal.pedestal_test import pedestal_test
from crossaxle.studies.pedestal.pedestal_view import describe_pedestal, pedestal_text, read_slope
from crossaxle.studies.posture.check import describe_vehicle, vehicle_text
from crossaxle.studies.posture.slopes import tip_angles
from tests.reference.test_exact_tilt import STIFF
from tests.shortcuts import posture_on

RIGID = STIFF | {f"axle.{axle}.spring_rate": "1e4 kN/mm" for axle in ("front", "rear")}
RIGID |= {f"axle.{axle}.tyre.stiffness": "1e4 kN/mm" for axle in ("front", "rear")}


def test_a_stiff_truck_tips_as_a_block(clinic):
    """atan(T/2h) to either side (static stability factor, NHTSA), atan(distance to the axle / h) over an end.

    Within 0.1 deg: stiff is not rigid. Uphill the truck tips over its rear axle, downhill over its front one.
    """
    vehicle = clinic(RIGID)
    height = sum(m.mass * m.z for m in vehicle.masses) / vehicle.mass
    behind = sum(m.mass * m.station for m in vehicle.masses) / vehicle.mass
    expected = {
        "left side high": 0.5 * 2.05 / height,
        "right side high": 0.5 * 2.05 / height,
        "uphill": (vehicle.file.wheelbase - behind) / height,
        "downhill": behind / height,
    }
    for name, angle in tip_angles(vehicle).items():
        block = math.atan(expected[name])
        assert (angle or math.pi) == pytest.approx(block, abs=math.radians(0.1)) or block > math.radians(60)


def test_springs_take_their_share(clinic):
    """A sprung truck tips earlier than a block: here as soon as its upper rear wheel carries nothing more.

    Its axle then resists no further roll, and the front springs alone do not hold it.
    """
    vehicle = clinic()
    height = sum(m.mass * m.z for m in vehicle.masses) / vehicle.mass
    angle = tip_angles(vehicle)["left side high"]
    assert math.radians(15) < angle < math.atan(0.5 * 2.05 / height)
    before = angle - math.radians(0.1)
    model = reduce(vehicle.structure, 9.80665 * math.cos(before))
    loads = posture_on(model, np.zeros(4), 0.0, math.tan(before)).y[:4]
    assert 0 < loads[2] < 0.005 * loads.sum()
    assert loads[0] > loads[2]


def test_check_tells_the_angles(clinic):
    found = describe_vehicle(clinic(), slopes=True)
    assert found["tip_angles_deg"]["left side high"] == pytest.approx(24.3, abs=0.5)
    assert "Slope on which it tips" in vehicle_text(found)
    assert "tip_angles_deg" not in describe_vehicle(clinic())


def test_a_side_slope_is_pedestals_under_one_side(clinic):
    """Pedestals of height h under the left wheels are a side slope of tangent h/T."""
    vehicle = clinic()
    slope = pedestal_test(vehicle, None, [0.0], (0.0, 0.3 / 2.05)).postures[0]
    raised = pedestal_test(vehicle, ["front left", "rear left"], [0.3]).postures[0]
    assert slope.y == pytest.approx(raised.y, rel=1e-9, abs=1e-9)


def test_data_and_text_tell_the_slope(clinic):
    found = describe_pedestal(pedestal_test(clinic(), None, [0.0], (0.0, math.tan(math.radians(10)))))
    assert found["side_slope_deg"] == pytest.approx(10)
    assert "on side slope 10.0 deg" in pedestal_text(found)
    assert read_slope("--grade", None) == 0.0
    assert read_slope("--grade", "-5 deg") == pytest.approx(-math.tan(math.radians(5)))
    with pytest.raises(InputError, match=r"--grade: .*bare number"):
        read_slope("--grade", "5")
    with pytest.raises(InputError, match="allowed are -45 deg to 45 deg"):
        read_slope("--side-slope", "50 deg")
