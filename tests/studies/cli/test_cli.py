"""The command line: every command on good input, and one clear message with status 2 on bad input."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
import xarray as xr
from click.testing import CliRunner, Result

from crossaxle.studies.base.workers import WorkersLostError
from crossaxle.studies.cli.main import cli
from crossaxle.studies.run.estimate import announcement
from crossaxle.studies.study.example import example_texts

ROOT = Path(__file__).parents[3]
SMALL = ("--samples", "2", "--workers", "1")


def crossaxle(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the example, samples made short and one wheelbase left."""
    for name, text in example_texts().items():
        text = text.replace('sample_length = "1 km"', 'sample_length = "100 m"').replace(
            '"3.8 m", "4.4 m", ', ""
        )
        (tmp_path / name).write_text(text)
    return tmp_path


def snapshot(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def assert_refused(result: Result, *said: str) -> None:
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    for text in said:
        assert text in result.stderr
    assert "Traceback" not in result.stderr
    assert len(result.stderr.strip().splitlines()) <= 2


def test_help_names_every_command() -> None:
    result = crossaxle("--help")
    assert result.exit_code == 0
    for command in cli.commands:
        assert f"\n  {command}" in result.stdout
        assert crossaxle(command, "--help").exit_code == 0
    assert "..." not in result.stdout.partition("Commands:")[2]


def test_help_is_quick_and_imports_nothing_heavy() -> None:
    code = (
        "import sys; from crossaxle.studies.cli.main import cli\n"
        "try: cli(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'xarray', 'pydantic', 'numba', 'matplotlib'} & set(sys.modules)\n"
        "sys.exit(f'{heavy}' if heavy else 0)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)


def test_example_then_check_then_run_then_report(folder: Path) -> None:
    out = folder / "results"
    check = crossaxle("check", folder / "study.toml")
    assert check.exit_code == 0
    assert "2 candidates on" in check.stdout
    first = crossaxle("run", folder / "study.toml", "--out", out, *SMALL)
    assert first.exit_code == 0, first.stderr
    assert f"report:  {out / 'report.html'}" in first.stdout
    with xr.open_dataset(out / "results.nc") as dataset:
        assert dataset.sizes["sample"] == 2
        assert dataset.attrs["seed"] == 1
        assert dataset.attrs["study"] == (folder / "study.toml").read_text()
    assert any((out / "charts").glob("*.png"))
    assert any((out / "charts").glob("*.svg"))

    page = (out / "report.html").read_text()
    assert page.count('download="clearances.svg" href="data:image/svg+xml,') == 1
    assert (out / "clearances.svg").read_text().startswith("<svg ")
    for path in [*(out / "charts").iterdir(), out / "report.html"]:
        path.unlink()
    for name in ("study.toml", "vehicle.toml", "course.toml"):
        (folder / name).unlink()
    again = crossaxle("report", out)
    assert again.exit_code == 0, again.stderr
    assert (out / "report.html").read_text() == page


def test_example_is_complete_and_not_written_twice(tmp_path: Path) -> None:
    assert crossaxle("example", tmp_path / "new").exit_code == 0
    assert snapshot(tmp_path / "new") == {"study.toml", "vehicle.toml", "course.toml"}
    assert_refused(crossaxle("example", tmp_path / "new"), "study.toml: is there already")
    assert_refused(
        crossaxle("example", tmp_path / "new" / "study.toml"),
        "cannot be written",
        "choose another folder as DIR",
    )


def test_results_are_not_overwritten_but_extended(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
    )
    out = folder / "results"
    run = ("run", folder / "study.toml", "--out", out, "--workers", "1", "--samples")
    assert crossaxle(*run, 2).exit_code == 0
    before = xr.load_dataset(out / "results.nc")
    assert_refused(crossaxle(*run, 3), "holds results.nc and parts of an earlier run; --resume goes on")
    extended = crossaxle(*run, 4, "--resume")
    assert extended.exit_code == 0
    assert "2 samples are there already" in extended.stderr
    after = xr.load_dataset(out / "results.nc")
    for name, variable in before.data_vars.items():
        if "sample" in variable.dims:
            assert after[name].isel(sample=slice(0, 2)).equals(variable)
    assert crossaxle(*run, 2, "--overwrite").exit_code == 0
    assert xr.load_dataset(out / "results.nc").equals(before)


def test_check_of_a_vehicle(folder: Path) -> None:
    result = crossaxle("check", folder / "vehicle.toml", "--json", "--set", "wheelbase=4.0 m")
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert set(found) >= {
        "vehicle", "wheelbase_m", "mass_kg", "wheels", "frame_torsional_stiffness_Nm_per_deg", "gaps", "warnings",
    }  # fmt: skip
    assert found["wheelbase_m"] == 4.0
    assert sum(found["wheels"].values()) == pytest.approx(found["mass_kg"] * 9.80665, rel=1e-9)
    text = crossaxle("check", folder / "vehicle.toml")
    assert "kN m/deg" in text.stdout


def test_check_of_a_study_as_data(folder: Path) -> None:
    found = json.loads(crossaxle("check", folder / "study.toml", "--json").stdout)
    assert [one["choices"]["mount"] for one in found["candidates"]] == ["rigid", "pivoting"]


def test_pedestal_contract(folder: Path) -> None:
    result = crossaxle(
        "pedestal", folder / "vehicle.toml", "--mount", "rigid", "--wheelbase", "4.0 m",
        "--heights", "0 m:0.4 m:0.2 m", "--json",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    assert (found["mount"], found["wheelbase_m"]) == ("rigid", 4.0)
    assert [posture["height_m"] for posture in found["postures"]] == [0.0, 0.2, 0.4]
    for posture in found["postures"]:
        assert set(posture) >= {
            "wheels", "frame_twist_deg", "cab_to_body_deg", "body_torque_Nm", "gaps", "brackets", "tanks",
            "body_roll_deg", "mounts", "tipped", "outside_range",
        }  # fmt: skip
        assert set(posture["wheels"]["rear left"]) == {"load_N", "clearance_m"}
        assert set(posture["tanks"]["water"]) == {"level_difference_m", "torque_Nm"}
        assert set(posture["mounts"]["1 left"]) == {"force_N", "travel_m"}
    assert found["first_free"] is None or set(found["first_free"]) == {"wheel", "height_m"}


def test_pedestal_draws(folder: Path) -> None:
    result = crossaxle(
        "pedestal", "library:clinic", "--bare", "--chart", folder / "p.svg", "--heights", "0 m:0.4 m:0.2 m"
    )
    assert result.exit_code == 0, result.stderr
    assert (folder / "p.svg").read_text().startswith("<?xml")


def test_ground_describes_and_draws(folder: Path) -> None:
    result = crossaxle("ground", "library:ondry_ridge", "--chart", folder / "ground.png", "--json")
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["course"] == "Ondry Ridge"
    assert (folder / "ground.png").stat().st_size > 10_000


BAD_VEHICLES = [
    ("unknown key", "wheelbase =", "weelbase =", 'weelbase: is not a known key; did you mean "wheelbase"?'),
    (
        "bare number",
        'wheelbase = "4.4 m"',
        "wheelbase = 4.4",
        "wheelbase: 4.4 is a bare number; write a length",
    ),
    ("wrong unit", 'wheelbase = "4.4 m"', 'wheelbase = "4.4 kg"', '"4.4 kg" is a mass; a length is needed'),
    ("negative stiffness", '"290 N/mm"', '"-290 N/mm"', 'spring_rate: found "-290 N/mm"; allowed is above 0'),
    (
        "shorter than the cab",
        'wheelbase = "4.4 m"',
        'wheelbase = "0.8 m"',
        "allowed a wheelbase longer than the cab",
    ),
    ("unknown mount", 'mount = "pivoting"', 'mount = "pivotting"', '"pivotting" is not among the mounts'),
    ("broken TOML", 'wheelbase = "4.4 m"', 'wheelbase = "4.4 m', "is not valid TOML"),
]


@pytest.mark.parametrize(("case", "old", "new", "said"), BAD_VEHICLES, ids=[bad[0] for bad in BAD_VEHICLES])
def test_bad_vehicle(folder: Path, case: str, old: str, new: str, said: str) -> None:
    path = folder / "vehicle.toml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    before = snapshot(folder)
    assert_refused(crossaxle("check", path), str(path), said)
    assert_refused(crossaxle("pedestal", path), str(path), said)
    if case != "unknown mount" and "wheelbase" not in old:
        assert_refused(
            crossaxle("run", folder / "study.toml", "--out", folder / "out", *SMALL), str(path), said
        )
    assert snapshot(folder) == before


def test_a_shipped_file_named_without_library(folder: Path) -> None:
    assert_refused(crossaxle("check", "clinic"), "there is no such file; a shipped vehicle is library:clinic")
    assert_refused(crossaxle("ground", "wadi_tamrun"), "a shipped course is library:wadi_tamrun")


def test_unreadable_files(folder: Path) -> None:
    (folder / "binary.toml").write_bytes(b"\x00\xff\xfe")
    before = snapshot(folder)
    for path, said in [
        (folder / "none.toml", "; in "),
        (
            folder / "studi.toml",
            f'cannot be read: No such file or directory; did you mean "{folder / "study.toml"}"',
        ),
        (folder, "is a folder; a file is needed; in "),
        (folder / "binary.toml", "is not a text in UTF-8"),
    ]:
        for command in (
            ("check", path),
            ("run", path, "--out", folder / "out"),
            ("pedestal", path),
            ("ground", path),
        ):
            assert_refused(crossaxle(*command), str(path), said)
    assert_refused(crossaxle("report", folder), "there is no such results file")
    assert snapshot(folder) == before


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--samples", "0"), "samples: found 0; allowed is at least 1"),
        (("--seed", "-5"), "seed: found -5; allowed is at least 0"),
        (("--workers", "0"), "--workers: found 0; allowed is 1 to 1024"),
        (("--samples", "many"), "'many' is not a valid integer"),
        (("--samples", "100000000"), "this study is very large"),
    ],
)
def test_bad_options_of_run(folder: Path, arguments: tuple[str, ...], said: str) -> None:
    before = snapshot(folder)
    result = crossaxle("run", folder / "study.toml", "--out", folder / "out", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert snapshot(folder) == before


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--under", "front left,middle"), "allowed are front left, front right, rear left, rear right"),
        (("--heights", "0:1:2"), "is a bare number"),
        (("--heights", "0 m:1 m:-0.1 m"), "--heights: found"),
        (("--mount", "glued"), '"glued" is not among the mounts'),
        (("--wheelbase", "4.4"), "is a bare number; write a length"),
        (("--set", "tank.water"), "write KEY=VALUE"),
        (
            ("--set", "tank.water.spcing=1 m"),
            'tank.water.spcing: is not a known key; did you mean "spacing"?',
        ),
        (("--chart", "chart.exe"), "allowed are names that end in .png, .svg or .pdf"),
    ],
)
def test_bad_options_of_pedestal(folder: Path, arguments: tuple[str, ...], said: str) -> None:
    before = snapshot(folder)
    assert_refused(crossaxle("pedestal", folder / "vehicle.toml", *arguments), said)
    assert snapshot(folder) == before


