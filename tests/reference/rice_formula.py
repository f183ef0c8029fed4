"""Rice's rate of level crossings, written out from the source; nothing of the package is used.

S. O. Rice, Mathematical analysis of random noise, Bell Syst. Tech. J. 23 (1944), 282-332, and 24 (1945), 46-156, part
III, section 3.3: a normal process with the power spectrum w(f) passes the value u, upwards and downwards together,

    N(u) = 2 sqrt(integral of f^2 w(f) df / integral of w(f) df) exp(-u^2 / (2 psi)),    psi = integral of w(f) df

times a second on the average; along the ground f is in cycles per metre and N per metre. Half of the passings lead up.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import simpson
from scipy.special import kv

Floats = NDArray[np.float64]

POINTS = 200_001
"""Of Simpson's rule over the band."""


def rice_upcrossings(power: Callable[[Floats], Floats], lower: float, upper: float, level: float) -> float:
    """Return the up-crossings of a level per metre of a process with the power spectrum between two frequencies."""
    f = np.linspace(lower, upper, POINTS)
    w = power(f)
    psi, second = simpson(w, x=f), simpson(f**2 * w, x=f)
    both_ways = 2 * np.sqrt(second / psi) * np.exp(-(level**2) / (2 * psi))
    return float(both_ways / 2)


def combination_power(
    track: Callable[[Floats], Floats], x: Sequence[float], y: Sequence[float], factor: Sequence[float]
) -> Callable[[Floats], Floats]:
    """Return the power spectrum of a sum of heights at places (x, y) of an isotropic surface of waviness 2.

    Heights on lines a distance d apart share z K1(z) of the track's spectrum, z = 2 pi f d (Dodds and Robson 1973).
    """

    def power(f: Floats) -> Floats:
        total = np.zeros_like(f)
        for xi, yi, a in zip(x, y, factor, strict=True):
            for xj, yj, b in zip(x, y, factor, strict=True):
                z = 2 * np.pi * f * abs(yi - yj)
                alike = z * kv(1, z) if yi != yj else np.ones_like(f)
                total += a * b * alike * np.cos(2 * np.pi * f * (xi - xj))
        return np.asarray(track(f) * total)

    return power
