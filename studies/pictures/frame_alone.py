"""A truck's frame alone, its warping and bending drawn several times as large."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from crossaxle.arrays import Array
from crossaxle.studies.charts import style
from crossaxle.studies.posture.scene import Scene

FACTORS = (1, 2, 3, 5, 10, 20)
LARGEST_WARP = 0.7
"""The frame's warping is drawn as many times as large as stays below this [m]."""


def enlargement(scenes: Sequence[Scene]) -> int:
    """How many times as large the frames' warping and bending can be drawn, a round number for all of them."""
    warp = max(float(np.abs(line[:, 2]).max()) for scene in scenes for line in scene.frame.values())
    return max(factor for factor in FACTORS if factor == 1 or factor * warp <= LARGEST_WARP)


def draw_frame(axes: Axes, scene: Scene, factor: int) -> None:
    """Draw the frame alone, its warping and bending ``factor`` times as large; dashed: as it is unbent."""
    for drawn, thick, dash in ((0, 0.8, (0, (4, 3))), (factor, 2.4, "-")):
        for name, line in scene.frame.items():
            seen = _frame_seen(line, drawn)
            rail = {"left": 0, "right": 1}.get(name)
            colour = style.LOOKS[4 if rail is None else rail].colour if drawn else style.SOFT
            axes.plot(
                seen[:, 0],
                seen[:, 1],
                color=colour,
                linewidth=0.6 * thick if rail is None else thick,
                linestyle=dash,
            )
    rails = {name: _frame_seen(scene.frame[name], factor) for name in ("left", "right")}
    # Named where they lie farthest apart, so that the names stay clear of each other.
    apart = [abs(float(rails["left"][end, 1] - rails["right"][end, 1])) for end in (0, -1)]
    end = 0 if apart[0] >= apart[1] else -1
    for name, other in (("left", "right"), ("right", "left")):
        above = rails[name][end, 1] > rails[other][end, 1]
        axes.annotate(
            f"{name} rail",
            tuple(rails[name][end]),
            xytext=(0, 6 if above else -12),
            textcoords="offset points",
            size=style.SMALL - 1,
            color=style.LOOKS[0 if name == "left" else 1].colour,
            ha="right" if end else "left",
        )


def frame_extent(scenes: Sequence[Scene], factor: int) -> tuple[float, float, float, float]:
    """Left, right, bottom and top of the drawn frames of all scenes [m]."""
    lines = [line for scene in scenes for line in scene.frame.values()]
    seen = np.concatenate([_frame_seen(line, drawn) for line in lines for drawn in (0, factor)])
    low, high = seen.min(axis=0), seen.max(axis=0)
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


def _frame_seen(points: Array, factor: float) -> Array:
    """Project points of the frame alone to the right and up: from the left and well from above."""
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    return np.stack([-x - 0.6 * y, factor * z - 0.9 * y], axis=-1)
