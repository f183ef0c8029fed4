"""Dodds and Robson, The description of road surface roughness, J. Sound Vib. 31 (1973): tracks of an isotropic surface.

The formula of the normalised cross-spectrum is recalled, and confirmed here by integrating the surface's
two-dimensional spectrum.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.signal import csd
from scipy.special import gamma

from crossaxle.terrain.closed_form import Process, cross_level, warp
from crossaxle.terrain.coherence import Coherence, isotropic
from crossaxle.terrain.roughness import lay_roughness
from crossaxle.terrain.spectrum import Spectrum

WIDE = Spectrum(1e-3, 1e-6, 1e3)
"""So wide a band that what lies outside adds less than 1e-4 to the variances below."""


def philox(pair: int) -> np.random.Generator:
    return np.random.Generator(np.random.Philox([5, pair]))


@pytest.mark.parametrize(
    ("waviness", "n", "value"),
    [
        (2.0, 0.05, 0.768495),
        (2.0, 0.1, 0.500191),
        (2.0, 0.2, 0.182669),
        (2.0, 0.5, 0.006201),
        (1.5, 0.1, 0.402614),
        (2.5, 0.1, 0.579101),
    ],
)
def test_values_two_metres_apart(waviness: float, n: float, value: float, checked) -> None:
    """Values computed from the formula with general-purpose libraries, to six digits; the paper prints no table."""
    found = float(isotropic(n, 2.0, waviness))
    assert found == pytest.approx(value, abs=6e-7)
    checked(
        "coherence of two tracks",
        "Dodds and Robson 1973, computed to six digits",
        abs(found - value),
        "absolute",
    )


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5])
@pytest.mark.parametrize("n", [0.03, 0.1, 0.4])
def test_surface_spectrum_gives_track_spectrum_and_cross_spectrum(waviness: float, n: float, checked) -> None:
    """A surface C kappa^-(w+1), integrated over the lateral wave number, against both closed forms."""

    def surface(k: float) -> float:
        return (n * n + k * k) ** (-(waviness + 1) / 2)

    track = 2 * quad(surface, 0, np.inf, epsabs=0, epsrel=1e-10)[0]
    constant = np.sqrt(np.pi) * gamma(waviness / 2) / gamma((waviness + 1) / 2)
    assert track == pytest.approx(constant * n**-waviness, rel=1e-8)
    cross = (
        2 * quad(surface, 0, np.inf, weight="cos", wvar=2 * np.pi * 1.7, epsabs=1e-11 * track, limlst=200)[0]
    )
    found = float(isotropic(n, 1.7, waviness))
    assert cross / track == pytest.approx(found, abs=1e-8)
    checked(
        "coherence of two tracks", "isotropic surface by quadrature", abs(cross / track - found), "absolute"
    )


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5])
@pytest.mark.parametrize("diagonal", [False, True], ids=["along x", "along the diagonal"])
def test_surface_by_two_dimensional_transform_gives_the_two_track_model(
    waviness: float, diagonal: bool
) -> None:
    """The covariance of a whole surface, cut along parallel lines, has the model's cross-spectrum.

    The surface's spectrum on a periodic grid of 1024 x 1024 points, 0.25 m apart, is turned into its covariance
    by the two-dimensional transform; along two lines a distance t apart the covariance's one-dimensional
    transform is their cross-spectrum. Long waves that the grid cannot hold and the cell of the origin are missing, so
    the comparison starts at 0.04 cycle/m; there the cell-wise sum agrees to 0.01 in coherence. Along the diagonal
    points are 0.25 sqrt(2) m apart.
    """
    size, step = 1024, 0.25
    k = np.fft.fftfreq(size, step)
    kappa = np.hypot(k[:, None], k[None, :])
    kappa[0, 0] = np.inf
    # cut round, so that no direction is favoured
    density = np.where(kappa < 0.5 / step, kappa ** -(waviness + 1), 0.0)
    covariance = np.real(np.fft.fft2(density))
    i = np.arange(size)
    if diagonal:
        # lines x - y = const; the shift (m, -m) is a lateral distance of m sqrt(2) steps
        lines, spacing = [covariance[(i + m) % size, (i - m) % size] for m in (0, 4, 8)], step * np.sqrt(2)
        distances = [m * step * np.sqrt(2) for m in (4, 8)]
    else:
        lines, spacing = [covariance[:, m] for m in (0, 6, 12)], step
        distances = [m * step for m in (6, 12)]
    spectra = [np.real(np.fft.fft(line)) for line in lines]
    n = np.fft.fftfreq(size, spacing)
    inside = (n > 0.04) & (n < 0.4)
    for distance, cross in zip(distances, spectra[1:], strict=True):
        measured = cross[inside] / spectra[0][inside]
        np.testing.assert_allclose(measured, isotropic(n[inside], distance, waviness), atol=0.01)


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5])
def test_laid_tracks_have_the_cross_spectrum(waviness: float) -> None:
    """Front track 2.0 m and rear track 1.6 m wide: all pairs of lines, Welch's method on 20 km.

    400 segments of 100 m (Hann, half overlapped) scatter by 1/sqrt(2 * 400) = 0.035 at most; 16 frequencies,
    six pairs, bound four times that scatter.
    """
    lines = (1.0, -1.0, 0.8, -0.8)
    spectrum = Spectrum(1e-3, 0.02, 2.0, waviness)
    heights = lay_roughness(spectrum, Coherence(), lines, 0.1, 200_000, philox).astype(float)
    waves, cross = csd(heights[:, None], heights[None, :], fs=10, nperseg=1000)
    power = np.real(np.einsum("iin->in", cross))
    inside = (waves >= 0.05) & (waves <= 0.2)
    for i in range(4):
        for j in range(i):
            measured = (cross[i, j] / np.sqrt(power[i] * power[j]))[inside]
            expected = isotropic(waves[inside], abs(lines[i] - lines[j]), waviness)
            np.testing.assert_allclose(np.real(measured), expected, atol=0.14)
            np.testing.assert_allclose(np.imag(measured), 0.0, atol=0.14)


def test_variance_of_left_minus_right_in_closed_form(checked) -> None:
    """Var = 2 pi^2 t n0^2 G(n0) for w = 2 without band limits; the band from 1e-6 to 1e3 cycle/m lacks 2e-4 of it."""
    for track in (1.6, 2.0):
        exact = 2 * np.pi**2 * track * 0.01 * 1e-3
        found = Process(cross_level(track), WIDE, Coherence()).moment(0)
        assert found == pytest.approx(exact, rel=2e-4)
        checked("variance of cross-level", "closed form, w = 2", abs(found / exact - 1))


def test_laid_variance_of_left_minus_right() -> None:
    """Against the closed form less what the band 0.005 to 5 cycle/m leaves out.

    Above 5 cycle/m the tracks are unrelated: 2 G n0^2/5. Below 0.005 they are alike: 1 - gamma = (z^2/2)
    (ln(2/z) - 0.0772) for small z, a series of K1 (Abramowitz and Stegun 9.6.11), integrated.
    60 samples; bound four standard deviations of their mean.
    """
    level, track, lower = 1e-3, 2.0, 0.005
    left_out_above = 2 * level * 0.01 / 5.0
    # z = c n: integral of 2 G n0^2 n^-2 (z^2/2) (ln(2/z) - 0.0772) from 0 to lower
    c = 2 * np.pi * track
    left_out_below = level * 0.01 * c**2 * lower * (np.log(2 / (c * lower)) + 1 - 0.0772157)
    exact = 2 * np.pi**2 * track * 0.01 * level - left_out_above - left_out_below
    found = []
    for sample in range(60):
        left, right = lay_roughness(
            Spectrum(level, lower, 5.0),
            Coherence(),
            (track / 2, -track / 2),
            0.1,
            20_000,
            lambda pair, k=sample: np.random.Generator(np.random.Philox([k, pair])),
        )
        found.append(np.var(left.astype(float) - right))
    assert abs(np.mean(found) - exact) < 4 * np.std(found) / np.sqrt(60)


@pytest.mark.parametrize(("wheelbase", "track"), [(3.6, 2.0), (4.5, 2.0), (5.1, 1.9)])
def test_variance_of_warp_in_closed_form(wheelbase: float, track: float, checked) -> None:
    """On the isotropic surface with w = 2 the structure function is D(r) = 2 pi^2 r n0^2 G, hence

    Var(warp) = 2 (D(t) + D(L) - D(sqrt(t^2 + L^2))): derived here from the line above, exact without band limits. Below
    1e-6 cycle/m nothing is missing; above 1e3 cycle/m 4 G n0^2/1000, 2e-5 of it.
    """

    def structure(r: float) -> float:
        return 2 * np.pi**2 * r * 0.01 * 1e-3

    exact = 2 * (structure(track) + structure(wheelbase) - structure(np.hypot(track, wheelbase)))
    found = Process(warp(wheelbase, track), WIDE, Coherence()).moment(0)
    assert found == pytest.approx(exact, rel=1e-4)
    checked("variance of warp", "closed form, w = 2", abs(found / exact - 1))


@pytest.mark.parametrize("waviness", [1.5, 2.0, 2.5])
def test_laid_warp_has_the_variance_of_its_integral(waviness: float) -> None:
    """Integral by general adaptive quadrature, written out here; 40 samples, four standard deviations of their mean."""
    wheelbase, track, spectrum = 4.5, 2.0, Spectrum(1e-3, 0.02, 2.0, waviness)

    def integrand(n: float) -> float:
        one_axle = 2 - 2 * float(isotropic(n, track, waviness))
        return 1e-3 * (n / 0.1) ** -waviness * one_axle * 4 * np.sin(np.pi * n * wheelbase) ** 2

    exact = quad(integrand, 0.02, 2.0, limit=400, epsrel=1e-9)[0]
    assert Process(warp(wheelbase, track), spectrum, Coherence()).moment(0) == pytest.approx(exact, rel=1e-7)
    found = []
    for sample in range(40):
        left, right = lay_roughness(
            spectrum,
            Coherence(),
            (track / 2, -track / 2),
            0.1,
            20_000,
            lambda pair, k=sample: np.random.Generator(np.random.Philox([k, pair])),
        )
        level = left.astype(float) - right
        found.append(np.var(level[45:] - level[:-45]))
    assert abs(np.mean(found) - exact) < 4 * np.std(found) / np.sqrt(40)


def test_two_slopes_err_little_against_an_exact_isotropic_surface(checked) -> None:
    """Taking the waviness at each frequency is exact only for one slope; the error is bounded here.

    Surface spectrum with exponents 3 and 3.5 (track waviness 2 and 2.5 far from the break at 0.3 cycle/m); its
    tracks' cross-spectrum 2 m apart by quadrature against the model. The text in terrain/README.md says 0.02.
    """
    knee = 0.3

    def surface(kappa: float) -> float:
        return (kappa / knee) ** (-3.0 if kappa < knee else -3.5)

    def integral(n: float, distance: float) -> float:
        """Integral of surface(hypot(n, k)) cos(2 pi k distance) over k, split at the break and where k is large."""
        end = 10 * n + 2
        edge = [np.sqrt(knee**2 - n**2)] if n < knee else None
        w = 2 * np.pi * distance
        near = quad(lambda k: surface(np.hypot(n, k)) * np.cos(w * k), 0, end, points=edge, limit=800)[0]
        if distance == 0:
            return near + quad(lambda k: surface(np.hypot(n, k)), end, np.inf)[0]
        return near + quad(lambda k: surface(np.hypot(n, k)), end, 400.0, weight="cos", wvar=w)[0]

    waves = np.geomspace(0.02, 1.0, 25)
    exact = np.array([integral(n, 2.0) / integral(n, 0.0) for n in waves])
    worst = np.max(np.abs(exact - isotropic(waves, 2.0, np.where(waves < knee, 2.0, 2.5))))
    assert worst < 0.02
    checked("coherence with two slopes", "isotropic surface by quadrature", worst, "absolute")


@pytest.mark.parametrize(
    ("coherence", "expected"),
    [
        (Coherence("independent"), lambda n: 0 * n),
        (Coherence("identical"), lambda n: 0 * n + 1),
        (Coherence("exponential", 4.0), lambda n: np.exp(-8 * n)),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)
def test_other_coherences_are_laid(coherence: Coherence, expected) -> None:
    """400 segments scatter by 0.035 at most; bound four times that."""
    heights = lay_roughness(Spectrum(1e-3, 0.02, 2.0), coherence, (1.0, -1.0), 0.1, 200_000, philox).astype(
        float
    )
    waves, cross = csd(heights[0], heights[1], fs=10, nperseg=1000)
    power = [np.real(csd(z, z, fs=10, nperseg=1000)[1]) for z in heights]
    inside = (waves >= 0.05) & (waves <= 0.5)
    measured = np.real(cross / np.sqrt(power[0] * power[1]))[inside]
    np.testing.assert_allclose(measured, expected(waves[inside]), atol=0.14)
