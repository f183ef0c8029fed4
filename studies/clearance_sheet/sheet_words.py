"""Words of the clearance sheet: where a gap is, what to build, legend, pivots and mounts, and the title block."""

import math

import numpy as np

from crossaxle.studies.analysis.extremes import FEWEST
from crossaxle.studies.base.cautions import CLEARANCES
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.number_format import MINUS, fixed, kilometres, tick
from crossaxle.studies.charts.text import fold
from crossaxle.studies.clearance_sheet.drawing_parts import Circle, Entity, Line, Point, Text
from crossaxle.studies.clearance_sheet.sheet_numbers import Clearance, ClearanceSheet, Travel

COLUMN = 110.0
"""Width of the column of words [mm of paper]."""
SIZE, STEP = 2.9, 3.9
TOO_WIDE = 4.0
"""An upper end beyond so many times what is built and met is no figure for a shop."""
LEGEND = (
    ("Swept envelope", "swept envelope: from the least to the widest gap met"),
    ("Sweeping item as built", "the item where it stands level, as built"),
    ("Clearance to build", "movement at the stated risk (line), with its 95 % interval (band)"),
)
_WAYS = {
    (1, 0, 0): "forward",
    (-1, 0, 0): "rearward",
    (0, 1, 0): "to the left",
    (0, -1, 0): "to the right",
    (0, 0, 1): "up",
    (0, 0, -1): "down",
}


def folded(text: str, room: float, size: float, *, bold: bool = False, most: int = 0) -> list[str]:
    """Break a text into lines of ``room`` mm at ``size`` mm."""
    weight = "bold" if bold else "normal"
    # Printed text runs up to 4 % wider than it is measured at screen size.
    lines = fold(text, 0.96 * room / 25.4, size * 72 / 25.4, weight=weight, most=most)
    return [line.replace(r"\$", "$") for line in lines]


def whereabouts(clearance: Clearance) -> str:
    """Tell between which parts a gap is, and where."""
    place = clearance.places[0]
    middle = 1e3 * np.mean([each.points.mean(axis=0) for each in clearance.places], axis=0)
    x, y, z = (float(v) for v in middle)
    way = _WAYS[tuple(int(v) for v in place.direction)]  # type: ignore[index]
    lengthwise = f"{abs(x):.0f} mm {'behind' if x <= 0 else 'ahead of'} the front axle"
    across = f"{abs(y):.0f} mm {'left' if y >= 0 else 'right'} of the middle"
    return f"{place.parts[0]} {way} to {place.parts[1]}; {lengthwise}, {across}, {z:.0f} mm high"


def sentences(clearance: Clearance, sheet: ClearanceSheet) -> list[tuple[str, str]]:
    """State movement, what to build and how far things stretch, each with the layer it is written on."""
    if clearance.needed is None or clearance.stretch is None:
        few = f"Too few samples ({sheet.samples}) to extrapolate; {FEWEST} are the fewest."
        alike = "All samples are alike: nothing to extrapolate."
        return [
            (few if sheet.samples < FEWEST else alike, "Warnings"),
            (f"Hoses, bellows: {_mm(clearance.widest - clearance.built)} mm stretch met.", "Text"),
        ]
    needed, stretch, met = clearance.needed, clearance.stretch, _mm(clearance.widest - clearance.built)
    most = TOO_WIDE * max(clearance.built, clearance.widest)
    moved = _mm(clearance.built - clearance.least)
    if clearance.poor:
        build = f"Poor fit, no number to build: movement of {moved} mm met; drive more samples"
    elif needed.high > most:
        build = (
            f"Movement {_mm(needed.value)} mm by estimate; {_span(needed)} is too wide to build by: "
            "drive more samples"
        )
    else:
        build = (
            f"Movement {_mm(needed.value)} mm ({_span(needed)}), allowance {_mm(sheet.allowance)} mm: "
            f"build {_mm(clearance.to_build(sheet.allowance))} mm"
        )
    allow = "how much to allow takes more samples"
    if stretch.high <= most:
        allow = f"allow {_mm(stretch.value)} mm ({_span(stretch)})"
    doubtful = clearance.too_small or bool(needed.high > most)
    return [
        (f"{build}.", "Warnings" if doubtful else "Text"),
        (f"Hoses, bellows: {met} mm stretch met, {allow}.", "Text"),
    ]


def column(sheet: ClearanceSheet, corner: Point, top: float, scales: str, shown: int) -> list[Entity]:
    """Write the column of words: legend and travels from the top, caution and title block at the foot.

    Parameters
    ----------
    sheet : ClearanceSheet
    corner : point
        Lower left [mm of paper].
    top : float
        [mm of paper]
    scales : str
        Paper and scale, in words.
    shown : int
        Gaps that have a detail on the sheet.
    """
    width = COLUMN - 4.0
    foot, reached = _title_block(sheet, corner, width, scales)
    entities, y = _legend(sheet, (corner[0], top), width, len(sheet.clearances) - shown)
    return [*entities, *_travels(sheet, (corner[0], y), width, reached + 4.0), *foot]


