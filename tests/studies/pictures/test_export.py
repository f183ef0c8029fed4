"""Charts made compact, and jobs done beside each other."""

from io import BytesIO

import matplotlib as mpl
import numpy as np
from PIL import Image

from crossaxle.studies.charts import style
from crossaxle.studies.charts.unloading import unloading
from crossaxle.studies.pictures.export import address, compact_svg, png


def test_compact_svg_looks_like_what_it_was_made_of(synthetic):
    """Rounding moves nothing by more than a twentieth of a point: no halved dot differs by a third of its range."""
    made = unloading(synthetic(n_samples=20), width=style.WIDE)
    whole = BytesIO()
    with mpl.rc_context({"svg.fonttype": "path", "svg.hashsalt": "x"}):
        made.savefig(whole, format="svg")
    before, after = whole.getvalue().decode("utf-8"), compact_svg(made)
    assert len(after) < 0.7 * len(before)
    seen = []
    for text in (before, after):
        with Image.open(BytesIO(png(text))) as picture:
            seen.append(np.asarray(picture.convert("L").reduce(2), dtype=float))
    assert np.abs(seen[0] - seen[1]).max() < 85
    assert np.sqrt(((seen[0] - seen[1]) ** 2).mean()) < 2


def test_compact_svg_is_the_same_every_time(synthetic):
    ds = synthetic(n_samples=20)
    assert compact_svg(unloading(ds)) == compact_svg(unloading(ds))


def test_address_ends_no_attribute_and_no_list_of_sources(synthetic):
    found = address(compact_svg(unloading(synthetic(n_samples=20))))
    assert not set(found) & set(' \n\t"&#')
