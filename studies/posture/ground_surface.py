"""The ground of one sample as a surface, for pictures: the raw heights under the wheels and on lines beside them.

Lines laid later never change those laid earlier, so the ground under the wheels is that of the sample.
"""

import math
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.studies.run.experiment import Experiment
from crossaxle.terrain.course import Course
from crossaxle.terrain.envelope import envelope, margin
from crossaxle.terrain.ground import APRON_AFTER, APRON_BEFORE, lay_ground

EXTRA_LINES = (0.0, 0.5, 1.6, 2.1)
"""Lateral positions, either side, of further lines [m]."""

TOO_NEAR = 0.2
"""A further line nearer than this to a wheel's is left out [m]."""


@dataclass(frozen=True)
class Surface:
    """Raw ground of a sample, without the large-scale slope.

    Attributes
    ----------
    heights : (lines, points)
        [m]
    line_y : (lines,)
        Lateral positions from right to left [m].
    spacing : float
        Between points [m].
    lead : int
        Number of the point at the sample's start.
    """

    heights: Array
    line_y: Array
    spacing: float
    lead: int

    def under(self, x: Array) -> Array:
        """Heights (lines, k) at places x (k,) along the sample [m]; the outermost ones beyond the ends."""
        points = (np.arange(self.heights.shape[1]) - self.lead) * self.spacing
        return np.array([np.interp(x, points, line) for line in self.heights])

    def reach(self) -> tuple[float, float]:
        """First and last place along the sample [m]."""
        return -self.lead * self.spacing, (self.heights.shape[1] - 1 - self.lead) * self.spacing

    def felt(self, x: float, radius: float, contact_length: float) -> Array:
        """Heights (lines,) that a tyre feels on each line at a place along the sample [m]."""
        half = margin(self.spacing, radius, contact_length)
        places = np.asarray(x + self.spacing * np.arange(-half, half + 1), np.float64)
        return np.asarray(
            envelope(self.under(places), self.spacing, radius, contact_length)[:, 0], np.float64
        )


def lay_surface(experiment: Experiment, course: Course, sample: int) -> Surface:
    """Lay the ground of a sample under the wheels of all candidates and beside them."""
    file = experiment.study.file
    drawn = [candidate for candidate in experiment.drawn(sample) if candidate is not None]
    own = [line for candidate in drawn for line in candidate.lines]
    wheels = tuple(dict.fromkeys(line.y for line in (*experiment.lines, *own)))
    beside = [
        side * y
        for y in EXTRA_LINES
        for side in (1.0, -1.0)
        if min(abs(side * y - wheel) for wheel in wheels) > TOO_NEAR
    ]
    lines = (*wheels, *dict.fromkeys(beside))
    before, after = (math.ceil(apron / file.spacing) for apron in (APRON_BEFORE, APRON_AFTER))
    laid = lay_ground(course, lines, file.spacing, experiment.n_positions, file.seed, sample, before, after)
    order = np.argsort(laid.line_y)
    return Surface(np.asarray(laid.heights[order], float), laid.line_y[order], laid.spacing, laid.lead)
