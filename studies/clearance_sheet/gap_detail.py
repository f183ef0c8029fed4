"""One gap of the clearance sheet, drawn large: the facing parts, the swept envelope, and its dimensions.

Distances are counted from the face of the part against which the item sweeps. The detail stands as on the truck:
seen from the left (front on the left) or, for gaps across the truck, from behind.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from crossaxle.studies.clearance_sheet.drawing_parts import (
    Dimension,
    Entity,
    Line,
    Point,
    SheetPanel,
    largest_scale,
)
from crossaxle.studies.clearance_sheet.sheet_numbers import Clearance
from crossaxle.studies.pictures.truck_views import View, project

THICK = 5.0
"""Drawn thickness of the facing parts [mm of paper]."""
LANE = 22.5, 6.5
"""Room of one dimension beside the next where they stand upright, and where they lie [mm of paper]."""
BESIDE = 24.0
"""Room for the texts of lying dimensions [mm of paper]."""
MOST_DRAWN = 4.0
"""A clearance to build beyond so many times what is built and met is stated but not drawn."""


@dataclass(frozen=True)
class _Plan:
    """From distance t off the fixed face and place n across it, both mm of full size, to the drawing."""

    way: Point
    scale: float

    @property
    def upright(self) -> bool:
        """Whether distances run up or down."""
        return self.way[1] != 0

    def point(self, t: float, n: float) -> Point:
        return (n, self.way[1] * t) if self.upright else (self.way[0] * t, -n)

    def box(self, t: tuple[float, float], n: tuple[float, float]) -> tuple[Point, ...]:
        return tuple(self.point(a, b) for a, b in ((t[0], n[0]), (t[1], n[0]), (t[1], n[1]), (t[0], n[1])))


def view_of(clearance: Clearance) -> View:
    """Name the view that shows a gap in its true length."""
    return "behind" if clearance.places[0].direction[1] else "left"


def way_from_face(clearance: Clearance) -> Point:
    """Direction on paper from the fixed part's face towards the item."""
    place = clearance.places[0]
    towards = project(view_of(clearance), place.direction)[:2]
    sign = -1 if clearance.against == place.parts[1] else 1
    return float(sign * np.round(towards[0])), float(sign * np.round(towards[1]))


def layer_of(part: str) -> str:
    """Name the layer on which a part of the truck is drawn."""
    kind = part.split(" ", 1)[0]
    named = {"body": "Body", "cab": "Cab", "axle": "Axles and tyres", "tank": "Tanks and brackets"}
    return named.get(kind, "Frame")


def detail(clearance: Clearance, corner: Point, size: Point) -> SheetPanel:
    """Draw one gap into a place on the sheet.

    Parameters
    ----------
    clearance : Clearance
    corner, size : point
        Lower left corner and size of the place [mm of paper].
    """
    built, least, widest = (1e3 * v for v in (clearance.built, clearance.least, clearance.widest))
    needed = 1e3 * float(clearance.needed.value) if clearance.needed else 0.0
    if needed > MOST_DRAWN * max(built, widest):
        needed = 0.0
    lanes = 4 if needed else 3
    low, high = min(0.0, least), max(built, widest, needed)
    way = way_from_face(clearance)
    room = _room(size, upright=way[1] != 0)
    scale = largest_scale((room, room), (high - low, 1.0))
    plan = _Plan(way, scale)
    lane = LANE[0 if plan.upright else 1] / scale
    thick = THICK / scale
    across = (0.0, lanes * lane)
    entities: list[Entity] = [
        Line(layer_of(clearance.against), plan.box((0.0, -thick), across), closed=True, filled=True),
        Line("Swept envelope", plan.box((least, widest), across), closed=True, filled=True),
        Line("Sweeping item as built", plan.box((built, built + thick), across), closed=True),
    ]
    if needed and clearance.needed:
        ends = (max(1e3 * float(clearance.needed.low), low), min(1e3 * float(clearance.needed.high), high))
        strip = (across[1] - 0.5 * lane, across[1])
        entities.append(Line("Clearance to build", plan.box(ends, strip), closed=True, filled=True))
        entities.append(Line("Clearance to build", (plan.point(needed, 0.0), plan.point(needed, across[1]))))
    text_line = high + thick + 2.6 / scale
    for k, (label, value) in enumerate(
        (("built", built), ("least", least), ("widest", widest), ("movement", needed))[:lanes]
    ):
        n = (k + 0.5) * lane
        ends_at = plan.point(0.0, n), plan.point(value, n)
        entities.append(
            Dimension(
                *ends_at,
                "y" if plan.upright else "x",
                ends_at[0][0 if plan.upright else 1],
                label,
                plan.point(text_line, n),
                _anchor(plan),
                overlap=value < 0,
            )
        )
    return SheetPanel(
        scale, corner, size, _origin(plan, size, (low - thick, text_line), across[1]), tuple(entities)
    )


def _room(size: Point, *, upright: bool) -> float:
    """Length on paper that is left for the distances themselves."""
    return size[1] - 2 * THICK - 6.0 if upright else size[0] - 2 * THICK - BESIDE - 4.0


def _anchor(plan: _Plan) -> Literal["left", "middle", "right"]:
    if plan.upright:
        return "middle"
    return "left" if plan.way[0] > 0 else "right"


def _origin(plan: _Plan, size: Point, t: tuple[float, float], n: float) -> Point:
    """Centre the drawing in its place."""
    far = t[1] + (0.0 if plan.upright else BESIDE / plan.scale)
    corners = np.array(plan.box((t[0], far), (0.0, n)))
    middle = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    return (
        float(middle[0] - 0.5 * size[0] / plan.scale),
        float(middle[1] - 0.5 * size[1] / plan.scale),
    )
