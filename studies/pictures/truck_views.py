"""A truck on its ground seen from the left, from behind and from the front left, drawn to scale."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_rgb

from crossaxle.arrays import Array, Booleans
from crossaxle.studies.base.number_format import number
from crossaxle.studies.charts import style
from crossaxle.studies.charts.text import width as text_width
from crossaxle.studies.posture.scene import Scene
from crossaxle.studies.posture.truck_shape import Kind, SolidPiece

View = Literal["left", "behind", "corner"]
EARTH, EARTH_FAR, EARTH_LINE, EARTH_MESH = "#e4ded2", "#efebe3", "#857862", "#cdc4b2"
_TYRE, _FREE = "#47525b", "#ffffff"

TURN, DOWN = np.radians(38.0), np.radians(20.0)
"""The corner view looks from so far beside the front, and so far from above."""


@dataclass(frozen=True)
class _Paint:
    """Colours and line of one kind of piece; order in which the kinds are painted."""

    face: str
    edge: str
    line: float
    order: int
    alpha: float = 1.0


_PAINTS: dict[Kind, _Paint] = {
    "axle": _Paint("#8b9095", style.SOFT, 0.8, 2),
    "cross-member": _Paint("#aab2b8", style.INK, 0.7, 3),
    "rail": _Paint("#2f3d47", style.INK, 0.4, 4),
    "bracket": _Paint("#b25f12", "#8a4a0e", 0.8, 5),
    "tank": _Paint("#f1b878", "#8a4a0e", 0.8, 5),
    "mount": _Paint("#8c2f5e", "#8c2f5e", 0.8, 6),
    "pivot": _Paint("#8c2f5e", "#8c2f5e", 0.8, 6),
    "cab": _Paint("#cfe6e1", "#2c776c", 1.2, 8, 0.75),
    "body": _Paint("#cbd8e2", "#0f3d5c", 1.2, 9, 0.6),
}

_CLOSED: tuple[Kind, ...] = ("tyre", "tank", "cab", "body")
"""Kinds of which only the sides towards the eye are painted."""

PAINTS = (
    *dict.fromkeys(
        colour for paint in _PAINTS.values() if paint.alpha == 1.0 for colour in (paint.face, paint.edge)
    ),
    *(EARTH, EARTH_FAR, EARTH_LINE, _TYRE, _FREE, style.DANGER, style.INK, style.SOFT),
)
"""Colours that any view may show unblended."""


def project(view: View, points: Array) -> Array:
    """Project points (..., 3) [m] to a view: to the right, up, and towards the eye, (..., 3)."""
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    if view == "left":
        return np.stack([-x, z, y], axis=-1)
    if view == "behind":
        return np.stack([-y, z, -x], axis=-1)
    # The eye stands at the front left; right in the picture is rearward and to the left side's rear.
    ahead, across = np.cos(TURN) * y + np.sin(TURN) * x, -np.cos(TURN) * x + np.sin(TURN) * y
    return np.stack(
        [across, np.cos(DOWN) * z - np.sin(DOWN) * ahead, np.cos(DOWN) * ahead + np.sin(DOWN) * z], axis=-1
    )


def extent(view: View, scenes: Sequence[Scene]) -> tuple[float, float, float, float]:
    """Left, right, bottom and top of what a view of all the scenes shows [m]."""
    seen = np.concatenate([project(view, _framed(view, scene)).reshape(-1, 3) for scene in scenes])
    low, high = seen.min(axis=0), seen.max(axis=0)
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


def draw_view(axes: Axes, scene: Scene, view: View, marks: bool = True) -> None:
    """Draw a scene into axes whose limits are set to one scale in both directions.

    Parameters
    ----------
    axes : Axes
    scene : Scene
    view : str
    marks : bool
        Whether gaps are marked with their numbers.
    """
    if view == "corner":
        _paint(axes, _ground_faces(scene), 0)
    else:
        _draw_cut(axes, scene, view, near=False)
    _paint(axes, [f for piece in scene.pieces for f in _faces(scene, piece, view)], 2)
    if view != "corner":
        _draw_cut(axes, scene, view, near=True)
    if marks:
        _mark_gaps(axes, scene, view)
    if view == "left":
        _draw_scale(axes)
        if scene.pieces:
            _write_loads(axes, scene)
        else:
            axes.text(
                0.5,
                0.6,
                "no stable posture here",
                transform=axes.transAxes,
                ha="center",
                size=style.TEXT,
                weight="bold",
                color=style.DANGER,
            )


def _framed(view: View, scene: Scene) -> Array:
    """Points that a view must hold: the truck, and the ground as far as the view shows it."""
    truck = np.concatenate([piece.points for piece in scene.pieces]) if scene.pieces else np.empty((0, 3))
    if view == "left":
        return np.concatenate([truck, scene.ground[list(scene.tracks)].reshape(-1, 3)])
    if view == "behind":
        return np.concatenate([truck, scene.felt.reshape(-1, 3)])
    return np.concatenate([truck, scene.ground.reshape(-1, 3)])


_Painted = tuple[float, Array, tuple[float, float, float], str, float, float]
"""Depth, outline (k, 2), face, edge, line width, alpha."""


def _faces(scene: Scene, piece: SolidPiece, view: View) -> list[tuple[int, _Painted]]:
    if piece.kind == "tyre":
        free = next(wheel.free for wheel in scene.wheels if wheel.name == piece.name)
        paint = _Paint(_FREE if free else _TYRE, style.DANGER if free else style.INK, 2.0 if free else 0.8, 0)
        order = _tyre_order(piece, view)
    else:
        paint = _PAINTS[piece.kind]
        order = paint.order
    seen = project(view, piece.points)
    painted: list[tuple[int, _Painted]] = []
    for size in sorted({len(face) for face in piece.faces}):
        faces = np.array([face for face in piece.faces if len(face) == size])
        outlines = seen[faces]
        if piece.kind in _CLOSED:
            towards = _look_towards(outlines, seen.mean(axis=0))
            faces, outlines = faces[towards], outlines[towards]
        shades = _shades(piece.points[faces]) if view == "corner" else np.ones(len(faces))
        depths = outlines[..., 2].mean(axis=1)
        # The tread's many small faces are not outlined one by one.
        tread = piece.kind == "tyre" and size == 4
        edge, line = (paint.face, 0.3) if tread else (paint.edge, paint.line)
        painted += [
            (order, (float(depth), outline, _shaded(paint.face, float(shade)), edge, line, paint.alpha))
            for depth, outline, shade in zip(depths, outlines[..., :2], shades, strict=True)
        ]
    return painted


def _look_towards(outlines: Array, middle: Array) -> Booleans:
    """Whether faces (n, corners, 3) of a closed convex piece are on the side of the eye, (n,)."""
    normal = np.cross(outlines[:, 1] - outlines[:, 0], outlines[:, 2] - outlines[:, 0])
    outward = ((outlines.mean(axis=1) - middle) * normal).sum(axis=1)
    return np.asarray(outward * normal[:, 2] > 0.0)


def _tyre_order(piece: SolidPiece, view: View) -> int:
    """Tyres on the near side are painted last, so that none hides behind a cab drawn without wheel arches."""
    if view == "behind":
        return 2
    return 1 if piece.side < 0 else 10


def _ground_faces(scene: Scene) -> list[tuple[int, _Painted]]:
    """Faces of the ground's surface, coarse along the way."""
    mesh = scene.ground[:, ::5]
    corners = np.stack([mesh[:-1, :-1], mesh[:-1, 1:], mesh[1:, 1:], mesh[1:, :-1]], axis=2).reshape(-1, 4, 3)
    seen = project("corner", corners)
    return [
        (0, (float(outline[:, 2].mean()), outline[:, :2], _shaded(EARTH, float(shade)), EARTH_MESH, 0.4, 1.0))
        for outline, shade in zip(seen, _shades(corners), strict=True)
    ]


