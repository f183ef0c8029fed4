"""Normal stress along a rail from bending and restrained warping.

Frame: station rearward, tension positive. sigma = M/W_y + B omega/Cw at a fibre, with bending moment M and
bimoment B (V. Z. Vlasov, Thin-walled elastic beams, 1961, ch. II). The stress is given for the lower flange;
the upper one carries the same with the other sign. At the flange's edge, inboard of the shear centre's mirror
point, a left rail's bimoment adds to its bending moment and a right rail's opposes it; at the web corner it
is the other way round.
"""

import math

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.frame import LadderFrame, Side


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
        At the flange's edge and at the web corner, just ahead of the station; then the same just behind it:
        section forces jump where a cross-member holds the rail, and properties where the section changes.
        The largest magnitude of the four is the rail's stress there.

    Raises
    ------
    ValueError
        If the station is off the rail.
    """
    hand = 1.0 if side == "left" else -1.0
    rows = []
    for behind in (False, True):
        section = frame.section_at(station, behind=behind)
        bending = frame.bending_moment_row(side, station, behind=behind) / section.section_modulus_y
        warping = np.zeros_like(bending)
        if section.warping_constant > 0.0:
            warping = hand * frame.bimoment_row(side, station, behind=behind) / section.warping_constant
        edge, corner = section.sectorial_coordinate, section.opposite_sectorial_coordinate
        if math.isnan(corner):
            corner = edge
        rows += [bending + warping * edge, bending - warping * corner]
    return np.array(rows)
