"""A replay as data, as text, as a picture and as a film."""

from html import escape
from pathlib import Path
from typing import Any

import xarray as xr
from matplotlib.figure import Figure

from crossaxle.studies.analysis.candidates import Candidate, candidates, items
from crossaxle.studies.base.cautions import REPLAY, caution_lines, caution_note
from crossaxle.studies.base.number_format import number
from crossaxle.studies.base.quantities import QUANTITIES
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.charts import style
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pictures.film import PLAYER_SCRIPT, PLAYER_STYLE, gif, make_film, player
from crossaxle.studies.pictures.posture_view import draw_posture
from crossaxle.studies.posture.posture_values import describe_posture
from crossaxle.studies.posture.posture_words import worst_words
from crossaxle.studies.posture.replay import Replay, Replayer, gap_figures
from crossaxle.studies.posture.scene import SceneMaker

FILM_NAMES = (".gif", ".html")


def describe_replay(ds: xr.Dataset, found: Replay) -> dict[str, Any]:
    """Describe a replay as plain numbers and texts, SI units or with the unit in the key."""
    worst, standing = found.worst, found.standing
    return {
        "output": worst.variable,
        "item": worst.item,
        "candidate": _candidate(ds, found).texts,
        "course": items(ds, "course")[worst.course],
        "sample": worst.sample,
        "position_m": worst.position,
        "unit": QUANTITIES[worst.quantity].units,
        "stored": worst.value,
        "replayed": found.value,
        "difference": found.difference,
        "same_to_rounding": found.exact,
        "results_made_with": found.made_with or None,
        "ground_m": dict(zip(_wheels(found), standing.heights.tolist(), strict=True)),
        "grade": standing.slope[0],
        "side_slope": standing.slope[1],
        "posture": describe_posture(standing.vehicle, standing.posture),
    }


def replay_text(ds: xr.Dataset, found: Replay) -> str:
    """Tell a replay in lines of text."""
    worst = found.worst
    lines = [worst_words(worst, found.scale), f"  {_where(ds, found)}", *caution_lines(REPLAY)]
    if found.exact:
        lines.append("  replayed: the same to rounding")
    else:
        lines.append(
            f"  replayed: {found.value:.9g} instead of {worst.value:.9g} {QUANTITIES[worst.quantity].units}, a "
            f"difference of {abs(found.difference):.1e} of the largest in the results"
        )
    if found.made_with:
        lines.append(f"  the results were made with {found.made_with}")
    posture = describe_posture(found.standing.vehicle, found.standing.posture)
    lines.append("wheels")
    for wheel, values in posture["wheels"].items():
        load, free = number(values["load_N"] * 1e-3, 3), values["clearance_m"]
        lines.append(f"  {wheel}: {f'free, {free * 1e3:.0f} mm above its ground' if free else f'{load} kN'}")
    lines.append("gaps, level, here, and with finite rotations [mm]")
    lines += [
        f"  {gap.name}: {gap.level * 1e3:.0f}, {gap.small * 1e3:.0f}, {gap.finite * 1e3:.0f}"
        for gap in gap_figures(found.standing)
    ]
    return "\n".join(lines)


def draw_replay(ds: xr.Dataset, replayer: Replayer, found: Replay, width: float = style.WIDE) -> Figure:
    """Draw the posture of a replay."""
    scene = SceneMaker(found.standing, replayer.surface(found.standing)).scene(found.standing)
    title = worst_words(found.worst, found.scale)
    return draw_posture(scene, title, f"{_capital(_where(ds, found))}.", width, caution_note(REPLAY))


def check_film_name(path: str | None) -> None:
    """Raise InputError if a film's name does not end as it must."""
    if path is not None and Path(path).suffix.lower() not in FILM_NAMES:
        raise InputError(f"--film {path}: allowed are names that end in {' or '.join(FILM_NAMES)}")


def write_film(ds: xr.Dataset, replayer: Replayer, found: Replay, path: Path) -> None:
    """Film the metres around a replay's posture into a GIF, or a page with a player, by the name's ending.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    film = make_film(replayer, found.worst, [found.standing], [_candidate(ds, found).name])
    if path.suffix.lower() == ".gif":
        write_whole(path, gif(film))
        return
    title = escape(worst_words(found.worst, found.scale))
    page = (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<style>body{font:17px/1.5 system-ui,sans-serif;margin:1rem auto;max-width:60rem;padding:0 1rem}"
        f"img{{width:100%;height:auto;display:block}}figure{{margin:0}}{PLAYER_STYLE}</style></head>\n"
        f"<body><main><h1>{title}</h1><p>{escape(_capital(_where(ds, found)))}.</p>\n"
        f"<p>{escape(caution_note(REPLAY))}</p>\n{player(film)}</main>\n"
        f"<script>{PLAYER_SCRIPT}</script></body></html>\n"
    )
    write_whole(path, page.encode("utf-8"))


def _where(ds: xr.Dataset, found: Replay) -> str:
    worst = found.worst
    return (
        f"{_candidate(ds, found).name}; {items(ds, 'course')[worst.course]}, sample {worst.sample}, at "
        f"{worst.position:.2f} m"
    )


def _candidate(ds: xr.Dataset, found: Replay) -> Candidate:
    return candidates(ds)[found.worst.candidate]


def _wheels(found: Replay) -> list[str]:
    structure = found.standing.vehicle.structure
    return [output.item for output in structure.outputs[: len(structure.wheel_y)]]


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
