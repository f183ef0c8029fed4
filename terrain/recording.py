"""Surveyed ground laid as measured: the survey closed to a ring and rolled out from a random place."""

import numpy as np

from crossaxle.arrays import Float32
from crossaxle.terrain.survey import Survey, resampled

JOIN = 5.0
"""Length over which the survey's end is blended into its start [m]; less for a short survey."""


def lay_recording(
    survey: Survey, lines_y: tuple[float, ...], spacing: float, n_points: int, rng: np.random.Generator
) -> Float32:
    """Lay a survey end to end.

    Parameters
    ----------
    survey : Survey
        Detrended.
    lines_y : tuple of float, length n_lines
        Lateral positions [m]; each takes the nearest surveyed line.
    spacing : float
        Between points [m].
    n_points : int
    rng : numpy.random.Generator
        Chooses the starting place.

    Returns
    -------
    (n_lines, n_points)
        Heights [m].
    """
    regular = resampled(survey, spacing)
    nearest = [int(np.argmin(np.abs(survey.line_y - y))) for y in lines_y]
    heights = regular.heights[nearest]
    size = heights.shape[1]
    join = min(round(JOIN / spacing), size // 4)
    phase = np.pi / 2 * (np.arange(join) + 0.5) / join
    ring = heights[:, : size - join].copy()
    ring[:, :join] = np.cos(phase) * heights[:, size - join :] + np.sin(phase) * heights[:, :join]
    place = (int(rng.integers(ring.shape[1])) + np.arange(n_points)) % ring.shape[1]
    return ring[:, place].astype(np.float32)
