"""The mount load table is in balance with the body in every load case."""

import math
from dataclasses import replace

import pytest
from click.testing import CliRunner

from crossaxle.sim.codes import TIPPED
from crossaxle.sim.posture import level_posture
from crossaxle.studies.cli.main import cli
from crossaxle.studies.posture.mount_loads import mount_loads
from crossaxle.studies.posture.slopes import tip_angles
from crossaxle.studies.study.example import example_texts

GRAVITY = 9.80665


@pytest.mark.parametrize("mount", ["rigid", "pivoting", "pivoting four-point", "sprung"])
def test_forces_balance_the_body(clinic, mount):
    vehicle = clinic({"mount": mount})
    weight = GRAVITY * sum(m.mass for m in vehicle.masses if m.carried_by == "body")
    table = mount_loads(vehicle)
    cases = {
        "at rest": (0, 0, 1),
        "braking": (0.8, 0, 1),
        "side slope or bend": (0, 0.5, 1),
        "shock": (0, 0, 2.5),
    }
    assert {row.case for row in table} == set(cases)
    for case, (forward, left, vertical) in cases.items():
        rows = [row for row in table if row.case == case]
        assert sum(row.vertical for row in rows) == pytest.approx(vertical * weight)
        assert sum(row.upright for row in rows) == pytest.approx(vertical * weight)
        stations = {row.point.removesuffix(" left").removesuffix(" right"): row for row in rows}
        assert sum(row.fore_aft for row in stations.values()) == pytest.approx(forward * weight)
        assert sum(row.side for row in stations.values()) == pytest.approx(left * weight)


def test_braking_loads_the_front_mount_by_its_lever(clinic):
    """Three points are determinate: braking adds a W (z - h) / base to the front one (statics).

    Gravity's stiffness lets the pitched body press a little more.
    """
    vehicle = clinic({"mount": "pivoting"})
    pivot = {row.case: row.vertical for row in mount_loads(vehicle) if row.point == "pivot"}
    carried = [m for m in vehicle.masses if m.carried_by == "body"]
    moment = 0.8 * GRAVITY * sum(m.mass * (m.z - vehicle.layout.mount_height) for m in carried)
    stations = vehicle.layout.mount_stations()
    expected = moment / (stations["pair"] - stations["pivot"])
    assert pivot["braking"] - pivot["at rest"] == pytest.approx(expected, rel=0.05)


def test_a_truck_held_upright_loads_its_pair_by_the_lever_alone(clinic):
    """Of three points only the pair resists roll: half the weight sideways adds 0.5 W (z - h) over the spacing.

    The truck with held wheels leans on tyres and springs, and its body's weight acts beside the pair: a quarter more.
    The rails still bend between the axles, so that the body leans a little: 2 %.
    """
    vehicle = clinic({"mount": "pivoting"})
    rows = {(row.case, row.point): row for row in mount_loads(vehicle)}
    carried = [m for m in vehicle.masses if m.carried_by == "body"]
    moment = 0.5 * GRAVITY * sum(m.mass * (m.z - vehicle.layout.mount_height) for m in carried)

    def added(force):
        case, rest = (
            force(rows[case, "pair left"]) - force(rows[case, "pair right"])
            for case in ("side slope or bend", "at rest")
        )
        return 0.5 * (case - rest) * vehicle.file.frame.spacing

    assert abs(added(lambda row: row.upright)) == pytest.approx(moment, rel=0.02)
    assert abs(added(lambda row: row.vertical)) > 1.2 * moment
    for point in ("pair left", "pair right", "pivot"):
        at_rest = rows["at rest", point]
        assert at_rest.upright == pytest.approx(at_rest.vertical, rel=1e-6)


def test_cases_beyond_tipping_are_named_with_the_share_that_tips(clinic):
    """Sideways the share is the tip slope's tangent over the case's; the others stand.

    On a slope the normal part of gravity is smaller by the cosine, and with it the lean: 2 % at 24 deg.
    """
    vehicle = clinic({"mount": "pivoting"})
    tips_at = {row.case: row.tips_at for row in mount_loads(vehicle)}
    slopes = tip_angles(vehicle)
    share = min(math.tan(slopes[side]) for side in ("left side high", "right side high")) / 0.5
    assert tips_at["side slope or bend"] == pytest.approx(share, rel=0.04)
    assert [case for case, share in tips_at.items() if share is not None] == ["side slope or bend"]
    said = CliRunner().invoke(cli, ["check", "library:clinic"]).stdout
    assert (
        f"side slope or bend: a free truck tips at {100 * tips_at['side slope or bend']:.0f} % of this case"
        in said
    )


def test_a_truck_that_cannot_stand_so_is_refused_with_its_load_case(monkeypatch, tmp_path):
    """Mounts hold the body down in every case; what fails even so is bad input with its name, and no traceback."""
    path = tmp_path / "vehicle.toml"
    path.write_text(example_texts()["vehicle.toml"] + "\n[load_case.tumble]\nleft = 10.0\n")
    monkeypatch.setattr(
        "crossaxle.studies.posture.mount_loads.solve_posture",
        lambda model, u: replace(level_posture(model), code=TIPPED),
    )
    told = CliRunner().invoke(cli, ["check", str(path)])
    assert (told.exit_code, told.stdout) == (2, "")
    assert told.stderr.startswith(f"crossaxle: {path}: load_case.at rest: no equilibrium")