def _paint(axes: Axes, faces: list[tuple[int, _Painted]], layer: int) -> None:
    """Paint faces: kind after kind, within a kind from far to near."""
    faces = sorted(faces, key=lambda face: (face[0], face[1][0]))
    if not faces:
        return
    colours = [(*f[2], f[5]) for _, f in faces]
    axes.add_collection(
        PolyCollection(
            [f[1] for _, f in faces],
            facecolors=colours,
            edgecolors=[f[3] for _, f in faces],
            linewidths=[f[4] for _, f in faces],
            zorder=layer,
        ),
        autolim=False,
    )


def _draw_cut(axes: Axes, scene: Scene, view: View, near: bool) -> None:
    """Draw the ground's profile: along the near or far wheels, or across at the last or first axle."""
    line = scene.ground[scene.tracks[0 if near else 1]] if view == "left" else scene.felt[-1 if near else 0]
    seen = project(view, line)
    bottom = axes.get_ylim()[0]
    axes.fill_between(
        seen[:, 0],
        seen[:, 1],
        bottom,
        color=EARTH if near else EARTH_FAR,
        linewidth=0,
        zorder=4 if near else 1,
    )
    axes.plot(
        seen[:, 0],
        seen[:, 1],
        color=EARTH_LINE,
        linewidth=1.6 if near else 1.0,
        linestyle="-" if near else (0, (4, 2)),
        zorder=5,
    )


