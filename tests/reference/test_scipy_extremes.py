"""Return levels of block maxima against scipy's generalised extreme value distribution with known truth."""

import numpy as np
import pytest
from scipy import stats

from crossaxle.studies.analysis.extremes import fit_extremes

BLOCK = 1000.0


def drawn(shape: float, n: int, seed: int) -> np.ndarray:
    """Maxima with location 5 and scale 2; scipy's shape has the opposite sign."""
    return stats.genextreme.rvs(-shape, loc=5, scale=2, size=n, random_state=np.random.default_rng(seed))


@pytest.mark.parametrize("shape", [-0.2, 0.0, 0.15])
def test_fit_agrees_with_maximum_likelihood(shape, checked):
    """20 000 maxima: L-moments and scipy's maximum likelihood both are within 1.5 % of the true quantiles."""
    x = drawn(shape, 20_000, 1)
    found = fit_extremes(x, BLOCK)
    c, loc, scale = stats.genextreme.fit(x, 0.0, loc=5, scale=2)
    for every in (10, 1000):
        p = np.exp(-1 / every)
        truth = stats.genextreme.ppf(p, -shape, loc=5, scale=2)
        likely = stats.genextreme.ppf(p, c, loc=loc, scale=scale)
        level = found.level(every * BLOCK)
        assert level.value == pytest.approx(truth, rel=0.02)
        assert level.value == pytest.approx(likely, rel=0.02)
        checked("return levels by L-moments", "scipy, maximum likelihood", abs(level.value / likely - 1))
        assert found.passings(float(truth)).value * BLOCK == pytest.approx(1 / every, rel=0.1)


@pytest.mark.parametrize("shape", [-0.2, 0.0, 0.1])
@pytest.mark.parametrize("every", [100, 10_000])
def test_intervals_hold_the_true_return_level(shape, every):
    """200 blocks, up to 50 times beyond them; 200 repeats, so one standard error is 1.5 points."""
    truth = stats.genextreme.ppf(np.exp(-1 / every), -shape, loc=5, scale=2)
    held = 0
    for k in range(200):
        level = fit_extremes(drawn(shape, 200, 100 + k), BLOCK).level(every * BLOCK)
        held += level.low <= truth <= level.high
    assert held / 200 >= 0.88


def test_poor_fits_are_said_so_and_good_ones_rarely_are():
    """A mixture of two kinds of sample is no GEV; true GEV samples fail in about one case of twenty."""
    random = np.random.default_rng(3)
    mixed = np.concatenate([random.normal(0, 1, 100), random.normal(12, 1, 100)])
    assert fit_extremes(mixed, BLOCK).poor
    poor = [fit_extremes(drawn(0.05, 100, k), BLOCK).poor for k in range(200)]
    assert 0.01 <= np.mean(poor) <= 0.10


def test_risk_over_a_distance():
    """Chance 1 - exp(-D/T): 10 % over D is met once in 9.49 D."""
    found = fit_extremes(drawn(0.0, 300, 7), BLOCK)
    assert found.risked(0.1, 1e6).value == pytest.approx(found.level(1e6 / -np.log(0.9)).value)
    assert found.risked(0.01, 1e6).value > found.risked(0.1, 1e6).value
    for bad in (0.0, 1.0, -1):
        with pytest.raises(ValueError, match="must be above 0 and below 1"):
            found.risked(bad, 1e6)


def test_a_bounded_tail_never_passes_its_bound_and_few_or_equal_values_are_not_fitted():
    found = fit_extremes(drawn(-0.3, 400, 9), BLOCK)
    mu, sigma, xi = found.fit
    assert xi < 0
    bound = mu - sigma / xi
    assert found.level(1e15).value < bound
    assert found.passings(bound + 0.01).value == 0
    assert fit_extremes(np.full(200, 3.0), BLOCK) is None
    assert fit_extremes(drawn(0.0, 10, 1), BLOCK) is None
    assert fit_extremes(np.full(200, np.nan), BLOCK) is None
