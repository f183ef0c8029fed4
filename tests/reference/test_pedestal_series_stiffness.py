"""The pedestal test of a bare chassis as stiffnesses in series, worked out by hand (statics; no other source needed).

Ground that is warped, turned by phi_f under the front axle and by phi_r under the rear one without a slope of its
mean plane, twists the chassis through what lies in series from ground to ground. At each axle these are

    tyres    k_t t^2 / 2,        springs    k_s b^2 / 2 + anti-roll bar,

and between the spring hangers the frame. The same torque passes through all:

    M = (phi_r - phi_f) / (1/K_tyres,f + 1/K_springs,f + 1/K_frame + 1/K_springs,r + 1/K_tyres,r).

A front wheel's load changes by M/t_f, a rear one's by M/t_r. On equal tracks pedestals of height h under two opposite
wheels give phi_r - phi_f = 2 h/t, and a rear wheel of level load W comes free where M/t = W.

The frame's compliance is that of the ladder alone, loaded by unit couples at the hangers; the rigid cab on its four
mounts is one more roll spring, k_1 k_2/(k_1 + k_2) m^2/2, between its mounts' stations. Masses stand on the centre
line, so that nothing else rolls. Gravity's geometric stiffness is not in the closed form.
"""

import dataclasses

import numpy as np
import pytest

from crossaxle.sim.posture import level_posture
from crossaxle.sim.reduced import reduce
from crossaxle.studies.pedestal.pedestal_test import pedestal_test
from crossaxle.vehicles.tyres import tyre
from tests.shortcuts import posture_on

CENTRED = {"mass.fuel.y": "0 m", 'mass."batteries and air".y': "0 m"}
TRUCKS = {
    "as shipped": {},
    "long and soft": {"wheelbase": "5.2 m", "body.length": "5.6 m", "frame.kind": "bolted channels"},
    "soft front springs": {"axle.front.spring_rate": "190 N/mm", "axle.front.spring_track": "0.8 m"},
    "unequal tracks": {"axle.front.wheel_track": "1.95 m", "axle.rear.wheel_track": "2.12 m"},
    "soft tyres": {"axle.front.tyre.pressure": "1.5 bar", "axle.rear.tyre.pressure": "2 bar"},
}


def truck(clinic, name):
    return clinic({**CENTRED, **TRUCKS[name]}, bare=True)


def torque_per_angle(vehicle):
    """M/(phi_r - phi_f) by the series above [N m/rad]."""
    axles = list(vehicle.file.axle.values())
    compliance = sum(2 / (tyre(a.tyre).stiffness * a.wheel_track**2) for a in axles)
    compliance += sum(1 / (0.5 * a.spring_rate * a.spring_track**2 + a.anti_roll) for a in axles)
    return 1 / (compliance + frame_compliance(vehicle))


def frame_compliance(vehicle):
    """Relative roll of the front and the rear spring pads per couple between them, cab included [rad/(N m)]."""
    frame, file, layout = vehicle.kinematics.frame, vehicle.file, vehicle.layout

    def roll(stations, track):
        """Roll of points at half the track on either side, carried by the rails at some stations."""
        ends = []
        for side, y in (("left", 0.5 * track), ("right", -0.5 * track)):
            web = 0.5 * frame.spacing if side == "left" else -0.5 * frame.spacing
            ends.append(
                np.mean(
                    [frame.deflection_row(side, s) + (y - web) * frame.twist_row(side, s) for s in stations],
                    axis=0,
                )
            )
        return (ends[0] - ends[1]) / track

    pads = [
        roll(
            [layout.station(a.at) + d for d in (-0.5 * a.spring_length, 0.5 * a.spring_length)],
            a.spring_track,
        )
        for a in file.axle.values()
    ]
    cab = file.cab
    mounts = [roll([layout.station(at)], cab.mount_track) for at in (cab.front_mounts, cab.rear_mounts)]
    series = cab.front_stiffness * cab.rear_stiffness / (cab.front_stiffness + cab.rear_stiffness)
    between = mounts[0] - mounts[1]
    stiffness = frame.stiffness + 0.5 * series * cab.mount_track**2 * np.outer(between, between)
    load = pads[0] - pads[1]
    # The couples are in balance, so the ladder's free rigid motions may be held anywhere without force.
    rigid = np.linalg.qr(frame.rigid_motions().T)[0]
    held = stiffness + np.diag(stiffness).max() * rigid @ rigid.T
    return float(load @ np.linalg.solve(held, load))


def without_geometric_stiffness(vehicle):
    return dataclasses.replace(vehicle.structure, geometric=np.zeros_like(vehicle.structure.geometric))


@pytest.mark.parametrize("name", TRUCKS)
def test_loads_on_warped_ground(clinic, name, checked):
    """Exact up to rounding, gravity's geometric stiffness left out."""
    vehicle = truck(clinic, name)
    front, rear = (axle.wheel_track for axle in vehicle.file.axle.values())
    # Equal and opposite moments of height about x, so that the mean plane stays level.
    heights = 0.1 * np.array([-1 / front, 1 / front, 1 / rear, -1 / rear])
    model = reduce(without_geometric_stiffness(vehicle))
    change = posture_on(model, heights).y[:4] - level_posture(model).y[:4]
    torque = torque_per_angle(vehicle) * 2 * 0.1 * (1 / front**2 + 1 / rear**2)
    # 1e-6: condition of the frame's stiffness, held stiffly in its rigid motions.
    expected = torque * np.array([-1, 1, 1, -1]) / np.repeat([front, rear], 2)
    assert change == pytest.approx(expected, rel=1e-6)
    checked(
        "wheel loads of a bare chassis on warped ground",
        "stiffnesses in series",
        np.abs(change / expected - 1).max(),
    )


def test_anti_roll_bar(clinic):
    """Within 0.3 %: the bar takes hold of the frame at the axle, half a metre and more from the spring's hangers."""
    vehicle = clinic({**CENTRED, "axle.front.anti_roll": "6 kN*m/deg"}, bare=True)
    model = reduce(without_geometric_stiffness(vehicle))
    change = posture_on(model, [0, 0.1, 0.1, 0]).y[:4] - level_posture(model).y[:4]
    load = torque_per_angle(vehicle) * 2 * 0.1 / 2.05**2
    assert change == pytest.approx([-load, load, load, -load], rel=3e-3)


@pytest.mark.parametrize("name", [name for name in TRUCKS if name != "unequal tracks"])
def test_height_of_first_free_wheel(clinic, name):
    """Without geometric stiffness the height is exact; with it the wheel comes free later, here by 6 to 11 %.

    The sign is that of a negative stiffness: gravity leans axles, frame and cab on, which softens what resists the
    warp. The bound of 15 % only says that nothing else has come in.
    """
    vehicle = truck(clinic, name)
    structure = without_geometric_stiffness(vehicle)
    model = reduce(structure)
    track = vehicle.file.axle["rear"].wheel_track
    load = level_posture(model).y[3]
    height = load * track**2 / (2 * torque_per_angle(vehicle))
    below, above = (posture_on(model, [0, h, h, 0]).y[3] for h in (height - 1e-4, height + 1e-4))
    assert below == pytest.approx(1e-4 * load / height, rel=1e-3)
    assert above == pytest.approx(0, abs=1e-6)
    free = pedestal_test(vehicle, None, [1.5 * height]).first_free
    assert free.wheel == "rear right"
    assert height < free.height < 1.15 * height
