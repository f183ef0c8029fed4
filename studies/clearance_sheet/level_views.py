"""The truck standing level on the clearance sheet: from the left and from behind, with every gap marked.

At each gap the band that its item sweeps is drawn to scale. What is hidden is dashed.
"""

import numpy as np
from scipy.spatial import ConvexHull

from crossaxle.arrays import Array
from crossaxle.studies.clearance_sheet.drawing_parts import (
    Circle,
    Dimension,
    Entity,
    Line,
    Point,
    SheetPanel,
    Text,
)
from crossaxle.studies.clearance_sheet.gap_detail import way_from_face
from crossaxle.studies.clearance_sheet.sheet_numbers import Clearance
from crossaxle.studies.pictures.truck_views import View, project
from crossaxle.studies.posture.truck_shape import SolidPiece, TruckShape
from crossaxle.vehicles.assemble import Vehicle

MARGIN = 13.0
"""Room above and below the truck for dimensions and numbers [mm of paper]."""
SIDES = {"left": (8.0, 8.0), "behind": (8.0, 15.0)}
"""Room before and behind it in each view [mm of paper]."""
BALLOON = 2.6
"""Radius of the circle around a gap's number [mm of paper]."""
HALF_BAND = 60.0
"""Half width of the band drawn for a gap at a single point [mm]."""
_LAYERS = {
    "rail": "Frame",
    "cross-member": "Frame",
    "axle": "Axles and tyres",
    "tyre": "Axles and tyres",
    "cab": "Cab",
    "body": "Body",
    "tank": "Tanks and brackets",
    "bracket": "Tanks and brackets",
    "mount": "Mounts and pivots",
    "pivot": "Mounts and pivots",
}
_ORDER = ("cab", "body", "axle", "cross-member", "rail", "tyre", "bracket", "tank", "mount", "pivot")


def truck_size(vehicle: Vehicle) -> tuple[Point, float]:
    """Length and height from the side, and width from behind, of the truck standing level [mm]."""
    points = np.concatenate([piece.points for piece in TruckShape(vehicle).level()])
    extent = 1e3 * (points.max(axis=0) - points.min(axis=0))
    return (float(extent[0]), float(1e3 * points[:, 2].max())), float(extent[1])


def truck_panel(
    vehicle: Vehicle, clearances: tuple[Clearance, ...], view: View, scale: float, corner: Point
) -> SheetPanel:
    """Draw a view of the truck with its main dimensions and all gaps.

    Parameters
    ----------
    vehicle : Vehicle
    clearances : tuple of Clearance
    view : str
        ``left`` or ``behind``.
    scale : float
        mm of paper per mm.
    corner : point
        Lower left corner on the sheet [mm of paper].
    """
    pieces = sorted(TruckShape(vehicle).level(), key=lambda piece: _ORDER.index(piece.kind))
    outlines = [(piece, _outline(piece, view)) for piece in pieces]
    everything = np.concatenate([outline for _, outline in outlines])
    low, high = everything.min(axis=0), everything.max(axis=0)
    entities: list[Entity] = [
        Line(
            _LAYERS[piece.kind],
            tuple((float(a), float(b)) for a, b in outline),
            closed=True,
            filled=not _hidden(piece, view, vehicle),
            dashed=_hidden(piece, view, vehicle),
        )
        for piece, outline in sorted(outlines, key=lambda each: not _hidden(each[0], view, vehicle))
    ]
    entities.append(Line("Text", ((float(low[0]) - 100.0, 0.0), (float(high[0]) + 100.0, 0.0))))
    entities += _main_dimensions(vehicle, view, low, high, scale)
    for clearance in clearances:
        entities += _band(clearance, view)
    entities += _numbers(clearances, view, low, high, scale)
    left, right = SIDES[view]
    size = float(high[0] - low[0]) * scale + left + right, float(high[1] - low[1]) * scale + 2 * MARGIN
    origin = float(low[0]) - left / scale, float(low[1]) - MARGIN / scale
    return SheetPanel(scale, corner, size, origin, tuple(entities))


def _outline(piece: SolidPiece, view: View) -> Array:
    """Outline of a convex piece in a view [mm]."""
    seen = 1e3 * project(view, piece.points)[:, :2]
    return np.asarray(seen[ConvexHull(seen, qhull_options="QJ Pp").vertices])


