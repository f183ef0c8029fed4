"""Limits in which the answer is known: stiff and weak bodies, locked pivots, tight springs, mirrored trucks."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from crossaxle.vehicles.layout import shares
from tests.shortcuts import posture_on
from tests.stiff import CENTRED

CROSS = [0.0, 0.25, 0.25, 0.0]
NO_STOP = {"mounts.pivoting.stop_angle": "80 deg"}


def outputs(vehicle, heights=CROSS, side_slope=0.0, grade=0.0):
    """Outputs by (quantity, item, place) on given ground heights."""
    posture = posture_on(reduce(vehicle.structure), heights, grade, side_slope)
    assert posture.code == 0
    names = [(o.quantity, o.item, o.place) for o in vehicle.structure.outputs]
    return dict(zip(names, posture.y, strict=True))


def loads(vehicle, heights=CROSS, side_slope=0.0):
    return np.array(
        [y for (what, *_), y in outputs(vehicle, heights, side_slope).items() if what == "wheel_load"]
    )


def largest(values, quantity):
    return max(abs(y) for (what, *_), y in values.items() if what == quantity)


def test_body_stiffness_carries_the_rigid_mount_between_its_limits(clinic):
    """A limp body leaves the frame as free as no body would; a stiff one takes it over, and no stiffer matters."""
    twists, torques = [], []
    for stiffness in (
        "1 N*m/deg",
        "1 kN*m/deg",
        "10 kN*m/deg",
        "100 kN*m/deg",
        "1e6 kN*m/deg",
        "1e8 kN*m/deg",
    ):
        values = outputs(clinic({"mount": "rigid", "body.torsional_stiffness": stiffness}))
        twists.append(abs(values["frame_twist", "", ""]))
        torques.append(largest(values, "body_torque"))
    assert np.all(np.diff(twists) < 0)
    assert twists[-1] == pytest.approx(twists[-2], rel=1e-3)
    assert torques[-1] == pytest.approx(torques[-2], rel=1e-3)
    assert np.all(np.diff(torques) > 0)


def test_three_point_mount_keeps_frame_twist_out_of_the_body(clinic):
    """The body's torque is what statics gives from its own weight, whatever the twist of the frame."""
    vehicle = clinic({"mount": "pivoting", **NO_STOP})
    model = reduce(vehicle.structure)
    twisted, other = (posture_on(model, [0, h, h, 0]) for h in (0.1, -0.1))
    pair = [
        i
        for i, o in enumerate(vehicle.structure.outputs)
        if o.item == "pivot" and o.quantity == "mount_force"
    ]
    # Gravity's stiffness couples a little pitch into the two lean directions.
    assert twisted.y[pair] == pytest.approx(other.y[pair], rel=1e-5)


def test_a_pivot_locked_in_roll_is_a_pair_at_the_same_station(clinic):
    """Locked by a stop of the pair's own roll stiffness k b^2 / 2.

    What changes from level ground is compared: the level posture itself, from which gravity's stiffness counts, is
    that of the pivot still free.
    """
    rigid = clinic(
        {"mount": "rigid", "mounts.rigid.at": ["body front + 0.45 m", "rear axle - 0.05 m"], **CENTRED}
    )
    locked = clinic(
        {
            **CENTRED,
            "mount": "pivoting",
            "mounts.pivoting.stop_angle": "1e-9 rad",
            "mounts.pivoting.stop_stiffness": f"{20e6 * 0.79**2 / 2} N*m/rad",
        }
    )
    for quantity in ("wheel_load", "frame_twist", "body_roll"):
        changes = []
        for vehicle in (rigid, locked):
            here, level = outputs(vehicle), outputs(vehicle, [0, 0, 0, 0])
            changes.append([here[key] - level[key] for key in here if key[0] == quantity])
        assert changes[1] == pytest.approx(changes[0], rel=1e-4)


def test_springs_that_never_let_go_are_a_rigid_mount(clinic):
    sprung = clinic(
        {
            "mount": "sprung",
            "mounts.sprung.preload": "1e6 kN",
            "mounts.sprung.spring_rate": "1e-3 N/mm",
        }
    )
    stations = ["rear axle - 0.05 m", "body front + 0.4 m", "body front + 1.8 m"]
    rigid = clinic({"mount": "rigid", "mounts.rigid.at": stations})
    assert loads(sprung) == pytest.approx(loads(rigid), rel=1e-5)


def test_a_loose_sprung_mount_lets_go(clinic):
    values = outputs(clinic({"mount": "sprung"}), [0, 0.4, 0.4, 0])
    travels = [values["mount_travel", f"sprung {i} {side}", ""] for i in (1, 2) for side in ("left", "right")]
    assert min(travels) < -0.02


def test_mirrored_vehicle_gives_mirrored_results(clinic):
    changes = {
        "tank.water.side": "right",
        "mass.fuel.y": "0.75 m",
        'mass."batteries and air".y': "0.6 m",
        "mass.equipment.y": "0.08 m",
        'mass."tank shell".y': "-0.72 m",
        "mass.water.y": "-0.72 m",
        'gap."service hatch to rail".between': ["left rail", "body"],
        'gap."service hatch to rail".direction': "left",
        'gap."service hatch to rail".place.y': "0.40 m",
        'gap."cab roof to alcove".place.y': "-0.95 m",
        'gap."cab back to body".place.y': "-1.05 m",
        'gap."tank top to floor".place.y': "-1.00 m",
        'gap."rear body corner to under-run bar".place.y': "-1.10 m",
    }
    for mount in ("rigid", "pivoting", "sprung"):
        one = outputs(clinic({"mount": mount}), [0.05, 0.3, 0.22, -0.1], side_slope=0.07)
        other = outputs(clinic({"mount": mount, **changes}), [0.3, 0.05, -0.1, 0.22], side_slope=-0.07)
        for side, mirrored in (("left", "right"), ("right", "left")):
            for axle in ("front", "rear"):
                assert one["wheel_load", f"{axle} {side}", ""] == pytest.approx(
                    other["wheel_load", f"{axle} {mirrored}", ""], rel=1e-9
                )
        for name in ("cab roof to alcove", "tank top to floor", "service hatch to rail"):
            assert one["gap", name, ""] == pytest.approx(other["gap", name, ""], abs=1e-9)
        assert one["frame_twist", "", ""] == pytest.approx(-other["frame_twist", "", ""], rel=1e-9)
        assert one["bracket_stress", "water rear", ""] == pytest.approx(
            other["bracket_stress", "water rear", ""], rel=1e-8
        )


def test_shares_keep_force_and_moment():
    stations = np.array([0.0, 1.3, 5.1, 6.4])
    for at in (-0.5, 2.0, 7.0):
        share = shares(stations, at)
        assert share.sum() == pytest.approx(1)
        assert share @ stations == pytest.approx(at)
