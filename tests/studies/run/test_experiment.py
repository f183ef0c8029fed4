"""The experiment and its results: same ground for all, the Dataset's layout, and agreement with the slow way."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from crossaxle.sim.codes import GOOD
from crossaxle.sim.position import input_at
from crossaxle.sim.posture import solve_posture
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.batch import run_batch, study_texts
from crossaxle.studies.run.bins import MOST_BINS, choose_bins
from crossaxle.studies.run.dataset import read_results, results, write_results
from crossaxle.studies.run.experiment import Experiment, models
from crossaxle.studies.run.parts import unpack
from crossaxle.studies.run.row_layout import FOLDS
from crossaxle.studies.run.versions import identity
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import Study, load

SAMPLES = 3
EXPECTED = """
distance unload_events unloaded_distance free_events free_distance wheel_load_minimum wheel_load_maximum
gap_minimum gap_maximum bracket_stress_maximum strap_force_maximum tank_level_difference_maximum
tank_torque_maximum frame_twist_maximum body_torque_maximum body_roll_maximum mount_travel_maximum
mount_force_maximum mount_force_minimum pivot_angle_maximum tip_margin_minimum tipped_distance
outside_range_distance contact_distance sample_status wheel_load_static gap_static bracket_stress_static
mount_force_static
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("study")
    write_example(folder)
    text = (folder / "study.toml").read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["3.8 m", "4.4 m"]')
    (folder / "study.toml").write_text(text)
    return load(folder / "study.toml", {"samples": SAMPLES, "sample_length": "200 m"})


@pytest.fixture(scope="module")
def experiment(study: Study) -> Experiment:
    return Experiment(study)


@pytest.fixture(scope="module")
def dataset(experiment: Experiment) -> xr.Dataset:
    rows, histograms = [], np.zeros((FOLDS, 4, 1, experiment.columns.histogram_width), dtype=np.int64)
    for sample in range(SAMPLES):
        row, histogram = experiment.run(sample)
        rows.append(row)
        histograms[sample % FOLDS] += histogram
    return results(experiment, np.array(rows), histograms)


def test_layout(dataset: xr.Dataset) -> None:
    sizes = dict(dataset.sizes)
    assert {k: sizes[k] for k in ("wheelbase", "mount", "course", "sample", "wheel", "gap", "bracket", "tank")} == {
        "wheelbase": 2, "mount": 2, "course": 1, "sample": SAMPLES, "wheel": 4, "gap": 6, "bracket": 2, "tank": 1,
    }  # fmt: skip
    assert dataset["unload_events"].dims == ("wheelbase", "mount", "course", "sample", "wheel")
    assert dataset["gap_histogram"].dims == ("wheelbase", "mount", "course", "fold", "gap", "gap_bin")
    assert dataset["wheelbase"].values.tolist() == [3.8, 4.4]
    assert dataset["mount"].values.tolist() == ["rigid", "pivoting"]
    for name in EXPECTED.split():
        assert name in dataset
        if name.endswith(("minimum", "maximum")):
            position = dataset[f"{name}_position"]
            assert position.dims == dataset[name].dims
            assert float(position.max()) < 200.0
    for variable in dataset.variables.values():
        assert variable.attrs["long_name"]
        assert variable.attrs.get("units") or variable.dtype.kind in "Ui"


def test_mount_points_of_another_mount_are_nan(dataset: xr.Dataset) -> None:
    travel = dataset["mount_travel_maximum"]
    assert travel.sel(mount="rigid", mount_point="pivot").isnull().all()
    assert travel.sel(mount="pivoting", mount_point="pivot").notnull().all()
    assert travel.sel(mount="pivoting", mount_point="1 left").isnull().all()


def test_level_values(dataset: xr.Dataset, experiment: Experiment) -> None:
    loads = dataset["wheel_load_static"].sum("wheel").values.ravel()
    weights = [candidate.vehicle.mass * 9.80665 for candidate in experiment.candidates]
    assert loads == pytest.approx(weights, rel=1e-9)
    clearance = dataset["gap_static"].sel(gap="cab roof to alcove")
    assert clearance.values == pytest.approx(np.full((2, 2), 0.1), abs=1e-9)


def test_histograms_hold_every_fourth_position(dataset: xr.Dataset) -> None:
    counted = dataset["gap_histogram"].sum("gap_bin")
    per_sample = 200.0 / 0.2
    assert (counted.isel(fold=slice(0, SAMPLES)) == per_sample).all()
    assert (counted.isel(fold=slice(SAMPLES, None)) == 0).all()


def test_extremes_lie_within_their_histograms(dataset: xr.Dataset) -> None:
    """The lowest bin with a count is at or above the minimum taken at every position."""
    counts = dataset["gap_histogram"].sum("fold")
    width = dataset["gap_bin"].attrs["bin_width"]
    lowest = dataset["gap_bin"].where(counts > 0).min("gap_bin") + width / 2
    assert (lowest >= dataset["gap_minimum"].min("sample") - 1e-12).all()


