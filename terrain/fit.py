"""Class, waviness and coherence of surveyed ground, with a measure of how well they describe it.

The spectrum is estimated by Welch's method and averaged over bins of equal width on the logarithmic axis; a
straight line fitted there by least squares, each bin weighted by its degrees of freedom, gives level and
waviness. The coherence model is the one whose normalised cross-spectrum lies nearest to the measured one, over
the waves that are longer than the tracks are apart; shorter ones are unrelated in any model.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import digamma

from crossaxle.arrays import Array
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.spectrum import REFERENCE, Spectrum, nearest_class
from crossaxle.terrain.survey import Survey, SurveyError, detrended

BINS_PER_DECADE = 10
SEGMENT = 4.0
"""Length of Welch's segments in detrending lengths."""
GAIN = 0.7
"""The exponential coherence has a free decay; to be preferred it must bring the misfit below this share."""


@dataclass(frozen=True)
class SpectrumFit:
    """Description of surveyed ground.

    Attributes
    ----------
    spectrum : Spectrum
        Fitted line, in the band over which it was fitted.
    coherence : Coherence
        The model that fits best.
    iso_class : str
        Class of ISO 8608 with the nearest geometric mean.
    misfit_db : float
        Root mean square deviation of the measured spectrum from the line [dB]; 1 to 2 dB is scatter of the
        estimate, more means that a straight line is not the ground's shape.
    r_squared : float
        Share of the variance of log G explained by the line.
    coherence_misfit : dict of str to float
        Root mean square deviation of the normalised cross-spectrum from each model [1].
    kurtosis : float
        Of the detrended heights; 3 for Gaussian ground, more where rough and smooth patches alternate.
    waves, density, cross : (n_bins,)
        Measured: spatial frequency [cycle/m], G [m3] (mean of the tracks), normalised cross-spectrum [1].
    """

    spectrum: Spectrum
    coherence: Coherence
    iso_class: str
    misfit_db: float
    r_squared: float
    coherence_misfit: dict[str, float]
    kurtosis: float
    waves: Array
    density: Array
    cross: Array


def fit(survey: Survey, detrend: float) -> SpectrumFit:
    """Fit spectrum and coherence to a survey.

    Parameters
    ----------
    survey : Survey
        The outermost lines are taken as the two tracks.
    detrend : float
        Length over which the trend is taken out [m]; waves longer than half of it are not fitted.

    Raises
    ------
    SurveyError
        If the survey is too short or too coarse for a spectrum of half a decade, or flat.
    """
    band = 2 / detrend, 0.4 / survey.measured_spacing
    segment = round(SEGMENT * detrend / survey.spacing)
    if survey.heights.shape[1] < 1.5 * segment:
        raise SurveyError(
            f"the survey is {survey.length:g} m long; detrended over {detrend:g} m, a spectrum needs at least"
            f" {1.5 * SEGMENT * detrend:g} m: detrend over a shorter length or survey more"
        )
    if band[1] < 3 * band[0]:
        raise SurveyError(
            f"points {survey.measured_spacing:g} m apart carry waves up to {band[1]:g} cycle/m and detrending"
            f" leaves those above {band[0]:g}: too narrow a band to fit; detrend over a longer length"
        )
    distance = float(np.ptp(survey.line_y))
    if band[0] * distance > 0.25:
        raise SurveyError(
            f"detrended over {detrend:g} m, no waves are left that tell how tracks {distance:g} m apart go together;"
            f" detrend over {8 * distance:g} m or more"
        )
    level = detrended(survey, detrend)
    left, right = level.heights[np.argmax(survey.line_y)], level.heights[np.argmin(survey.line_y)]
    if min(np.ptp(left), np.ptp(right)) == 0:
        raise SurveyError("the survey is flat; there is no roughness to fit")
    waves, density, cross, freedom = _measured(left, right, survey.spacing, segment, band)
    weight = freedom / freedom.sum()
    # the logarithm of an average of few estimates lies low by this much on average
    log_g = np.log(density) - digamma(freedom / 2) + np.log(freedom / 2)
    log_n = np.log(waves / REFERENCE)
    slope, at_reference = np.polyfit(log_n, log_g, 1, w=np.sqrt(weight))
    if not 0.5 < -slope <= 4:
        raise SurveyError(
            f"its spectrum falls as n^{slope:.2f}; ground falls with an exponent between -0.5 and -4: check units,"
            " detrending length and noise of the survey"
        )
    residual = log_g - (at_reference + slope * log_n)
    scatter = float(weight @ residual**2)
    spread = float(weight @ (log_g - weight @ log_g) ** 2)
    spectrum = Spectrum(float(np.exp(at_reference)), *band, waviness=float(-slope))
    coherence, misfits = _coherence(waves, cross, distance, spectrum)
    both = np.concatenate([left, right])
    return SpectrumFit(
        spectrum=spectrum,
        coherence=coherence,
        iso_class=nearest_class(spectrum.level),
        misfit_db=10 / np.log(10) * float(np.sqrt(scatter)),
        r_squared=1 - scatter / spread,
        coherence_misfit=misfits,
        kurtosis=float(np.mean((both - both.mean()) ** 4) / np.var(both) ** 2),
        waves=waves,
        density=density,
        cross=cross,
    )


