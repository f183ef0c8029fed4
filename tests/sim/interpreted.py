"""Runs a function of a test module with compilation switched off, in a fresh interpreter."""

import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


def interpreted(module: str, function: str) -> Any:
    """What a function without arguments returns there."""
    call = f"sys.stdout.buffer.write(pickle.dumps({function}()))"
    program = f"import pickle, sys; from {module} import {function}; {call}"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
        cwd=ROOT,
        capture_output=True,
        check=True,
    )
    return pickle.loads(done.stdout)
