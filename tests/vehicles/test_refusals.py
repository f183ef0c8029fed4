"""Physically impossible vehicles are refused with the reason and the remedy."""

import pytest

IMPOSSIBLE = {
    "wheelbase shorter than the cab": ({"wheelbase": "0.8 m"}, "allowed a wheelbase longer than the cab"),
    "bracket off the rail": ({"tank.water.spacing": "12 m"}, "off the frame"),
    "mount beyond the frame": ({"mounts.pivoting.pair": "frame rear + 0.02 m"}, "off the frame"),
    "pair and pivot at one station": ({"mounts.pivoting.pivot": "rear axle - 0.1 m"}, "would fall over"),
    "centre of mass behind": ({"mass.stores.at": "body rear + 3 m", "mass.stores.mass": "9 t"}, "would carry"),
    "body ahead of the cab's back": ({"body.front": "cab back - 0.3 m"}, "move it rearward"),
    "top-heavy beyond its springs": ({'mass."body shell".z': "60 m"}, "cannot hold its height"),
    "hanger beyond the frame": ({"axle.front.spring_length": "4 m"}, "front spring hanger"),
    "reinforcement backwards": (
        {"frame.reinforcement": {"x": {"start": "rear axle", "end": "cab back",
         "section": {"shape": "z", "height": "200 mm", "width": "60 mm", "thickness": "5 mm"}}}},
        "allowed a stretch",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_refused(clinic, name):
    changes, reason = IMPOSSIBLE[name]
    with pytest.raises(ValueError, match=reason):
        clinic(changes)


def test_overloaded_axle_is_warned_of(clinic):
    vehicle = clinic({"mass.stores.mass": "7 t"})
    assert any("more than the permitted" in warning for warning in vehicle.warnings)


def test_light_axle_is_warned_of(clinic):
    vehicle = clinic({"mass.stores.mass": "9 t", "mass.stores.at": "body rear + 0.3 m"})
    assert any("is the body placed right" in warning for warning in vehicle.warnings)
