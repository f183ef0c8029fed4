"""Intervals: limits that are known in closed form, and coverage over synthetic repeats with known truth."""

import numpy as np
import pytest
from scipy import stats
from scipy.special import gammaincinv

from crossaxle.studies.analysis.comparison import compare_levels, compare_rates
from crossaxle.studies.base.intervals import bunch_size, met_once, order_bounds, rate

REPEATS = 2000


def counts(kind: str, size: float, total: float, n: int, random: np.random.Generator) -> np.ndarray:
    """Counts of n samples in REPEATS studies, ``total`` expected in each study."""
    shape = (REPEATS, n)
    if kind == "bunches":  # geometric bunches of mean size
        many = random.poisson(total / n / size, shape)
        return (
            many + random.negative_binomial(np.maximum(many, 1), 1 / size) * (many > 0) if size > 1 else many
        )
    return random.poisson(random.gamma(size, total / n / size, shape))  # ground of varying roughness


@pytest.mark.parametrize(
    "kind, size", [("bunches", 1), ("bunches", 2), ("bunches", 3), ("rough", 1), ("rough", 0.1)]
)
@pytest.mark.parametrize("total", [30, 100, 1000])
def test_interval_of_a_rate_holds_the_truth_92_to_98_times_in_100(kind, size, total):
    """200 samples; the bounds are those demanded, the allowance of 0.8 is 1.6 standard errors of 2000 repeats."""
    random = np.random.default_rng(11)
    got = rate(counts(kind, size, total, 200, random), np.full(200, 1000.0))
    truth = total / 200e3
    covered = 100 * np.mean((got.low <= truth) & (truth <= got.high))
    assert 92 - 0.8 <= covered <= 98 + 0.8


