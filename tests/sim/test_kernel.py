"""The compiled kernel against the reference solver on random vehicles and random ground."""

import dataclasses
from dataclasses import replace

import numpy as np
import pytest

from crossaxle.sim.codes import GOOD, NOT_FINITE, TIPPED
from crossaxle.sim.recorder import Bins, Recorder, WheelEvents, make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.vehicles.structure import Structure
from tests.shortcuts import run_sample
from tests.sim import slow
from tests.sim.interpreted import interpreted
from tests.sim.truck import random_structure, truck

TRUCK_BINS = {
    "wheel_load": Bins(0.0, 80e3, 40),
    "gap": Bins(0.0, 0.2, 30),
    "bracket_stress": Bins(0.0, 2e8, 30),
    "frame_twist": Bins(0.0, 0.2, 20),
    "body_torque": Bins(0.0, 30e3, 25),
    "tip_margin": Bins(0.0, 0.5, 20),
}
LIMITS = {"frame_twist": 0.06}

RELATIVE = 1e-9
"""The two solvers eliminate in different orders: rounding only, measured against the largest magnitude met."""


def truck_recorder(structure: Structure, **settings: float) -> Recorder:
    return make_recorder(structure.outputs, TRUCK_BINS, LIMITS, **settings)


def assert_same(found: object, wanted: dict[str, np.ndarray]) -> None:
    """``found`` is a sample result; floats within RELATIVE of the largest magnitude, counts exactly."""
    for name, value in wanted.items():
        got = np.asarray(getattr(found, name))
        if value.dtype.kind == "f":
            size = np.nanmax(np.abs(value), initial=1.0)
            np.testing.assert_allclose(got, value, rtol=RELATIVE, atol=RELATIVE * size, err_msg=name)
        else:
            np.testing.assert_array_equal(got, value, err_msg=name)


@pytest.mark.parametrize(
    ("stations", "stops", "sprung", "size", "slope"),
    [
        ((0.0, 4.4), False, False, 0.08, 0.0),
        ((0.0, 4.4), True, True, 0.16, 0.15),
        ((0.0, 4.4), True, True, 0.10, 0.45),
        ((0.0, 3.87, 5.22), True, True, 0.15, 0.1),
        ((0.0, 1.8, 4.93, 6.3), True, True, 0.15, 0.1),
    ],
)
def test_truck_on_rough_ground(
    stations: tuple[float, ...], stops: bool, sprung: bool, size: float, slope: float
) -> None:
    structure = truck(stations, stops=stops, sprung=sprung, all_outputs=True)
    models = [reduce(structure, g) for g in (9.80665, 9.2)]
    rng = np.random.default_rng(len(stations) * 100 + int(100 * size))
    ground = slow.tracks(rng, models[0], 1500, size, slope=slope, normal_gravities=(9.80665, 9.2))
    recorder = truck_recorder(structure, slope_limit=0.3)
    runner = SampleRunner(models, recorder)
    wanted = slow.keep(recorder, slow.postures(models, ground), ground.spacing, runner.static_load)
    assert_same(runner.run(ground), wanted)


@pytest.mark.parametrize("seed", range(25))
def test_random_structures_at_every_position(seed: int) -> None:
    """Every single posture of convex structures, by tracks of one position, and the whole track at once."""
    rng = np.random.default_rng(seed)
    n_axles = 2 + seed % 3
    structure = random_structure(
        rng, n_axles, n_dofs=6 + seed % 7, n_positive=1 + seed % 6, n_negative=2 + (seed * 7) % 6
    )
    model = reduce(structure)
    recorder = make_recorder(structure.outputs)
    try:
        runner = SampleRunner([model], recorder)
    except ValueError:
        pytest.skip("a wheel carries nothing on level ground")
    ground = slow.tracks(rng, model, 120, 3.0, slope=0.2)
    series = slow.postures([model], ground)
    size = np.abs([posture.y for posture in series]).max()
    used = set()
    for p, posture in enumerate(series):
        used.add(tuple(posture.active))
        here = dataclasses.replace(
            ground,
            heights=ground.heights[:, p : p + ground.lead + 1],
            grade=ground.grade[p : p + ground.lead + 1],
            side_slope=ground.side_slope[p : p + ground.lead + 1],
            segments=(Segment(0, 1),),
        )
        found = runner.run(here)
        assert found.code == posture.code == GOOD
        np.testing.assert_allclose(found.maximum, posture.y, rtol=0.0, atol=RELATIVE * size)
        np.testing.assert_array_equal(found.minimum, found.maximum)
    assert len(used) > 1
    assert_same(runner.run(ground), slow.keep(recorder, series, ground.spacing, runner.static_load))


def test_tipping_is_a_code_and_a_distance() -> None:
    structure = truck(stops=True)
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(1), model, 4000, 0.02)
    ground = dataclasses.replace(ground, side_slope=np.linspace(0.0, 0.8, len(ground.side_slope)))
    recorder = truck_recorder(structure)
    runner = SampleRunner([model], recorder)
    found = runner.run(ground)
    assert found.code == TIPPED
    assert 0.0 < found.tipped_distance < found.distance
    assert_same(
        found, slow.keep(recorder, slow.postures([model], ground), ground.spacing, runner.static_load)
    )


