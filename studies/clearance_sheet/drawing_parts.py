"""What a drawing sheet is made of, before it becomes SVG or DXF: lines, areas, texts and dimensions on named layers.

A panel shows part of the truck at full size [mm] and stands on the sheet at a scale; the rest of the sheet is in
mm of paper. Text sizes are always mm of paper (the font's em), so that all text reads alike at any scale.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

Point = tuple[float, float]


class Layer(NamedTuple):
    """How a layer is drawn: line colour, line width [mm of paper], and colour of its areas."""

    colour: str
    width: float
    area: str


LAYERS = {
    "Frame": Layer("#2f3d47", 0.35, "#dfe4e7"),
    "Axles and tyres": Layer("#47525b", 0.25, "#eceeef"),
    "Cab": Layer("#2c776c", 0.35, "#eaf5f3"),
    "Body": Layer("#0f3d5c", 0.35, "#e8eef3"),
    "Tanks and brackets": Layer("#8a4a0e", 0.35, "#fbeedd"),
    "Mounts and pivots": Layer("#8c2f5e", 0.25, "#f3e3eb"),
    "Sweeping item as built": Layer("#1c2730", 0.5, "#d5dadd"),
    "Swept envelope": Layer("#a3162b", 0.25, "#f4c9cf"),
    "Clearance to build": Layer("#0b6b3a", 0.5, "#cfe9da"),
    "Dimensions": Layer("#1c2730", 0.18, "#ffffff"),
    "Text": Layer("#1c2730", 0.18, "#1c2730"),
    "Warnings": Layer("#a3162b", 0.18, "#a3162b"),
    "Border": Layer("#1c2730", 0.35, "#ffffff"),
}
"""Layers in plain words, in the order in which they are painted."""


@dataclass(frozen=True)
class Line:
    """A line through points, closed and filled on demand; dashed where it is hidden or not there as built."""

    layer: str
    points: tuple[Point, ...]
    closed: bool = False
    filled: bool = False
    dashed: bool = False


@dataclass(frozen=True)
class Circle:
    """A circle; the radius is in mm of paper."""

    layer: str
    centre: Point
    radius: float


@dataclass(frozen=True)
class Text:
    """One line of text, at the height of its middle."""

    at: Point
    text: str
    size: float
    anchor: Literal["left", "middle", "right"] = "left"
    bold: bool = False
    layer: str = "Text"


@dataclass(frozen=True)
class Dimension:
    """The distance of two points along x or y, with a label before the number.

    Attributes
    ----------
    first, second : point
        Measured points [mm].
    along : str
        ``x`` or ``y``.
    line : float
        The other coordinate of the dimension line.
    label : str
        May be empty.
    text_at : point or None
        Where the text stands (middle, or end towards the drawing); None: beside the middle of the line.
    anchor : str
        Of the text.
    overlap : bool
        The parts overlap by the distance, instead of standing apart.
    """

    first: Point
    second: Point
    along: Literal["x", "y"]
    line: float
    label: str
    text_at: Point | None = None
    anchor: Literal["left", "middle", "right"] = "middle"
    overlap: bool = False

    @property
    def length(self) -> float:
        """Measured distance [mm]."""
        k = 0 if self.along == "x" else 1
        return abs(self.second[k] - self.first[k])

    @property
    def prefix(self) -> str:
        """Words before the number."""
        return "overlap" if self.overlap else self.label

    @property
    def text(self) -> str:
        """Label and rounded number, as a drawing shows it."""
        return f"{self.prefix} {self.length:.1f}".strip().removesuffix(".0")


Entity = Line | Circle | Text | Dimension

DIMENSION_TEXT = 2.9
"""Size of the text of dimensions [mm of paper]."""


@dataclass(frozen=True)
class SheetPanel:
    """Part of the truck at full size.

    Attributes
    ----------
    scale : float
        mm of paper per mm of truck.
    corner : point
        Lower left corner on the sheet [mm].
    size : point
        Width and height on the sheet [mm].
    origin : point
        What is at the lower left corner [mm, full size].
    entities : tuple
        In mm of full size.
    """

    scale: float
    corner: Point
    size: Point
    origin: Point
    entities: tuple[Entity, ...]

    def on_sheet(self, point: Point) -> Point:
        """Place a point of full size on the sheet."""
        return (
            self.corner[0] + (point[0] - self.origin[0]) * self.scale,
            self.corner[1] + (point[1] - self.origin[1]) * self.scale,
        )


@dataclass(frozen=True)
class Sheet:
    """A sheet of paper: its size [mm], what stands on the paper itself, and the panels."""

    size: Point
    title: str
    entities: tuple[Entity, ...]
    panels: tuple[SheetPanel, ...]


def scale_text(scale: float) -> str:
    """Write a scale: ``1:40``."""
    return f"1:{1 / scale:g}"


def largest_scale(room: Point, need: Point) -> float:
    """Return the largest usual scale at which what needs ``need`` mm fits into ``room`` mm of paper."""
    for denominator in (1, 2, 5, 10, 20, 25, 30, 40, 50, 75, 100):
        if need[0] <= room[0] * denominator and need[1] <= room[1] * denominator:
            return 1 / denominator
    return 1 / 200
