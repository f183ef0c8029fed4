"""Named kinds of ladder frame: default joints between rails and cross-members.

How a cross-member is fixed to the rail decides a frame's torsional stiffness, and it is seldom published. The
values here are starting points for a frame nobody has measured; a pedestal test of the real frame replaces
them (joint stiffness per cross-member, or one factor on all). Where they come from:

- Welded, riveted and bolted channels have open cross-members with their flanges on the rail's flanges, out to
  the edge. Seams leave little give (chosen: a ladder of 270 x 75 x 7 mm channels then comes within some per
  cent of the same ladder in flat shells, 1.0 kN m/deg). Fasteners: four per flange at 28 mm from their
  centre, each 100 kN/mm riveted, 30 kN/mm bolted with clearance (recalled orders of magnitude). That ladder
  then has 0.5 and 0.3 kN m/deg; bare ladders are said to have 0.5 to 3 (recalled).
- Cross-members on the web leave the flanges alone; what holds the rail's warping is the web's plate (fitted to
  a ladder of open cross-members in flat shells, 0.19 kN m/deg).
- Tubes end on the web whatever the kind. It dishes under their bending: 100 mm tube on a 7 mm web in flat
  shells. Riveted and bolted feet have eight fasteners at 80 mm.
"""

from dataclasses import dataclass

from crossaxle.vehicles.cross_member import Joint
from crossaxle.vehicles.sections import Section

_WEB_DISHES = 2.0e5
"""Bending joint of a member that ends on the rail's web [N m/rad]."""


@dataclass(frozen=True)
class FrameKind:
    """Default joints of a kind of frame, for cross-members of open and of closed section."""

    open_section: Joint
    closed_section: Joint

    def joint(self, section: Section) -> Joint:
        """Joint for a cross-member of this section."""
        return self.open_section if section.warping_constant > 0.0 else self.closed_section


_WELDED_TUBE = Joint(bending=_WEB_DISHES, torsion=3.0e7)

_KINDS = {
    "welded channels": FrameKind(
        Joint(bending=1.0e8, torsion=1.0e8, warping=5.0e6, overlap=1.0), _WELDED_TUBE
    ),
    "riveted channels": FrameKind(
        Joint(bending=1.4e7, torsion=1.4e7, warping=3.0e5, overlap=1.0),
        Joint(bending=_WEB_DISHES, torsion=5.0e6),
    ),
    "bolted channels": FrameKind(
        Joint(bending=4.0e6, torsion=4.0e6, warping=1.0e5, overlap=1.0),
        Joint(bending=_WEB_DISHES, torsion=1.5e6),
    ),
    "cross-members on the web": FrameKind(
        Joint(bending=_WEB_DISHES, torsion=3.0e7, warping=1.0e5), _WELDED_TUBE
    ),
}


def frame_kind(name: str) -> FrameKind:
    """Look up a kind of frame.

    Parameters
    ----------
    name : str
        ``welded channels``, ``riveted channels``, ``bolted channels`` or ``cross-members on the web``.

    Returns
    -------
    FrameKind

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    try:
        return _KINDS[name]
    except KeyError:
        raise ValueError(f"found {name!r}; allowed: {', '.join(sorted(_KINDS))}") from None
