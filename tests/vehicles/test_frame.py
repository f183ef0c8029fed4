"""The ladder frame: equilibrium, symmetry, independence of the mesh, points close together, limits of the joints."""

import math

import numpy as np
import pytest

from crossaxle.vehicles.frame import CrossMember, Joint, RailSpan, ladder_frame, torsional_stiffness
from crossaxle.vehicles.frame_kinds import frame_kind
from crossaxle.vehicles.open_sections import channel
from crossaxle.vehicles.tubes import rectangular_tube, round_tube

YOUNG, SHEAR = 2.1e11, 8.077e10
RAIL = channel(0.270, 0.075, 0.007, bend_radius=0.010)
STOUT = channel(0.270, 0.080, 0.009, bend_radius=0.010)
OPEN = channel(0.256, 0.070, 0.006, bend_radius=0.009)
TUBE = round_tube(0.100, 0.006)
SEMI = Joint(bending=2e5, torsion=3e5, warping=2e5, gusset=1e4, overlap=0.8)
STATIONS = (-1.1, -0.3, 0.7, 1.6, 2.5, 3.4, 4.1, 4.9, 5.6)


def frame(joint=SEMI, crosses=(OPEN, TUBE), spans=None, extra=(), stations=STATIONS):
    """Nine cross-members, open and closed in turn."""
    return ladder_frame(
        spans or [RailSpan(-1.1, 1.2, RAIL), RailSpan(1.2, 3.1, STOUT), RailSpan(3.1, 5.6, RAIL)],
        [CrossMember(s, crosses[i % len(crosses)], joint) for i, s in enumerate(stations)],
        0.85,
        YOUNG,
        SHEAR,
        extra,
    )


def solve(ladder, load):
    """Displacements under a load in balance, without rigid motion."""
    rigid = np.linalg.qr(ladder.rigid_motions().T)[0]
    held = ladder.stiffness + np.diag(ladder.stiffness).mean() * rigid @ rigid.T
    return np.linalg.solve(held, load - rigid @ (rigid.T @ load))


def stand(ladder, load):
    """Displacements under any load on a determinate stand: both front ends and the left rear end held."""
    held = (("left", ladder.start), ("right", ladder.start), ("left", ladder.end))
    rows = 1e7 * np.array([ladder.deflection_row(*place) for place in held])
    system = np.block([[ladder.stiffness, rows.T], [rows, np.zeros((3, 3))]])
    return np.linalg.solve(system, np.concatenate([load, np.zeros(3)]))[: len(load)]


def test_rigid_motions_cost_nothing_and_nothing_else_does():
    ladder = frame()
    scale = np.abs(ladder.stiffness).max()
    assert np.abs(ladder.stiffness @ ladder.rigid_motions().T).max() < 1e-13 * scale
    values = np.linalg.eigvalsh(ladder.stiffness)
    assert np.abs(values[:3]).max() < 1e-12 * scale
    assert values[3] > 1e2


def test_rows_of_rigid_motions():
    """Heave 1, pitch s, roll y: deflection, slope and twist anywhere are those of the plane."""
    ladder = frame()
    heave, pitch, roll = ladder.rigid_motions()
    for s in (-1.1, -0.41, 1.2, 2.777, 5.6):
        for side, y in (("left", 0.425), ("right", -0.425)):
            assert ladder.deflection_row(side, s) @ heave == pytest.approx(1, abs=1e-12)
            assert ladder.deflection_row(side, s) @ pitch == pytest.approx(s, abs=1e-12)
            assert ladder.deflection_row(side, s) @ roll == pytest.approx(y, abs=1e-12)
            assert ladder.slope_row(side, s) @ pitch == pytest.approx(1, abs=1e-12)
            assert ladder.twist_row(side, s) @ roll == pytest.approx(1, abs=1e-12)
        assert ladder.roll_row(s) @ roll == pytest.approx(1, abs=1e-12)