def _legend(sheet: ClearanceSheet, at: Point, width: float, left_out: int) -> tuple[list[Entity], float]:
    x, y = at[0], at[1] - 7.0
    entities: list[Entity] = [Text((x, y), "Clearance sheet", 6.5, bold=True)]
    y -= 7.5
    for layer, words in LEGEND:
        box = ((x, y - 1.3), (x + 7.0, y - 1.3), (x + 7.0, y + 1.3), (x, y + 1.3))
        entities += [
            Line(layer, box, closed=True, filled=True),
            Text((x + 9.0, y), words, SIZE),
        ]
        y -= 4.6
    entities += [
        Circle("Dimensions", (x + 3.5, y), 1.9),
        Text((x + 3.5, y), "1", 2.4, "middle", bold=True),
        Text((x + 9.0, y), "number of a gap; its detail is drawn below", SIZE),
    ]
    y -= 4.6
    rest = f" {left_out} further gaps have no room here: see the report's table." if left_out else ""
    risk = f"{tick(100 * sheet.risk)} %"
    for line in folded(
        f"All lengths in mm. Built: the gap standing level. Least and widest: met within {kilometres(sheet.driven)} of "
        f"random ground. Movement: passed in {kilometres(sheet.life)} with a probability of {risk}; allow: the stretch "
        "passed with that probability. In brackets the 95 % interval (terrain sampling error). Build: the upper bound "
        "and the allowance for tolerance, dynamics and dirt, never less than drawn. Red: interference, stop met, "
        "less drawn than the movement, or too wide an interval." + rest,
        width,
        SIZE,
    ):
        entities.append(Text((x, y), line, SIZE))
        y -= STEP
    return entities, y - 2.0


def _travels(sheet: ClearanceSheet, at: Point, width: float, lowest: float) -> list[Entity]:
    """Table of pivots and mount points down to ``lowest``; the largest come first if they are too many."""
    if not sheet.travels:
        return []
    x, y = at
    met, end = x + 0.62 * width, x + width
    entities: list[Entity] = [
        Text((x, y), "Pivots and mounts", 3.4, bold=True),
        Text((met, y), "met", SIZE, "right"),
        Text((end, y), "allow for (interval)", SIZE, "right"),
    ]
    y -= STEP + 0.6
    rows = sorted(sheet.travels, key=lambda travel: (not travel.turns, -travel.met))
    for k, travel in enumerate(rows):
        lines = _travel_lines(travel, met - x - 12.0)
        if y - STEP * len(lines) < lowest:
            entities.append(Text((x, y), f"and {len(rows) - k} that move less: see the report", SIZE))
            break
        unit, factor = ("°", 180 / math.pi) if travel.turns else ("", 1e3)
        layer = "Warnings" if travel.beyond_stop else "Text"
        entities += [
            Text((met, y), f"{fixed(travel.met * factor, 1)}{unit}", SIZE, "right", layer=layer),
            Text((end, y), _allowed(travel, factor, unit), SIZE, "right", layer=layer),
        ]
        for line in lines:
            entities.append(Text((x, y), line, SIZE))
            y -= STEP
    return entities


def _travel_lines(travel: Travel, room: float) -> list[str]:
    lines = folded(f"{travel.item}, {'turn' if travel.turns else 'travel'}", room, SIZE, most=2)
    if math.isfinite(travel.stop):
        lines.append(f"(stop at {math.degrees(travel.stop):.1f}°, lever {_mm(travel.lever)} mm)")
    return lines


def _allowed(travel: Travel, factor: float, unit: str) -> str:
    if travel.needed is None:
        return "not known"
    value, low, high = (
        f"{fixed(float(v) * factor, 1)}{unit}"
        for v in (travel.needed.value, travel.needed.low, travel.needed.high)
    )
    return f"{value} ({low} to {high})"


def _title_block(
    sheet: ClearanceSheet, corner: Point, width: float, scales: str
) -> tuple[list[Entity], float]:
    """Write caution and facts upwards from the foot; return them and the height reached."""
    vehicle = sheet.vehicle.file
    name = f"{vehicle.name} ({vehicle.note})" if vehicle.note else vehicle.name
    facts = (
        ("Study", sheet.title),
        ("Vehicle", name),
        ("Candidate", sheet.candidate.name),
        ("Wheelbase", f"{_mm(vehicle.wheelbase)} mm"),
        ("Mount", f"{vehicle.mount} ({sheet.vehicle.layout.mount.kind})"),  # type: ignore[attr-defined]
        ("Load", vehicle.load_state),
        ("Ground", f"{sheet.course}, {kilometres(sheet.driven)} in {sheet.samples} samples"),
        ("Scale", f"{scales}; details as written"),
        ("Seed", sheet.seed),
        ("Versions", sheet.versions),
    )
    entities: list[Entity] = []
    x, y = corner[0], corner[1] + 3.0
    for label, words in reversed(facts):
        lines = folded(words, width - 22.0, SIZE, most=4)
        for line in reversed(lines):
            entities.append(Text((x + 22.0, y), line, SIZE))
            y += STEP
        entities.append(Text((x, y - STEP), label, SIZE, bold=True))
        edge = y - 0.5 * STEP + 0.2
        entities.append(Line("Border", ((x - 2.0, edge), (x + width + 2.0, edge))))
        y += 0.4
    y += 0.8
    for line in reversed(folded(CLEARANCES, width, SIZE, bold=True)):
        entities.append(Text((x, y), line, SIZE, bold=True, layer="Warnings"))
        y += STEP
    return entities[::-1], y


def _mm(length: float | np.ndarray) -> str:
    return f"{1e3 * float(length):.0f}".replace("-", MINUS)


def _span(estimate: Interval) -> str:
    text = f"{_mm(estimate.low)} to {_mm(estimate.high)}"
    return text if MINUS in text else text.replace(" to ", "–")
