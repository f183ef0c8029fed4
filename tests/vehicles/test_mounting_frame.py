"""A second ladder between truck and body: between its limits it is what it joins."""

import numpy as np
import pytest

from crossaxle.sim.reduced import reduce
from tests.shortcuts import posture_on

CHANNEL = {"shape": "channel", "height": "120 mm", "width": "60 mm", "thickness": "6 mm"}
AT = ["body front + 0.4 m", "body front + 1.8 m", "body rear - 1.6 m", "body rear - 0.35 m"]


def second_ladder(**changes):
    return {
        "kind": "bolted channels",
        "front": "body front + 0.05 m",
        "rear": "body rear - 0.05 m",
        "section": CHANNEL,
        "cross_member": {
            "front": {"at": "body front + 0.2 m", "section": CHANNEL},
            "middle": {"at": "body front + 2.4 m", "section": CHANNEL},
            "rear": {"at": "body rear - 0.2 m", "section": CHANNEL},
        },
        "carriers": AT,
        "carrier_stiffness": "20 kN/mm",
    } | changes


def twist(vehicle):
    posture = posture_on(reduce(vehicle.structure), [0, 0.3, 0.3, 0])
    assert posture.code == 0
    assert posture.y[:4].sum() == pytest.approx(vehicle.mass * 9.80665, rel=1e-9)
    what = [o.quantity for o in vehicle.structure.outputs]
    return abs(posture.y[what.index("frame_twist")]), np.abs(
        posture.y[[q == "body_torque" for q in what]]
    ).max()


def test_carriers_far_stiffer_than_the_mounts_leave_a_rigid_mount(clinic):
    """Carriers right over the mounts: the second ladder carries nothing between them once they are stiff."""
    plain = twist(clinic({"mount": "rigid"}))
    stacked = twist(
        clinic({"mount": "rigid", "mounting_frame": second_ladder(carrier_stiffness="1e5 kN/mm")})
    )
    assert stacked == pytest.approx(plain, rel=0.01)


def test_soft_carriers_free_the_frame_and_relieve_the_body(clinic):
    results = [
        twist(clinic({"mount": "rigid", "mounting_frame": second_ladder(carrier_stiffness=f"{k} N/mm")}))
        for k in (20000, 2000, 500)
    ]
    assert np.all(np.diff([t for t, _ in results]) > 0)
    assert np.all(np.diff([t for _, t in results]) < 0)


def test_refused_with_a_pivoting_mount(clinic):
    with pytest.raises(ValueError, match="allowed with rigid and sprung mounts"):
        clinic({"mount": "pivoting", "mounting_frame": second_ladder()})
