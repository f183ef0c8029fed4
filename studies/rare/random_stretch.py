"""One random stretch of a course as a state that can be moved: all random numbers that make the ground, as normals.

Roughness, patches and slopes are made of normal numbers anyway. Numbers, places and sizes of obstacles, and where a
survey is entered, follow from normal numbers by their distributions. A move blends the former with fresh ones, which
keeps them normal, and draws a few of the latter anew: the states that moves lead to are distributed as those freshly
drawn.
"""

import math
from typing import Any

import numpy as np
from scipy.special import ndtr

from crossaxle.arrays import Array, Float32, Integers
from crossaxle.terrain.course import Course
from crossaxle.terrain.ground import OBSTACLES, SURVEY
from crossaxle.terrain.tracks import TyreLine, TyreTracks, lay_tracks

Key = tuple[int, int, int, int]
GroundState = dict[tuple[Key, int], Float32]
"""Normal numbers by what they are for, and by the place of the drawing among those for the same."""


class RandomStretch:
    """Random ground of one length under given tyres.

    Parameters
    ----------
    course : Course
    lines : tuple of TyreLine
    spacing : float
        Between points [m].
    n_positions, lead : int
        See `crossaxle.terrain.tracks.lay_tracks`.
    """

    def __init__(
        self, course: Course, lines: tuple[TyreLine, ...], spacing: float, n_positions: int, lead: int
    ) -> None:
        self._course, self._lines = course, lines
        self._spacing, self._positions, self._lead = spacing, n_positions, lead

    @property
    def length(self) -> float:
        """Length [m]."""
        return self._positions * self._spacing

    def draw(self, random: np.random.Generator) -> GroundState:
        """Draw a state from all there are."""
        state: GroundState = {}
        self._lay(state, random)
        return state

    def lay(self, state: GroundState) -> TyreTracks:
        """Lay the ground that a state stands for."""
        return self._lay(state, None)

    @staticmethod
    def move(state: GroundState, size: float, random: np.random.Generator) -> GroundState:
        """Blend normal numbers with ``size`` of fresh ones; of those that obstacles follow from redraw half that share.

        A small shift of all obstacles would lose the one encounter that makes an event; one of them moved keeps it.
        """
        keep, fresh = np.float32(np.sqrt(1 - size**2)), np.float32(size)
        moved: GroundState = {}
        for (key, drawing), value in state.items():
            normal = random.standard_normal(value.size, dtype=np.float32)
            if key[2] in (OBSTACLES, SURVEY):
                moved[key, drawing] = np.where(random.random(value.size) < size / 2, normal, value)
            else:
                moved[key, drawing] = keep * value + fresh * normal
        return moved

    def _lay(self, state: GroundState, fresh: np.random.Generator | None) -> TyreTracks:
        def streams(key: Key) -> Any:
            kept = _Kept(state, key, fresh)
            return _Chances(kept) if key[2] in (OBSTACLES, SURVEY) else _Normals(kept)

        return lay_tracks(
            self._course, self._lines, self._spacing, self._positions, self._lead, 0, 0, streams
        )


class _Kept:
    """The numbers of a state for one purpose, drawing by drawing; what is not there yet is drawn."""

    def __init__(self, state: GroundState, key: Key, fresh: np.random.Generator | None) -> None:
        self._state, self._key, self._fresh, self._drawings = state, key, fresh, 0

    def next(self, count: int) -> Float32:
        """Return the numbers of the next drawing, (count,)."""
        place = self._key, self._drawings
        self._drawings += 1
        if place not in self._state:
            assert self._fresh is not None
            self._state[place] = self._fresh.standard_normal(count, dtype=np.float32)
        return self._state[place]


class _Normals:
    """Stands in for a generator that is asked for normal numbers only."""

    def __init__(self, kept: _Kept) -> None:
        self._kept = kept

    def standard_normal(self, size: int = 0, dtype: Any = float, out: Any = None) -> Any:
        """Return the state's normal numbers, as ``numpy.random.Generator.standard_normal`` would."""
        values = self._kept.next(out.size if out is not None else size)
        if out is None:
            return values.astype(dtype)
        out[...] = values.reshape(out.shape)
        return out


class _Chances:
    """Stands in for a generator that lays a population of obstacles, or chooses where a survey is entered.

    Every drawing of a population keeps numbers for more obstacles than there will ever be, so that the number of
    obstacles can change and each keeps its own.
    """

    def __init__(self, kept: _Kept) -> None:
        self._kept = kept
        self._most = 1
        self._order: Integers | None = None

    def poisson(self, mean: float) -> int:
        """Return a Poisson number: the inverse of its distribution."""
        from scipy.stats import poisson  # takes long to load, and few commands come here

        share = float(ndtr(float(self._kept.next(1)[0])))
        self._most = math.ceil(mean + 10 * math.sqrt(mean)) + 30
        return int(min(poisson.ppf(share, mean), self._most))

    def random(self, count: int) -> Array:
        """Return numbers even between 0 and 1, those of an obstacle where its place stands in the order of places."""
        values = np.asarray(ndtr(self._kept.next(self._most)[:count].astype(float)))
        return values if self._order is None else values[self._order]

    def uniform(self, low: float, high: float, count: int) -> Array:
        """Return places even between two bounds, in order."""
        places = low + (high - low) * self.random(count)
        self._order = np.argsort(places, kind="stable")
        return places[self._order]

    def integers(self, count: int) -> int:
        """Return a whole number below ``count``."""
        return min(int(count * float(ndtr(float(self._kept.next(1)[0])))), count - 1)
