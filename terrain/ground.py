"""Raw ground of one sample: heights on lateral lines, large-scale slopes, sections and obstacles.

Frame: x along the way (front axle at x = 0 at the start of the sample), y to the left, z up. A sample meets
every section of the course in order and in proportion to its share, so that samples are independent and
alike. Where sections join, their roughness is blended over a few metres by weights cos and sin, which keep
the variance; slopes are blended smoothly. All random numbers of sample k come from Philox generators of
SeedSequence(seed, spawn_key=(k, section, purpose, number)), so nothing depends on what was laid before.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from crossaxle.arrays import Array, Float32
from crossaxle.terrain.course import Course, Slope
from crossaxle.terrain.obstacles import add_obstacles
from crossaxle.terrain.recording import lay_recording
from crossaxle.terrain.roughness import lay_roughness
from crossaxle.terrain.shapes import COLUMNS
from crossaxle.terrain.slow import slow_nodes, slow_values

BLEND = 8.0
"""Length over which sections are blended [m]; less where a section is short."""

APRON_BEFORE, APRON_AFTER = 20.0, 5.0
"""Ground laid before the start and after the end of every sample [m], whether or not it is asked for: so a sample does
not depend on the truck's length or tyres."""

ROUGHNESS, OBSTACLES, PATCHES, GRADE, SIDE_SLOPE, SURVEY = range(6)
"""Purposes of random numbers within a section."""


Streams = Callable[[tuple[int, int, int, int]], np.random.Generator]
"""Gives the random numbers of a sample, section, purpose and number."""


@dataclass(frozen=True)
class Stretch:
    """The points of a sample that belong to one section.

    Attributes
    ----------
    section : str
    start, stop : int
        Points, half open.
    grade, side_slope : float
        Mean tangents of the large-scale slope.
    """

    section: str
    start: int
    stop: int
    grade: float
    side_slope: float


@dataclass(frozen=True)
class Ground:
    """Raw ground of one sample.

    Attributes
    ----------
    heights : (n_lines, n_points)
        Heights without the large-scale slopes [m].
    line_y : (n_lines,)
        Lateral positions, positive left [m].
    spacing : float
        Between points along the way [m].
    lead : int
        Points before x = 0.
    grade, side_slope : (n_points,)
        Tangents dz/dx (uphill positive) and dz/dy (left side high positive).
    stretches : tuple of Stretch
        Sections in order; together they cover all points.
    obstacles : (n_obstacles, 9)
        See `crossaxle.terrain.shapes.COLUMNS`; in order of the sections.
    """

    heights: Float32
    line_y: Array
    spacing: float
    lead: int
    grade: Array
    side_slope: Array
    stretches: tuple[Stretch, ...]
    obstacles: Array


def lay_ground(
    course: Course,
    lines_y: tuple[float, ...],
    spacing: float,
    n_points: int,
    seed: int,
    sample: int,
    lead: int = 0,
    tail: int = 0,
    streams: Streams | None = None,
) -> Ground:
    """Lay the ground of one sample.

    Parameters
    ----------
    course : Course
    lines_y : tuple of float, length n_lines
        Lateral positions of the lines [m]; lines that come later never change those that come earlier.
    spacing : float
        Between points [m].
    n_points : int
        Points of the sample proper.
    seed, sample : int
        With course, lines, spacing and length, the pair fixes the ground, whatever else was laid.
    lead, tail : int
        Further points wanted before and after; they take part in the first and last section.
    streams : callable, optional
        Random numbers in place of the seed's own, by sample, section, purpose and number.

    Raises
    ------
    ValueError
        If a band reaches above what the spacing can carry, a section gets no points, or lead or tail are longer
        than the aprons.
    """
    before, after = (int(np.ceil(apron / spacing)) for apron in (APRON_BEFORE, APRON_AFTER))
    if lead > before or tail > after:
        raise ValueError(
            f"{lead * spacing:g} m before and {tail * spacing:g} m after the sample are wanted; at most"
            f" {APRON_BEFORE:g} m and {APRON_AFTER:g} m are laid"
        )
    bounds = _bounds(course, n_points, before, after)
    size = before + n_points + after
    line_y = np.array(lines_y, float)
    heights = np.zeros((line_y.size, size), np.float32)
    grade, side_slope = np.zeros(size), np.zeros(size)
    shown = slice(before - lead, before + n_points + tail)
    stretches, rows = [], [np.empty((0, len(COLUMNS)))]
    for index, (name, section) in enumerate(course.sections.items()):
        start, stop = bounds[index], bounds[index + 1]
        rise, fall = (_blend(bounds, i, spacing) for i in (index, index + 1))
        first, last = start - rise, stop + fall

        def generator(purpose: int, number: int = 0, index: int = index) -> np.random.Generator:
            key = (sample, index, purpose, number)
            if streams is not None:
                return streams(key)
            return np.random.Generator(np.random.Philox(np.random.SeedSequence(seed, spawn_key=key)))

        blends = 2 * rise, 2 * fall
        _add_roughness(heights[:, first:last], course, name, lines_y, spacing, blends, generator)
        _add_slope(grade[first:last], section.grade, spacing, blends, partial(generator, GRADE))
        _add_slope(
            side_slope[first:last], section.side_slope, spacing, blends, partial(generator, SIDE_SLOPE)
        )
        tangents = (float(np.tan(slope.mean)) for slope in (section.grade, section.side_slope))
        inside = max(start - shown.start, 0), min(stop, shown.stop) - shown.start
        stretches.append(Stretch(name, *inside, *tangents))
        rows.extend(
            population.rows(generator(OBSTACLES, i), (start - before) * spacing, (stop - before) * spacing)
            for i, population in enumerate(section.obstacles)
        )
    obstacles = np.concatenate(rows)
    add_obstacles(heights, line_y, -before * spacing, spacing, obstacles)
    return Ground(
        heights[:, shown],
        line_y,
        spacing,
        lead,
        grade[shown],
        side_slope[shown],
        tuple(stretches),
        obstacles,
    )


