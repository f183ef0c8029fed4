"""ISO 8608:2016, Mechanical vibration - Road surface profiles: classes, spectrum and waviness.

The table of the classes was read in secondary sources that cite the standard. Limits between classes are the
geometric means of neighbours.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.signal import welch

from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.course import Course, CourseSection, Roughness
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.roughness import lay_roughness
from crossaxle.terrain.spectrum import Spectrum, iso_class, nearest_class

MEANS = {"A": 16, "B": 64, "C": 256, "D": 1024, "E": 4096, "F": 16384, "G": 65536, "H": 262144}
UPPER_LIMITS = {"A": 32, "B": 128, "C": 512, "D": 2048, "E": 8192, "F": 32768, "G": 131072}


def philox(pair: int) -> np.random.Generator:
    return np.random.Generator(np.random.Philox([11, pair]))


@pytest.mark.parametrize(("name", "mean"), MEANS.items())
def test_geometric_mean_at_a_tenth_of_a_cycle_per_metre(name: str, mean: float, checked) -> None:
    """The tabled values are G(0.1 cycle/m) in 1e-6 m3; a table, so exact."""
    found = iso_class(name, 0.01, 10).density(0.1)
    assert found == pytest.approx(mean * 1e-6, rel=1e-12)
    checked("geometric means of the classes", "ISO 8608:2016", abs(found / (mean * 1e-6) - 1))
    assert Roughness(iso_class=name, band_from=0.01, band_to=2).spectrum() == iso_class(name, 0.01, 2)


@pytest.mark.parametrize(("name", "limit"), UPPER_LIMITS.items())
def test_classes_change_at_their_limits(name: str, limit: float) -> None:
    following = chr(ord(name) + 1)
    assert nearest_class(0.999e-6 * limit) == name
    assert nearest_class(1.001e-6 * limit) == following


def test_laid_ground_has_the_spectrum_of_its_class(checked) -> None:
    """Through course and ground, class E at 0.1 cycle/m; 20 km leave 2 % scatter there, bound three times that."""
    course = Course(
        "one class",
        {"all": CourseSection(share=1, roughness=Roughness(iso_class="E", band_from=0.01, band_to=2))},
    )
    ground = lay_ground(course, (1.0, -1.0), 0.1, 200_000, seed=1, sample=0)
    waves, density = welch(ground.heights.astype(float), fs=10, nperseg=4000)
    near = (waves > 0.07) & (waves < 0.14)
    level = np.mean(density[:, near] * (waves[near] / 0.1) ** 2)
    assert level == pytest.approx(4096e-6, rel=0.06)
    checked(
        "level of laid class E ground, 20 km", "ISO 8608:2016 by Welch's estimate", abs(level / 4096e-6 - 1)
    )


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5])
def test_welch_spectrum_has_slope_and_level(waviness: float, checked) -> None:
    """Welch's method (IEEE Trans. Audio Electroacoust. 15, 1967) on 2 x 40 km.

    About 800 segments of 100 m (Hann, half overlapped, two tracks) leave a scatter of 3.7 % at each frequency; the
    line through 145 of them is known to about 0.005 in slope and 0.5 % in level. Bounds: four times that. Coarse
    segments leak; the fit starts at ten times their lowest frequency, where this is below 1 %.
    """
    spectrum = Spectrum(1e-3, 0.02, 2.0, waviness)
    heights = lay_roughness(spectrum, Coherence("independent"), (1.0, -1.0), 0.1, 400_000, philox)
    waves, density = welch(heights.astype(float), fs=10, nperseg=1000)
    inside = (waves >= 0.1) & (waves <= 1.5)
    slope, level = np.polyfit(np.log(waves[inside] / 0.1), np.log(density.mean(axis=0)[inside]), 1)
    assert slope == pytest.approx(-waviness, abs=0.02)
    checked("waviness of laid ground", "Welch's estimate", abs(slope + waviness), "absolute")
    assert np.exp(level) == pytest.approx(1e-3, rel=0.025)


def test_nothing_outside_the_band() -> None:
    heights = lay_roughness(Spectrum(1e-3, 0.1, 1.0), Coherence(), (1.0, -1.0), 0.1, 20_000, philox)
    power = np.abs(np.fft.rfft(heights.astype(float))) ** 2
    waves = np.fft.rfftfreq(20_000, 0.1)
    outside = (waves < 0.1 - 1e-3) | (waves > 1.0 + 1e-3)
    # single precision: rounding of 6e-8 of the amplitude spread over all frequencies
    assert power[:, outside].max() < 1e-9 * power.max()


@pytest.mark.parametrize("n_points", [2000, 20_000, 65_537])
@pytest.mark.parametrize("spacing", [0.05, 0.13])
def test_expected_variance_is_exact_for_every_length(n_points: int, spacing: float) -> None:
    """Mean over samples of the variance about zero against the integral 2 n0^2 G (1/n1 - 1/n2)/2 for w = 2.

    One sample of the circle of harmonics has variance sum S_k chi2_2/2, so its standard deviation is known
    exactly; the mean over 60 tracks must lie within four of the mean's standard deviations.
    """
    spectrum = Spectrum(1e-3, 0.03, 2.0)
    exact = 1e-3 * 0.01 * (1 / 0.03 - 1 / 2.0)
    found = []
    for sample in range(60):
        z = lay_roughness(
            spectrum,
            Coherence("independent"),
            (1.0,),
            spacing,
            n_points,
            lambda pair, k=sample: np.random.Generator(np.random.Philox([k, pair])),
        )
        found.append(float(np.mean(z.astype(float) ** 2)))
    error = np.std(found) / np.sqrt(len(found))
    assert abs(np.mean(found) - exact) < 4 * error


class AllOnes:
    """Instead of a random generator: every harmonic gets its standard deviation in both parts."""

    def standard_normal(self, out: np.ndarray, dtype: type) -> None:
        out[:] = 1.0


@pytest.mark.parametrize("lower", [0.01, 0.0137])
def test_every_harmonic_has_the_variance_of_its_cell(lower: float) -> None:
    """With unit coefficients a harmonic's mean square is the spectrum's integral over its cell, in all the band's.

    On a circle of 10 000 points; single precision of the transform, hence 1e-5 relative.
    """
    n_points, spacing, level = 10_000, 0.1, 1e-3
    z = lay_roughness(
        Spectrum(level, lower, 2.0), Coherence("independent"), (0.0,), spacing, n_points, lambda _: AllOnes()
    )[0]
    assert np.mean(z.astype(float) ** 2) == pytest.approx(level * 0.01 * (1 / lower - 1 / 2.0), rel=1e-5)
    power = 2 * np.abs(np.fft.rfft(z.astype(float)) / n_points) ** 2
    for k in (30, 100, 1000):
        low, high = (k - 0.5) / 1000, (k + 0.5) / 1000
        assert power[k] == pytest.approx(level * 0.01 * (1 / low - 1 / high), rel=1e-4)


def test_two_slopes_meet_at_the_break() -> None:
    spectrum = Spectrum(1e-3, 0.01, 5.0, waviness=2.0, waviness_above=1.5, break_at=0.3)
    assert spectrum.density(0.1) == pytest.approx(1e-3)
    assert spectrum.density(0.3 - 1e-9) == pytest.approx(spectrum.density(0.3 + 1e-9), rel=1e-6)
    assert spectrum.density(3.0) / spectrum.density(0.3) == pytest.approx(10**-1.5)
    n = np.geomspace(0.01, 5.0, 200_001)
    assert spectrum.moment(0) == pytest.approx(np.trapezoid(spectrum.density(n), n), rel=1e-6)
    assert spectrum.moment(2) == pytest.approx(
        np.trapezoid((2 * np.pi * n) ** 2 * spectrum.density(n), n), rel=1e-6
    )


def test_level_above_the_break_is_kept() -> None:
    spectrum = Spectrum(1e-3, 0.01, 5.0, waviness=2.0, waviness_above=1.5, break_at=0.3, reference=1.0)
    assert spectrum.density(1.0) == pytest.approx(1e-3)
    assert spectrum.density(0.1) == pytest.approx(1e-3 * 0.3**-1.5 * 9.0)


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((1e-3, 0.5, 0.5), "holds no energy"),
        ((1e-3, 0.0, 0.5), "holds no energy"),
        ((0.0, 0.1, 0.5), "positive, finite level"),
        ((np.nan, 0.1, 0.5), "positive, finite level"),
        ((1e-3, 0.1, 0.5, 2.0, 1.5), "second slope"),
    ],
)
def test_a_spectrum_without_energy_is_refused(arguments: tuple[float, ...], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        Spectrum(*arguments)


def test_a_band_above_what_the_spacing_carries_is_refused() -> None:
    with pytest.raises(ValueError, match=r"0.3 m apart carry waves up to 1.66667 cycle/m.*reaches 2 cycle/m"):
        lay_roughness(Spectrum(1e-3, 0.1, 2.0), Coherence(), (0.0,), 0.3, 1000, philox)


@pytest.mark.parametrize("order", [0, 1, 2])
@pytest.mark.parametrize(("waviness", "above"), [(1.0, 3.0), (2.0, 1.0), (3.0, 2.0), (1.7, 2.4)])
def test_moments_are_the_areas_under_the_density(waviness: float, above: float, order: int) -> None:
    """Quadrature of (2 pi n)^order G(n) over both slopes, those included at which the integral is a logarithm."""
    spectrum = Spectrum(64e-6, 0.02, 5.0, waviness, above, 0.3)
    parts = [
        quad(lambda n: (2 * np.pi * n) ** order * float(spectrum.density(n)), *ends, epsabs=0, epsrel=1e-10)[
            0
        ]
        for ends in ((0.02, 0.1), (0.1, np.nextafter(0.3, 0)), (0.3, 1.0), (1.0, 5.0))
    ]
    assert spectrum.moment(order) == pytest.approx(sum(parts), rel=1e-9)
