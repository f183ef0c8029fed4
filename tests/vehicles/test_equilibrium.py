"""Whatever the posture, the wheel loads balance weight and moments, displaced mass centres included."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from tests.shortcuts import posture_on

MOUNTS = ["rigid", "pivoting", "pivoting four-point", "sprung"]


def sideways(vehicle, mass, q):
    """Displacement of a mass to the left over the ground, from the parts' own motion."""
    k = vehicle.kinematics
    stations = k.axle_stations
    z_frame = vehicle.file.frame.height
    names = list(vehicle.file.axle)
    # The rails' mid-height line runs straight between what each axle carries it to.
    carried = []
    for name, station in zip(names, stations, strict=True):
        centre = z_frame - 0.135  # default roll centre: the rails' bottom edge
        carried.append(
            -centre * (k.roll(f"axle {name}", station) @ q) - (z_frame - centre) * (k.frame_roll(station) @ q)
        )
    if mass.carried_by.startswith("axle "):
        return -mass.z * float(k.roll(mass.carried_by, mass.station) @ q)
    line = np.interp(mass.station, stations, carried)
    if not stations[0] <= mass.station <= stations[-1]:
        slope = (carried[1] - carried[0]) / (stations[1] - stations[0])
        line = carried[0] + slope * (mass.station - stations[0])
    return line + float(k.displacement(1, mass.carried_by, mass.station, mass.y, mass.z) @ q)


@pytest.mark.parametrize("mount", MOUNTS)
@pytest.mark.parametrize(("grade", "side"), [(0.0, 0.0), (0.12, 0.0), (0.0, -0.2), (-0.1, 0.15)])
def test_wheel_loads_balance_weight_and_moments(clinic, mount, grade, side):
    vehicle = clinic({"mount": mount})
    normal = 9.80665 / np.hypot(1, np.hypot(grade, side))
    model = reduce(vehicle.structure, normal)
    rng = np.random.default_rng(7)
    for heights in rng.normal(0, 0.12, (5, 4)):
        posture = posture_on(model, heights, grade, side)
        assert posture.code == 0
        _, gy, gz = posture.u[:3]
        loads = posture.y[:4]
        weight = vehicle.mass * 9.80665
        assert loads.sum() == pytest.approx(-vehicle.mass * gz, rel=1e-9)
        # The displaced masses weigh with the gravity at which the model holds their stiffness.
        moment = 0.0
        for m in vehicle.masses:
            now, level = (sideways(vehicle, m, q) for q in (posture.q, vehicle.level))
            moment += m.mass * (normal * now + gz * level - gz * m.y + gy * m.z)
        assert loads @ model.wheel_y == pytest.approx(moment, abs=1e-6 * weight)


def test_level_loads_follow_from_statics_alone(clinic):
    vehicle = clinic({"mount": "pivoting"})
    loads = posture_on(reduce(vehicle.structure), np.zeros(4)).y[:4]
    masses = vehicle.masses
    rear = sum(m.mass * m.station for m in masses) / 4.4 * 9.80665
    assert loads[2] + loads[3] == pytest.approx(rear, rel=1e-9)


def test_pitch_moment_on_a_grade(clinic):
    """On a grade the load moves rearward by m g_x h / L (statics); gravity's stiffness adds the sag's share."""
    vehicle = clinic({"mount": "rigid"})
    grade = 0.05
    model = reduce(vehicle.structure, 9.80665 / np.hypot(1, grade))
    up = posture_on(model, np.zeros(4), grade)
    level = posture_on(reduce(vehicle.structure), np.zeros(4))
    height = sum(m.mass * m.z for m in vehicle.masses)
    moved = (up.y[2:4].sum() / -up.u[2] - level.y[2:4].sum() / 9.80665) * 4.4
    assert moved == pytest.approx(height * grade, rel=0.03)
    assert moved > height * grade
