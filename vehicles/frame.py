"""Ladder frame: two rails and their cross-members as an out-of-plane grillage.

Frame: ISO 8855 axes (x forward, y left, z up), station s = distance rearward, ' = d/ds. Each node of a rail
carries w (at the web's mid-plane), psi (section rotation about y, = dw/ds), theta (about x, positive left
side up) and, where the section can warp, theta' (crossaxle.vehicles.rail_element). Cross-members are condensed onto
the rails (crossaxle.vehicles.cross_member). Points between nodes are rows of the elements' own shape functions, so
that items on a rail never make nodes, however close they stand (crossaxle.vehicles.frame_nodes).
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from crossaxle.arrays import Array, Integers
from crossaxle.vehicles.cross_member import CrossMember, Joint, on_rails
from crossaxle.vehicles.frame_nodes import RailSpan, place_nodes
from crossaxle.vehicles.rail_element import rail_rows, rail_stiffness
from crossaxle.vehicles.sections import Section

__all__ = ["CrossMember", "Joint", "LadderFrame", "RailSpan", "Side", "ladder_frame", "torsional_stiffness"]

Side = Literal["left", "right"]

_QUANTITIES = ("deflection", "slope", "twist", "twist rate")


@dataclass(frozen=True, eq=False)
class LadderFrame:
    """A ladder frame as arrays; n degrees of freedom.

    Attributes
    ----------
    stiffness : (n, n)
        Symmetric, singular: heave, pitch and roll are free.
    dof_names : tuple of str, length n
    start, end : float
        Stations of the rails' ends [m].
    spacing : float
        Between the rails' web mid-planes [m].
    young, shear_modulus : float
        [Pa]
    stations : tuple of float, length n_nodes
        Of the nodes, front to rear [m].
    sections : tuple of Section, length n_nodes - 1
        Of the elements.
    index : (2, n_nodes, 4) of int
        Degree of freedom of w, psi, theta, theta' on the left and right rail; n where there is none, as
        theta' of a section that does not warp.
    """

    stiffness: Array
    dof_names: tuple[str, ...]
    start: float
    end: float
    spacing: float
    young: float
    shear_modulus: float
    stations: tuple[float, ...]
    sections: tuple[Section, ...]
    index: Integers
    _rows: dict[tuple[Side, float, bool], Array] = field(default_factory=dict, init=False, repr=False)

    def deflection_row(self, side: Side, station: float) -> Array:
        """Row of w at the web's mid-plane [m]; shape (n,). ValueError off the rail."""
        return self._row(0, side, station)

    def slope_row(self, side: Side, station: float) -> Array:
        """Row of the rail's rotation about y, dw/ds [rad]; shape (n,). ValueError off the rail."""
        return self._row(1, side, station)

    def twist_row(self, side: Side, station: float) -> Array:
        """Row of the rail's own rotation about x, left side up [rad]; shape (n,). ValueError off it."""
        return self._row(2, side, station)

    def roll_row(self, station: float) -> Array:
        """Row of the rail pair's rotation about x, (w_left - w_right)/spacing [rad]; shape (n,)."""
        return (self.deflection_row("left", station) - self.deflection_row("right", station)) / self.spacing

    def bending_moment_row(self, side: Side, station: float, *, behind: bool = True) -> Array:
        """Row of E I psi_s', positive with the lower flange in tension [N m]; shape (n,).

        Moments jump where a cross-member holds the rail: ``behind`` picks the side of the station. ValueError
        off the rail.
        """
        return self._row(4, side, station, behind=behind)

    def bimoment_row(self, side: Side, station: float, *, behind: bool = True) -> Array:
        """Row of E Cw theta'' [N m2]; shape (n,). ``behind`` as for the bending moment."""
        return self._row(5, side, station, behind=behind)

    def section_at(self, station: float, *, behind: bool = True) -> Section:
        """Rail section at a station; where it changes the one ``behind`` or ahead. ValueError off it."""
        return self.sections[self._element(station, behind)]

    def rigid_motions(self) -> Array:
        """Heave, pitch about the front axle and roll as vectors of the degrees of freedom; shape (3, n)."""
        n = len(self.dof_names)
        motions = np.zeros((3, n + 1))
        for index, y in zip(self.index, (self.spacing / 2.0, -self.spacing / 2.0), strict=True):
            motions[0, index[:, 0]] = 1.0
            motions[1, index[:, 0]] = self.stations
            motions[1, index[:, 1]] = 1.0
            motions[2, index[:, 0]] = y
            motions[2, index[:, 2]] = 1.0
        return motions[:, :n]

    def _element(self, station: float, behind: bool) -> int:
        if not self.start <= station <= self.end:
            raise ValueError(
                f"station {station:.4g} m is off the rail, which reaches from {self.start:.4g} m "
                f"to {self.end:.4g} m"
            )
        element = bisect_right(self.stations, station) - 1
        if not behind and element > 0 and self.stations[element] == station:
            element -= 1
        return min(element, len(self.sections) - 1)

    def _row(self, kind: int, side: Side, station: float, *, behind: bool = True) -> Array:
        key = (side, station, behind)
        if key not in self._rows:
            self._rows[key] = self._made_rows(*key)
            self._rows[key].flags.writeable = False
        row: Array = self._rows[key][kind]
        return row

    def _made_rows(self, side: Side, station: float, behind: bool) -> Array:
        """All that `rail_rows` gives at a station, over the frame's degrees of freedom, (6, n)."""
        element = self._element(station, behind)
        front, rear = self.stations[element], self.stations[element + 1]
        which = 0 if side == "left" else 1
        n = len(self.dof_names)
        rows = np.zeros((6, n + 1))
        rows[:, self.index[which, element : element + 2].ravel()] = rail_rows(
            self.sections[element],
            round(rear - front, 14),
            self.young,
            self.shear_modulus,
            1 - 2 * which,
            station - front,
        )
        return rows[:, :n]