def _measured(
    left: Array, right: Array, spacing: float, segment: int, band: tuple[float, float]
) -> tuple[Array, Array, Array, Array]:
    """Spatial frequency, density, normalised cross-spectrum and degrees of freedom in logarithmic bins."""
    from scipy.signal import csd

    def spectrum(a: Array, b: Array) -> Array:
        return np.real(csd(a, b, fs=1 / spacing, nperseg=segment)[1])

    n = np.fft.rfftfreq(segment, spacing)
    g_left, g_right, g_cross = spectrum(left, left), spectrum(right, right), spectrum(left, right)
    edges = np.geomspace(*band, max(4, round(BINS_PER_DECADE * np.log10(band[1] / band[0]))) + 1)
    number = np.digitize(n, edges) - 1
    segments = max(1.0, 2 * left.size / segment - 1)
    rows = []
    for i in range(edges.size - 1):
        here = number == i
        if not np.any(here):
            continue
        # weighted by n^2, which makes the usual spectrum level within a bin
        w = n[here] ** 2
        a, b, c = (float(w @ g[here]) for g in (g_left, g_right, g_cross))
        centre = float(np.exp(np.mean(np.log(n[here]))))
        # a Hann window ties neighbours together: three frequencies are worth about two
        freedom = 2 * segments * (1 + (here.sum() - 1) / 1.5)
        rows.append((centre, (a + b) / 2 / (here.sum() * centre**2), c / np.sqrt(a * b), freedom))
    waves, density, cross, free = np.array(rows).T
    return waves, density, cross, free


def _coherence(
    waves: Array, cross: Array, distance: float, spectrum: Spectrum
) -> tuple[Coherence, dict[str, float]]:
    """Nearest coherence model and the misfit of each."""
    long = waves * distance <= 1

    def misfit(model: Coherence) -> float:
        return float(np.sqrt(np.mean((cross - model(waves, distance, spectrum))[long] ** 2)))

    best = minimize_scalar(
        lambda decay: misfit(Coherence("exponential", decay)), bounds=(0.01, 100.0), method="bounded"
    )
    kinds: tuple[Literal["isotropic", "independent", "identical"], ...]
    kinds = ("isotropic", "independent", "identical")
    fixed = [Coherence(kind) for kind in kinds]
    free = Coherence("exponential", float(best.x))
    misfits = {str(model.kind): misfit(model) for model in (*fixed, free)}
    nearest = min(fixed, key=misfit)
    return (free if misfit(free) < GAIN * misfit(nearest) else nearest), misfits
