"""The mount load table is in balance with the body in every load case."""

from dataclasses import replace

import pytest
from click.testing import CliRunner

from crossaxle.sim.codes import TIPPED
from crossaxle.sim.posture import level_posture
from crossaxle.studies.cli.main import cli
from crossaxle.studies.posture.mount_loads import mount_loads
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
