"""Variances and crossing rates of Gaussian ground, as integrals over its spectrum.

A combination X(x) = sum_i a_i z(x + x_i, y_i) of heights, such as cross-level or warp, is Gaussian with
density

    S(n) = G(n) sum_ij a_i a_j gamma(n, |y_i - y_j|) cos(2 pi n (x_i - x_j)).

Rice (Bell Syst. Tech. J. 23-24, 1944-45): X passes a level u upwards sqrt(l2/l0)/(2 pi) exp(-u^2/(2 l0))
times a metre, with the moments l_m = integral of (2 pi n)^m S(n). l2 grows with the band's upper limit, and
so does the rate.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.spectrum import Spectrum

NODES, WEIGHTS = np.polynomial.legendre.leggauss(10)


@dataclass(frozen=True)
class HeightCombination:
    """Linear combination of ground heights.

    Attributes
    ----------
    x, y : tuple of float
        Places relative to the moving point, x forward and y left [m].
    factor : tuple of float
        Factors a_i.
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    factor: tuple[float, ...]


def height() -> HeightCombination:
    """Height of one track."""
    return HeightCombination((0.0,), (0.0,), (1.0,))


def cross_level(track: float) -> HeightCombination:
    """Left minus right [m]."""
    return HeightCombination((0.0, 0.0), (track / 2, -track / 2), (1.0, -1.0))


def warp(wheelbase: float, track: float) -> HeightCombination:
    """Cross-level at the front axle minus that at the rear axle [m]; over the track it is the twist [rad]."""
    half = track / 2
    return HeightCombination(
        (0.0, 0.0, -wheelbase, -wheelbase), (half, -half, half, -half), (1.0, -1.0, -1.0, 1.0)
    )


@dataclass(frozen=True)
class Process:
    """A combination of heights of one kind of ground.

    Attributes
    ----------
    combination : HeightCombination
    spectrum : Spectrum
    coherence : Coherence
    gain : callable, optional
        Gain of a linear filter on all heights as a function of n, e.g. of the contact average.
    """

    combination: HeightCombination
    spectrum: Spectrum
    coherence: Coherence
    gain: Callable[[Array], Array] | None = None

    def density(self, n: Array) -> Array:
        """One-sided spectral density at n [cycle/m], (k,)."""
        c = self.combination
        total = np.zeros(n.shape)
        for i, a in enumerate(c.factor):
            for j, b in enumerate(c.factor):
                gamma = self.coherence(n, c.y[i] - c.y[j], self.spectrum)
                total += a * b * gamma * np.cos(2 * np.pi * n * (c.x[i] - c.x[j]))
        filtered = 1.0 if self.gain is None else self.gain(n) ** 2
        return self.spectrum.density(n) * total * filtered

    def moment(self, order: int) -> float:
        """Spectral moment l_order [m2 (rad/m)^order]; order 0 is the variance."""
        n, weight = self._quadrature(0.0)
        return float(weight @ ((2 * np.pi * n) ** order * self.density(n)))

    def covariance(self, lag: float) -> float:
        """Covariance of X(x) and X(x + lag) [m2]."""
        n, weight = self._quadrature(lag)
        return float(weight @ (np.cos(2 * np.pi * n * lag) * self.density(n)))

    def rice_rate(self, level: float) -> float:
        """Up-crossings of a level per metre; the down-crossings are as many."""
        return rice_rate(self.moment(0), self.moment(2), level)

    def sampled_rate(self, level: float, spacing: float) -> float:
        """Up-crossings per metre that points a distance apart show."""
        variance = self.moment(0)
        return sampled_rate(variance, self.covariance(spacing), level, spacing)

    def _quadrature(self, lag: float) -> tuple[Array, Array]:
        """Gauss-Legendre points and weights on panels that follow both power law and oscillation."""
        lower, upper = self.spectrum.lower, self.spectrum.upper
        reach = np.ptp(self.combination.x) + np.ptp(self.combination.y) + abs(lag)
        logarithmic = np.geomspace(lower, upper, int(np.ceil(np.log(upper / lower) / 0.3)) + 1)
        oscillating = np.arange(lower, upper, 0.5 / reach) if reach > 0 else np.empty(0)
        knee = self.spectrum.break_at
        extra = [knee] if knee is not None and lower < knee < upper else []
        edges = np.unique(np.concatenate([logarithmic, oscillating, extra]))
        half = np.diff(edges) / 2
        n = (edges[:-1] + half)[:, None] + half[:, None] * NODES
        return np.clip(n, lower, upper).ravel(), (half[:, None] * WEIGHTS).ravel()


def rice_rate(l0: float, l2: float, level: float) -> float:
    """Rice's rate of up-crossings per metre from the moments [m2, m2 (rad/m)2] for a level [m]."""
    return float(np.sqrt(l2 / l0) / (2 * np.pi) * np.exp(-(level**2) / (2 * l0)))


def sampled_rate(variance: float, covariance: float, level: float, spacing: float) -> float:
    """Rate P(X0 < u, X1 >= u) / spacing at which points of a Gaussian process show up-crossings.

    From the bivariate normal integral over the correlation (Plackett, Biometrika 41, 1954; recalled)

        P = 1/(2 pi) integral from 0 to arccos(r) of exp(-u^2 / (1 + cos(phi))) dphi

    with u in standard deviations.

    Parameters
    ----------
    variance, covariance : float
        Of one point, and of two neighbours [m2].
    level : float
        u, above the mean [m].
    spacing : float
        Between neighbours [m].
    """
    u2 = level**2 / variance
    half = np.arccos(np.clip(covariance / variance, -1.0, 1.0)) / 2
    phi = half * (1 + NODES)
    return float(half * (WEIGHTS @ np.exp(-u2 / (1 + np.cos(phi)))) / (2 * np.pi) / spacing)
