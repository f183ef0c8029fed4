"""What many tests ask of the models in one line: a posture, a sample, mirrored ground, the contact average's gain."""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array, Integers
from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import input_vector
from crossaxle.sim.posture import Posture, solve_posture
from crossaxle.sim.recorder import Recorder
from crossaxle.sim.reduced import ReducedModel
from crossaxle.sim.sample import SampleResult, SampleRunner
from crossaxle.sim.tracks import WheelTracks
from crossaxle.terrain.envelope import contact_weights
from crossaxle.terrain.survey import COLUMNS, Survey
from crossaxle.terrain.tracks import TyreTracks


def posture_on(
    model: ReducedModel, wheel_heights: ArrayLike, grade: float = 0.0, side_slope: float = 0.0
) -> Posture:
    """Posture on ground heights ``wheel_heights`` (w,) [m] and a large-scale slope (tangents of it)."""
    return solve_posture(model, input_vector(model.plane, wheel_heights, grade, side_slope))


def postures_along(model: ReducedModel, inputs: Iterable[ArrayLike]) -> list[Posture]:
    """Postures for a sequence of inputs, each followed from the one before (from level after a failure)."""
    found: list[Posture] = []
    for u in inputs:
        before = found[-1] if found and found[-1].code == GOOD else None
        found.append(solve_posture(model, u, before))
    return found


def run_sample(
    models: Sequence[ReducedModel], tracks: WheelTracks, recorder: Recorder, linearised: bool = False
) -> SampleResult:
    """One sample with a fresh :class:`SampleRunner`."""
    return SampleRunner(models, recorder, linearised).run(tracks)


def wheel_lines(wheel_y: Array, line_y: Array) -> Integers:
    """Line (w,) at the lateral position of each wheel [m]."""
    away = np.abs(np.subtract.outer(wheel_y, line_y))
    assert (away.min(axis=1) < 1e-6).all(), "no ground line under a wheel"
    return np.asarray(away.argmin(axis=1), dtype=np.int64)


def contact_transfer(n: ArrayLike, spacing: float, contact_length: float) -> Array:
    """Gain of the contact average for a wave of n [cycle/m]: exactly that of the weights used."""
    weights = contact_weights(spacing, contact_length)
    places = spacing * (np.arange(weights.size) - weights.size // 2)
    return np.asarray(np.cos(2 * np.pi * np.multiply.outer(np.asarray(n, float), places)) @ weights)


def mirrored(tracks: TyreTracks) -> TyreTracks:
    """Swap left and right: the same ground as seen from a truck whose left is this one's right.

    Raises
    ------
    ValueError
        If the lines are not symmetric about the centre line.
    """
    y = np.array([line.y for line in tracks.lines])
    partner = [[j for j in range(y.size) if y[j] == -y[i]] for i in range(y.size)]
    if not all(partner):
        raise ValueError(
            f"lines at {', '.join(f'{v:g}' for v in y)} m are not symmetric about the centre line"
        )
    used: list[int] = []
    for choices in partner:
        used.append(next(j for j in choices if j not in used))
    return TyreTracks(
        tracks.heights[used],
        tracks.lines,
        tracks.spacing,
        tracks.lead,
        tracks.grade,
        -tracks.side_slope,
        tracks.segments,
    )


def write_tracks(survey: Survey, path: Path) -> None:
    """Write a survey's two outermost lines as a CSV file that `read_tracks` reads back to the last bit."""
    left, right = survey.heights[np.argmax(survey.line_y)], survey.heights[np.argmin(survey.line_y)]
    distance = survey.spacing * np.arange(left.size)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        writer.writerows(zip(distance.tolist(), left.tolist(), right.tolist(), strict=True))
