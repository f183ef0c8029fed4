"""Tanks on brackets against closed forms."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from crossaxle.vehicles.file import BracketEntry
from crossaxle.vehicles.tanks import bracket_stiffness
from tests.shortcuts import posture_on

STIFF_FRAME = {"frame.youngs_modulus": "2.1e7 MPa", "frame.shear_modulus": "8e6 MPa"}


def entry(**changes):
    values = {"inner": 0.1, "outer": 0.5, "second_moment": 2e-6, "section_modulus": 4e-5, "root_stiffness": 1e12,
              "pad_stiffness": 1e12} | changes  # fmt: skip
    return BracketEntry.model_construct(**values)


def test_bracket_is_a_cantilever():
    """Tip deflection F L^3 / 3 E I; under a load at the inner point the outer one follows the straight end."""
    flexibility = np.linalg.inv(bracket_stiffness(entry(), 210e9))
    ei = 210e9 * 2e-6
    assert flexibility[1, 1] == pytest.approx(0.5**3 / (3 * ei), rel=1e-4)
    slope = 0.1**2 / (2 * ei)
    assert flexibility[0, 1] == pytest.approx(0.1**3 / (3 * ei) + slope * 0.4, rel=1e-4)


def values(vehicle, heights):
    posture = posture_on(reduce(vehicle.structure), heights)
    return {
        (o.quantity, o.item, o.place): y for o, y in zip(vehicle.structure.outputs, posture.y, strict=True)
    }


def test_a_nominal_category_takes_the_nominal_stress(clinic):
    """M/W at the root, nothing on top; the hot-spot entry of the shipped file gives 1.5 times as much."""
    nominal = clinic(
        {
            "tank.water.bracket.detail_kind": "nominal",
            "tank.water.bracket.detail_category": "56 MPa",
            "tank.water.bracket.hot_spot_factor": 1,
        }
    )
    found, structural = values(nominal, np.zeros(4)), values(clinic(), np.zeros(4))
    for bracket in ("water front", "water rear"):
        moment = sum(
            found["strap_force", bracket, place] * lever
            for place, lever in (("inner", 0.12), ("outer", 0.52))
        )
        assert abs(found["bracket_stress", bracket, ""]) == pytest.approx(abs(moment) / 36e-6, rel=1e-9)
        assert structural["bracket_stress", bracket, ""] == pytest.approx(
            1.5 * found["bracket_stress", bracket, ""], rel=1e-9
        )


def test_straps_carry_the_tank(clinic):
    """Strap forces sum to the tank's weight and keep its moment about the web, whatever the posture."""
    vehicle = clinic({"mount": "pivoting"})
    tank = [m for m in vehicle.masses if m.carried_by == "tank water"]
    weight = 9.80665 * sum(m.mass for m in tank)
    for heights in ([0, 0, 0, 0], [0, 0.3, 0.3, 0]):
        found = values(vehicle, heights)
        straps = {key[1:]: y for key, y in found.items() if key[0] == "strap_force"}
        assert sum(straps.values()) == pytest.approx(-weight, rel=1e-6)
        half = {b: 0.5 * (straps[b, "inner"] + straps[b, "outer"]) for b in ("water front", "water rear")}
        assert half["water front"] == pytest.approx(
            half["water rear"], rel=0.02
        )  # the tank is centred between them


def test_bracket_stress_is_root_moment_over_modulus(clinic):
    vehicle = clinic({"mount": "pivoting"})
    found = values(vehicle, [0, 0.3, 0.3, 0])
    for bracket in ("water front", "water rear"):
        moment = -(
            0.12 * found["strap_force", bracket, "inner"] + 0.52 * found["strap_force", bracket, "outer"]
        )
        assert found["bracket_stress", bracket, ""] == pytest.approx(1.5 * moment / 36e-6, rel=1e-9)


def test_wider_brackets_see_more_twist_and_more_stress(clinic):
    worst, torque = [], []
    for spacing in ("0.5 m", "0.8 m", "1.1 m", "1.4 m"):
        found = values(clinic({"mount": "pivoting", "tank.water.spacing": spacing}), [0, 0.3, 0.3, 0])
        worst.append(max(abs(y) for (what, *_), y in found.items() if what == "bracket_stress"))
        torque.append(abs(found["tank_torque", "water", ""]))
    assert np.all(np.diff(worst) > 0)
    assert np.all(np.diff(torque) > 0)


def test_three_brackets_on_the_right_rail(clinic):
    vehicle = clinic(
        {
            "tank.water.side": "right",
            "tank.water.count": 3,
            "tank.water.spacing": "0.5 m",
            "mass.water.y": "-0.72 m",
            'mass."tank shell".y': "-0.72 m",
        }
    )
    found = values(vehicle, [0, 0.2, 0.2, 0])
    names = {item for what, item, _ in found if what == "bracket_stress"}
    assert names == {"water front", "water middle", "water rear"}
    assert abs(found["tank_level_difference", "water", ""]) > 0