def test_two_points_a_tenth_of_a_millimetre_apart_lose_no_load():
    """A frame on six springs, two of them 0.1 mm apart, under 110 kN: reactions sum to the load to 1e-8 of it."""
    ladder = frame()
    places = [("left", 0.0), ("right", 0.0), ("left", 2.2), ("left", 2.2001), ("right", 2.2), ("right", 4.5)]
    rows = np.array([ladder.deflection_row(side, s) for side, s in places])
    for stiffness in (1e5, 1e9):
        load = -110e3 * ladder.deflection_row("left", 3.333)
        q = np.linalg.solve(ladder.stiffness + stiffness * rows.T @ rows, load)
        reactions = -stiffness * rows @ q
        assert reactions.sum() == pytest.approx(110e3, rel=1e-8)
        assert reactions @ [s for _, s in places] == pytest.approx(110e3 * 3.333, rel=1e-8)
        sides = [1 if side == "left" else -1 for side, _ in places]
        assert reactions @ sides == pytest.approx(110e3, rel=1e-8)


def test_mirrored_load_gives_mirrored_displacements():
    ladder = frame()
    load = {("left", 0.33): 7e3, ("right", 2.9): -4e3, ("left", 4.6): 5e3}
    answers = []
    for mirror in (False, True):
        swap = {"left": "right", "right": "left"} if mirror else {"left": "left", "right": "right"}
        force = sum(f * ladder.deflection_row(swap[side], s) for (side, s), f in load.items())
        force = force + (-1 if mirror else 1) * 600.0 * ladder.twist_row(swap["right"], 1.9)
        q = solve(ladder, force)
        answers.append(
            [
                [
                    ladder.deflection_row(swap[side], s) @ q,
                    ladder.slope_row(swap[side], s) @ q,
                    (-1 if mirror else 1) * (ladder.twist_row(swap[side], s) @ q),
                    ladder.bending_moment_row(swap[side], s) @ q / 1e6,
                    (-1 if mirror else 1) * (ladder.bimoment_row(swap[side], s) @ q) / 1e6,
                ]
                for side in ("left", "right")
                for s in (-0.9, 0.5, 2.0, 3.7, 5.5)
            ]
        )
    np.testing.assert_allclose(answers[0], answers[1], atol=1e-9 * np.abs(answers[0]).max())


def test_frame_built_back_to_front_is_as_stiff():
    spans = [RailSpan(-1.1, 1.2, RAIL), RailSpan(1.2, 3.1, STOUT), RailSpan(3.1, 5.6, RAIL)]
    turned = [RailSpan(-span.end, -span.start, span.section) for span in reversed(spans)]
    there = torsional_stiffness(frame(), 0.0, 4.5)
    back = torsional_stiffness(frame(spans=turned, stations=tuple(-s for s in STATIONS)), -4.5, 0.0)
    assert back == pytest.approx(there, rel=1e-9)


def test_more_nodes_change_nothing():
    """Elements are exact: nodal loads and displacements do not depend on how the rails are divided."""
    extra = tuple(np.arange(-1.05, 5.6, 0.07))
    coarse, fine = frame(), frame(extra=extra)
    assert len(fine.stations) > 2 * len(coarse.stations)
    assert torsional_stiffness(fine, -0.3, 4.9) == pytest.approx(
        torsional_stiffness(coarse, -0.3, 4.9), rel=1e-8
    )
    both = []
    for ladder in (coarse, fine):
        load = 1e4 * ladder.deflection_row("left", 0.7) - 1e4 * ladder.deflection_row("right", 4.1)
        q = stand(ladder, load)
        both.append([row(side, s) @ q for side in ("left", "right") for s in (0.1, 1.0, 2.9, 5.0)
                     for row in (ladder.deflection_row, ladder.slope_row, ladder.twist_row)])  # fmt: skip
    np.testing.assert_allclose(both[0], both[1], atol=1e-7 * np.abs(both[0]).max())


def test_an_element_gives_way_next_to_nothing_under_its_own_load():
    """A load between nodes acts through the nodes; what that leaves out stays below 1e-9 m/N and 2e-7 rad/(N m)."""
    coarse, fine = frame(), frame(extra=(2.06, 4.5))
    for row, bound in (("deflection_row", 1e-9), ("twist_row", 2e-7)):
        for s in (2.06, 4.5):
            flexibility = []
            for ladder in (coarse, fine):
                r = getattr(ladder, row)("left", s)
                flexibility.append(r @ stand(ladder, r))
            assert abs(flexibility[0] - flexibility[1]) < bound


