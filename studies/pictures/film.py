"""A short film of a truck, or of two side by side, over the metres before and after a posture.

As a GIF for mails, and as a player for a page: pictures in the page itself, a few lines of script for play, pause and
step. Without the script the page shows the posture that the film is about.
"""

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from io import BytesIO

import numpy as np
from matplotlib.colors import to_rgb
from PIL import Image

from crossaxle.studies.analysis.worst import Worst
from crossaxle.studies.base.cautions import REPLAY, caution_note
from crossaxle.studies.base.number_format import shown_unit
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.pictures.film_frame import FilmFrames, Strip
from crossaxle.studies.pictures.truck_views import PAINTS
from crossaxle.studies.posture.replay import Replayer, Standing
from crossaxle.studies.posture.scene import SceneMaker

REACH = 5.0
"""The film goes from so far before the posture to so far after it [m]."""

STEP = 0.25
"""Between frames [m]."""

DOTS = 90
"""Dots per inch."""

FLAT_COLOURS, COLOURS = 24, 64
"""Colours of the palette: the commonest of a frame as they are, and all."""

FRAME_TIME, REST_TIME = 120, 1500
"""How long a frame is shown, and the frame of the posture itself [ms]."""

_PLACES = np.array([65536, 256, 1])
"""Of red, green and blue in the number of a colour."""

PLAYER_STYLE = (
    ".film img[hidden]{display:none}"
    ".film .controls{display:flex;gap:.6rem;align-items:center;flex-wrap:wrap;margin:.3rem 0}"
    ".film .controls button{font:inherit;min-width:5.5rem;padding:.25rem .6rem}"
    ".film .controls input{flex:1;min-width:8rem}"
    "@media print{.film .controls{display:none}}"
)
"""Once in a page that has players."""

PLAYER_SCRIPT = """\
for (const film of document.querySelectorAll('.film')) {
  const frames = film.querySelectorAll('img');
  const slider = film.querySelector('input');
  const button = film.querySelector('button');
  const place = film.querySelector('output');
  let timer = 0;
  const show = (k) => {
    frames.forEach((frame, i) => { frame.hidden = i !== k; });
    slider.value = k;
    place.textContent = frames[k].dataset.place;
  };
  const stop = () => { clearInterval(timer); timer = 0; button.textContent = 'Play'; };
  const start = () => {
    timer = setInterval(() => show((Number(slider.value) + 1) % frames.length), FRAME_TIME);
    button.textContent = 'Pause';
  };
  slider.addEventListener('input', () => { stop(); show(Number(slider.value)); });
  button.addEventListener('click', () => { if (timer) { stop(); } else { start(); } });
  film.querySelector('.controls').hidden = false;
}
""".replace("FRAME_TIME", str(FRAME_TIME))
"""Once in a page that has players, after them."""


@dataclass(frozen=True)
class Film:
    """Pictures of one size with one palette.

    Attributes
    ----------
    frames : tuple of Image
    places : tuple of float
        Of each frame, from the posture the film is about [m].
    text : str
        What is to be seen, for those who cannot see it.
    """

    frames: tuple[Image.Image, ...]
    places: tuple[float, ...]
    text: str

    @property
    def here(self) -> int:
        """Number of the frame of the posture itself."""
        return int(np.argmin(np.abs(self.places)))


