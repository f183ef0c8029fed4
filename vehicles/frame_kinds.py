"""Named kinds of ladder frame: default stiffness of the joints between rails and cross-members.

How a cross-member is fixed to the rail decides a frame's torsional stiffness, and it is seldom published. The
values here are starting points for a frame nobody has measured; a pedestal test of the real frame replaces
them (joint stiffness per cross-member, or one factor on all).
"""

import math

from vehicles.cross_member import Joint

_KINDS = {
    # Flange on flange, many rivets: bending and torsion as rigid as the members; of the warping restraint
    # a part, as rivets slip and flanges dish.
    "riveted channels": Joint(bending=math.inf, torsion=math.inf, warping=5.0e4),
    # Fewer fasteners with clearance: less of everything.
    "bolted channels": Joint(bending=1.0e6, torsion=5.0e5, warping=2.0e4),
    # Flanges welded on flanges all round.
    "welded channels": Joint(bending=math.inf, torsion=math.inf, warping=2.0e5),
    # Tubes with a foot plate on the rail's web: nothing holds the flanges.
    "tube cross-members": Joint(bending=5.0e5, torsion=5.0e5),
}


def frame_kind(name: str) -> Joint:
    """Joint stiffness of a named kind of frame.

    Parameters
    ----------
    name : str
        ``riveted channels``, ``bolted channels``, ``welded channels`` or ``tube cross-members``.

    Returns
    -------
    Joint

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    try:
        return _KINDS[name]
    except KeyError:
        raise ValueError(f"found {name!r}; allowed: {', '.join(sorted(_KINDS))}") from None
