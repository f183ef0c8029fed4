"""The clearance sheet laid out: the truck above, a detail for every gap below, words and title block on the right.

The smallest of A3, A2, A1 and A0 (all landscape) that has a place for every gap is taken; what does not even
fit on A0 stands in the report's table of gaps.
"""

from crossaxle.studies.clearance_sheet.drawing_parts import (
    DIMENSION_TEXT,
    Entity,
    Line,
    Point,
    Sheet,
    SheetPanel,
    Text,
    largest_scale,
    scale_text,
)
from crossaxle.studies.clearance_sheet.gap_detail import detail
from crossaxle.studies.clearance_sheet.level_views import MARGIN, SIDES, truck_panel, truck_size
from crossaxle.studies.clearance_sheet.sheet_numbers import Clearance, ClearanceSheet
from crossaxle.studies.clearance_sheet.sheet_words import COLUMN, column, folded, sentences, whereabouts

PAPERS = {
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
    "A0": (1189.0, 841.0),
}
EDGE = 10.0
GAP = 4.0
CELL = 92.0, 75.0
"""Least size of the place of a detail [mm of paper]."""
TRUCK_HEIGHT = 118.0
"""Room for the views of the truck on A3; larger paper gives them more [mm of paper]."""
HEAD = 6.0


def lay_out_sheet(sheet: ClearanceSheet) -> Sheet:
    """Lay the sheet out."""
    name = next((n for n, size in PAPERS.items() if _places(size) >= len(sheet.clearances)), "A0")
    size = PAPERS[name]
    shown = sheet.clearances[: _places(size)]
    left = EDGE, size[0] - EDGE - COLUMN - GAP
    rows = -(-len(shown) // _per_row(size))
    floor = EDGE + rows * CELL[1]
    room = left[1] - left[0], size[1] - EDGE - floor
    views, scale = _views(sheet, shown, (left[0], floor), room)
    entities: list[Entity] = [_frame((EDGE, EDGE), (size[0] - EDGE, size[1] - EDGE))]
    edge = size[0] - EDGE - COLUMN - 0.5 * GAP
    entities.append(Line("Border", ((edge, EDGE), (edge, size[1] - EDGE))))
    for panel, words in zip(views, ("From the left", "From behind"), strict=True):
        at = panel.corner[0] + 8.0, size[1] - EDGE - 4.5
        entities.append(Text(at, f"{words}, standing level, {scale_text(scale)}", 3.4, bold=True))
    details: list[SheetPanel] = []
    width = (left[1] - left[0]) / _per_row(size)
    for k, clearance in enumerate(shown):
        row, place = divmod(k, _per_row(size))
        corner = left[0] + place * width, floor - (row + 1) * CELL[1]
        drawn, written = _cell(clearance, sheet, corner, (width, CELL[1]))
        details.append(drawn)
        entities += written
    at = size[0] - EDGE - COLUMN + 0.5 * GAP, EDGE
    entities += column(sheet, at, size[1] - EDGE, f"{name}, truck {scale_text(scale)}", len(shown))
    title = f"Clearances: {sheet.vehicle.file.name}, {sheet.candidate.name}"
    return Sheet(size, title, tuple(entities), (*views, *details))


def _per_row(size: Point) -> int:
    return int((size[0] - 2 * EDGE - COLUMN - GAP) // CELL[0])


def _places(size: Point) -> int:
    return _per_row(size) * int((size[1] - 2 * EDGE - TRUCK_HEIGHT) // CELL[1])


def _views(
    sheet: ClearanceSheet, shown: tuple[Clearance, ...], corner: Point, room: Point
) -> tuple[tuple[SheetPanel, SheetPanel], float]:
    """Both views at one scale, side by side above ``corner``."""
    (length, height), width = truck_size(sheet.vehicle)
    beside = sum(sum(room) for room in SIDES.values())
    scale = largest_scale((room[0] - beside, room[1] - 2 * MARGIN - HEAD), (length + width, height))
    top = corner[1] + room[1] - HEAD
    above = top - height * scale - 2 * MARGIN
    spare = room[0] - beside - (length + width) * scale
    side = truck_panel(sheet.vehicle, shown, "left", scale, (corner[0] + 0.3 * spare, above))
    behind_at = corner[0] + 0.7 * spare + side.size[0], above
    behind = truck_panel(sheet.vehicle, shown, "behind", scale, behind_at)
    return (side, behind), scale


def _cell(
    clearance: Clearance, sheet: ClearanceSheet, corner: Point, size: Point
) -> tuple[SheetPanel, list[Entity]]:
    """One gap: its name, where it is, the drawing, and what to build."""
    x, room = corner[0] + 2.0, size[0] - 4.0
    entities: list[Entity] = [
        _frame(corner, (corner[0] + size[0], corner[1] + size[1])),
    ]
    y = corner[1] + size[1] - 3.2
    for line in folded(f"{clearance.number}\u00a0{clearance.name}", room, 3.4, bold=True, most=3):
        entities.append(Text((x, y), line, 3.4, bold=True))
        y -= 4.2
    scale_line = y
    y -= 3.6
    for line in folded(whereabouts(clearance), room, DIMENSION_TEXT, most=2):
        entities.append(Text((x, y), line, DIMENSION_TEXT))
        y -= 3.6
    low, foot = corner[1] + 2.6, list[Entity]()
    for sentence, layer in reversed(sentences(clearance, sheet)):
        for line in reversed(folded(sentence, room, DIMENSION_TEXT, most=2)):
            foot.append(Text((x, low), line, DIMENSION_TEXT, layer=layer))
            low += 3.6
    entities += reversed(foot)
    place = (corner[0] + 1.0, low - 1.0), (size[0] - 2.0, y + 1.6 - low)
    made = detail(clearance, *place)
    seen = "seen from the left" if _lengthwise(clearance) else "seen from behind"
    entities.append(Text((x, scale_line), f"{scale_text(made.scale)}, {seen}", DIMENSION_TEXT))
    return made, entities


def _lengthwise(clearance: Clearance) -> bool:
    return not clearance.places[0].direction[1]


def _frame(low: Point, high: Point) -> Line:
    return Line("Border", (low, (high[0], low[1]), high, (low[0], high[1])), closed=True)
