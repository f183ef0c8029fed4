"""Study after study in one process: memory, open files and threads stay flat."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.unix

ROOT = Path(__file__).parents[3]


@pytest.mark.slow
def test_soak() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.studies.soaking", "0.7"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=1800,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr[-3000:]
    print("\n" + done.stdout.strip().splitlines()[-1])
