"""How two parallel tracks of the ground resemble each other: the normalised cross-spectrum.

For tracks a lateral distance t apart, with the same spectrum G(n), the cross-spectrum is gamma(n, t) G(n),
real because neither direction of travel is preferred. On an isotropic surface whose tracks have waviness w
(Dodds and Robson, J. Sound Vib. 31, 1973)

    gamma = 2/Gamma(w/2) (z/2)^(w/2) K_{w/2}(z),    z = 2 pi n t

which decays with t for every n as the covariance of a random field does, so any number of lines is allowed.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gamma, kv

from crossaxle.arrays import Array
from crossaxle.terrain.spectrum import Spectrum


@dataclass(frozen=True)
class Coherence:
    """Model of the likeness of parallel tracks.

    Attributes
    ----------
    kind : {"isotropic", "independent", "identical", "exponential"}
        Exponential: gamma = exp(-decay n t).
    decay : float
        Only for exponential [1].
    """

    kind: Literal["isotropic", "independent", "identical", "exponential"] = "isotropic"
    decay: float = 0.0

    def __call__(self, n: ArrayLike, distance: float, spectrum: Spectrum) -> Array:
        """Normalised cross-spectrum gamma.

        Parameters
        ----------
        n : (k,)
            Spatial frequency along the way, above zero [cycle/m].
        distance : float
            Lateral distance between the tracks [m].
        spectrum : Spectrum
            Gives the waviness; where it has two slopes, the waviness at each n is taken.

        Returns
        -------
        (k,)
            Between 0 and 1; 1 where the distance is zero.
        """
        n = np.asarray(n, float)
        distance = abs(distance)
        if distance == 0 or self.kind == "identical":
            return np.ones(n.shape)
        if self.kind == "independent":
            return np.zeros(n.shape)
        if self.kind == "exponential":
            return np.exp(-self.decay * n * distance)
        return isotropic(n, distance, spectrum.local_waviness(n))


def isotropic(n: ArrayLike, distance: float, waviness: ArrayLike) -> Array:
    """Dodds and Robson's normalised cross-spectrum of two parallel tracks on an isotropic surface.

    Parameters
    ----------
    n : (k,)
        Spatial frequency [cycle/m], above zero.
    distance : float
        Between the tracks, above zero [m].
    waviness : float or (k,)
        Exponent w of the track's spectrum, above 0.
    """
    half = np.asarray(waviness, float) / 2
    z = 2 * np.pi * np.asarray(n, float) * distance
    # beyond z = 600 K underflows to zero while the power stays finite, so no 0 * inf arises
    return np.asarray(2 / gamma(half) * (z / 2) ** half * kv(half, z), float)