@pytest.mark.filterwarnings("ignore:invalid value")  # only where the kernel runs as plain Python
@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_ground_that_is_not_finite_is_a_code(value: float) -> None:
    structure = truck()
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(1), model, 1000, 0.02)
    ground.heights[1, 700] = value
    found = run_sample([model], ground, truck_recorder(structure))
    assert found.code == NOT_FINITE
    assert np.isnan(found.minimum).all()
    assert found.histogram.sum() == 0


def _fields(result: object) -> dict[str, np.ndarray]:
    return {f.name: np.asarray(getattr(result, f.name)) for f in dataclasses.fields(result)}  # type: ignore[arg-type]


def _short_run() -> dict[str, np.ndarray]:
    structure = truck(stops=True, sprung=True, all_outputs=True)
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(5), model, 900, 0.16, slope=0.35)
    return _fields(run_sample([model], ground, truck_recorder(structure)))


def test_the_same_bits_every_time() -> None:
    """Twice in one runner, in a fresh one, and after other ground has filled the table of sets."""
    structure = truck(stops=True, sprung=True)
    model = reduce(structure)
    recorder = truck_recorder(structure)
    runner = SampleRunner([model], recorder)
    ground = [slow.tracks(np.random.default_rng(seed), model, 3000, 0.15, slope=0.2) for seed in range(3)]
    first = [_fields(runner.run(g)) for g in ground]
    again = [_fields(runner.run(g)) for g in reversed(ground)][::-1]
    fresh = [_fields(run_sample([model], g, recorder)) for g in ground]
    for a, b, c in zip(first, again, fresh, strict=True):
        for name in a:
            np.testing.assert_array_equal(a[name], b[name], err_msg=name)
            np.testing.assert_array_equal(a[name], c[name], err_msg=name)


def test_the_same_bits_interpreted() -> None:
    """A fresh interpreter with compilation switched off must find what this one finds."""
    there, here = interpreted("tests.sim.test_kernel", "_short_run"), _short_run()
    assert here["exceptional_distance"] > 0.0
    assert 0.0 < here["contact_distance"] < here["distance"]
    assert there.keys() == here.keys()
    for name in here:
        np.testing.assert_array_equal(there[name], here[name], err_msg=name)


def test_a_sample_is_the_sum_of_its_positions() -> None:
    """Extremes of a track are the extremes over its positions taken one by one, and their places are right."""
    structure = truck(stops=True, sprung=True)
    model = reduce(structure)
    recorder = truck_recorder(structure)
    runner = SampleRunner([model], recorder)
    ground = slow.tracks(np.random.default_rng(9), model, 700, 0.15)
    whole = runner.run(ground)
    for i, record in enumerate(recorder.records):
        for wanted, extreme, place in (
            (record.minimum, whole.minimum[i], whole.minimum_position[i]),
            (record.maximum, whole.maximum[i], whole.maximum_position[i]),
        ):
            if not wanted:
                assert np.isnan(extreme) and np.isnan(place)
                continue
            p = round(place / ground.spacing)
            piece = slice(p, p + ground.lead + 1)
            one = runner.run(
                WheelTracks(
                    ground.heights[:, piece],
                    ground.wheel_line,
                    ground.spacing,
                    ground.grade[piece],
                    ground.side_slope[piece],
                    ground.lead,
                    (Segment(0, 1),),
                )
            )
            assert extreme in (one.minimum[i], one.maximum[i])


def test_histograms_count_every_stride() -> None:
    structure = truck()
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(2), model, 1003, 0.05)
    found = run_sample([model], ground, truck_recorder(structure, histogram_spacing=0.15))
    histograms = len([r for r in truck_recorder(structure).records if r.bins])
    assert found.histogram.sum() == histograms * -(-1003 // 3)


def test_event_thresholds_are_settings() -> None:
    """An event threshold above every load makes the whole sample one event; a long least length leaves none."""
    structure = truck()
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(2), model, 1000, 0.01)
    always = WheelEvents(start=20.0, end=21.0)
    found = run_sample([model], ground, make_recorder(structure.outputs, events=always))
    assert (found.unload_events == 1).all()
    np.testing.assert_allclose(found.unloaded_distance, found.distance)
    never = WheelEvents(start=20.0, end=21.0, shortest=60.0)
    found = run_sample([model], ground, make_recorder(structure.outputs, events=never))
    assert (found.unload_events == 0).all()


def test_parts_are_in_contact_where_the_tightest_gap_is_below_zero() -> None:
    """Clearances above the movement: never; below it: as far as the tightest gap, met with both, is below zero."""
    structure = truck()
    gap = np.array([output.quantity == "gap" for output in structure.outputs])
    model = reduce(structure)
    ground = slow.tracks(np.random.default_rng(3), model, 4000, 0.1)
    movement = run_sample([model], ground, make_recorder(structure.outputs)).minimum
    least = float(np.nanmin(movement[[k for k, o in enumerate(structure.outputs) if o.quantity == "gap"]]))
    found = {}
    for clearance in (-least + 0.001, -least, -least - 0.002):
        moved = replace(structure, output_constant=structure.output_constant + np.where(gap, clearance, 0.0))
        found[clearance] = run_sample([reduce(moved)], ground, make_recorder(moved.outputs)).contact_distance
    wide, _, tight = found.values()
    assert wide == 0.0 < tight
