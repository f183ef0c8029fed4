"""Nodes of a ladder frame: rails' ends, cross-members, changes of section and even divisions between.

Items on the rails never make nodes, so that two brackets or hangers may stand as close as they like.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from crossaxle.vehicles.sections import Section

LONGEST_ELEMENT = 0.3
"""Elements are no longer than this [m].

A load between nodes acts through shape functions of the unloaded element. That gives the exact displacements
of the nodes but leaves out what the element itself gives way under the load, at most L^3/(192 E I) in bending
and about L^3/(192 E Cw) in torsion: for a truck's rail and this length some 1e-10 m/N and 1e-7 rad/(N m), a
hundredth or less of what any tyre, spring or bracket gives.
"""

SHORTEST_ELEMENT = 0.02
"""Nodes keep this distance [m]: stiffness grows with 1/L^3, and with it the rounding that loses load."""


@dataclass(frozen=True)
class RailSpan:
    """A length of both rails with one section, from start to end [m]."""

    start: float
    end: float
    section: Section


def place_nodes(
    spans: Sequence[RailSpan], cross_members: Sequence[float], extra_stations: Sequence[float]
) -> tuple[list[float], list[Section]]:
    """Place the nodes.

    Parameters
    ----------
    spans : sequence of RailSpan
        Contiguous, front to rear. A change of section nearer than 20 mm to another node moves to that node.
    cross_members : sequence of float
        Their stations [m].
    extra_stations : sequence of float
        Further nodes where no other is nearer than 20 mm [m].

    Returns
    -------
    list of float, length n_nodes
        Stations [m].
    list of Section, length n_nodes - 1
        Of the elements between them.

    Raises
    ------
    ValueError
        If spans do not join, or cross-members are missing, off the rails or too close together or to an end.
    """
    _check_spans(spans)
    _check_cross_members(sorted(cross_members), spans[0].start, spans[-1].end)
    nodes = sorted({spans[0].start, spans[-1].end, *cross_members})
    changes = [_nearest(nodes, span.end) for span in spans[:-1]]
    nodes = sorted({*nodes, *changes})
    for station in extra_stations:
        if nodes[0] <= station <= nodes[-1] and _nearest(nodes, station) == station:
            nodes = sorted({*nodes, station})
    stations = [nodes[0]]
    for ahead, after in pairwise(nodes):
        parts = math.ceil((after - ahead) / LONGEST_ELEMENT - 1e-9)
        stations += [ahead + (after - ahead) * i / parts for i in range(1, parts)] + [after]
    return stations, [spans[bisect_right(changes, (a + b) / 2.0)].section for a, b in pairwise(stations)]


def _nearest(nodes: list[float], station: float) -> float:
    """Replace a station by the nearest node if that is nearer than the shortest element."""
    node = min(nodes, key=lambda other: abs(other - station))
    return node if abs(node - station) < SHORTEST_ELEMENT else station


def _check_spans(spans: Sequence[RailSpan]) -> None:
    if not spans:
        raise ValueError("frame: no rail spans; give at least one")
    for span in spans:
        if not span.end - span.start >= 2.0 * SHORTEST_ELEMENT:
            raise ValueError(
                f"frame: a rail section from {span.start:g} m to {span.end:g} m; "
                "it must run rearward over 40 mm"
            )
    for ahead, after in pairwise(spans):
        if abs(ahead.end - after.start) > 1e-9:
            raise ValueError(
                f"frame: a rail section ends at {ahead.end:g} m but the next starts at {after.start:g} m; "
                "join them"
            )


def _check_cross_members(stations: list[float], start: float, end: float) -> None:
    if not stations:
        raise ValueError("frame: no cross-members; two rails that nothing ties are no frame")
    for station in stations:
        if not start <= station <= end:
            raise ValueError(
                f"frame: cross-member at {station:g} m is off the rails, which reach from {start:g} m "
                f"to {end:g} m"
            )
        for rail_end in (start, end):
            if 0.0 < abs(station - rail_end) < SHORTEST_ELEMENT:
                raise ValueError(
                    f"frame: cross-member at {station:g} m is {abs(station - rail_end) * 1e3:.3g} mm from "
                    f"the rails' end at {rail_end:g} m; put it exactly there or at least 20 mm away"
                )
    for ahead, after in pairwise(stations):
        if after - ahead < SHORTEST_ELEMENT:
            raise ValueError(
                f"frame: cross-members at {ahead:g} m and {after:g} m; they must stand 20 mm apart or more "
                "(two that stand closer are one built-up cross-member)"
            )