@pytest.mark.parametrize("size", [1.0, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("total", [0.5, 2, 6, 10, 20])
def test_few_events_are_never_covered_less_than_92_times_in_100(size, total):
    """A known bunch size is passed on, as the report does from candidates with more events."""
    random = np.random.default_rng(12)
    got = rate(counts("bunches", size, total, 200, random), np.full(200, 1.0), bunch=max(size, 2.0))
    truth = total / 200
    assert np.mean((got.low <= truth) & (truth <= got.high)) >= 0.92 - 0.008


def test_twenty_samples_of_a_tenth_of_an_event_each():
    random = np.random.default_rng(13)
    got = rate(random.poisson(0.1, (REPEATS, 20)), np.full(20, 1.0))
    assert np.mean((got.low <= 0.1) & (got.high >= 0.1)) >= 0.92


def test_even_counts_approach_the_exact_poisson_interval():
    """Poisson counts without bunching: Garwood's interval (chi-squared) for the total, to 3 % of its ends."""
    random = np.random.default_rng(14)
    amount = random.poisson(0.5, (400, 200))
    got = rate(amount, np.full(200, 1.0), bunch=1.0)
    total = amount.sum(axis=1)
    low, high = gammaincinv(total, 0.025) / 200, gammaincinv(total + 1, 0.975) / 200
    assert np.median(got.low / low) == pytest.approx(1, abs=0.03)
    assert np.median(got.high / high) == pytest.approx(1, abs=0.03)


def test_no_event_gives_the_rule_of_three():
    got = rate(np.zeros(50), np.full(50, 2.0), bunch=1.0)
    assert (got.value, got.low) == (0, 0)
    assert got.high == pytest.approx(3 / 100, rel=0.002)  # -ln(0.05) = 2.996


def test_all_samples_equal_still_leaves_an_interval():
    got = rate(np.full(200, 3.0), np.full(200, 1.0))
    assert got.low < 3.0 < got.high
    one = rate(np.array([4.0]), np.array([1.0]))
    assert one.low < 4.0 < one.high


def test_one_event_in_two_samples_says_less_than_one_in_two_hundred():
    """On one distance: how two samples differ tells next to nothing, and the bound has to say so."""
    few = rate(np.array([1.0, 0.0]), np.full(2, 100.0), bunch=1.0)
    many = rate(np.eye(200)[0], np.full(200, 1.0), bunch=1.0)
    assert few.value == pytest.approx(many.value)
    assert few.high > 2 * many.high


def test_missing_samples_are_left_out_and_nothing_driven_is_not_a_number():
    amount = np.array([1.0, np.nan, 3.0, 0.0])
    with_gap = rate(amount, np.ones(4))
    without = rate(amount[[0, 2, 3]], np.ones(3))
    assert (with_gap.value, with_gap.low, with_gap.high) == (without.value, without.low, without.high)
    nothing = rate(np.full(4, np.nan), np.ones(4))
    assert np.isnan([nothing.value, nothing.low, nothing.high]).all()


def test_splitting_samples_in_two_does_not_narrow_the_interval_of_bunched_events():
    """Duplicated events (each twice as large) must widen the interval as much as half as many events would."""
    random = np.random.default_rng(15)
    single = random.poisson(1.0, 200).astype(float)
    narrow, wide = rate(single, np.ones(200)), rate(2 * single, np.ones(200))
    assert wide.high - wide.low == pytest.approx(2 * (narrow.high - narrow.low), rel=0.02)


def test_bunch_size_is_found_from_the_rarest_row_with_enough_events():
    random = np.random.default_rng(16)
    bunched = 4.0 * random.poisson(0.5, 400)
    single = random.poisson(2.0, 400).astype(float)
    few = np.zeros(400)
    few[3] = 1
    assert bunch_size(np.stack([bunched, 3 * single, few]), np.ones(400)) == pytest.approx(4.0, rel=0.25)
    assert bunch_size(few[None], np.ones(400)) == 2.0


@pytest.mark.parametrize("n", [50, 200])
def test_level_met_once_against_a_known_distribution(n):
    """Gumbel maxima: the level met once in L is the quantile exp(-d/L); order statistics cover at least 95 %."""
    random = np.random.default_rng(17)
    got = met_once(random.gumbel(size=(REPEATS, n)), np.full(n, 1000.0), n * 100.0)
    truth = stats.gumbel_r.ppf(np.exp(-10 / n))
    assert 0.94 <= np.mean((got.low <= truth) & (truth <= got.high)) <= 0.99
    assert np.median(got.value) == pytest.approx(truth, abs=0.05)


def test_a_level_beyond_the_samples_has_no_upper_bound():
    got = met_once(np.arange(10.0), np.ones(10), 1000.0)
    assert np.isinf(got.high) and np.isfinite(got.low)


@pytest.mark.parametrize("n", [5, 10, 40])
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_smallest_and_largest_value_are_bounds_as_long_as_luck_allows(n, level):
    """All n values lie below the quantile of p with chance p^n: the largest bounds it while that is within the tail."""
    values, tail = np.arange(float(n)), (1 - level) / 2
    last = tail ** (1 / n)
    for step in (-1e-6, 1e-6):
        low, high = order_bounds(values, last + step, level)
        assert high == (n - 1 if step < 0 else np.inf)
        assert low <= n - 2
        mirrored = order_bounds(values, 1 - last - step, level)
        assert mirrored == (n - 1 - high, n - 1 - low)


@pytest.mark.parametrize("mean_a, mean_b", [(1000, 50), (100, 20), (50, 1), (20, 20)])
def test_ratio_and_difference_of_rates_hold_the_truth(mean_a, mean_b):
    random = np.random.default_rng(18)
    good = np.zeros(2)
    repeats, n = 300, 200
    for _ in range(repeats):
        ground = random.gamma(1.0, 1.0, n)
        a, b = (random.poisson(m / n * ground).astype(float) for m in (mean_a, mean_b))
        found = compare_rates(a, b, np.ones(n), np.ones(n))
        good += (
            found.ratio.low <= mean_a / mean_b <= found.ratio.high,
            found.difference.low <= (mean_a - mean_b) / n <= found.difference.high,
        )
    assert (good / repeats >= 0.92).all()


def test_pairs_on_common_ground_need_fewer_samples_than_separate_ones():
    """Mean lean of two candidates on common ground: variance of the difference, paired against unpaired."""
    random = np.random.default_rng(19)
    ground = random.gumbel(size=400)
    a, b = ground + 0.3 * random.gumbel(size=400) + 1.0, ground + 0.3 * random.gumbel(size=400)
    paired = compare_levels(a, b, np.ones(400), 10.0).difference
    apart = compare_levels(a, random.permutation(b), np.ones(400), 10.0).difference
    ratio = ((apart.high - apart.low) / (paired.high - paired.low)) ** 2
    print(f"variance ratio unpaired/paired: {ratio:.1f}")
    assert ratio > 2
    assert paired.low < 1.0 < paired.high


def test_none_against_some_gives_a_lower_bound_and_a_chance_short_of_certain():
    b = np.zeros(200)
    b[:60] = 1.0
    found = compare_rates(b, np.zeros(200), np.ones(200), np.ones(200))
    assert np.isinf(found.ratio.value) and np.isinf(found.ratio.high)
    assert 3 < found.ratio.low < 60
    assert 0 < found.chance_less < 0.01
    same = compare_rates(np.zeros(200), np.zeros(200), np.ones(200), np.ones(200))
    assert same.chance_less == 0.5 and np.isnan(same.ratio.value)
