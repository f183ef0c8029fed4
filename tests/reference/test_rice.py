"""Rice, Mathematical analysis of random noise, Bell Syst. Tech. J. 23-24 (1944-45): rate of level crossings.

A Gaussian process passes the level u upwards sqrt(l2/l0)/(2 pi) exp(-u^2/(2 l0)) times a metre. Points a distance apart
miss pairs of crossings between them; the rate that they show follows from the bivariate normal.
"""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from crossaxle.terrain.closed_form import HeightCombination, Process, cross_level, height, sampled_rate, warp
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.course import Course, CourseSection, Roughness
from crossaxle.terrain.envelope import envelope
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.spectrum import Spectrum
from tests.reference.rice_formula import combination_power, rice_upcrossings
from tests.shortcuts import contact_transfer

BAND = Spectrum(1e-3, 0.05, 1.0)
WHEELBASE, TRACK, SPACING = 4.5, 2.0, 0.05


@pytest.mark.parametrize(("deviations", "rate"), [(0, 0.223607), (1, 0.135624), (2, 0.030262)])
def test_rates_of_one_track(deviations: int, rate: float) -> None:
    """For w = 2 the moments' ratio is (2 pi)^2 n1 n2, so Rice's rate at the mean is sqrt(n1 n2).

    The six digits are computed from that; Rice prints no such table.
    """
    found = Process(height(), BAND, Coherence()).rice_rate(deviations * BAND.moment(0) ** 0.5)
    assert found == pytest.approx(rate, abs=1e-6)
    assert rate == pytest.approx(np.sqrt(0.05) * np.exp(-(deviations**2) / 2), abs=1e-6)


@pytest.mark.parametrize("deviations", [0.0, 1.0, 2.0])
@pytest.mark.parametrize(
    "combination",
    [height(), cross_level(TRACK), warp(WHEELBASE, TRACK)],
    ids=["height", "cross-level", "warp"],
)
def test_rates_are_those_of_the_formula_written_out(
    combination: HeightCombination, deviations: float, checked
) -> None:
    """Spectrum, coherence and integrals written out apart from the package; Simpson's rule errs by less than 1e-9."""
    process = Process(combination, BAND, Coherence())
    level = deviations * process.moment(0) ** 0.5
    power = combination_power(
        lambda f: 1e-3 * (f / 0.1) ** -2.0, combination.x, combination.y, combination.factor
    )
    difference = abs(process.rice_rate(level) - rice_upcrossings(power, 0.05, 1.0, level))
    assert difference < 1e-8
    checked("rate of level crossings of ground", "Rice 1944-45, formula by quadrature", difference, "1/m")


@pytest.mark.parametrize("correlation", [-0.3, 0.2, 0.9, 0.999])
@pytest.mark.parametrize("level", [-1.0, 0.0, 1.5, 3.0])
def test_sampled_rate_is_the_bivariate_normal_probability(correlation: float, level: float, checked) -> None:
    """Against scipy's multivariate normal, P(X0 < u) - P(X0 < u, X1 < u); its default accuracy is 1e-5 absolute."""
    both = multivariate_normal(cov=[[1, correlation], [correlation, 1]], abseps=1e-10, releps=1e-10)
    one = multivariate_normal(cov=[[1]])
    expected = one.cdf(level) - both.cdf([level, level])
    # variance 4, so that levels and covariances are scaled too
    found = sampled_rate(4.0, 4.0 * correlation, 2 * level, 0.5)
    assert found == pytest.approx(expected / 0.5, abs=1e-9)
    checked("rate of crossings between points", "scipy, bivariate normal", abs(found - expected / 0.5), "1/m")


