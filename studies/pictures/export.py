"""Charts as files and as addresses for a page: drawn once as SVG, which is made compact and turned into PNG and PDF.

matplotlib writes six decimals, a style on every marker and a name on every group. Two decimals of a point (1/72 inch)
are a two-hundredth of a millimetre, whole hundredths of an em place a letter to a twentieth of a point, and a style
that all markers of a group share can stand on the group.
"""

import re
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from typing import Any

import matplotlib as mpl
import typst
from matplotlib.figure import Figure
from PIL import Image

_SVG: dict[Any, Any] = {"svg.fonttype": "path", "svg.hashsalt": "crossaxle"}
_DOTS_PER_INCH = 160
_COLOURS = 128
_IN_ADDRESS = (
    ("%", "%25"),
    ("#", "%23"),
    ("&", "%26"),
    ("'", "%27"),
    ('"', "'"),
    (" ", "%20"),
    ("\n", "%20"),
)
_PAGE = b'#set page(width: auto, height: auto, margin: 0pt, fill: white)\n#image("chart.svg")'

_HEAD = re.compile(r"<\?xml.*?<svg ", re.DOTALL)
_NOT_DRAWN = re.compile(r"<metadata>.*?</metadata>|<!--.*?-->|(?<=<g) id=\"[^\"]*\"", re.DOTALL)
_COORDINATES = re.compile(r'( (?:d|x|y|width|height|transform)=")([^"]*)"')
_NUMBER = re.compile(r"-?\d+\.\d+")
_STEP = re.compile(r"\s*([MLQCZz])\s*")
_MARKERS = re.compile(r'<g( clip-path="[^"]*")?>((?:<use [^>]*/>){2,})</g>')
_STYLE = re.compile(r' style="([^"]*)"')
_GLYPH = re.compile(r'<use xlink:href="#([^"]*)" transform="translate\(([-\d.]+)(?: 0)?\)"/>')
_FONT = re.compile(r'(="#?)(DejaVuSans(?:-Bold|-Oblique)?)-(?=[0-9a-f]+")')
_SHORT = {"DejaVuSans": "n", "DejaVuSans-Bold": "b", "DejaVuSans-Oblique": "o"}


def compact_svg(made: Figure) -> str:
    """Return the figure as compact SVG, the same text every time."""
    out = BytesIO()
    with _settings():
        made.savefig(out, format="svg", metadata={"Date": None})
    text = _HEAD.sub("<svg ", out.getvalue().decode("utf-8"), count=1)
    text = _NOT_DRAWN.sub("", text)
    text = _COORDINATES.sub(_rounded, text)
    text = re.sub(r">\s+<", "><", text)
    text = _GLYPH.sub(lambda found: f'<use xlink:href="#{found[1]}" x="{float(found[2]):.0f}"/>', text)
    text = text.replace(": ", ":").replace("; ", ";")
    text = _FONT.sub(lambda found: f"{found[1]}{_SHORT[found[2]]}", text)
    return _MARKERS.sub(_one_style, text).strip()


def png(svg: str) -> bytes:
    """Turn a chart's SVG into PNG."""
    return _typeset(svg, "png")


def pdf(svg: str) -> bytes:
    """Turn a chart's SVG into PDF, lines staying lines."""
    return _typeset(svg, "pdf")


def address(svg: str) -> str:
    """Return a chart as a data address, safe between double quotes and in a list of sources."""
    text = svg.replace("xlink:href", "href")
    for found, written in _IN_ADDRESS:
        text = text.replace(found, written)
    return f"data:image/svg+xml,{text}"


def solid_address(made: bytes) -> str:
    """Return a picture of many faces, made as PNG, as a data address: few colours are enough for such."""
    with Image.open(BytesIO(made)) as picture:
        few = picture.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    out = BytesIO()
    few.save(out, "PNG")
    return f"data:image/png;base64,{b64encode(out.getvalue()).decode('ascii')}"


def _typeset(svg: str, to: Any) -> bytes:
    files: Any = {"main": _PAGE, "chart.svg": svg.encode("utf-8")}
    made: Any = typst.compile(files, format=to, ppi=_DOTS_PER_INCH, ignore_system_fonts=True, timestamp=0)
    return bytes(made)


def _rounded(found: re.Match[str]) -> str:
    name, text = found.groups()
    if name != ' transform="':
        text = _STEP.sub(r"\1", _NUMBER.sub(_two_decimals, text)).strip().replace(" ", ",")
    elif "scale" not in text:
        text = _NUMBER.sub(_two_decimals, text)
    return f'{name}{text}"'


def _two_decimals(found: re.Match[str]) -> str:
    text = f"{float(found[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _one_style(found: re.Match[str]) -> str:
    clip, uses = found[1] or "", found[2]
    styles = set(_STYLE.findall(uses))
    if len(styles) != 1 or uses.count("style=") != uses.count("<use "):
        return found[0]
    return f'<g{clip} style="{styles.pop()}">{_STYLE.sub("", uses)}</g>'


@contextmanager
def _settings() -> Iterator[None]:
    with mpl.rc_context(_SVG):
        yield