def test_output_folder_that_cannot_be_made(folder: Path) -> None:
    blocked = folder / "study.toml" / "out"
    assert_refused(
        crossaxle("run", folder / "study.toml", "--out", blocked, *SMALL),
        "cannot be written: Not a directory; a file is in the way; choose another folder with --out",
    )
    assert_refused(
        crossaxle("run", folder / "study.toml", "--out", folder / "course.toml", *SMALL),
        "cannot be written: File exists; a file is in the way; choose another folder with --out",
    )
    assert_refused(
        crossaxle("run", folder / "study.toml", "--out", "", *SMALL), "--out: is empty; name a folder"
    )


def test_output_file_that_cannot_be_made(folder: Path) -> None:
    nowhere = folder / "nowhere"
    for arguments in (
        ("ground", folder / "course.toml", "--chart", nowhere / "chart.png"),
        ("pedestal", folder / "vehicle.toml", "--chart", nowhere / "chart.png"),
        ("pedestal", folder / "vehicle.toml", "--sheet", nowhere / "sheet.html"),
    ):
        result = crossaxle(*arguments)
        assert (result.exit_code, result.stdout) == (1, "")
        assert result.stderr == (
            f"crossaxle: {arguments[-1]}: cannot be written: No such file or directory; make its folder first, "
            "or choose another place\n"
        )


