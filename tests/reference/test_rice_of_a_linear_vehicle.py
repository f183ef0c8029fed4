"""Rice, Bell Syst. Tech. J. 23-24 (1944-45): subset simulation over the ground of a linear vehicle, to 1e-7 per km.

Every force law stays on its reference segment, gravity is linearised and no disc is rolled, so that a wheel's load is a
linear filter of Gaussian ground (see test_crossing_rate_of_wheel_loads). The chance that it passes a level on a
stretch then follows from the crossing rate of points 10 cm apart; at such levels passings do not bunch.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from crossaxle.sim.recorder import make_recorder
from crossaxle.sim.reduced import reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.studies.rare.random_stretch import RandomStretch
from crossaxle.studies.rare.subset_simulation import Problem, rare_probability
from crossaxle.terrain.course import Course, CourseSection, Roughness
from crossaxle.terrain.tracks import TyreLine
from tests.reference.test_crossing_rate_of_wheel_loads import CONTACT, linear, process
from tests.shortcuts import wheel_lines

SPACING, LENGTH, HALF = 0.1, 200.0, 1.025


@pytest.fixture(scope="module")
def wheel_load(clinic):
    """Front left wheel load as a problem (score: how far it falls below its level value), and its closed form."""
    model = reduce(linear(clinic({"mount": "rigid"}).structure))
    rough = Roughness(iso_class="E", band_from=0.05, band_to=2.0)
    course = Course("closed form", {"all": CourseSection(share=1, roughness=rough)})
    lines = (TyreLine(HALF, 0.0, CONTACT), TyreLine(-HALF, 0.0, CONTACT))
    stretch = RandomStretch(course, lines, SPACING, round(LENGTH / SPACING), 60)
    runner = SampleRunner([model], make_recorder(model.outputs[: model.n_wheels]), linearised=True)
    row = wheel_lines(model.wheel_y, np.array([HALF, -HALF]))

    def score(state):
        laid = stretch.lay(state)
        ground = WheelTracks(
            laid.heights, row, SPACING, laid.grade, laid.side_slope, laid.lead, tuple(
                Segment(s.start, s.stop) for s in laid.segments
            ),
        )  # fmt: skip
        return float(runner.static_load[0] - runner.run(ground).minimum[0])

    return Problem(stretch.draw, stretch.move, score), process(model, rough.spectrum(), 0)


@pytest.mark.slow
@pytest.mark.parametrize("per_km", [1e-5, 1e-7])
def test_passings_of_a_wheel_load(wheel_load, per_km):
    """Levels whose closed-form rate is 1e-5 and 1e-7 per km: within the interval, and to a factor of 1.6.

    The factor allows what is left of bunching (a passing may dip below the level again) and about two standard
    errors of the estimate.
    """
    problem, closed = wheel_load
    deviation = np.sqrt(closed.moment(0))
    level = brentq(lambda u: np.log(1e3 * closed.sampled_rate(u, SPACING) / per_km), deviation, 9 * deviation)
    found = rare_probability(problem, level, states=200, repeats=5, seed=3).probability
    rate = found.times(1e3 / LENGTH)
    print(f"per km: closed form {per_km:.0e}, found {rate.value:.2e} ({rate.low:.1e} to {rate.high:.1e})")
    assert rate.low <= per_km <= rate.high
    assert per_km / 1.6 < rate.value < per_km * 1.6