def _bounds(course: Course, n_points: int, before: int, after: int) -> list[int]:
    """First point of every section, and the end; the aprons count to the first and the last."""
    shares = np.cumsum([section.share for section in course.sections.values()])
    inner = [0, *(round(n_points * share / shares[-1]) for share in shares)]
    for name, start, stop in zip(course.sections, inner[:-1], inner[1:], strict=True):
        if stop <= start:
            raise ValueError(
                f"section {name} gets no point of a sample of {n_points} points;"
                " make the samples longer or its share larger"
            )
    return [0, *(before + bound for bound in inner[1:-1]), before + n_points + after]


def _blend(bounds: list[int], index: int, spacing: float) -> int:
    """Half the number of points over which the sections blend at a bound; 0 at the ends of the sample."""
    if index in (0, len(bounds) - 1):
        return 0
    shorter = min(bounds[index] - bounds[index - 1], bounds[index + 1] - bounds[index])
    return min(round(BLEND / 2 / spacing), shorter // 4)


@lru_cache(maxsize=256)
def _rise(count: int, power: int) -> Array:
    """Power of the sine of a blend's phase at its points, which rises from 0 to pi/2."""
    rise = np.asarray(np.sin(np.pi / 2 * (np.arange(count) + 0.5) / max(count, 1)) ** power)
    rise.flags.writeable = False
    return rise


def _fade(values: Array | Float32, rise: int, fall: int, power: int) -> None:
    """Multiply the ends of the last axis by a power of the sine of the blend's phase, in place."""
    values[..., :rise] *= _rise(rise, power)
    values[..., values.shape[-1] - fall :] *= _rise(fall, power)[::-1]


def _add_roughness(
    heights: Float32,
    course: Course,
    name: str,
    lines_y: tuple[float, ...],
    spacing: float,
    blends: tuple[int, int],
    generator: Callable[..., np.random.Generator],
) -> None:
    """Add one section's roughness to its stretch of the heights, in place."""
    section = course.sections[name]
    count = heights.shape[1]
    if name in course.recordings:
        rough = lay_recording(course.recordings[name], lines_y, spacing, count, generator(SURVEY))
    elif section.roughness is not None:
        spectrum = section.roughness.spectrum()
        rough = lay_roughness(
            spectrum, section.model(), lines_y, spacing, count, lambda pair: generator(ROUGHNESS, pair)
        )
    else:
        return
    if section.patches is not None:
        s, length = section.patches.strength, section.patches.length
        nodes = np.exp(s * slow_nodes(generator(PATCHES), count, spacing, length) - s * s)
        rough *= slow_values(nodes, count, spacing, length).astype(np.float32)
    _fade(rough, *blends, power=1)
    heights += rough


def _add_slope(
    whole: Array,
    slope: Slope,
    spacing: float,
    blends: tuple[int, int],
    generator: Callable[[], np.random.Generator],
) -> None:
    """Add the tangents of one section's large-scale slope to its stretch, in place."""
    if slope.mean == 0.0 and slope.deviation == 0.0:
        return
    if slope.deviation > 0:
        angles = slope.mean + slope.deviation * slow_nodes(generator(), whole.size, spacing, slope.length)
        tangents = slow_values(np.tan(angles), whole.size, spacing, slope.length)
    else:
        tangents = np.full(whole.size, np.tan(slope.mean))
    _fade(tangents, *blends, power=2)
    whole += tangents
