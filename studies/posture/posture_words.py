"""A posture in words and figures, as pictures and messages show it."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from crossaxle.studies.analysis.worst import Worst
from crossaxle.studies.base.number_format import fixed, number, quantity, shown_unit, with_unit
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.posture.posture_values import DEGREES
from crossaxle.studies.posture.replay import ROUNDING
from crossaxle.studies.posture.scene import Scene

LEVEL_GROUND = math.radians(0.5)
"""A slope below this is called level."""


class FigureTable(NamedTuple):
    """Headings of the columns, the first of which holds names, and rows of texts."""

    head: list[str]
    rows: list[list[str]]


def worst_words(worst: Worst, scale: float) -> str:
    """Say what an extreme is and its value: ``Smallest gap, cab back to body: 34 mm``.

    What is zero but for rounding against ``scale``, the quantity's largest magnitude, is shown as zero.
    """
    known = QUANTITIES[worst.quantity]
    item = f", {worst.item}" if worst.item else ""
    kind = "Smallest" if worst.smallest else "Largest"
    unit, factor = shown_unit(known.units)
    value = worst.value if abs(worst.value) > ROUNDING * scale else 0.0
    return f"{kind} {known.long_name}{item}: {quantity(value * factor, unit)}"


def ground_words(scenes: Sequence[Scene]) -> str:
    """Say how the ground slopes under the trucks, which wheels are free, and how the frame is drawn."""
    sentences = []
    steepest = max(scenes, key=lambda scene: float(np.hypot(*scene.slope)))
    grade, side = steepest.slope
    words = []
    if abs(grade) > LEVEL_GROUND:
        words.append(f"{abs(grade) * DEGREES:.0f} deg {'uphill' if grade > 0 else 'downhill'}")
    if abs(side) > LEVEL_GROUND:
        words.append(f"{abs(side) * DEGREES:.0f} deg sideways, {'left' if side > 0 else 'right'} side high")
    sentences.append(f"Ground under the wheels: {' and '.join(words) or 'level on the whole'}.")
    if len(scenes) == 1:
        free = [
            f"{wheel.name}, {quantity(wheel.clearance * 1e3, 'mm', 2)} above its ground"
            for wheel in scenes[0].wheels
            if wheel.free
        ]
        if free:
            sentences.append(f"Free: {'; '.join(free)}.")
    sentences.append(
        "Truck and ground to scale; the frame alone with its warping and bending enlarged as stated. Gaps in brackets: "
        "with finite rotations."
    )
    return " ".join(sentences)


def gap_table(scenes: Sequence[Scene], names: Sequence[str]) -> FigureTable:
    """Tabulate the gaps of one or several postures of the same vehicle file [mm].

    In brackets: with finite rotations.
    """
    rows = []
    for i, gap in enumerate(scenes[0].gaps):
        cells = [_millimetres(gap.figure.level)]
        for scene in scenes:
            figure = scene.gaps[i].figure
            cells.append(f"{_millimetres(figure.small)} ({_millimetres(figure.finite)})")
        rows.append([f"{i + 1}  {gap.figure.name}", *cells])
    return FigureTable(["gap [mm]", "level", *names], rows)


def other_table(scenes: Sequence[Scene], names: Sequence[str]) -> FigureTable:
    """Tabulate the other outputs of one or several postures, those that some of them have."""
    rows = []
    for name, known in QUANTITIES.items():
        if known.posture is None:
            continue
        words = known.posture or known.long_name
        unit, factor = shown_unit(known.units)
        values = [_worst(scene, name) for scene in scenes]
        if any(math.isfinite(value) for value in values):
            cells = [number(value * factor, 3) if math.isfinite(value) else "–" for value in values]
            rows.append([with_unit(words, f"[{unit}]") if unit else words, *cells])
    return FigureTable(["in this posture", *names], rows)


def _worst(scene: Scene, name: str) -> float:
    """Value of a quantity at its worst item and place; NaN where the vehicle has none."""
    outputs = scene.standing.vehicle.structure.outputs
    own = [
        float(y)
        for output, y in zip(outputs, scene.standing.posture.y, strict=True)
        if output.quantity == name
    ]
    if not own:
        return math.nan
    return min(own) if QUANTITIES[name].worst == "least" else max(own, key=abs)


def _millimetres(metres: float) -> str:
    return fixed(metres * 1e3, 0) if math.isfinite(metres) else "–"
