"""Tyre radius and vertical stiffness from the size on the sidewall and the pressure.

Sizes: metric ``395/85R20`` (width mm / aspect ratio % R rim inch) and full-profile ``14.00R20`` (width inch,
aspect ratio taken as 100 %). Vertical stiffness of radial tyres by Rhyne, Tire Science and Technology 33 (2005)
(recalled): K = 0.00028 p sqrt((1.03 - 0.004 AR) S (S AR / 50 + D)) + 3.45 in kgf/mm, with pressure p in kPa,
aspect ratio AR in %, section width S and rim diameter D in mm.
"""

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from crossaxle.vehicles.file import TyreEntry

_METRIC = re.compile(r"^(\d{3})/(\d{2,3})\s*R\s*(\d{2}(?:\.\d)?)$")
_INCH = re.compile(r"^(\d{1,2}\.\d{2})\s*R\s*(\d{2}(?:\.\d)?)$")
KGF_PER_MM = 9.80665e3  # N/m


@dataclass(frozen=True)
class Tyre:
    """Free radius [m] and vertical stiffness [N/m] of one tyre."""

    radius: float
    stiffness: float


@lru_cache(maxsize=256)
def tyre(entry: TyreEntry) -> Tyre:
    """Tyre of a file's entry; values given there win over those from size and pressure.

    Raises
    ------
    ValueError
        If the size cannot be read.
    """
    metric, inch = _METRIC.match(entry.size), _INCH.match(entry.size)
    if metric is not None:
        width, aspect = float(metric[1]), float(metric[2])
        rim = 25.4 * float(metric[3])
    elif inch is not None:
        width, aspect = 25.4 * float(inch[1]), 100.0
        rim = 25.4 * float(inch[2])
    else:
        raise ValueError(f'size: found "{entry.size}"; allowed e.g. "395/85R20" or "14.00R20"')
    radius = 1e-3 * (0.5 * rim + width * aspect / 100)
    root = math.sqrt((1.03 - 0.004 * aspect) * width * (width * aspect / 50 + rim))
    stiffness = (0.00028 * 1e-3 * entry.pressure * root + 3.45) * KGF_PER_MM
    return Tyre(entry.radius or radius, entry.stiffness or stiffness)


def contact_length(radius: float, stiffness: float, load: float) -> float:
    """Length of the contact patch: 0.8 of the chord of the undeformed circle at the static deflection [m].

    The factor is common practice, no source.
    """
    deflection = min(load / stiffness, radius)
    return 0.8 * 2 * math.sqrt(max(2 * radius * deflection - deflection**2, 1e-6))
