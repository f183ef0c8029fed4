"""A processor of another kind may change last bits; the results then agree within a stated tolerance.

Other processors are stood in for by taking from NumPy and from the linear algebra library the instructions that this
one has beyond the common base: both choose other code then. (The compiled kernel has no sums that may be
reordered, so its target does not matter.) Heights are stored in single precision, 6e-8 of a height: an extreme
may move by some of these, and a count at a threshold by one.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from numpy._core import _multiarray_umath as umath

from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import in_process
from crossaxle.studies.run.sampling import RESULTS, combine, run
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import load

ROOT = Path(__file__).parents[3]
SETTINGS = {"samples": 8, "sample_length": "500 m"}
TOLERANCE = 1e-6
"""Of the largest value of a variable."""

SCRIPT = """
import json, sys
from pathlib import Path
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import in_process
from crossaxle.studies.run.sampling import combine, run
from crossaxle.studies.study.study import load
settings, folder = json.loads(sys.argv[2]), Path(sys.argv[3])
experiment = Experiment(load(sys.argv[1], settings))
run(experiment, folder, [(0, settings["samples"])], in_process, lambda done: None)
combine(experiment, folder)
"""


@pytest.mark.slow
def test_results_of_another_processor_agree(tmp_path: Path) -> None:
    write_example(tmp_path)
    study, here, there = tmp_path / "study.toml", tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    experiment = Experiment(load(study, SETTINGS))
    run(experiment, here, [(0, SETTINGS["samples"])], in_process, lambda done: None)
    combine(experiment, here)
    beyond = [name for name in umath.__cpu_dispatch__ if umath.__cpu_features__[name]]
    other = {
        "NPY_DISABLE_CPU_FEATURES": " ".join(beyond),
        "OPENBLAS_CORETYPE": "Prescott",
        "PYTHONPATH": str(ROOT),
    }
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(study), json.dumps(SETTINGS), str(there)],
        env=os.environ | other,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    ours, theirs = (xr.load_dataset(folder / RESULTS) for folder in (here, there))
    worst, moved, counted = 0.0, 0, 0
    for name, variable in ours.data_vars.items():
        mine, other_values = variable.values, theirs[name].values
        if name.endswith(("_histogram", "_events")):
            moved += int(np.nansum(np.abs(mine - other_values)))
            counted += int(np.nansum(mine))
        elif not name.endswith(("_position", "_distance")):
            assert np.array_equal(np.isnan(mine), np.isnan(other_values))
            worst = max(
                worst,
                float(np.nanmax(np.abs(mine - other_values), initial=0.0) / (np.nanmax(np.abs(mine)) or 1.0)),
            )
    same = (here / RESULTS).read_bytes() == (there / RESULTS).read_bytes()
    print(
        f"\nwithout {', '.join(beyond)}: {'the same bits' if same else 'other bits'}; largest difference {worst:.1e} "
        f"of a variable's largest value; {moved} of {counted} counts elsewhere"
    )
    assert worst < TOLERANCE
    assert moved <= 1e-5 * counted
