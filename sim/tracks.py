"""The ground of one sample as plain arrays, and where a vehicle's wheels stand on it.

Frame: ISO 8855 axes; the vehicle drives towards rising index. Position p of the sample has the front axle at
index ``lead + p`` of the tracks and an axle at station s behind it at index ``lead + p - s/spacing`` (linear
in between).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Integers
from crossaxle.sim.ground_plane import GRAVITY

WHOLE = 1e-6
"""Share of the spacing within which a station counts as a whole number of spacings."""


@dataclass(frozen=True)
class Segment:
    """Positions ``start`` to ``stop`` (exclusive) with the geometric stiffness of ``normal_gravity``."""

    start: int
    stop: int
    normal_gravity: float = GRAVITY


@dataclass(frozen=True)
class WheelTracks:
    """The ground of one sample.

    Attributes
    ----------
    heights : (lines, points), float32 or float64
        Ground height as the tyre's envelope feels it [m], without the large-scale slope.
    wheel_line : (w,)
        Line under each wheel.
    spacing : float
        Distance between points [m].
    grade, side_slope : (points,)
        Large-scale slope, tangents dz/dx and dz/dy, at the middle of the vehicle.
    lead : int
        Points before the first position's front axle; at least the last axle's station.
    segments : tuple of Segment
        Consecutive, together all positions from 0 to points - lead.
    """

    heights: NDArray[np.floating]
    wheel_line: Integers
    spacing: float
    grade: Array
    side_slope: Array
    lead: int
    segments: tuple[Segment, ...]

    @property
    def n_positions(self) -> int:
        """Number of positions."""
        return int(self.heights.shape[1]) - self.lead

    def start(self) -> "WheelTracks":
        """Leave nothing but the first position."""
        points = slice(self.lead + 1)
        first = replace(next(segment for segment in self.segments if segment.stop > 0), stop=1)
        return replace(
            self,
            heights=self.heights[:, points],
            grade=self.grade[points],
            side_slope=self.side_slope[points],
            segments=(first,),
        )


def places_behind(wheel_station: Array, tracks: WheelTracks) -> tuple[Integers, Array]:
    """Index under each wheel (w,) at position 0, and the share [0, 1) of the way to the next point."""
    behind = wheel_station / tracks.spacing
    whole = np.round(behind)
    index = tracks.lead - np.where(np.abs(behind - whole) < WHOLE, whole, behind)
    offset = np.floor(index).astype(np.int64)
    return offset, np.asarray(index - offset)


def middle_place(wheel_station: Array, tracks: WheelTracks) -> int:
    """Index, at position 0, where the vehicle takes the large-scale slope: the middle of its wheels."""
    return round(tracks.lead - float(wheel_station.mean()) / tracks.spacing)


def check_tracks(tracks: WheelTracks, wheel_station: Array) -> None:
    """Refuse tracks that do not fit together or not to a vehicle with wheels at ``wheel_station`` (w,).

    Raises
    ------
    ValueError
    """
    points, w = tracks.heights.shape[1], len(wheel_station)
    if tracks.grade.shape != (points,) or tracks.side_slope.shape != (points,):
        raise ValueError(
            f"tracks have {points} points, but grade {tracks.grade.shape} and side slope {tracks.side_slope.shape}"
        )
    if tracks.wheel_line.shape != (w,):
        raise ValueError(f"{len(tracks.wheel_line)} wheel lines for {w} wheels")
    if tracks.wheel_line.min() < 0 or tracks.wheel_line.max() >= len(tracks.heights):
        raise ValueError(
            f"wheel lines {tracks.wheel_line} are not all among the {len(tracks.heights)} tracks"
        )
    if not tracks.spacing > 0.0:
        raise ValueError(f"spacing is {tracks.spacing} m; it must be positive")
    longest = float(wheel_station.max())
    if tracks.lead < longest / tracks.spacing - WHOLE or tracks.n_positions < 1:
        raise ValueError(
            f"tracks of {points} points with a lead of {tracks.lead} are too short for a vehicle whose last axle "
            f"stands {longest:.4g} m behind the first, at a spacing of {tracks.spacing:.4g} m"
        )
    reached = 0
    for segment in tracks.segments:
        if segment.start != reached or segment.stop < segment.start:
            raise ValueError(
                f"segment from {segment.start} to {segment.stop} does not follow position {reached}"
            )
        reached = segment.stop
    if reached != tracks.n_positions:
        raise ValueError(f"segments end at position {reached} of {tracks.n_positions}")