def test_many_candidates_are_announced_before_they_are_assembled() -> None:
    """Otherwise a large sweep is silent for minutes."""
    assert announcement(6) == ""
    assert announcement(10_000) == "checking and assembling 10,000 candidates, about 4 minutes"


def test_lost_workers_are_told_in_one_message(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def lost(*arguments: object) -> None:
        raise WorkersLostError("worker processes died")

    monkeypatch.setattr("crossaxle.studies.run.dataset.read_results", lambda path: None)
    monkeypatch.setattr("crossaxle.studies.report.report.write_report", lost)
    result = crossaxle("report", folder)
    assert (result.exit_code, result.stderr) == (1, "crossaxle: worker processes died\n")


@pytest.mark.slow
def test_as_a_program(folder: Path) -> None:
    """Workers are processes of their own; the same bits come back as from this process."""
    code = "from crossaxle.studies.cli.main import main; main()"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}

    def program(*arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", code, *map(str, arguments)]
        return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)

    study = folder / "study.toml"
    two = program("run", study, "--out", folder / "two", "--samples", "4", "--workers", "2")
    assert two.returncode == 0, two.stderr
    one = program("run", study, "--out", folder / "one", "--samples", "4", "--workers", "1")
    assert one.returncode == 0, one.stderr
    assert (folder / "two" / "results.nc").read_bytes() == (folder / "one" / "results.nc").read_bytes()
    bad = program("check", folder / "none.toml")
    assert (bad.returncode, bad.stdout) == (2, "")
    assert bad.stderr.startswith("crossaxle: ")


def test_the_pedestal_tests_table_begins_with_cautions_and_names_the_least_gap() -> None:
    done = CliRunner().invoke(cli, ["pedestal", "library:clinic", "--heights", "0.3 m"])
    lines = done.output.splitlines()
    caution = next(k for k, line in enumerate(lines) if line.startswith("CAUTION"))
    table = next(k for k, line in enumerate(lines) if line.startswith("height"))
    assert caution < table
    said = " ".join(lines[caution:table])
    for words in ("rated stands", "chock", "Nobody in", "first lift-off", "maker's", "licensed practice"):
        assert words in said
    posture = json.loads(
        CliRunner().invoke(cli, ["pedestal", "library:clinic", "--heights", "0.3 m", "--json"]).stdout
    )["postures"][0]
    least = min(posture["gaps"], key=posture["gaps"].get)
    assert lines[table + 2].endswith(least)
