"""What cannot be calculated is refused with the reason: structures, tracks and recorders that do not fit together."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from crossaxle.sim.codes import NOT_FINITE
from crossaxle.sim.ground_plane import ground_plane
from crossaxle.sim.posture import solve_posture
from crossaxle.sim.recorder import Bins, WheelEvents, make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks, check_tracks
from tests.shortcuts import run_sample
from tests.sim import slow
from tests.sim.truck import truck

STRUCTURE = truck()
MODEL = reduce(STRUCTURE)
GROUND = slow.tracks(np.random.default_rng(1), MODEL, 300, 0.05)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"wheel_y": np.zeros(3)}, "wheel_y has shape .3,.; .* is needed"),
        (
            {"hinge_stiffness": STRUCTURE.hinge_stiffness * np.nan},
            "hinge_stiffness contains values that are not",
        ),
        ({"hinge_stiffness": STRUCTURE.hinge_stiffness * 0.0}, "hinge_stiffness must be non-zero"),
        ({"outputs": STRUCTURE.outputs[1:]}, "outputs; .* are needed"),
        (
            {"stiffness": STRUCTURE.stiffness - 1e9 * np.eye(len(STRUCTURE.stiffness))},
            "the vehicle is unstable",
        ),
    ],
)
def test_structures(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        reduce(replace(STRUCTURE, **changed))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"grade": np.zeros(7)}, "tracks have .* points, but grade"),
        ({"wheel_line": GROUND.wheel_line[:3]}, "3 wheel lines for 4 wheels"),
        ({"wheel_line": GROUND.wheel_line + 9}, "are not all among the"),
        ({"spacing": 0.0}, "it must be positive"),
        ({"lead": 3}, "too short for a vehicle whose last axle stands"),
        ({"segments": (Segment(1, GROUND.n_positions),)}, "segment from 1 to .* does not follow position 0"),
        ({"segments": (Segment(0, 10),)}, "segments end at position 10 of"),
    ],
)
def test_tracks(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        check_tracks(replace(GROUND, **changed), MODEL.wheel_station)


def test_wheels_in_one_line_span_no_plane() -> None:
    with pytest.raises(ValueError, match="at least three wheels that are not in one line"):
        ground_plane(np.array([0.0, 1.0, 2.0, 3.0]), np.zeros(4))


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Bins(1.0, 1.0, 4), "need low < high, count > 0"),
        (lambda: WheelEvents(start=0.3, end=0.1), "need 0 <= free <= start <= end"),
        (lambda: make_recorder(STRUCTURE.outputs[:1] * 2), "names must differ"),
    ],
)
def test_recorders(make: Callable[[], object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        make()


def runner(**changes: Any) -> SampleRunner:
    return SampleRunner(**{"models": (MODEL,), "recorder": make_recorder(STRUCTURE.outputs)} | changes)


def test_samples() -> None:
    other = reduce(truck(all_outputs=True))
    for models, said in [
        ((), "at least one reduced model"),
        ((MODEL, other), "belong to different vehicles"),
        ((replace(MODEL, wheel_station=MODEL.wheel_station - 1.0),), "counted from the front axle"),
    ]:
        with pytest.raises(ValueError, match=said):
            runner(models=models)


def test_a_truck_that_does_not_stand() -> None:
    """Its weight lies beside its wheels: it lies on its side, or one side carries nothing."""
    model = reduce(truck(body_offset=1.5))
    with pytest.raises(ValueError, match=r"does not stand on level ground|carry nothing"):
        runner(models=(model,))


def test_ground_of_another_gravity() -> None:
    ground: WheelTracks = replace(GROUND, segments=(Segment(0, GROUND.n_positions, 9.0),))
    with pytest.raises(ValueError, match="no reduced model for a normal gravity of 9"):
        run_sample([MODEL], ground, make_recorder(STRUCTURE.outputs))


def test_an_input_that_is_not_finite_is_a_code() -> None:
    assert solve_posture(MODEL, np.full(4, np.nan)).code == NOT_FINITE
