"""Measured ground: heights along parallel tracks, read from survey files."""

from dataclasses import dataclass

from terrain.spectrum import Array


@dataclass(frozen=True)
class Survey:
    """Heights on a regular grid along parallel tracks.

    Attributes
    ----------
    heights : (n_lines, n_points)
        Heights [m].
    line_y : (n_lines,)
        Lateral positions, positive left, rising [m].
    spacing : float
        Between points [m].
    """

    heights: Array
    line_y: Array
    spacing: float
