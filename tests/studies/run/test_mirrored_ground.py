"""A symmetric truck on ground whose left and right are exchanged gives exchanged results."""

import numpy as np
import pytest

from crossaxle.sim.recorder import make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleResult
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.terrain.course import Course, CourseSection, Roughness, Slope
from crossaxle.terrain.distribution import fixed, uniform
from crossaxle.terrain.obstacles import Boulder, Ditch
from crossaxle.terrain.tracks import TyreLine, lay_tracks
from tests.shortcuts import mirrored, run_sample
from tests.sim.truck import truck

STATIONS = (0.0, 4.4)
TRACK = 2.05


def rough() -> Course:
    """Rough enough that wheels lift; nothing about it is symmetric."""
    section = CourseSection(
        share=1,
        roughness=Roughness(iso_class="H", band_from=0.05, band_to=1.0),
        side_slope=Slope(mean=0.05, deviation=0.03, length=30.0),
        obstacles=(
            Ditch(rate=0.02, width=fixed(2.5), depth=fixed(0.4), angle=uniform(0.2, 0.7)),
            Boulder(rate=0.02, diameter=fixed(1.0), height=fixed(0.3), offset=fixed(1.0), side="left"),
        ),
    )
    return Course("rough", {"all": section})


@pytest.mark.parametrize("sample", [0, 1, 2])
def test_results_are_exchanged(sample: int) -> None:
    """To rounding: sums over wheels are taken in another order. Counts and places exactly."""
    structure = truck(STATIONS, TRACK, stops=True)
    np.testing.assert_allclose(structure.wheel_y, [TRACK / 2, -TRACK / 2] * 2)
    lead = round(STATIONS[-1] / 0.05)
    lines = tuple(TyreLine(side * TRACK / 2, 0.6, 0.3) for side in (1, -1))
    straight = lay_tracks(rough(), lines, 0.05, 10_000, lead, 5, sample)
    models = [reduce(structure)]
    recorder = make_recorder(structure.outputs)

    def run(tracks) -> SampleResult:
        ground = WheelTracks(
            heights=tracks.heights,
            wheel_line=np.array([0, 1, 0, 1]),
            spacing=tracks.spacing,
            grade=tracks.grade,
            side_slope=tracks.side_slope,
            lead=tracks.lead,
            segments=(Segment(0, tracks.n_positions),),
        )
        return run_sample(models, ground, recorder)

    one, other = run(straight), run(mirrored(straight))
    exchange = [1, 0, 3, 2]
    assert one.unload_events.sum() > 20
    assert not np.array_equal(one.unload_events, one.unload_events[exchange]), "the ground is not symmetric"
    np.testing.assert_array_equal(other.unload_events, one.unload_events[exchange])
    np.testing.assert_array_equal(other.free_events, one.free_events[exchange])
    np.testing.assert_allclose(other.unloaded_distance, one.unloaded_distance[exchange], rtol=1e-12)
    np.testing.assert_allclose(other.minimum[:4], one.minimum[exchange], rtol=1e-9, atol=1e-4)
    np.testing.assert_allclose(other.maximum[:4], one.maximum[exchange], rtol=1e-9)
    np.testing.assert_array_equal(other.maximum_position[:4], one.maximum_position[exchange])
    twist = recorder.keys.index(("frame_twist", ""))
    assert other.maximum[twist] == pytest.approx(one.maximum[twist], rel=1e-9)
    assert other.tipped_distance == one.tipped_distance
