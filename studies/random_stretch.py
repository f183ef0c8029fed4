"""One random stretch of a course as a state that can be moved: all random numbers that make the ground.

The normal numbers of roughness, patches and slopes are kept as such, and a seed for each population of
obstacles and each survey. A move blends the normal numbers with fresh ones, which keeps them normal, and now
and then takes a new seed: so the states that moves lead to are distributed as those freshly drawn.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.course import Course
from terrain.ground import OBSTACLES, SURVEY
from terrain.tracks import Tracks, TyreLine, lay_tracks

Key = tuple[int, int, int, int]
GroundState = dict[Key, NDArray[np.float32] | int]


class RandomStretch:
    """Random ground of one length under given tyres.

    Parameters
    ----------
    course : Course
    lines : tuple of TyreLine
    spacing : float
        Between points [m].
    n_positions, lead : int
        See `terrain.tracks.lay_tracks`.
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

    def lay(self, state: GroundState) -> Tracks:
        """Lay the ground that a state stands for."""
        return self._lay(state, None)

    @staticmethod
    def move(state: GroundState, size: float, random: np.random.Generator) -> GroundState:
        """Move a state a little (``size`` near 0) or to a fresh one (1); seeds are new with chance ``size / 2``."""
        keep, fresh = np.float32(np.sqrt(1 - size**2)), np.float32(size)
        moved: GroundState = {}
        for key, value in state.items():
            if isinstance(value, int):
                moved[key] = int(random.integers(2**63)) if random.random() < size / 2 else value
            else:
                normal = random.standard_normal(value.size, dtype=np.float32)
                moved[key] = (keep * value + fresh * normal).astype(np.float32)
        return moved

    def _lay(self, state: GroundState, fresh: np.random.Generator | None) -> Tracks:
        def streams(key: Key) -> Any:
            if key[2] in (OBSTACLES, SURVEY):
                if key not in state:
                    assert fresh is not None
                    state[key] = int(fresh.integers(2**63))
                return np.random.Generator(np.random.Philox(state[key]))  # type: ignore[arg-type]
            return _Normals(state, key, fresh)

        return lay_tracks(
            self._course, self._lines, self._spacing, self._positions, self._lead, 0, 0, streams
        )


class _Normals:
    """Stands in for a generator of normal numbers: gives those of the state, and keeps there what it first draws."""

    def __init__(self, state: GroundState, key: Key, fresh: np.random.Generator | None) -> None:
        self._state, self._key, self._fresh = state, key, fresh

    def standard_normal(self, size: int | None = None, dtype: Any = float, out: Any = None) -> Any:
        """Return the state's normal numbers, as ``numpy.random.Generator.standard_normal`` would."""
        count = out.size if out is not None else size
        if self._key not in self._state:
            assert self._fresh is not None
            self._state[self._key] = self._fresh.standard_normal(count, dtype=np.float32)
        kept = np.asarray(self._state[self._key])
        if out is None:
            return kept.astype(dtype)
        out[...] = kept.reshape(out.shape)
        return out
