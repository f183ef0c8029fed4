"""Every shipped vehicle runs the main job with every mount and load state it has."""

from importlib import resources

import numpy as np
import pytest

from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.study import load

STUDY = """
title = "shipped"
vehicle = "library:{name}"
courses = ["library:kurrin_pass"]
samples = 1
sample_length = "200 m"
[sweep]
mount = ["rigid", "pivoting", "pivoting four-point", "sprung"]
load_state = ["laden", "empty"]
"""


@pytest.mark.parametrize(("name", "wheels"), [("clinic", 4), ("laboratory", 6), ("rescue", 8)])
def test_runs_with_every_mount_and_load_state(tmp_path, name, wheels):
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(name=name))
    made = Experiment(load(path))
    rows, _ = made.run(0)
    blocks = {block.variable: block for block in made.columns.blocks}
    assert len(made.columns.items["wheel"]) == wheels

    def column(variable):
        block = blocks[variable]
        return rows[:, 0, block.start : block.start + block.count]

    assert (column("distance") == 200.0).all()
    assert set(np.unique(column("sample_status"))) <= {0.0, 1.0}
    twist = column("frame_twist_maximum").reshape(4, 2)
    assert (twist > 0).all()
    # Whatever the load, a rigid mount holds the frame more than a three-point one does.
    assert (twist[0] < twist[1]).all()
    masses = [sum(m.mass for m in c.vehicle.masses) for c in made.candidates]
    assert all(laden > empty for laden, empty in zip(masses[::2], masses[1::2], strict=True))


def test_twist_at_named_stations_grows_along_the_frame(tmp_path):
    vehicle = tmp_path / "vehicle.toml"
    text = (
        resources.files("crossaxle.vehicles").joinpath("library", "clinic.toml").read_text(encoding="utf-8")
    )
    vehicle.write_text(text + '\n[station]\n"cab back" = "cab back"\n"rear axle" = "rear axle"\n')
    path = tmp_path / "study.toml"
    path.write_text(STUDY.format(name="clinic").replace("library:clinic", "vehicle.toml"))
    made = Experiment(load(path))
    rows, _ = made.run(0)
    blocks = {block.variable: block for block in made.columns.blocks}
    station = rows[:, 0, blocks["station_twist_maximum"].start :][:, :2]
    twist = rows[:, 0, blocks["frame_twist_maximum"].start]
    assert (station[:, 0] < station[:, 1]).all()
    assert station[:, 1] == pytest.approx(twist, rel=1e-12)
