"""The worst postures for the report: the recommended and the rejected candidate side by side on the same ground."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from crossaxle.sim.codes import GOOD
from crossaxle.studies.analysis.candidates import Candidate, items, values
from crossaxle.studies.analysis.worst import Worst, worst_sample
from crossaxle.studies.charts import style
from crossaxle.studies.charts.dots import hue
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pictures.film import Film, make_film, player
from crossaxle.studies.pictures.frame_along import FrameLine, frame_along
from crossaxle.studies.pictures.posture_view import draw_pair, draw_posture
from crossaxle.studies.posture.posture_words import worst_words
from crossaxle.studies.posture.replay import Replay, Replayer, Standing
from crossaxle.studies.posture.scene import Scene, SceneMaker
from crossaxle.studies.report.report_charts import Drawn, drawn

FILM_STEP = 0.5
"""Between the film's frames [m]: fine enough to follow a wheel, coarse enough for a page sent by mail."""


@dataclass(frozen=True)
class Pair:
    """A candidate's worst posture with the other candidates on the same ground, as far as they stand there.

    Attributes
    ----------
    found : Replay
    standings : one or two Standing
        The candidate's own first.
    names : sequence of str
    note : str
        Where it is, and what is compared.
    """

    found: Replay
    standings: Sequence[Standing]
    names: Sequence[str]
    note: str


class Postures(NamedTuple):
    """The worst postures drawn: pictures, the roll of the rails if there is a twist to show, and a film as HTML."""

    pictures: list[Drawn]
    along: Drawn | None
    film: str


def postures(ds: xr.Dataset, course: int, shown: Sequence[Candidate]) -> Postures | None:
    """Replay and draw the worst postures of one or two candidates.

    Returns
    -------
    Postures or None
        None where there is none to replay.
    """
    made = make_pairs(ds, course, shown)
    if made is None:
        return None
    replayer, pairs = made
    lines = frame_lines(replayer, ds, course, shown)
    return Postures(
        [drawn(partial(draw, replayer, pair), solid=True) for pair in pairs],
        drawn(partial(frame_along, lines)) if lines else None,
        player(film(replayer, pairs[0])),
    )


def worst_of(ds: xr.Dataset, candidate: int, course: int) -> Worst | None:
    """Find the worst value of the gap that uses up most of its clearance; of the frame's twist without gaps."""
    if ds.sizes.get("gap") and "gap_minimum_position" in ds:
        built = values(ds, "gap_static")[candidate]
        least = values(ds, "gap_minimum", course)[candidate]
        if np.isfinite(least).any():
            used = 1.0 - np.nanmin(np.where(np.isfinite(least), least, np.inf), axis=0) / np.where(
                built > 0, built, np.nan
            )
            if np.isfinite(used).any():
                gap = items(ds, "gap")[int(np.nanargmax(used))]
                return worst_sample(ds, "gap_minimum", gap, candidate, course)
    if "frame_twist_maximum_position" in ds:
        return worst_sample(ds, "frame_twist_maximum", "", candidate, course)
    return None


def make_pairs(ds: xr.Dataset, course: int, shown: Sequence[Candidate]) -> tuple[Replayer, list[Pair]] | None:
    """Replay the worst posture of each of one or two candidates, and stand the other one there too.

    Returns
    -------
    tuple or None
        None if the results do not carry a study that can be made ready again.
    """
    try:
        replayer = Replayer(ds)
    except InputError:
        return None
    pairs = []
    for own in shown:
        worst = worst_of(ds, own.index, course)
        if worst is None:
            continue
        try:
            found = replayer.replay(worst)
        except InputError:
            continue
        standings, names = [found.standing], [own.name]
        for other in shown:
            if other.index != own.index:
                beside = replayer.stand(other.index, course, worst.sample, found.standing.position)
                if beside.posture.code == GOOD:
                    standings.append(beside)
                    names.append(other.name)
        note = f"Worst of {own.name}: {items(ds, 'course')[course]}, sample {worst.sample}, at {worst.position:.2f} m."
        if len(standings) > 1:
            note += f" Beside it {names[1]} at the same place."
        pairs.append(Pair(found, standings, names, note))
    return (replayer, pairs) if pairs else None


def frame_lines(
    replayer: Replayer, ds: xr.Dataset, course: int, shown: Sequence[Candidate]
) -> list[FrameLine]:
    """Replay the worst frame twist of some candidates and read the roll of their rails; none where none was met.

    They come in the order in which other charts hand out their colours, so that two mounts keep theirs.
    """
    lines, by = [], hue(ds)
    ordered = sorted(shown, key=lambda c: c.place.get(by, 0))
    for c in ordered if "frame_twist_maximum_position" in ds else ():
        worst = worst_sample(ds, "frame_twist_maximum", "", c.index, course)
        if worst is None:
            continue
        try:
            standing = replayer.replay(worst).standing
        except InputError:
            continue
        outputs = standing.vehicle.structure.outputs
        places = [i for i, output in enumerate(outputs) if output.quantity == "rail_angle"]
        stations = np.array([float(outputs[i].item) for i in places])
        axles = np.asarray(standing.vehicle.kinematics.axle_stations, dtype=float)
        lines.append(FrameLine(c.name, stations, standing.posture.y[places], axles))
    return lines


def draw(replayer: Replayer, pair: Pair, width: float = style.WIDE) -> Figure:
    """Draw a pair."""
    scenes = [_scene(replayer, standing) for standing in pair.standings]
    title = worst_words(pair.found.worst, pair.found.scale)
    if len(scenes) == 1:
        return draw_posture(scenes[0], title, pair.note, width)
    return draw_pair(scenes, pair.names, title, pair.note, width)


def film(replayer: Replayer, pair: Pair) -> Film:
    """Film the metres before and after a pair's posture."""
    return make_film(replayer, pair.found.worst, pair.standings, pair.names, FILM_STEP)


def _scene(replayer: Replayer, standing: Standing) -> Scene:
    return SceneMaker(standing, replayer.surface(standing)).scene(standing)
