"""Wheel tracks of one sample: the ground as the tyres feel it, ready for the simulation."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from crossaxle.arrays import Array, Float32
from crossaxle.terrain.course import Course
from crossaxle.terrain.envelope import check_tyre, filter_line, margin
from crossaxle.terrain.ground import Streams, lay_ground
from crossaxle.terrain.survey import SurveyError


class TyreLine(NamedTuple):
    """Line along which tyres of one kind roll.

    Attributes
    ----------
    y : float
        Lateral position, positive left [m].
    radius : float
        Free radius [m]; 0: no disc.
    contact_length : float
        Length of the contact [m]; 0: no average.
    """

    y: float
    radius: float
    contact_length: float


class CourseSegment(NamedTuple):
    """Positions that lie in one section of the course.

    Attributes
    ----------
    start, stop : int
        Positions, half open.
    slope_cosine : float
        Cosine of the section's mean large-scale slope from the horizontal.
    section : str
    """

    start: int
    stop: int
    slope_cosine: float
    section: str


@dataclass(frozen=True)
class TyreTracks:
    """Tracks of one sample.

    Position p has the front axle at point lead + p, and an axle at station s at point lead + p - s / spacing.

    Attributes
    ----------
    heights : (n_lines, n_points)
        Envelope heights, without the large-scale slopes [m].
    lines : tuple of TyreLine, length n_lines
        Lateral position and tyre of each row.
    spacing : float
        Between points [m].
    lead : int
        Points before the first position.
    grade, side_slope : (n_points,)
        Tangents dz/dx and dz/dy of the large-scale slope, to be added to those of the heights.
    segments : tuple of CourseSegment
        Cover all positions, in order.
    """

    heights: Float32
    lines: tuple[TyreLine, ...]
    spacing: float
    lead: int
    grade: Array
    side_slope: Array
    segments: tuple[CourseSegment, ...]

    @property
    def n_positions(self) -> int:
        """Number of positions of the front axle."""
        return int(self.heights.shape[1]) - self.lead


def lay_tracks(
    course: Course,
    lines: tuple[TyreLine, ...],
    spacing: float,
    n_positions: int,
    lead: int,
    seed: int,
    sample: int,
    streams: Streams | None = None,
) -> TyreTracks:
    """Lay the wheel tracks of one sample.

    Parameters
    ----------
    course : Course
    lines : tuple of TyreLine, length n_lines
        In the order wanted in the result. Lines at the same y with different tyres feel the same ground.
    spacing : float
        Between points [m].
    n_positions : int
        Positions of the front axle.
    lead : int
        Points before the first position: at least the largest station over the spacing.
    seed, sample : int
        The same pair gives the same ground.
    streams : callable, optional
        Random numbers in place of the seed's own; see `crossaxle.terrain.ground.lay_ground`.

    Raises
    ------
    ValueError
        If the spacing is too coarse for a tyre or a band, or a section gets no points.
    """
    for line in lines:
        check_tyre(spacing, line.radius, line.contact_length)
        for name, survey in course.recordings.items():
            try:
                check_tyre(survey.measured_spacing, line.radius, line.contact_length)
            except ValueError as error:
                raise SurveyError(f"section {name}: {error}, or lay the survey as the same kind") from None
    edge = max(margin(spacing, line.radius, line.contact_length) for line in lines)
    lines_y = tuple(dict.fromkeys(line.y for line in lines))
    n_points = lead + n_positions
    ground = lay_ground(course, lines_y, spacing, n_positions, seed, sample, lead + edge, edge, streams)
    heights = np.empty((len(lines), n_points), np.float32)
    alike: dict[tuple[float, float], list[int]] = {}
    for row, line in enumerate(lines):
        alike.setdefault((line.y, line.radius), []).append(row)
    for (y, radius), rows in alike.items():
        lengths = [lines[row].contact_length for row in rows]
        trim = edge - max(margin(spacing, radius, length) for length in lengths)
        raw = ground.heights[lines_y.index(y), trim : ground.heights.shape[1] - trim]
        filter_line(raw, heights, rows, spacing, radius, lengths)
    inner = slice(edge, edge + n_points)
    before = lead + edge
    segments = tuple(
        CourseSegment(
            max(stretch.start - before, 0),
            min(stretch.stop - before, n_positions),
            1 / float(np.sqrt(1 + stretch.grade**2 + stretch.side_slope**2)),
            stretch.section,
        )
        for stretch in ground.stretches
    )
    return TyreTracks(
        heights,
        tuple(lines),
        spacing,
        lead,
        ground.grade[inner],
        ground.side_slope[inner],
        segments,
    )
