"""A results folder is used by one run at a time, gone on with by its own study alone, and cleared of torn files."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import xarray as xr

from crossaxle.studies.base.storage import clear_unfinished
from crossaxle.studies.cli.main_job import Options, run_study
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.lock import alone_in
from crossaxle.studies.run.parts import part_files
from crossaxle.studies.run.sampling import PARTS, RESULTS

ROOT = Path(__file__).parents[3]
SETTINGS = {"samples": 2, "sample_length": "50 m"}

pytestmark = pytest.mark.usefixtures("no_report")


def go(study: Path, folder: Path, settings: dict[str, object] = SETTINGS, **options: bool) -> int:
    return run_study(str(study), folder, settings, Options(workers=1, **options))


def gone_process() -> int:
    """Number of a process that has ended."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def test_files_of_killed_writers_are_cleared_and_those_of_the_living_kept(tmp_path: Path) -> None:
    dead, own, other = gone_process(), os.getpid(), os.getppid()
    for name in (dead, own, other, 10**30, "x"):
        (tmp_path / f".results.nc.{name}.tmp").touch()
    (tmp_path / f"results.nc.{dead}.tmp").touch()
    clear_unfinished(tmp_path)
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {f".results.nc.{other}.tmp", ".results.nc.x.tmp", f"results.nc.{dead}.tmp"}


def test_resuming_clears_torn_files(study: Path, tmp_path: Path) -> None:
    torn = [tmp_path / f".{RESULTS}.{gone_process()}.tmp", tmp_path / PARTS / f".p.part.{gone_process()}.tmp"]
    (tmp_path / PARTS).mkdir()
    for path in torn:
        path.write_bytes(b"half")
    assert go(study, tmp_path, resume=True) == 0
    assert not any(path.exists() for path in torn)


def test_empty_folders_are_no_obstacle(study: Path, tmp_path: Path) -> None:
    (tmp_path / PARTS).mkdir()
    assert go(study, tmp_path) == 0


def test_a_second_run_in_the_same_folder_is_refused(study: Path, tmp_path: Path) -> None:
    """Resuming and overwriting too; and the first run's files stay as they are."""
    assert go(study, tmp_path) == 0
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with alone_in(tmp_path):
        for options in ({"resume": True}, {"overwrite": True}):
            with pytest.raises(InputError, match="another run is at work there"):
                go(study, tmp_path, **options)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
    assert go(study, tmp_path, resume=True) == 0


def test_the_lock_goes_with_a_killed_process(tmp_path: Path) -> None:
    code = (
        "import sys, time; from crossaxle.studies.run.lock import *\n"
        "with alone_in(Path(sys.argv[1])): print(1, flush=True); time.sleep(60)"
    )
    holder = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"1\n"
    with pytest.raises(InputError, match="another run"), alone_in(tmp_path):
        pass
    os.kill(holder.pid, signal.SIGKILL)
    holder.wait()
    holder.stdout.close()
    with alone_in(tmp_path):
        pass


def test_the_command_is_refused_while_another_run_is_at_work(study: Path, tmp_path: Path) -> None:
    code = "from crossaxle.studies.cli.main import main; main()"
    command = [
        sys.executable,
        "-c",
        code,
        "run",
        str(study),
        "--out",
        str(tmp_path / "out"),
        "--workers",
        "1",
    ]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with alone_in(tmp_path / "out"):
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.splitlines()[-1].startswith(
        f"crossaxle: {tmp_path / 'out'}: another run is at work there"
    )


def test_results_of_another_study_are_not_resumed_over(study: Path, tmp_path: Path) -> None:
    """Even where their parts have been thrown away."""
    assert go(study, tmp_path) == 0
    for path in part_files(tmp_path / PARTS):
        path.unlink()
    before = (tmp_path / RESULTS).read_bytes()
    with pytest.raises(InputError, match=r"results.nc: belongs to another study, seed or version; choose"):
        go(study, tmp_path, {**SETTINGS, "seed": 5}, resume=True)
    assert (tmp_path / RESULTS).read_bytes() == before
    assert go(study, tmp_path, {**SETTINGS, "seed": 5}, overwrite=True) == 0
    assert xr.load_dataset(tmp_path / RESULTS).attrs["seed"] == 5


def test_damaged_results_are_made_again_from_parts(study: Path, tmp_path: Path) -> None:
    assert go(study, tmp_path) == 0
    before = (tmp_path / RESULTS).read_bytes()
    (tmp_path / RESULTS).write_bytes(before[:1000])
    start = time.perf_counter()
    assert go(study, tmp_path, resume=True) == 0
    assert (tmp_path / RESULTS).read_bytes() == before
    assert time.perf_counter() - start < 30.0
