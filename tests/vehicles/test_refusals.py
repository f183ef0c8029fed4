"""Physically impossible vehicles are refused with the reason and the remedy."""

import pytest

from crossaxle.studies.inputs.reader import InputError

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
    "axles out of order": ({"axle.rear.at": "front axle - 1 m"}, "list the axles from front to rear, none twice"),
    "first axle elsewhere": ({"axle.front.at": "front axle + 0.2 m"}, 'place it at "front axle"'),
    "frame inside out": ({"frame.rear": "frame front - 1 m"}, "must lie behind frame.front"),
    "cab mounts swapped": ({"cab.rear_mounts": "front axle - 1 m"}, "must lie behind cab.front_mounts"),
    "roof below the floor": ({"body.roof": "0.5 m"}, "must be above body.floor"),
    "mounts in one place": (
        {"mount": "rigid", "mounts.rigid.at": ["rear axle - 0.1 m", "rear axle + 0.1 m"]}, "spread them along"),
    "spring stiffer than contact": (
        {"mount": "sprung", "mounts.sprung.spring_rate": "1e6 kN/mm"}, "must be below contact_stiffness"),
    "unknown construction": ({"body.construction": "cardboard"}, "allowed are .*sandwich box"),
    "unknown mount station": (
        {"mount": "rigid", "mounts.rigid.side_force_at": ["nowhere"]}, "side_force_at: found .*; allowed are"),
    "place before its reference": (
        {"frame.rear": "body rear", "body.front": "frame rear - 5 m"}, "what is known here"),
    "cross-member that is no section": (
        {"frame.cross_member.tail.section":
         {"shape": "round tube", "diameter": "20 mm", "thickness": "15 mm"}}, "frame.cross_member.tail: "),
}  # fmt: skip
MISSTATED = {
    "two sources of a spring rate": (
        {"axle.rear.spring_deflection": "80 mm", "axle.rear.spring_rate": "320 N/mm"}, "give one of them"),
    "bracket inside out": ({"tank.water.bracket.outer": "1 mm"}, "must lie farther from the rail than inner"),
    "notch counted twice": (
        {"tank.water.bracket.detail_kind": "nominal"},
        '"nominal" with hot_spot_factor 1.5, detail_category 90 MPa; allowed are .*hot_spot_factor = 1, or'),
    "notch counted twice by its category": (
        {"tank.water.bracket.detail_category": "56 MPa"}, 'detail_category 56 MPa; allowed are .*90, 100 or 112 MPa'),
    "notch counted nowhere": (
        {"tank.water.bracket.hot_spot_factor": 1}, '"hot-spot" with hot_spot_factor 1, .*hot_spot_factor above 1'),
    "stress relieved by a notch": (
        {"tank.water.bracket.hot_spot_factor": 0.5, "tank.water.bracket.detail_kind": "nominal"},
        '"nominal" with hot_spot_factor 0.5'),
    "kind without category": (
        {"tank.water.bracket": {"inner": "120 mm", "outer": "520 mm", "second_moment": "180 cm4",
         "section_modulus": "36 cm3", "root_stiffness": "1500 kN*m/rad", "detail_kind": "nominal"}},
        'tank.water.bracket: .*detail_kind "nominal" but no detail_category; give both'),
    "category without kind": (
        {"tank.water.bracket": {"inner": "120 mm", "outer": "520 mm", "second_moment": "180 cm4",
         "section_modulus": "36 cm3", "root_stiffness": "1500 kN*m/rad", "detail_category": "56 MPa"}},
        'tank.water.bracket: .*no detail_kind .hot_spot_factor 1.5, detail_category 56 MPa.; allowed are detail_kind'),
    "unknown load state": ({"load_state": "half"}, "is neither"),
    "unknown carrier": ({"mass.water.carried_by": "roof"}, "mass.water.carried_by: found .*; allowed are"),
    "unknown item left out": ({"load_states.empty.leave_out": ["wine"]}, "is not an item of the mass list"),
    "unknown bogie": ({"axle.rear.bogie": "pair"}, "is not among the bogies: the file has none"),
    "bogie of no axle": ({"bogie": {"pair": {
        "trunnion": "rear axle", "spring_track": "1 m"}}}, "0 axles name it; an equalised pair has 2"),
    "unknown part beside a gap": ({'gap."cab back to body".between': ["cab", "sky"]}, "allowed are axle front"),
    "gap without a place": ({"gap": {"x": {"between": ["cab", "body"], "direction": "up"}}}, "needs either place"),
    "place without clearance": ({"gap": {"x": {"between": ["cab", "body"], "direction": "up", "place": {
        "at": "cab back", "z": "2 m"}}}}, "needs clearance with place"),
    "position that is none": ({"body.front": "somewhere"}, "which is no reference; write a position such as"),
    "position without reference": ({"body.front": "+ 3 m"}, "is not a position; write a position such as"),
    "position far away": ({"body.front": "cab back + 4 km"}, "allowed is at most 100 m"),
    "position many wheelbases away": ({"body.front": "40 wheelbase"}, "allowed is at most 10"),
}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_refused(clinic, name):
    changes, reason = IMPOSSIBLE[name]
    with pytest.raises(ValueError, match=reason):
        clinic(changes)


@pytest.mark.parametrize("name", MISSTATED)
def test_refused_when_read(clinic, name):
    changes, reason = MISSTATED[name]
    with pytest.raises(InputError, match=reason):
        clinic(changes)


def test_lopsided_axle_is_warned_of(clinic):
    vehicle = clinic({"mass.stores.y": "1 m", "mass.stores.mass": "3 t"})
    assert any("check lateral positions" in warning for warning in vehicle.warnings)


def test_overloaded_axle_is_warned_of(clinic):
    vehicle = clinic({"mass.stores.mass": "7 t"})
    assert any("more than the permitted" in warning for warning in vehicle.warnings)


def test_light_axle_is_warned_of(clinic):
    vehicle = clinic({"mass.stores.mass": "9 t", "mass.stores.at": "body rear + 0.3 m"})
    assert any("is the body placed right" in warning for warning in vehicle.warnings)