def test_cut_through_both_rails_carries_what_statics_says():
    """Moments about y at a cut between cross-members: the rails' bending moments balance the loads ahead of the cut."""
    ladder = frame(extra=(0.1, 2.0, 4.45))
    load = {("left", 0.1): 8e3, ("right", 2.0): -1.7e4, ("left", 4.45): 5e3, ("right", -0.3): 2e3}
    # Two more forces bring all into balance in heave, pitch and roll.
    places = [("left", 5.6), ("right", 5.6), ("right", 0.7)]
    lever = lambda p: [1.0, p[1], 0.425 if p[0] == "left" else -0.425]  # noqa: E731
    rest = np.linalg.solve(
        np.array([lever(p) for p in places]).T, -sum(f * np.array(lever(p)) for p, f in load.items())
    )
    load.update(dict(zip(places, rest, strict=True)))
    q = solve(ladder, sum(f * ladder.deflection_row(*p) for p, f in load.items()))
    for cut in (0.35, 1.0, 1.5, 2.9, 3.9, 5.2):
        carried = sum(ladder.bending_moment_row(side, cut) @ q for side in ("left", "right"))
        ahead = sum(f * (cut - s) for (_, s), f in load.items() if s < cut)
        assert carried == pytest.approx(ahead, rel=1e-6)


def test_vertical_load_off_the_shear_centre_twists_the_rail():
    """A load on the left rail's web hangs inboard of the shear centre and turns the rail's upper side inwards."""
    ladder = ladder_frame(
        [RailSpan(0.0, 2.0, RAIL)],
        [CrossMember(s, TUBE, Joint()) for s in (0.0, 2.0)],
        0.85,
        YOUNG,
        SHEAR,
    )
    down = -1e4 * (ladder.deflection_row("left", 1.0) + ladder.deflection_row("right", 1.0))
    hold = sum(5e3 * ladder.deflection_row(side, s) for side in ("left", "right") for s in (0.0, 2.0))
    q = solve(ladder, down + hold)
    left = (ladder.twist_row("left", 1.0) - ladder.twist_row("left", 0.0)) @ q
    right = (ladder.twist_row("right", 1.0) - ladder.twist_row("right", 0.0)) @ q
    assert left > 1e-4
    assert right == pytest.approx(-left, rel=1e-9)


@pytest.mark.parametrize("name", ["bending", "torsion", "warping", "gusset"])
@pytest.mark.parametrize("cross", [OPEN, TUBE], ids=["open", "tube"])
def test_joints_from_free_to_rigid(name, cross):
    """Stiffness grows with every joint's; 0 and inf are the limits of small and large."""
    base = {"bending": 3e5, "torsion": 3e5, "warping": 1e5, "gusset": 1e4}

    def at(value):
        return torsional_stiffness(frame(Joint(**base | {name: value}), crosses=(cross,)), 0.0, 4.5)

    values = [at(value) for value in (0.0, 1e3, 1e5, 1e7, math.inf)]
    assert np.all(np.diff(values) >= -1e-9 * values[-1])
    assert at(1e-3) == pytest.approx(values[0], rel=1e-5)
    assert at(1e12) == pytest.approx(values[-1], rel=1e-5)


def test_reinforcement_stiffens_and_a_span_cut_in_two_changes_nothing():
    whole = torsional_stiffness(frame(spans=[RailSpan(-1.1, 5.6, RAIL)]), 0.0, 4.5)
    cut = torsional_stiffness(frame(spans=[RailSpan(-1.1, 2.03, RAIL), RailSpan(2.03, 5.6, RAIL)]), 0.0, 4.5)
    assert cut == pytest.approx(whole, rel=1e-8)
    assert torsional_stiffness(frame(), 0.0, 4.5) > whole


def test_closed_rails_have_no_warping_degree_of_freedom():
    box = rectangular_tube(0.2, 0.08, 0.006)
    ladder = frame(joint=Joint(), spans=[RailSpan(-1.1, 5.6, box)])
    assert not any("rate" in name for name in ladder.dof_names)
    assert len(ladder.dof_names) == len(ladder.stiffness) == 6 * len(ladder.stations)
    assert np.all(ladder.bimoment_row("left", 1.0) == 0.0)