def _mark_gaps(axes: Axes, scene: Scene, view: View) -> None:
    """Mark every gap by the line between its facing points and its number."""
    lines = [project(view, gap.ends)[:, :2] for gap in scene.gaps]
    axes.add_collection(LineCollection(lines, colors=style.DANGER, linewidths=2.2, zorder=7), autolim=False)
    place = _Placer(axes)
    for i, line in enumerate(lines):
        at = place(line.mean(axis=0))
        axes.annotate(
            str(i + 1),
            line.mean(axis=0),
            xytext=at,
            textcoords="data",
            ha="center",
            va="center",
            size=style.SMALL - 1.5,
            weight="bold",
            color="white",
            bbox={
                "boxstyle": "circle,pad=0.22",
                "facecolor": style.DANGER,
                "edgecolor": "white",
                "linewidth": 0.8,
            },
            arrowprops={
                "arrowstyle": "-",
                "color": style.DANGER,
                "linewidth": 0.8,
                "shrinkA": 0,
                "shrinkB": 0,
            },
            zorder=9,
        )


class _Placer:
    """Finds places for numbers beside their points, apart from each other."""

    def __init__(self, axes: Axes) -> None:
        low, high = axes.get_xlim()
        self._inch = (high - low) / _inches(axes)[0]
        self._limits = low, high, *axes.get_ylim()
        self._taken: list[Array] = []

    def __call__(self, point: Array) -> tuple[float, float]:
        angles = np.radians([60, 120, -60, -120, 20, 160, 90, -90, 0, 180])
        tried = [
            point + self._inch * reach * np.array([np.cos(a), np.sin(a)])
            for reach in (0.3, 0.42, 0.55, 0.7)
            for a in angles
        ]
        room = 0.26 * self._inch
        margin = 0.12 * self._inch
        left, right, bottom, top = self._limits
        free = (
            at
            for at in tried
            if left + margin < at[0] < right - margin
            and bottom + margin < at[1] < top - margin
            and all(np.hypot(*(at - other)) > room for other in self._taken)
        )
        at = next(free, tried[0])
        self._taken.append(at)
        return float(at[0]), float(at[1])


def _write_loads(axes: Axes, scene: Scene) -> None:
    """Write the loads of each axle's wheels below the ground, shortened where axles stand close."""
    axles = [scene.wheels[i : i + 2] for i in range(0, len(scene.wheels), 2)]
    at = [float(project("left", np.mean([w.centre for w in pair], axis=0))[0]) for pair in axles]
    low, high = axes.get_xlim()
    inch = (high - low) / _inches(axes)[0]
    room = min(np.diff(at)) / inch
    bottom, step = axes.get_ylim()[0], 0.19 * inch
    size = style.SMALL - 0.5
    for words in (("left ", "right "), ("L ", "R "), ("", "")):
        texts = [
            [f"{word}{_load(wheel.load, wheel.free)}" for word, wheel in zip(words, pair, strict=True)]
            for pair in axles
        ]
        if max(text_width(text, size, "bold") for pair in texts for text in pair) < room:
            break
    for place, pair, lines in zip(at, axles, texts, strict=True):
        for k, (wheel, text) in enumerate(zip(pair, lines, strict=True)):
            axes.text(
                place,
                bottom + (1.75 - k) * step,
                text,
                ha="center",
                va="center",
                size=size,
                color=style.DANGER if wheel.free else style.INK,
                weight="bold" if wheel.free else "normal",
                zorder=8,
            )


def _draw_scale(axes: Axes) -> None:
    """Draw a length of one metre at the upper left, above the cab."""
    (left, right), top = axes.get_xlim(), axes.get_ylim()[1]
    inch = (right - left) / _inches(axes)[0]
    ends, height = (left + 0.08 * inch, left + 0.08 * inch + 1.0), top - 0.15 * inch
    axes.plot(ends, (height, height), color=style.INK, linewidth=1.4, marker="|", markersize=7)
    axes.text(
        float(np.mean(ends)),
        height - 0.07 * inch,
        "1 m",
        ha="center",
        va="top",
        size=style.SMALL - 1,
        color=style.INK,
    )


def _load(load: float, free: bool) -> str:
    return "free" if free else f"{number(load * 1e-3, 3)} kN"


def _inches(axes: Axes) -> tuple[float, float]:
    box = axes.get_position()
    width, height = axes.get_figure(root=True).get_size_inches()  # type: ignore[union-attr]
    return float(box.width * width), float(box.height * height)


def _shades(corners: Array) -> Array:
    """Brightness of faces (n, corners, 3) under light from above, (n,)."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    return np.asarray(0.82 + 0.18 * np.abs(normal[:, 2]) / size)


@cache
def _rgb(colour: str) -> tuple[float, float, float]:
    red, green, blue = to_rgb(colour)
    return red, green, blue


def _shaded(colour: str, shade: float) -> tuple[float, float, float]:
    red, green, blue = _rgb(colour)
    return shade * red, shade * green, shade * blue
