"""Sobol indices of the Ishigami function, known in closed form, and of scipy's own estimate.

Y = sin x1 + a sin^2 x2 + b x3^4 sin x1 with a = 7, b = 0.1 and x uniform on (-pi, pi) (Ishigami and Homma 1990):
V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = 8 b^2 pi^8/225, so S = 0.3139, 0.4424, 0.
"""

import numpy as np
import pytest
from scipy import stats

from crossaxle.studies.analysis.sensitivity import sensitivity

A, B = 7.0, 0.1
V1, V2, V13 = (1 + B * np.pi**4 / 5) ** 2 / 2, A**2 / 8, 8 * B**2 * np.pi**8 / 225
FIRST = np.array([V1, V2, 0.0]) / (V1 + V2 + V13)


def ishigami(x):
    return np.sin(x[0]) + A * np.sin(x[1]) ** 2 + B * x[2] ** 4 * np.sin(x[0])


def drawn(n: int, seed: int) -> np.ndarray:
    return np.pi * (2 * np.random.default_rng(seed).random((n, 3)) - 1)


def test_many_samples_give_the_closed_form(checked):
    """20 000 samples: to 0.03, what a polynomial of degree 8 leaves of sin^2 over a whole period."""
    x = drawn(20_000, 1)
    found = sensitivity(x, ishigami(x.T))
    assert found.first.value == pytest.approx(FIRST, abs=0.03)
    checked(
        "first-order Sobol indices",
        "Ishigami function, closed form",
        np.abs(found.first.value - FIRST).max(),
        "absolute",
    )
    assert found.rest.value == pytest.approx(1 - FIRST.sum(), abs=0.05)


def test_agrees_with_scipys_design(checked):
    found = stats.sobol_indices(
        func=ishigami, n=4096, dists=[stats.uniform(-np.pi, 2 * np.pi)] * 3, rng=np.random.default_rng(2)
    )
    x = drawn(20_000, 3)
    own = sensitivity(x, ishigami(x.T)).first.value
    assert own == pytest.approx(found.first_order, abs=0.04)
    checked(
        "first-order Sobol indices",
        "scipy.stats.sobol_indices",
        np.abs(own - found.first_order).max(),
        "absolute",
    )


def test_intervals_of_200_noisy_samples_hold_the_truth():
    """Linear sum of three inputs and ground noise: shares 4/9, 1/9, 0 and 4/9; 200 repeats, at least 90 % each."""
    truth = np.array([4, 1, 0, 4]) / 9
    held = np.zeros(4)
    for k in range(200):
        random = np.random.default_rng(k)
        x = random.normal(size=(200, 3))
        found = sensitivity(x, 2 * x[:, 0] + x[:, 1] + 2 * random.normal(size=200))
        low, high = np.append(found.first.low, found.rest.low), np.append(found.first.high, found.rest.high)
        held += (low <= truth) & (truth <= high)
    assert (held / 200 >= 0.90).all()


def test_an_input_of_two_values_and_one_that_never_varies():
    random = np.random.default_rng(4)
    x = np.stack([random.integers(0, 2, 400), np.ones(400)], axis=1).astype(float)
    found = sensitivity(x, 3 * x[:, 0] + 0.1 * random.normal(size=400))
    assert found.first.value[0] > 0.98 and found.first.value[1] < 0.02


def test_nothing_to_tell():
    x = drawn(100, 5)
    assert sensitivity(x, np.ones(100)) is None
    assert sensitivity(x[:10], ishigami(x[:10].T)) is None
