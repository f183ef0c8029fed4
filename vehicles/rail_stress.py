"""Normal stress along a rail from bending and restrained warping.

Frame: station rearward, tension positive. sigma = M/W_y + B omega/Cw at the farthest fibre, with bending
moment M and bimoment B (V. Z. Vlasov, Thin-walled elastic beams, 1961, ch. II). A section has points where
the two add and points where they subtract (a channel's flange edges, upper and lower); both combinations
are given, and the larger magnitude is the stress to look at. Where bending and warping add at a web corner
instead of a flange edge this is on the safe side.
"""

import numpy as np
from numpy.typing import NDArray

from vehicles.frame import LadderFrame, Side

Array = NDArray[np.float64]


def stress_rows(frame: LadderFrame, side: Side, station: float) -> Array:
    """Rows of the rail's normal stress at a station [Pa].

    Parameters
    ----------
    frame : LadderFrame
    side : {"left", "right"}
    station : float
        [m]

    Returns
    -------
    (4, n)
        Bending plus warping and bending minus warping, just ahead of the station and just behind it: section
        forces jump where a cross-member holds the rail, and properties where the section changes.

    Raises
    ------
    ValueError
        If the station is off the rail.
    """
    rows = []
    for behind in (False, True):
        section = frame.section_at(station, behind=behind)
        bending = frame.bending_moment_row(side, station, behind=behind) / section.section_modulus_y
        warping = np.zeros_like(bending)
        if section.warping_constant > 0.0:
            per_bimoment = section.sectorial_coordinate / section.warping_constant
            warping = frame.bimoment_row(side, station, behind=behind) * per_bimoment
        rows += [bending + warping, bending - warping]
    return np.array(rows)
