"""Subset simulation against closed forms: a normal tail, and the sampled form of Rice's rate for a Gaussian track.

For a Gaussian series of n points at spacing dx the maximum passes u with probability close to
1 - exp(-n P(X0 < u, X1 >= u)) for high u (passings are rare and hardly bunched); Rice (Bell Syst. Tech. J.
23-24, 1944-45) is its limit for small dx.
"""

import numpy as np
import pytest
from scipy import stats

from crossaxle.studies.rare.subset_simulation import Problem, rare_probability


def blend(z, size, random):
    return np.sqrt(1 - size**2) * z + size * random.standard_normal(z.size)


@pytest.mark.parametrize("level", [2.0, 4.0, 5.2])
def test_normal_tail(level, checked):
    """One direction of 200: P = 0.023, 3.2e-5, 1e-7; within the interval and within 40 %."""
    along = np.ones(200) / np.sqrt(200)
    problem = Problem(lambda r: r.standard_normal(200), blend, lambda z: float(along @ z))
    found = rare_probability(problem, level, seed=1).probability
    truth = stats.norm.sf(level)
    assert found.value == pytest.approx(truth, rel=0.4)
    checked("chances down to 1e-7 by subset simulation", "normal tail", abs(found.value / truth - 1))
    assert found.low <= truth <= found.high


@pytest.mark.parametrize("level", [3.5, 4.6, 6.2])
def test_maximum_of_a_gaussian_track(level, checked):
    """100 m at 0.1 m of a track with waves of 2 to 20 m: chances per track about 2e-2, 2e-4 and 4e-8."""
    n, dx = 1000, 0.1
    harmonic = np.arange(5, 51)  # cycles per 100 m
    amplitude = 1.0 / harmonic
    amplitude /= np.sqrt(np.sum(amplitude**2))
    phase = 2 * np.pi * np.outer(np.arange(n) * dx / 100, harmonic)
    matrix = np.hstack([np.cos(phase) * amplitude, np.sin(phase) * amplitude])
    problem = Problem(
        lambda r: r.standard_normal(2 * harmonic.size), blend, lambda z: float((matrix @ z).max())
    )
    found = rare_probability(problem, level, states=400, repeats=6, seed=2)
    rho = float(np.sum(amplitude**2 * np.cos(2 * np.pi * harmonic * dx / 100)))
    both = stats.multivariate_normal.cdf([-level, -level], cov=[[1, rho], [rho, 1]], abseps=1e-14)
    crossing = stats.norm.sf(level) - both
    truth = -np.expm1(-n * crossing)
    assert found.probability.value == pytest.approx(truth, rel=0.5)
    checked(
        "chances down to 4e-8 by subset simulation",
        "crossing rate of a Gaussian track",
        abs(found.probability.value / truth - 1),
    )
    assert found.probability.low / 1.15 <= truth <= found.probability.high * 1.15
    assert found.evaluations < 25_000


def test_interval_covers_the_truth_in_repeats():
    """60 estimates of P(X > 3.5): a 95 % interval must hold in at least 50 (expected 57, standard error 1.7)."""
    along = np.ones(20) / np.sqrt(20)
    problem = Problem(lambda r: r.standard_normal(20), blend, lambda z: float(along @ z))
    truth = stats.norm.sf(3.5)
    held = 0
    for seed in range(60):
        found = rare_probability(problem, 3.5, states=200, repeats=6, seed=seed).probability
        held += found.low <= truth <= found.high
    assert held >= 50


def test_a_level_out_of_reach_gives_an_upper_bound():
    """A normal variable at 12 deviations, P = 2e-33: ten steps of a tenth each do not get there.

    The bound is the rule of three for the states of the last one.
    """
    problem = Problem(lambda r: r.standard_normal(1), blend, lambda z: float(z[0]))
    found = rare_probability(problem, 12.0, states=100, repeats=3).probability
    assert found.value == 0 and 1e-12 < found.high < 1e-9


def test_a_score_that_gets_no_further_bounds_no_more_than_was_tried():
    """A score that is 1 in a fifth of cases and never more: nothing is said beyond 3 in the states drawn."""
    problem = Problem(lambda r: r.standard_normal(3), blend, lambda z: float(z[0] > 0.8416))
    found = rare_probability(problem, 1.5, states=100, repeats=3).probability
    assert found.value == 0 and found.high == pytest.approx(0.03)


def test_too_few_states_are_refused():
    problem = Problem(lambda r: r.random(3), lambda z, size, r: r.random(3), lambda z: float(z.max()))
    with pytest.raises(ValueError, match="at least 100 and 3 are needed"):
        rare_probability(problem, 1.5, states=10)
