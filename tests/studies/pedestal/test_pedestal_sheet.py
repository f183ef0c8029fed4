"""The workshop's sheet and the commands around a pedestal test, from sheet to calibrated file."""

import csv
import html
import io
import json
import re
import tomllib

import pytest
from click.testing import CliRunner

from crossaxle.studies.cli.main import cli
from crossaxle.studies.pedestal.pedestal_sheet import pedestal_sheet
from crossaxle.studies.pedestal.pedestal_test import pedestal_test
from tests.conftest import LIBRARY

CLINIC = str(LIBRARY / "clinic.toml")


def crossaxle(*arguments):
    return CliRunner().invoke(cli, [str(a) for a in arguments])


def prepared(page):
    """The file of readings that a sheet carries, as dictionaries."""
    block = html.unescape(re.search(r"<pre[^>]*>(.*?)</pre>", page, re.DOTALL)[1])
    return list(csv.DictReader(io.StringIO(block)))


@pytest.fixture(scope="module")
def laden(clinic):
    return pedestal_sheet(pedestal_test(clinic(), None, [0.0, 0.1, 0.2]))


@pytest.fixture(scope="module")
def bare(clinic):
    return pedestal_sheet(pedestal_test(clinic(bare=True), None, [0.1 * i for i in range(7)]))


def test_says_what_to_raise_and_what_to_read(laden):
    text = html.unescape(re.sub(r"<[^>]+>", " ", laden))
    assert "On pedestals: front right and rear left. On the floor: front left, rear right." in text
    for heading in ("Level ground", "Step 1: pedestals 100 mm", "Step 2: pedestals 200 mm"):
        assert heading in text
    for row in (
        "load under front left",
        "gap: cab back to body",
        "lean of the body",
        "against 4.40 m behind",
    ):
        assert text.count(row) == 3
    # Four loads, two twists, two leans and six gaps at each of three heights.
    assert text.count("±") == 3 * 14


def test_cautions_stand_first(laden):
    cautions = laden.index("Nobody is in it, under it")
    assert cautions < laden.index("What to raise")
    for word in (
        "Chock every wheel",
        "rated for",
        "watch",
        "chassis maker",
        "local rules",
        "qualified engineer",
    ):
        assert word in laden[cautions - 200 : laden.index("What to raise")]


def test_no_step_goes_beyond_the_first_free_wheel(bare, clinic):
    """Free at 362 mm: 300 mm is the last step. A stiffer frame frees the wheel lower, so 350 mm carries a warning."""
    assert "pedestals 300 mm" in bare
    assert "pedestals 400 mm" not in bare
    assert "3 higher steps are left off: the rear right wheel is free from 362 mm on." in bare
    assert "may come free below this height" not in bare.split("Step 2")[0]
    near = pedestal_sheet(pedestal_test(clinic(bare=True), None, [0.1, 0.35]))
    assert "may come free below this height" in near.split("Step 2")[1]


def test_a_wheel_free_over_a_pit_does_not_end_the_sheet(clinic):
    """A sheet has no pits: its steps are those up, whatever happens on the way down."""
    page = pedestal_sheet(pedestal_test(clinic(bare=True), None, [-0.6, 0.1, 0.2]))
    assert "pedestals 200 mm" in page
    assert "left off" not in page


def test_heights_at_which_the_truck_may_tip_are_left_off(clinic):
    page = pedestal_sheet(pedestal_test(clinic(), ["front left", "rear left"], [0.2, 1.6]))
    assert "pedestals 200 mm" in page
    assert "One higher step is left off: the truck may tip at 1600 mm." in page
    assert "Level ground" in pedestal_sheet(pedestal_test(clinic(), ["front left", "rear left"], [1.6]))


