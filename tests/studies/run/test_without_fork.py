"""The main job where there is no fork and no Unix lock, as on Windows: taken away here, in workers too.

Paths have spaces and letters beyond ASCII, and files are read without the help of a UTF-8 locale.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import xarray as xr

from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.lock import LOCK, alone_in
from crossaxle.studies.run.sampling import RESULTS
from tests.test_house import FILES, module_name

FOLDER = "Prüfstand ž 測 two words"
TAKEN_AWAY = """
import os, sys
for name in ("fcntl", "resource", "pwd", "grp", "termios"):
    sys.modules[name] = None
for name in ("fork", "forkpty", "register_at_fork"):
    if hasattr(os, name):
        delattr(os, name)
"""


@pytest.fixture
def elsewhere(tmp_path: Path) -> dict[str, str]:
    """Environment of a process that finds none of it; what it starts inherits that."""
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "sitecustomize.py").write_text(TAKEN_AWAY, encoding="utf-8")
    without_utf8 = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    return {**os.environ, "PYTHONPATH": str(tmp_path / "site"), **without_utf8}


def python(environment: dict[str, str], *arguments: str | Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        env=environment,
        capture_output=True,
        text=True,
        errors="replace",
    )


def test_every_module_is_imported(elsewhere: dict[str, str]) -> None:
    names = [
        module_name(path) for path in FILES if path.stem != "__main__" and path.parent.name != "examples"
    ]
    code = "; ".join(
        ["import sys, os", "assert not hasattr(os, 'fork')", *(f"import {name}" for name in names)]
    )
    done = python(elsewhere, "-c", code)
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
def test_the_main_job_gives_the_same_bits(elsewhere: dict[str, str], study: Path, tmp_path: Path) -> None:
    home = tmp_path / FOLDER
    home.mkdir()
    for name in ("study.toml", "vehicle.toml", "course.toml"):
        text = (study.parent / name).read_text(encoding="utf-8")
        (home / name).write_text(text.replace('title = "', f'title = "{FOLDER}: '), encoding="utf-8")
    common = ["-m", "crossaxle", "run", home / "study.toml", "--samples", "4", "--workers", "2", "--out"]
    ordinary = python(dict(os.environ), *common, home / "forked")
    assert ordinary.returncode == 0, ordinary.stderr
    spawned = python(elsewhere, *common, home / "spawned")
    assert spawned.returncode == 0, spawned.stderr
    assert "report.html" in spawned.stdout
    assert (home / "spawned" / RESULTS).read_bytes() == (home / "forked" / RESULTS).read_bytes()
    assert xr.load_dataset(home / "spawned" / RESULTS).attrs["title"].startswith(FOLDER)
    page = (home / "spawned" / "report.html").read_text(encoding="utf-8")
    assert FOLDER in page


def test_a_second_run_is_refused_without_locks_of_the_system_too(
    elsewhere: dict[str, str], tmp_path: Path
) -> None:
    """Both without; the lock of one that is gone is in nobody's way."""
    hold = "import sys, time; from pathlib import Path; from crossaxle.studies.run.lock import alone_in\n"
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            f"{hold}with alone_in(Path({str(tmp_path)!r})): print(1, flush=True); time.sleep(60)",
        ],
        env=elsewhere,
        stdout=subprocess.PIPE,
    )
    assert holder.stdout is not None and holder.stdout.readline() == b"1\n"
    enter = f"{hold}with alone_in(Path({str(tmp_path)!r})): pass"
    refused = python(elsewhere, "-c", enter)
    holder.kill()
    holder.wait()
    holder.stdout.close()
    assert "another run is at work there" in refused.stderr
    assert python(elsewhere, "-c", enter).returncode == 0
    assert (tmp_path / LOCK).name == LOCK


def test_a_lock_is_no_hindrance_to_the_next_run(tmp_path: Path) -> None:
    with alone_in(tmp_path), pytest.raises(InputError, match="another run"), alone_in(tmp_path):
        pass
    with alone_in(tmp_path):
        pass