def _hidden(piece: SolidPiece, view: View, vehicle: Vehicle) -> bool:
    if view == "left":
        return piece.side < 0 and piece.kind in ("tyre", "tank", "bracket", "rail")
    last = max(vehicle.layout.station(axle.at) for axle in vehicle.file.axle.values())
    return piece.kind in ("tyre", "axle") and -float(piece.points[:, 0].mean()) < last - 0.1


def _main_dimensions(vehicle: Vehicle, view: View, low: Array, high: Array, scale: float) -> list[Entity]:
    body, references = vehicle.file.body, vehicle.layout.references
    above, below = float(high[1]) + 6.0 / scale, float(low[1]) - 8.0 / scale
    roof, floor = 1e3 * body.roof, 1e3 * body.floor
    if view == "left":
        front, rear = (1e3 * references[name] for name in ("body front", "body rear"))
        return [
            Dimension((0.0, 0.0), (1e3 * vehicle.file.wheelbase, 0.0), "x", below, "wheelbase"),
            Dimension((front, roof), (rear, roof), "x", above, "body"),
        ]
    half, beside = 500.0 * body.width, float(high[0]) + 6.0 / scale
    return [
        Dimension((-half, roof), (half, roof), "x", above, "body"),
        Dimension((half, 0.0), (half, floor), "y", beside, "floor", (beside, -4.0 / scale)),
    ]


def _band(clearance: Clearance, view: View) -> list[Entity]:
    """Draw the band that the item sweeps off the fixed face, and its face as built."""
    way = way_from_face(clearance)
    direction = clearance.places[0].direction
    if abs(float(project(view, direction)[2])) > 0.5:
        return []  # seen along the gap
    fixed = clearance.places[0].parts.index(clearance.against)
    ends = np.array([1e3 * project(view, place.points[fixed])[:2] for place in clearance.places])
    along = 1 if direction[2] else 0
    sign = way[along]
    across = ends[:, 1 - along]
    start, end = float(across.min()), float(across.max())
    if end - start < HALF_BAND:
        start, end = start - HALF_BAND, end + HALF_BAND
    face = float(ends[0, along])

    def point(t: float, n: float) -> Point:
        return (n, face + sign * t) if along else (face + sign * t, n)

    least, widest, built = (1e3 * v for v in (clearance.least, clearance.widest, clearance.built))
    corners = tuple(point(*c) for c in ((least, start), (widest, start), (widest, end), (least, end)))
    return [
        Line("Swept envelope", corners, closed=True, filled=True),
        Line("Sweeping item as built", (point(built, start), point(built, end))),
    ]


def _numbers(
    clearances: tuple[Clearance, ...], view: View, low: Array, high: Array, scale: float
) -> list[Entity]:
    """Number every gap beside its place, clear of other numbers and places."""
    places = [
        1e3 * np.mean([project(view, place.points.mean(axis=0))[:2] for place in clearance.places], axis=0)
        for clearance in clearances
    ]
    taken: list[Array] = []
    entities: list[Entity] = []
    for clearance, place in zip(clearances, places, strict=True):
        at = _free_place(place, [*taken, *(p for p in places if p is not place)], low, high, scale)
        taken.append(at)
        towards = (place - at) / max(float(np.hypot(*(place - at))), 1e-9)
        rim = at + towards * BALLOON / scale
        centre = float(at[0]), float(at[1])
        entities += [
            Line("Dimensions", ((float(rim[0]), float(rim[1])), (float(place[0]), float(place[1])))),
            Circle("Dimensions", centre, BALLOON),
            Text(centre, str(clearance.number), 3.2, "middle", bold=True),
        ]
    return entities


def _free_place(place: Array, others: list[Array], low: Array, high: Array, scale: float) -> Array:
    """Return the nearest place for a number that is clear of all others."""
    first = None
    for reach in (7.0, 9.0, 12.0, 15.0, 19.0, 24.0, 30.0):
        for angle in np.radians([60, 120, -60, -120, 20, 160, 90, -90, 0, 180]):
            at = place + reach / scale * np.array([np.cos(angle), np.sin(angle)])
            first = at if first is None else first
            if (
                np.all(at > low - 2.0 / scale)
                and np.all(at < high + 2.0 / scale)
                and all(np.hypot(*(at - other)) > 2.4 * BALLOON / scale for other in others)
            ):
                return np.asarray(at)
    return np.asarray(first)