def test_sampled_rate_tends_to_rice() -> None:
    """The loss falls with the square of the spacing; it is 1 % at 5 cm for a band up to 2 cycle/m."""
    process = Process(height(), Spectrum(1e-3, 0.05, 2.0), Coherence())
    level = 2 * process.moment(0) ** 0.5
    rice = process.rice_rate(level)
    loss = [1 - process.sampled_rate(level, spacing) / rice for spacing in (0.05, 0.025, 0.0125)]
    assert loss[0] == pytest.approx(0.01, abs=0.004)
    assert loss[0] / loss[1] == pytest.approx(4, rel=0.03)
    assert loss[1] / loss[2] == pytest.approx(4, rel=0.03)


@pytest.mark.parametrize("deviations", [0.0, 1.0, 2.0, 3.0])
@pytest.mark.parametrize(
    "combination",
    [height(), cross_level(TRACK), warp(WHEELBASE, TRACK)],
    ids=["height", "cross-level", "warp"],
)
def test_laid_ground_crosses_levels_at_the_rate(
    combination: HeightCombination, deviations: float, laid: list, checked
) -> None:
    """40 samples of 1 km: the mean count must meet the sampled rate within four of its own standard deviations,

    and Rice's rate within the same and the 2 % that sampling loses at most in this band.
    """
    process = Process(combination, BAND_2, Coherence())
    level = deviations * process.moment(0) ** 0.5
    counts = np.array([upcrossings(series(combination, z), level) for z in laid]) / 1000.0
    error = counts.std(ddof=1) / np.sqrt(counts.size)
    assert abs(counts.mean() - process.sampled_rate(level, SPACING)) < 4 * error
    assert abs(counts.mean() - process.rice_rate(level)) < 4 * error + 0.02 * process.rice_rate(level)
    worst = abs(counts.mean() - process.sampled_rate(level, SPACING)) / error
    checked(
        "rates of level crossings of laid ground", "closed form (bivariate normal)", worst, "standard errors"
    )


def test_contact_average_is_a_filter_in_the_formula(laid: list) -> None:
    """The average over the contact, disc off, enters as its gain; variance and rate of warp at two deviations."""

    def gain(n: np.ndarray) -> np.ndarray:
        return contact_transfer(n, SPACING, 0.42)

    combination = warp(WHEELBASE, TRACK)
    process = Process(combination, BAND_2, Coherence(), gain)
    level = 2 * process.moment(0) ** 0.5
    smooth = [series(combination, envelope(z, SPACING, 0.0, 0.42)) for z in laid]
    variance = np.array([np.mean(x**2) for x in smooth])
    assert abs(variance.mean() - process.moment(0)) < 4 * variance.std() / np.sqrt(len(laid))
    metres = SPACING * (smooth[0].size - 1)
    rate = np.array([upcrossings(x, level) for x in smooth]) / metres
    assert abs(rate.mean() - process.sampled_rate(level, SPACING)) < 4 * rate.std() / np.sqrt(len(laid))


BAND_2 = Spectrum(16384e-6, 0.05, 2.0)


@pytest.fixture(scope="module")
def laid() -> list[np.ndarray]:
    rough = Roughness(iso_class="F", band_from=0.05, band_to=2.0)
    course = Course("class F", {"all": CourseSection(share=1, roughness=rough)})
    extra = round(WHEELBASE / SPACING)
    return [
        lay_ground(course, (TRACK / 2, -TRACK / 2), SPACING, 20_001 + extra, seed=3, sample=k).heights.astype(
            float
        )
        for k in range(40)
    ]


def series(combination: HeightCombination, z: np.ndarray) -> np.ndarray:
    """Combination along the ground; the first 4.5 m are left for the rear axle."""
    lead = round(WHEELBASE / SPACING)
    total = np.zeros(z.shape[1] - lead)
    for x, y, factor in zip(combination.x, combination.y, combination.factor, strict=True):
        shift = lead + round(x / SPACING)
        total += factor * z[0 if y >= 0 else 1, shift : shift + total.size]
    return total


def upcrossings(x: np.ndarray, level: float) -> int:
    return int(np.sum((x[:-1] < level) & (x[1:] >= level)))
