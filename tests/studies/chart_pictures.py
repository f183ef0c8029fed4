"""Small pictures of the main charts, to be compared with those kept in chart_pictures/.

``python -m tests.studies.chart_pictures`` draws those again; look at each before it is kept.
"""

import importlib.util
from functools import partial
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image

from crossaxle.studies.charts import style
from crossaxle.studies.charts.catalogue import catalogue
from crossaxle.studies.charts.crack_distance import fatigue_life
from crossaxle.studies.pictures.export import compact_svg, png
from crossaxle.studies.pictures.frame_along import FrameLine, frame_along

KEPT = Path(__file__).parent / "chart_pictures"
WIDTH = 500
"""Of a picture [dots]: enough for every line and word to leave a mark."""

MAIN = (
    "unload_events",
    "wheel_load",
    "convergence",
    "gap_1_tank_top_to_floor",
    "bracket_1_tank_front_bracket",
    "frame_twist",
    "trade",
    "differences",
    "drivers",
    "life_gap_minimum",
    "fatigue_life",
    "frame_along",
)


def main_charts(dataset):
    """List the main charts of made-up results, by name, as the catalogue has them."""
    ds = dataset(
        candidates={"wheelbase": (3.8, 5.0), "mount": ("rigid", "pivoting", "sprung")},
        n_samples=60,
        gaps=("tank top to floor",),
        uncertain=True,
    )
    drawn = {entry.name: entry.draw for entry in catalogue(ds) if entry.name in MAIN}
    return {
        **drawn,
        "fatigue_life": partial(fatigue_life, with_cycles(ds), 0),
        "frame_along": partial(frame_along, bent_frames()),
    }


def with_cycles(ds):
    """Add made-up cycles of stress, fewer for every further mount and wheelbase."""
    ranges = np.arange(2.0, 160.0, 4.0)  # [MPa]
    shape = (
        *(ds.sizes[name] for name in ("wheelbase", "mount", "course")),
        20,
        ds.sizes["bracket"],
        ranges.size,
    )
    wheelbase, mount, _, fold, bracket, at = np.indices(shape)
    scale = 14.0 - 2.0 * mount - wheelbase + bracket
    counts = np.floor(400.0 * np.exp(-ranges[at] / scale) * (1.0 + 0.05 * np.cos(fold)))
    dims = ("wheelbase", "mount", "course", "fold", "bracket", "bracket_cycles_bin")
    bins = ("bracket_cycles_bin", ranges * 1e6, {"units": "Pa", "bin_width": 4e6})
    category = np.full((*shape[:2], ds.sizes["bracket"]), 90e6)
    return ds.assign_coords(bracket_cycles_bin=bins).assign(
        bracket_cycles_histogram=(dims, counts),
        bracket_detail_category=(("wheelbase", "mount", "bracket"), category),
    )


def bent_frames():
    """Two frames that give most behind the cab, one of them five times as stiff."""
    stations = np.linspace(-1.0, 6.0, 29)
    roll = np.radians(9.0) / (1.0 + np.exp(-(stations - 1.2) / 0.5))
    axles = np.array([0.0, 4.4])
    return [
        FrameLine("wheelbase 4.4 m, pivoting mount", stations, roll, axles),
        FrameLine("wheelbase 4.4 m, rigid mount", stations, 0.2 * roll, axles),
    ]


def picture(draw):
    """Draw a chart through the way the report takes, and make it small."""
    with Image.open(BytesIO(png(compact_svg(draw(style.WIDE))))) as whole:
        return whole.convert("L").resize(
            (WIDTH, round(WIDTH * whole.height / whole.width)), Image.Resampling.BOX
        )


if __name__ == "__main__":
    spec = importlib.util.spec_from_file_location("synthetic", Path(__file__).parent / "synthetic.py")
    synthetic = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(synthetic)
    KEPT.mkdir(exist_ok=True)
    for name, draw in main_charts(synthetic.dataset).items():
        picture(draw).quantize(16).save(KEPT / f"{name}.png", optimize=True)
