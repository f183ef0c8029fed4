"""Valid files with values orders of magnitude apart run, or are refused with a physical reason."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crossaxle.sim.codes import GOOD, MEANING
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.study import load

STUDY = """
title = "extremes"
vehicle = "library:clinic"
courses = ["library:wadi_tamrun"]
samples = 1
sample_length = "20 m"

[sweep]
"""

USUAL = {
    "wheelbase": (4.4, "m"),
    "frame.spacing": (0.8, "m"),
    "frame.youngs_modulus": (210.0, "GPa"),
    "frame.joint_factor": (1.0, ""),
    "body.length": (4.2, "m"),
    "body.roof": (3.4, "m"),
    "body.torsional_stiffness": (100.0, "kN*m/deg"),
    "axle.front.mass": (700.0, "kg"),
    "axle.front.spring_rate": (290.0, "N/mm"),
    "axle.rear.wheel_track": (2.05, "m"),
    "axle.rear.tyre.stiffness": (900.0, "N/mm"),
    "axle.rear.tyre.radius": (0.6, "m"),
    "axle.rear.bump_travel": (0.09, "m"),
    "mounts.rigid.stiffness": (20.0, "kN/mm"),
    "mounts.sprung.preload": (6.0, "kN"),
    "mass.equipment.mass": (800.0, "kg"),
    "mass.water.mass": (400.0, "kg"),
    "mass.equipment.z": (1.8, "m"),
}
"""Keys of the shipped vehicle with a usual value of each."""

MACHINERY = ("nan", "inf ", "singular", "matrix", "array", "overflow", "broadcast", "index", "float", "Error")
"""Words that would betray the program's own trouble instead of the truck's."""

outcomes: Counter[str] = Counter()
reasons: Counter[str] = Counter()

changes = st.dictionaries(
    st.sampled_from(sorted(USUAL)),
    st.floats(-6.0, 6.0).map(lambda power: 10.0**power),
    min_size=1,
    max_size=3,
)
mounts = st.sampled_from(["rigid", "pivoting", "pivoting four-point", "sprung"])


@pytest.mark.slow
def test_extremes_run_or_are_refused_with_a_reason(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"

    @settings(max_examples=120, deadline=None, derandomize=True, database=None)
    @given(changes, mounts)
    def each(factors: dict[str, float], mount: str) -> None:
        lines = [f'mount = ["{mount}"]']
        for key, factor in factors.items():
            value, unit = USUAL[key]
            lines.append(
                f"{key} = [{value * factor!r}]" if not unit else f'{key} = ["{value * factor!r} {unit}"]'
            )
        path.write_text(STUDY + "\n".join(lines))
        _runs_or_is_refused(path)

    each()
    said = ", ".join(f"{number} {what}" for what, number in outcomes.most_common())
    print(f"\n{outcomes.total()} extreme vehicles: {said}")
    for reason, number in reasons.most_common():
        print(f"  {number:4} {reason}")
    assert outcomes["ran"] > 20
    assert outcomes["refused"] > 20


def _runs_or_is_refused(path: Path) -> None:
    try:
        experiment = Experiment(load(path))
        rows, histograms = experiment.run(0)
    except InputError as error:
        outcomes["refused"] += 1
        reasons[str(error).rpartition(": ")[2][:90]] += 1
        assert str(error).startswith((str(path), "library:clinic: "))
        assert not any(word in str(error) for word in MACHINERY), str(error)
        return
    blocks = {block.variable: block for block in experiment.columns.blocks}
    status = int(rows[0, 0, blocks["sample_status"].start])
    outcomes["ran" if status == GOOD else MEANING[status].partition(":")[0]] += 1
    assert status in MEANING
    assert (histograms >= 0).all()
    if status == GOOD:
        loads = blocks["wheel_load_maximum"]
        assert np.isfinite(rows[0, 0, loads.start : loads.start + loads.count]).all()
