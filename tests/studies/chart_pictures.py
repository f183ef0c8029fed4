"""Small pictures of the main charts, to be compared with those kept in chart_pictures/.

``python tests/studies/chart_pictures.py`` draws those again; look at each before it is kept.
"""

import importlib.util
from io import BytesIO
from pathlib import Path

from PIL import Image

from studies.charts import style
from studies.charts.catalogue import catalogue
from studies.charts.export import compact_svg, png

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
)


def main_charts(dataset):
    """List the main charts of made-up results, by name, as the catalogue has them."""
    ds = dataset(
        candidates={"wheelbase": (3.8, 5.0), "mount": ("rigid", "pivoting", "sprung")},
        n_samples=60,
        gaps=("tank top to floor",),
        uncertain=True,
    )
    return {entry.name: entry.draw for entry in catalogue(ds) if entry.name in MAIN}


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
