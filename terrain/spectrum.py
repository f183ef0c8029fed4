"""Displacement spectra of rough ground along one track.

One-sided spectral density G(n) [m3] of the height z(x) over the spatial frequency n [cycle/m], after ISO
8608:2016: G(n) = G(n0) (n/n0)^-w in a stated band, with waviness w; optionally a second waviness above a
break.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from crossaxle.arrays import Array

REFERENCE = 0.1
"""n0 of ISO 8608 [cycle/m]."""

CLASS_MEANS = {name: 16e-6 * 4.0**k for k, name in enumerate("ABCDEFGH")}
"""Geometric mean G(n0) of each class of ISO 8608 [m3]."""


@dataclass(frozen=True)
class Spectrum:
    """A power law, or two that meet at a break, within a band.

    Attributes
    ----------
    level : float
        G at `reference` [m3].
    lower, upper : float
        The band [cycle/m]; no energy outside it.
    waviness : float
        Exponent w below `break_at` (everywhere, if there is no break).
    waviness_above : float or None
        Exponent above `break_at`.
    break_at : float or None
        Where the slope changes [cycle/m].
    reference : float
        n0 [cycle/m].

    Raises
    ------
    ValueError
        If the band is empty, the level is no positive number, or only half of the second slope is given.
    """

    level: float
    lower: float
    upper: float
    waviness: float = 2.0
    waviness_above: float | None = None
    break_at: float | None = None
    reference: float = REFERENCE

    def __post_init__(self) -> None:
        if not (np.isfinite(self.level) and self.level > 0):
            raise ValueError(f"level is {self.level} m3; a spectrum needs a positive, finite level")
        if not 0 < self.lower < self.upper < np.inf:
            raise ValueError(
                f"the band from {self.lower} to {self.upper} cycle/m holds no energy;"
                " give a lower limit above zero and an upper limit above the lower"
            )
        if (self.waviness_above is None) != (self.break_at is None):
            raise ValueError("a second slope needs both waviness_above and break_at")

    def density(self, n: ArrayLike) -> Array:
        """G(n) [m3] at spatial frequencies n [cycle/m]; zero outside the band."""
        n = np.asarray(n, float)
        inside = (n >= self.lower) & (n <= self.upper)
        safe = np.where(inside, n, self.lower)
        values = np.zeros(n.shape)
        for start, stop, constant, w in self._pieces():
            here = inside & (safe >= start) & ((safe < stop) | (stop == self.upper))
            values = np.where(here, constant * safe**-w, values)
        return values

    def local_waviness(self, n: ArrayLike) -> Array:
        """Exponent w at spatial frequencies n [cycle/m]."""
        n = np.asarray(n, float)
        if self.waviness_above is None or self.break_at is None:
            return np.full(n.shape, self.waviness)
        return np.where(n < self.break_at, self.waviness, self.waviness_above)

    def between(self, start: ArrayLike, stop: ArrayLike) -> Array:
        """Variance [m2] contributed by the frequencies from `start` to `stop` [cycle/m]."""
        return self._integral(np.asarray(start, float), np.asarray(stop, float), 0)

    def moment(self, order: int) -> float:
        """Spectral moment: integral of (2 pi n)^order G(n) over the band [m2 (rad/m)^order].

        Order 0 is the height's variance, 2 the slope's, 4 the curvature's.
        """
        whole = self._integral(np.array(self.lower), np.array(self.upper), order)
        return float((2 * np.pi) ** order * whole)

    def _pieces(self) -> list[tuple[float, float, float, float]]:
        """(start, stop, constant, exponent) of the power laws constant n^-exponent that make up the band."""
        first = self.waviness
        constant = self.level * self.reference**first
        if self.waviness_above is None or self.break_at is None:
            return [(self.lower, self.upper, constant, first)]
        second = self.waviness_above
        if self.reference > self.break_at:
            constant = self.level * self.reference**second * self.break_at ** (first - second)
        knee = min(max(self.break_at, self.lower), self.upper)
        above = constant * self.break_at ** (second - first)
        pieces = [(self.lower, knee, constant, first), (knee, self.upper, above, second)]
        return [piece for piece in pieces if piece[0] < piece[1]]

    def _integral(self, start: Array, stop: Array, power: int) -> Array:
        """Integral of n^power G(n) from start to stop, exact."""
        total = np.zeros(np.broadcast(start, stop).shape)
        for lower, upper, constant, w in self._pieces():
            a, b = np.clip(start, lower, upper), np.clip(stop, lower, upper)
            p = power - w + 1
            # p = 0 integrates to a logarithm
            piece = np.log(b / a) if abs(p) < 1e-12 else (b**p - a**p) / p
            total = total + constant * piece
        return total


def iso_class(
    name: str,
    lower: float,
    upper: float,
    waviness: float = 2.0,
    waviness_above: float | None = None,
    break_at: float | None = None,
) -> Spectrum:
    """Spectrum of an ISO 8608 class (its geometric mean at 0.1 cycle/m) in a band [cycle/m]."""
    return Spectrum(CLASS_MEANS[name], lower, upper, waviness, waviness_above, break_at)


def nearest_class(level: float) -> str:
    """Return the class whose geometric mean is nearest, in ratio, to a level [m3] at 0.1 cycle/m."""
    return min(CLASS_MEANS, key=lambda name: abs(float(np.log(CLASS_MEANS[name] / level))))
