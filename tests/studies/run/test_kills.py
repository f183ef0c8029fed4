"""Runs killed with SIGKILL at 100 random moments, each resumed: the results are the undisturbed ones, bit for bit."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.unix

ROOT = Path(__file__).parents[3]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_fifty_kills(seed: int) -> None:
    """With their own seed each, so that the two together are the hundred."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.studies.killing", "50", str(seed)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=1800,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    print("\n" + done.stdout.strip().splitlines()[-1])
    assert done.stdout.startswith("50 kills: ")
