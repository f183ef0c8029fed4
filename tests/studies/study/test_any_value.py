"""Any value of the vehicle file can be swept or uncertain: names become dimensions, values reach the truck."""

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.dataset import results
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.study import load

STUDY = """
title = "any value, invented"
vehicle = "library:clinic"
courses = ["library:ondry_ridge"]
samples = 2
sample_length = "100 m"
spacing = "12.5 cm"
"""

SWEPT = {
    "wheelbase": ("4.2 m", "4.6 m"),
    "tank.water.spacing": ("0.8 m", "1.1 m"),
    'mass."body shell".mass': ("2100 kg", "2500 kg"),
    'mass."body shell".z': ("2.2 m", "2.5 m"),
    "axle.front.spring_rate": ("270 N/mm", "330 N/mm"),
    "axle.rear.tyre.pressure": ("3.0 bar", "4.5 bar"),
    "mounts.pivoting.pivot": ("body front + 0.4 m", "body front + 1.2 m"),
    "mounts.pivoting.stop_angle": ("8 deg", "10 deg"),
    "mounts.sprung.spring_rate": ("60 N/mm", "120 N/mm"),
    "mounts.rigid.at.2": ("body front + 1.6 m", "body front + 2.2 m"),
    "frame.section.thickness": ("7 mm", "8 mm"),
    "load_state": ("laden", "empty"),
}


def experiment(tmp_path, text):
    (tmp_path / "study.toml").write_text(STUDY + text)
    return Experiment(load(tmp_path / "study.toml"))


def mount_of(key):
    parts = key.split(".")
    return parts[1] if parts[0] == "mounts" else "pivoting"


@pytest.mark.parametrize("key", SWEPT)
def test_sweep(tmp_path, key):
    """Two values make two candidates along a dimension of that name, whose results differ."""
    values = ", ".join(f'"{value}"' for value in SWEPT[key])
    made = experiment(tmp_path, f'[sweep]\nmount = ["{mount_of(key)}"]\n{key} = [{values}]\n')
    rows, histograms = zip(*(made.run(k) for k in range(2)), strict=True)
    ds = results(made, np.array(rows), np.zeros((20, *histograms[0].shape), dtype=np.int64))
    assert ds.sizes[key] == 2
    loads = np.moveaxis(ds.wheel_load_maximum.values, ds.wheel_load_maximum.dims.index(key), 0)
    angles = np.moveaxis(ds.bracket_stress_maximum.values, ds.bracket_stress_maximum.dims.index(key), 0)
    changed = not np.allclose(loads[0], loads[1], rtol=1e-9) or not np.allclose(
        angles[0], angles[1], rtol=1e-9
    )
    assert changed or key == "mounts.pivoting.stop_angle"  # no stop is touched on 200 m of forest road
    if key.endswith(".z"):
        assert np.ptp(ds.mass_height_static.values) > 0.02


UNCERTAIN = """
[uncertain]
"axle.front.spring_rate" = { kind = "normal", mean = "290 N/mm", deviation = "15 N/mm" }
'mass."body shell".mass' = { kind = "lognormal", median = "2100 kg", spread = 0.1 }
'mass."body shell".z' = { kind = "uniform", least = "2.2 m", most = "2.5 m" }
"tank.water.spacing" = { kind = "triangular", least = "0.7 m", likeliest = "0.9 m", most = "1.1 m" }
"axle.rear.tyre.pressure" = { kind = "discrete", among = ["3.0 bar", "4.5 bar"] }
"""


def test_every_distribution_reaches_the_truck_and_is_kept(tmp_path):
    made = experiment(tmp_path, UNCERTAIN)
    rows, histograms = zip(*(made.run(k) for k in range(2)), strict=True)
    ds = results(made, np.array(rows), np.zeros((20, *histograms[0].shape), dtype=np.int64))
    assert ds.sizes["uncertain"] == 5 and np.isfinite(ds.drawn_value.values).all()
    kept = dict(zip(ds.uncertain.values.tolist(), ds.drawn_value.values[1].tolist(), strict=True))
    file = made.drawn(1)[0].vehicle.file
    assert file.mass["body shell"].mass == kept['mass."body shell".mass']
    assert file.mass["body shell"].z == kept['mass."body shell".z']
    assert file.axle["front"].spring_rate == kept["axle.front.spring_rate"]
    assert file.tank["water"].spacing == kept["tank.water.spacing"]
    assert kept["axle.rear.tyre.pressure"] in (3.0e5, 4.5e5)


@pytest.mark.parametrize("place", ["0", "5", "first"])
def test_a_place_that_a_list_does_not_have_is_refused(tmp_path, place):
    with pytest.raises(InputError, match="the list has places 1 to 4"):
        experiment(tmp_path, f'[sweep]\nmounts.rigid.at.{place} = ["body front + 1 m", "body front + 2 m"]\n')