def ladder_frame(
    spans: Sequence[RailSpan],
    cross_members: Sequence[CrossMember],
    spacing: float,
    young: float,
    shear_modulus: float,
    extra_stations: Sequence[float] = (),
) -> LadderFrame:
    """Assemble a ladder frame.

    Parameters
    ----------
    spans : sequence of RailSpan
        Contiguous, front to rear; they hold for both rails.
    cross_members : sequence of CrossMember
        In any order.
    spacing : float
        Between the rails' web mid-planes [m].
    young, shear_modulus : float
        [Pa]
    extra_stations : sequence of float
        Further nodes, for section forces right under a load [m]; left out where another node is nearer than
        20 mm.

    Returns
    -------
    LadderFrame

    Raises
    ------
    ValueError
        If spans do not join, or cross-members are missing, off the rails, or nearer than 20 mm to each
        other or to the rails' end.
    """
    stations, sections = place_nodes(spans, [member.station for member in cross_members], extra_stations)
    for name, value in (("spacing", spacing), ("young", young), ("shear_modulus", shear_modulus)):
        if not (value > 0.0 and math.isfinite(value)):
            raise ValueError(f"frame: {name} is {value:g}; it must be above 0")
    count = len(stations)
    joined = {}
    for member in cross_members:
        node = stations.index(member.station)
        rail = sections[min(node, count - 2)]
        joined[node] = on_rails(member.section, member.joint, rail, spacing, young, shear_modulus)

    warps = np.array([section.warping_constant > 0.0 for section in sections])
    used = np.ones((2, count, 4), dtype=bool)
    used[:, :, 3] = np.concatenate([warps, [False]]) | np.concatenate([[False], warps])
    used[:, [node for node, member in joined.items() if member.holds_warping], 3] = False
    n = int(used.sum())
    # Node by node, so that the stiffness is banded.
    order = np.full((count, 2, 4), n)
    order[used.transpose(1, 0, 2)] = np.arange(n)
    index = np.ascontiguousarray(order.transpose(1, 0, 2))

    # Rounded, so that equal divisions share one element whatever the last bits of their stations.
    lengths = [round(rear - front, 14) for front, rear in pairwise(stations)]
    blocks = [
        rail_stiffness(section, length, young, shear_modulus, side)
        for side in (1, -1)
        for section, length in zip(sections, lengths, strict=True)
    ]
    places = [np.concatenate([index[:, :-1], index[:, 1:]], axis=2).reshape(-1, 8)]
    if joined:
        blocks += [member.stiffness for member in joined.values()]
        places.append(order[list(joined)].reshape(-1, 8))
    place = np.concatenate(places)
    flat = place[:, :, None] * (n + 1) + place[:, None, :]
    stiffness = np.bincount(flat.ravel(), np.array(blocks).ravel(), (n + 1) ** 2).astype(np.float64)
    names = [
        f"{side} rail at {station:.3f} m: {quantity}"
        for station in stations
        for side in ("left", "right")
        for quantity in _QUANTITIES
    ]
    kept = used.transpose(1, 0, 2).ravel()
    return LadderFrame(
        stiffness=np.ascontiguousarray(stiffness.reshape(n + 1, n + 1)[:n, :n]),
        dof_names=tuple(name for name, keep in zip(names, kept.tolist(), strict=True) if keep),
        start=stations[0],
        end=stations[-1],
        spacing=spacing,
        young=young,
        shear_modulus=shear_modulus,
        stations=tuple(stations),
        sections=tuple(sections),
        index=index,
    )


def torsional_stiffness(frame: LadderFrame, front_station: float, rear_station: float) -> float:
    """Torque per relative roll of the rail pair between two stations [N m/rad].

    Equal and opposite couples of vertical forces at the rails' webs load the bare frame at the two stations.

    Parameters
    ----------
    frame : LadderFrame
    front_station, rear_station : float
        [m]

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If a station is off the rail, or both are the same.
    """
    if front_station == rear_station:
        raise ValueError(f"front and rear station are both {front_station:g} m; twist needs two stations")
    row = frame.roll_row(front_station) - frame.roll_row(rear_station)
    # The load is in balance, so holding the rigid motions by any stiffness leaves it and the twist alone.
    rigid = np.linalg.qr(frame.rigid_motions().T)[0]
    held = frame.stiffness + np.diag(frame.stiffness).mean() * (rigid @ rigid.T)
    return 1.0 / float(row @ np.linalg.solve(held, row))
