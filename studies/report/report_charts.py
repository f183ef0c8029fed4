"""A chart in all the forms the report needs: drawn for page and phone, then made into files and addresses."""

from collections.abc import Callable
from typing import NamedTuple

from matplotlib.figure import Figure

from crossaxle.studies.charts import style
from crossaxle.studies.pictures.export import address, compact_svg, pdf, png, solid_address


class Drawn(NamedTuple):
    """A chart as SVG, wide and for phones, and what it says; ``solid`` if made of many faces rather than of lines."""

    wide: str
    narrow: str
    text: str
    solid: bool


class Forms(NamedTuple):
    """A wide chart as files, and both as data addresses, which hold no character that ends an attribute."""

    png: bytes
    pdf: bytes
    address: str
    phone_address: str


def drawn(draw: Callable[[float], Figure], solid: bool = False) -> Drawn:
    """Draw a chart, given what draws it at a width [inches]."""
    wide = draw(style.WIDE)
    return Drawn(compact_svg(wide), compact_svg(draw(style.NARROW)), str(wide.get_label()), solid)


def forms(chart: Drawn) -> Forms:
    """Make a chart's files and addresses; a solid one is a PNG on the page, which is smaller for such.

    In threads, not in forked processes: the typesetter has threads of its own, which do not come along.
    """
    picture = png(chart.wide)
    if chart.solid:
        return Forms(picture, pdf(chart.wide), solid_address(picture), solid_address(png(chart.narrow)))
    return Forms(picture, pdf(chart.wide), address(chart.wide), address(chart.narrow))