def test_size_of_a_usual_frame():
    ladder = frame()
    assert 180 <= len(ladder.dof_names) <= 320
    assert len(set(ladder.dof_names)) == len(ladder.dof_names)
    assert max(b - a for a, b in zip(ladder.stations, ladder.stations[1:], strict=False)) <= 0.3 + 1e-12


def test_extra_stations_close_to_others_make_no_nodes():
    assert frame(extra=(0.7001, 2.5, 9.0)).stations == frame().stations


def test_change_of_section_next_to_a_cross_member_moves_to_it():
    near = frame(spans=[RailSpan(-1.1, 1.6001, RAIL), RailSpan(1.6001, 5.6, STOUT)])
    on = frame(spans=[RailSpan(-1.1, 1.6, RAIL), RailSpan(1.6, 5.6, STOUT)])
    assert near.stations == on.stations
    assert near.sections == on.sections


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"stations": (0.0, 0.01)}, "cross-members at 0 m and 0.01 m; they must stand 20 mm apart"),
        ({"stations": (-1.0, 6.0)}, "cross-member at 6 m is off the rails, which reach from -1.1 m to 5.6 m"),
        ({"stations": (-1.095, 5.0)}, "is 5 mm from the rails' end at -1.1 m; put it exactly there or"),
        ({"stations": ()}, "two rails that nothing ties are no frame"),
        ({"spans": [RailSpan(-1.1, 1.0, RAIL), RailSpan(1.2, 5.6, RAIL)]}, "ends at 1 m but the next starts at 1.2 m"),
        ({"spans": [RailSpan(5.6, -1.1, RAIL)]}, "must run rearward over 40 mm"),
    ],
)  # fmt: skip
def test_impossible_frames_are_refused(change, text):
    with pytest.raises(ValueError) as error:
        frame(**change)
    assert text in str(error.value)


def test_what_else_is_refused():
    ladder = frame()
    with pytest.raises(
        ValueError, match=r"station 5\.7 m is off the rail, which reaches from -1\.1 m to 5\.6 m"
    ):
        ladder.deflection_row("left", 5.7)
    with pytest.raises(ValueError, match="twist needs two stations"):
        torsional_stiffness(ladder, 1.0, 1.0)
    with pytest.raises(ValueError, match=r"torsion is -1 N m/rad; it must be 0 \(free\) or more"):
        Joint(torsion=-1.0)
    with pytest.raises(ValueError, match=r"overlap is 1\.5; it must be between 0 and 1"):
        Joint(overlap=1.5)
    with pytest.raises(ValueError, match="leave no width for a cross-member"):
        ladder_frame([RailSpan(0, 1, RAIL)], [CrossMember(0.5, OPEN, Joint(overlap=1.0))], 0.14, YOUNG, SHEAR)
    with pytest.raises(ValueError, match="spacing is 0; it must be above 0"):
        ladder_frame([RailSpan(0, 1, RAIL)], [CrossMember(0.5, OPEN, Joint())], 0.0, YOUNG, SHEAR)
    with pytest.raises(
        ValueError, match=r"found 'glued'; allowed: bolted channels, cross-members on the web"
    ):
        frame_kind("glued")


def test_kinds_rank_as_the_trade_ranks_them():
    """Bolted channels softer than riveted, those softer than welded ones, tubes the stiffest; 0.2-3 kN m/deg."""
    cross = channel(0.269, 0.070, 0.006)
    values = [
        torsional_stiffness(
            frame(kind.joint(member), crosses=(member,), spans=[RailSpan(-1.1, 5.6, RAIL)]), 0.0, 4.5
        )
        for kind, member in (
            (frame_kind("bolted channels"), cross),
            (frame_kind("riveted channels"), cross),
            (frame_kind("welded channels"), cross),
            (frame_kind("riveted channels"), TUBE),
            (frame_kind("welded channels"), TUBE),
        )
    ]
    assert np.all(np.diff(values) > 0)
    assert 200 < values[0] * math.pi / 180 < values[-1] * math.pi / 180 < 3000
