"""The main charts against pictures that were looked at: what no other test sees must not change unnoticed."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageChops, ImageFilter

_SPEC = importlib.util.spec_from_file_location(
    "chart_pictures", Path(__file__).parents[1] / "chart_pictures.py"
)
pictures = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(pictures)

SHADES = 10.0
"""Allowed root mean square of the difference, of 255 shades, after a blur of one dot.

Keeping sixteen shades comes to 1.7, and everything a fifth of a dot aside, as another release of the drawing libraries
may set it, to 9; a wiped word to more than half as much again as is allowed: see the last test.
"""


@pytest.fixture(scope="module")
def drawn(synthetic):
    return {name: pictures.picture(draw) for name, draw in pictures.main_charts(synthetic).items()}


def kept(name):
    with Image.open(pictures.KEPT / f"{name}.png") as picture:
        return picture.convert("L")


def difference(one, other):
    """Largest root mean square over squares of 50 dots, so that a small change is not lost in a large picture."""
    blurred = [picture.filter(ImageFilter.BoxBlur(1)) for picture in (one, other)]
    off = np.asarray(ImageChops.difference(*blurred), dtype=float)
    tiles = [
        off[top : top + 50, left : left + 50]
        for top in range(0, off.shape[0], 50)
        for left in range(0, off.shape[1], 50)
    ]
    return max(float(np.sqrt((tile**2).mean())) for tile in tiles)


@pytest.mark.parametrize("name", pictures.MAIN)
def test_chart_looks_as_it_did(drawn, name):
    assert drawn[name].size == kept(name).size
    assert difference(drawn[name], kept(name)) < SHADES


def test_a_missing_word_is_noticed(drawn):
    """Of each picture a word's area, 60 by 10 dots of its heading, is wiped."""
    for name, picture in drawn.items():
        wiped = picture.copy()
        wiped.paste(255, (10, 3, 70, 13))
        assert difference(wiped, kept(name)) > 1.5 * SHADES, name