def make_film(
    replayer: Replayer, worst: Worst, standings: Sequence[Standing], names: Sequence[str], step: float = STEP
) -> Film:
    """Film the metres before and after a posture.

    Parameters
    ----------
    replayer : Replayer
    worst : Worst
        The extreme whose output is drawn along.
    standings : one or two Standing
        Candidates at one position of one sample.
    names : sequence of str
        What is written above each.
    step : float
        Between frames [m].
    """
    around = [replayer.around(standing, REACH, step) for standing in standings]
    films = []
    for standing, stands in zip(standings, around, strict=True):
        maker = SceneMaker(standing, replayer.surface(standing))
        films.append([maker.scene(each) for each in stands])
    places = np.array([each.front - standings[0].front for each in around[0]])
    known = QUANTITIES[worst.quantity]
    unit, factor = shown_unit(known.units)
    item = f", {worst.item}" if worst.item else ""
    lines = [factor * np.array([replayer.output(worst, each) for each in stands]) for stands in around]
    strip = Strip(f"{known.long_name}{item}{f' [{unit}]' if unit else ''}", places, lines)
    drawn = FilmFrames(films, names, strip, DOTS)
    frames = [Image.fromarray(drawn.frame(at)).convert("RGB") for at in range(len(places))]
    text = (
        f"Film of {' beside '.join(names)} from {abs(places[0]):.1f} m before to {places[-1]:.1f} m after the posture, "
        f"seen from the left and from behind, with {strip.heading} along the way. {caution_note(REPLAY)}"
    )
    return Film(_one_palette(frames, int(np.argmin(np.abs(places)))), tuple(places.tolist()), text)


def gif(film: Film) -> bytes:
    """Return the film as a GIF that repeats, resting at the posture it is about."""
    times = [REST_TIME if k == film.here else FRAME_TIME for k in range(len(film.frames))]
    out = BytesIO()
    first, *others = film.frames
    first.save(out, "GIF", save_all=True, append_images=others, duration=times, loop=0, optimize=False)
    return out.getvalue()


def player(film: Film) -> str:
    """Return the film as HTML for a page that has `PLAYER_STYLE` and `PLAYER_SCRIPT`."""
    images = "".join(
        f'<img src="data:image/png;base64,{_png(frame)}" alt="" data-place="{_place(place)}" '
        f'width="{frame.width}" height="{frame.height}"{"" if k == film.here else " hidden"}>'
        for k, (frame, place) in enumerate(zip(film.frames, film.places, strict=True))
    )
    last = len(film.frames) - 1
    return (
        f'<figure class="film"><div role="img" aria-label="{escape(film.text)}">{images}</div>'
        '<div class="controls" hidden><button type="button">Play</button>'
        f'<input type="range" min="0" max="{last}" value="{film.here}" aria-label="place along the film">'
        f"<output>{_place(film.places[film.here])}</output></div></figure>"
    )


def _place(metres: float) -> str:
    if abs(metres) < 0.5 * STEP:
        return "here"
    return f"{abs(metres):.1f} m {'after' if metres > 0 else 'before'}"


def _one_palette(frames: Sequence[Image.Image], typical: int) -> tuple[Image.Image, ...]:
    """Reduce all frames to the colours of a typical one, without dither, so that still parts stay still.

    The commonest colours, those of faces and lines, and all that the truck is painted with are kept as they are; the
    others share the rest of the palette.
    """
    pixels = np.asarray(frames[typical]).reshape(-1, 3)
    # One number per colour: sorting rows takes several times as long.
    numbers, counts = np.unique(keys := pixels @ _PLACES, return_counts=True)
    flat = numbers[np.argsort(-counts, kind="stable")[:FLAT_COLOURS]]
    others = pixels[~np.isin(keys, flat)]
    painted = [tuple(round(255 * channel) for channel in to_rgb(colour)) for colour in PAINTS]
    kept = list(
        dict.fromkeys([*painted, *(tuple(int(k) // int(place) % 256 for place in _PLACES) for k in flat)])
    )
    if others.size:
        rest = Image.fromarray(others[None]).quantize(COLOURS - len(kept), dither=Image.Dither.NONE)
        blended = np.array(rest.getpalette(), dtype=np.uint8).reshape(-1, 3)[: COLOURS - len(kept)]
        kept += [tuple(int(channel) for channel in colour) for colour in blended]
    palette = Image.new("P", (1, 1))
    palette.putpalette([channel for colour in kept for channel in colour])
    return tuple(frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames)


def _png(frame: Image.Image) -> str:
    out = BytesIO()
    frame.save(out, "PNG")
    return b64encode(out.getvalue()).decode("ascii")