def test_worst_positions_replay(experiment: Experiment, dataset: xr.Dataset) -> None:
    """The reference solver gives at each extreme's position the value that the sampling kept."""
    ground = experiment.ground(experiment.courses[0], 1)
    checked = 0
    for k, candidate in enumerate(experiment.candidates):
        tracks = experiment.tracks(candidate, ground)
        reduced = {model.normal_gravity: model for model in models(candidate, tracks)}
        here = dataset.isel(wheelbase=k // 2, mount=k % 2, course=0, sample=1)
        for record in experiment.recorders[k].records:
            for which in ("minimum", "maximum"):
                if not getattr(record, which):
                    continue
                name = f"{record.quantity}_{which}"
                item = {dataset[name].dims[-1]: record.item} if record.item else {}
                position = round(float(here[f"{name}_position"].sel(item)) / 0.05)
                gravity = next(s.normal_gravity for s in tracks.segments if s.start <= position < s.stop)
                posture = solve_posture(reduced[gravity], input_at(reduced[gravity], tracks, position))
                assert posture.code == GOOD
                values = posture.y[list(record.channels)]
                worst = values.min() if which == "minimum" else values.max()
                if which == "maximum" and not record.minimum:
                    worst = np.abs(values).max()
                scale = np.abs(candidate.level).max() if record.unit == "N" else 1.0
                assert float(here[name].sel(item)) == pytest.approx(worst, rel=1e-7, abs=1e-7 * scale)
                checked += 1
    assert checked > 100


def test_batches_do_not_matter(study: Study, experiment: Experiment) -> None:
    texts = study_texts(study.attributes())
    whole = unpack(run_batch(texts, 0, 3), identity(study))
    first, rest = (unpack(run_batch(texts, *ends), identity(study)) for ends in ((0, 1), (1, 3)))
    assert np.array_equal(whole.rows, np.concatenate([first.rows, rest.rows]), equal_nan=True)
    assert np.array_equal(whole.histograms, np.concatenate([first.histograms, rest.histograms]))
    again, counts = experiment.run(1)
    assert np.array_equal(again, whole.rows[1], equal_nan=True)
    assert np.array_equal(counts, whole.histograms[1])


def test_another_candidate_does_not_change_the_ground(
    study: Study, experiment: Experiment, tmp_path: Path
) -> None:
    write_example(tmp_path)
    text = (tmp_path / "study.toml").read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m", "4.9 m"]')
    (tmp_path / "study.toml").write_text(text)
    other = Experiment(load(tmp_path / "study.toml", {"samples": SAMPLES, "sample_length": "200 m"}))
    here, _ = experiment.run(0)
    there, _ = other.run(0)
    block = next(b for b in experiment.columns.blocks if b.variable == "frame_twist_maximum")
    assert np.array_equal(here[2:, 0, block.start], there[:2, 0, block.start])


def test_file_and_back(dataset: xr.Dataset, tmp_path: Path) -> None:
    path = tmp_path / "results.nc"
    write_results(dataset, path)
    assert read_results(path).equals(dataset)
    with xr.open_dataset(path) as plain:
        assert plain.sizes == dataset.sizes
        assert "wheelbase" in plain.attrs["study"]
    write_results(dataset, tmp_path / "again.nc")
    assert (tmp_path / "again.nc").read_bytes() == path.read_bytes()
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("content", [b"", b"not a results file", b"\x89HDF\r\n\x1a\n" + bytes(100)])
def test_files_that_hold_no_results(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "results.nc"
    with pytest.raises(InputError, match="no such results file"):
        read_results(path)
    path.write_bytes(content)
    with pytest.raises(InputError, match="is not a readable results file"):
        read_results(path)


def test_netcdf_without_a_study(tmp_path: Path) -> None:
    path = tmp_path / "results.nc"
    xr.Dataset({"a": ("x", [1.0])}).to_netcdf(path, engine="netcdf4")
    with pytest.raises(InputError, match="holds no results of a study"):
        read_results(path)


def test_bins_are_round_few_and_cover_the_level_values(experiment: Experiment) -> None:
    level = [(c.level_model.outputs, c.level) for c in experiment.candidates]
    bins = choose_bins(level)
    assert set(bins) == {"wheel_load", "gap", "bracket_stress", "frame_twist", "body_torque", "body_roll"}
    assert all(one.count <= MOST_BINS for one in bins.values())
    huge = choose_bins([(outputs, values * 1e3) for outputs, values in level])
    assert all(one.count <= MOST_BINS for one in huge.values())
    for outputs, values in level:
        for output, value in zip(outputs, values, strict=True):
            if output.quantity in ("wheel_load", "gap"):
                assert bins[output.quantity].low <= value <= bins[output.quantity].high
