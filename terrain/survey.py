"""Measured ground: heights along parallel tracks on a regular grid, read from tables.

A table is a CSV file with the columns ``distance``, ``left``, ``right`` [m] (a surface with a route across it:
see `crossaxle.terrain.surface`). What is read is resampled to equal spacing; a slow trend (hills, drift of the
instrument) is taken out by a moving average, because the program treats large slopes separately.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array

GAP = 2.5
"""A step along the survey longer than this many median steps is a gap."""
COLUMNS = ("distance", "left", "right")


class SurveyError(ValueError):
    """A survey that cannot be used; the text names file, place and remedy."""


@dataclass(frozen=True)
class Survey:
    """Heights on a regular grid along parallel tracks.

    Attributes
    ----------
    heights : (n_lines, n_points)
        Heights [m].
    line_y : (n_lines,)
        Lateral positions, positive left [m].
    spacing : float
        Between points along the way [m].
    measured_spacing : float
        Between the points of the file (median) [m]; no finer detail is known.
    """

    heights: Array
    line_y: Array
    spacing: float
    measured_spacing: float

    @property
    def length(self) -> float:
        """Length of the survey [m]."""
        return float(self.heights.shape[1] - 1) * self.spacing


def from_tracks(
    distance: ArrayLike, left: ArrayLike, right: ArrayLike, gauge: float, spacing: float | None = None
) -> Survey:
    """Make a survey of two tracks.

    Parameters
    ----------
    distance, left, right : (n_points,)
        Distance along the way, rising, and heights of the tracks [m].
    gauge : float
        Lateral distance between the tracks [m].
    spacing : float, optional
        To resample to; default: the median step of `distance`.

    Raises
    ------
    SurveyError
        If values are missing, distances do not rise, or there is a gap.
    """
    distance, heights = np.asarray(distance, float), np.array([left, right], float)
    _check_distance(distance)
    check_finite(heights, distance, ("left", "right"))
    measured = float(np.median(np.diff(distance)))
    regular = _resample(distance, heights, measured, spacing or measured)
    return Survey(regular, np.array([gauge / 2, -gauge / 2]), spacing or measured, measured)


def read_tracks(path: Path, gauge: float, spacing: float | None = None) -> Survey:
    """Read a CSV file with the columns distance, left, right [m]; lines that start with # are notes.

    Raises
    ------
    SurveyError
        If the file is not such a table, or for the reasons of `from_tracks`; the text names file and line.
    """
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = [
                (number, row) for number, row in enumerate(csv.reader(file), 1) if row and row[0][:1] != "#"
            ]
    except (OSError, UnicodeDecodeError) as error:
        raise SurveyError(f"{path}: cannot be read: {error}") from None
    header = tuple(cell.strip().lower() for cell in rows[0][1]) if rows else ()
    if header != COLUMNS:
        raise SurveyError(
            f"{path}: the first line holds {', '.join(header) or 'nothing'}; it must be {','.join(COLUMNS)}"
        )
    values = np.empty((len(rows) - 1, 3))
    for i, (number, row) in enumerate(rows[1:]):
        try:
            values[i] = [float(cell) for cell in row]
        except ValueError:
            raise SurveyError(
                f"{path}: line {number}: found {','.join(row)}; three numbers are needed"
            ) from None
    try:
        return from_tracks(values[:, 0], values[:, 1], values[:, 2], gauge, spacing)
    except SurveyError as error:
        raise SurveyError(f"{path}: {error}") from None


def detrended(survey: Survey, length: float) -> Survey:
    """Take out all that is slower than a stated length.

    Subtracts the moving average with a Hann window of that length, whose gain falls from 1 for long waves
    to 0 at 2 / length cycle/m; near the ends the window is cut and scaled. A straight slope disappears
    entirely except there.

    Raises
    ------
    SurveyError
        If the survey is shorter than the length.
    """
    count = max(3, round(length / survey.spacing) | 1)
    if count > survey.heights.shape[1]:
        raise SurveyError(
            f"the survey is {survey.length:g} m long; detrending over {length:g} m needs a longer one"
        )
    window = np.hanning(count + 2)[1:-1]
    x = np.arange(survey.heights.shape[1]) - survey.heights.shape[1] / 2
    # the straight line first, so that a slope leaves nothing at the ends either
    level = np.array([z - np.polyval(np.polyfit(x, z, 1), x) for z in survey.heights])
    weight = np.convolve(np.ones(x.size), window, mode="same")
    slow = np.array([np.convolve(z, window, mode="same") for z in level]) / weight
    return Survey(level - slow, survey.line_y, survey.spacing, survey.measured_spacing)


def resampled(survey: Survey, spacing: float) -> Survey:
    """Bring a survey to another spacing: interpolated if finer, averaged over the new spacing if coarser."""
    distance = np.arange(survey.heights.shape[1], dtype=float) * survey.spacing
    regular = _resample(distance, survey.heights, survey.spacing, spacing)
    return Survey(regular, survey.line_y, spacing, survey.measured_spacing)


def _check_distance(distance: Array) -> None:
    if distance.size < 10:
        raise SurveyError(f"holds {distance.size} points; at least 10 are needed")
    if not np.all(np.isfinite(distance)):
        raise SurveyError(f"distance of point {int(np.argmin(np.isfinite(distance))) + 1} is not a number")
    step = np.diff(distance)
    if np.any(step <= 0):
        i = int(np.argmax(step <= 0))
        raise SurveyError(
            f"distance goes from {distance[i]:g} to {distance[i + 1]:g} m; it must rise from point to point:"
            " sort the survey and remove double points"
        )
    widest, usual = int(np.argmax(step)), float(np.median(step))
    if step[widest] > GAP * usual:
        raise SurveyError(
            f"has a gap of {step[widest]:g} m after {distance[widest]:g} m where {usual:g} m is usual; at"
            f" most {GAP * usual:g} m is allowed: fill the gap or cut the survey there"
        )


def check_finite(heights: Array, distance: Array, names: tuple[str, ...]) -> None:
    """Raise SurveyError if a height of one of the named lines is missing; say where."""
    for name, line in zip(names, heights, strict=True):
        if not np.all(np.isfinite(line)):
            place = distance[int(np.argmin(np.isfinite(line)))]
            raise SurveyError(
                f"{name} has no height at {place:g} m; every point needs one: fill it or cut the survey there"
            )


def _resample(distance: Array, heights: Array, measured: float, spacing: float) -> Array:
    """Heights at equal spacing from the first point on; a coarser grid takes averages, not single points."""
    count = int((distance[-1] - distance[0]) / spacing * (1 + 1e-9)) + 1
    places = distance[0] + spacing * np.arange(count)
    if count == distance.size and np.allclose(places, distance, rtol=0, atol=1e-6 * spacing):
        return heights
    if spacing <= measured * (1 + 1e-9):
        return np.array([np.interp(places, distance, z) for z in heights])
    low = np.clip(places - spacing / 2, distance[0], distance[-1])
    high = np.clip(places + spacing / 2, distance[0], distance[-1])
    return np.array([_mean_between(distance, z, low, high) for z in heights])


def _mean_between(x: Array, z: Array, low: Array, high: Array) -> Array:
    """Mean of the polygon through (x, z) between `low` and `high`."""
    area = np.concatenate([[0.0], np.cumsum(np.diff(x) * (z[1:] + z[:-1]) / 2)])

    def until(place: Array) -> Array:
        i = np.clip(np.searchsorted(x, place, side="right") - 1, 0, x.size - 2)
        over = place - x[i]
        return np.asarray(area[i] + over * (z[i] + over / 2 * (z[i + 1] - z[i]) / (x[i + 1] - x[i])), float)

    return (until(high) - until(low)) / (high - low)