def test_tolerances_are_wider_before_the_frame_is_measured(clinic):
    def tolerance(changes):
        page = pedestal_sheet(pedestal_test(clinic(changes, bare=True), None, [0.2]))
        (cell,) = re.findall(r"4\.40 m behind \[deg\]</th><td>−[\d.]+</td><td>± ([\d.]+)</td>", page)
        return float(cell)

    assert tolerance({}) > 1.5 * tolerance({"frame.stiffness_factor": 1.001})


def test_names_cannot_inject(clinic):
    page = pedestal_sheet(pedestal_test(clinic({"name": "<script>alert(1)</script>"}), None, [0.1]))
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_sheet_by_command(tmp_path):
    sheet = tmp_path / "sheet.html"
    result = crossaxle("pedestal", CLINIC, "--heights", "0.1 m", "--sheet", sheet)
    assert result.exit_code == 0, result.output
    assert "Pedestal test sheet" in sheet.read_text()
    refused = crossaxle("pedestal", CLINIC, "--heights", "0.1 m", "--sheet", tmp_path / "sheet.doc")
    assert refused.exit_code == 2
    assert ".html" in refused.output


@pytest.mark.slow
def test_from_sheet_to_calibrated_file(tmp_path):
    """Fill the prepared file from a truck whose frame is softer; the new file then predicts that truck's test."""
    sheet, readings, out = tmp_path / "sheet.html", tmp_path / "readings.csv", tmp_path / "new.toml"
    arguments = ("--bare", "--heights", "0 m:0.2 m:0.1 m", "--json")
    crossaxle("pedestal", CLINIC, *arguments, "--sheet", sheet)
    real = json.loads(crossaxle("pedestal", CLINIC, *arguments, "--set", "frame.stiffness_factor=0.6").stdout)
    by_height = {round(posture["height_m"] * 1e3): posture for posture in real["postures"]}
    rows = prepared(sheet.read_text())
    filled = []
    for row in rows:
        posture = by_height[int(row["height"].split()[0])]
        if row["measured"] == "twist front axle to rear axle":
            row["value"] = f"{posture['frame_twist_deg'] - by_height[0]['frame_twist_deg']:.4f} deg"
        elif row["measured"].startswith("wheel load "):
            wheel = row["measured"].removeprefix("wheel load ")
            row["value"] = f"{posture['wheels'][wheel]['load_N']:.1f} N"
        filled.append(row)
    with readings.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(filled)

    chart = tmp_path / "fit.svg"
    result = crossaxle("calibrate", CLINIC, readings, "--bare", "--out", out, "--json", "--chart", chart)
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)["parameters"]["frame.stiffness_factor"]
    assert found["low"] < 0.6 < found["high"]
    assert found["value"] == pytest.approx(0.6, rel=2e-3)
    assert chart.stat().st_size > 1000

    new, old = out.read_text(), LIBRARY.joinpath("clinic.toml").read_text()
    assert tomllib.loads(new)["frame"]["stiffness_factor"] == pytest.approx(0.6, rel=2e-3)
    assert [line for line in new.splitlines() if "stiffness_factor" not in line] == old.splitlines()
    again = json.loads(crossaxle("pedestal", out, *arguments).stdout)
    for posture, expected in zip(again["postures"], real["postures"], strict=True):
        assert posture["frame_twist_deg"] == pytest.approx(expected["frame_twist_deg"], abs=0.02)

    second = crossaxle("calibrate", CLINIC, readings, "--bare", "--out", out)
    assert second.exit_code == 2
    assert "exists; give another name, or --overwrite" in second.output
    assert out.read_text() == new


def test_calibration_says_what_is_wrong_with_the_readings(tmp_path):
    readings = tmp_path / "readings.csv"
    readings.write_text("height,under,measured,value,uncertainty\n100 mm,front left,gap nowhere,3 mm,1 mm\n")
    result = crossaxle("calibrate", CLINIC, readings, "--out", tmp_path / "new.toml")
    assert result.exit_code == 2
    assert 'readings.csv: line 2: gap: found "nowhere"; allowed are cab roof to alcove' in result.output
    assert not (tmp_path / "new.toml").exists()
