"""Rare events on random ground: how often a gap closes or a bracket passes its limit, far beyond what was driven.

A state is all random numbers of one short stretch of a course: the normal numbers of roughness, patches and
slopes, and a seed for each population of obstacles and each survey. A move blends the normal numbers with fresh
ones, which keeps them normal, and now and then takes a new seed. See ``studies.subset``.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.sample import SampleRunner
from studies.experiment import Experiment, models
from studies.statistics import Interval
from studies.subset import Problem, rare_probability
from terrain.course import Course
from terrain.ground import OBSTACLES, SURVEY
from terrain.tracks import lay_tracks

Key = tuple[int, int, int, int]
GroundState = dict[Key, NDArray[np.float32] | int]


@dataclass(frozen=True)
class RareRate:
    """How often a level is passed.

    Attributes
    ----------
    per_metre : Interval
        [1/m]
    evaluations : int
        Stretches driven.
    """

    per_metre: Interval
    evaluations: int


class RareEvents:
    """One candidate on one course, ready to be asked for rare events.

    Parameters
    ----------
    experiment : Experiment
    candidate, course : int
    stretch : float
        Length of a stretch [m]; long against the wheelbase, short against the distance between events.
    """

    def __init__(
        self, experiment: Experiment, candidate: int, course: int = 0, stretch: float = 100.0
    ) -> None:
        self._course: Course = experiment.courses[course]
        self._experiment = experiment
        self._candidate = experiment.candidates[candidate]
        self._recorder = experiment.recorders[candidate]
        self._spacing = experiment.study.file.spacing
        self._positions = max(1, round(stretch / self._spacing))
        self._lead = math.ceil(float(self._candidate.level_model.wheel_station.max()) / self._spacing)
        self._runners: dict[frozenset[float], SampleRunner] = {}

    @property
    def stretch(self) -> float:
        """Length of a stretch [m]."""
        return self._positions * self._spacing

    def rate(
        self, quantity: str, item: str, level: float, *, states: int = 500, repeats: int = 8, seed: int = 0
    ) -> RareRate:
        """Estimate how often an output passes a level per metre: gaps and tip margin downwards, others upwards.

        Raises
        ------
        ValueError
            If the candidate does not record the output.
        """
        problem = self.problem(quantity, item)
        sign = -1.0 if self._falls(quantity) else 1.0
        found = rare_probability(problem, sign * level, states=states, repeats=repeats, seed=seed)
        p = found.probability
        ends = [-np.log1p(-np.minimum(end, 1 - 1e-12)) / self.stretch for end in (p.value, p.low, p.high)]
        return RareRate(Interval(ends[0], ends[1], ends[2]), found.evaluations)

    def problem(self, quantity: str, item: str) -> Problem[GroundState]:
        """Return the random ground and the score of one output, larger being worse."""
        places = [k for k, r in enumerate(self._recorder.records) if (r.quantity, r.item) == (quantity, item)]
        if not places:
            known = sorted({f"{r.quantity} {r.item}".strip() for r in self._recorder.records})
            raise ValueError(f"{quantity} {item} is not recorded; recorded are: {', '.join(known)}")
        falls = self._falls(quantity)

        def score(state: GroundState) -> float:
            result = self._drive(state)
            value = -result.minimum[places[0]] if falls else result.maximum[places[0]]
            return float(value) if np.isfinite(value) else float("inf")

        def draw(random: np.random.Generator) -> GroundState:
            state: GroundState = {}
            self._lay(state, random)
            return state

        return Problem(draw, _move, score)

    def _falls(self, quantity: str) -> bool:
        return quantity in ("gap", "tip_margin")

    def _drive(self, state: GroundState) -> Any:
        ground = self._experiment.tracks(self._candidate, self._lay(state, None))
        key = frozenset(segment.normal_gravity for segment in ground.segments)
        if key not in self._runners:
            self._runners[key] = SampleRunner(models(self._candidate, ground), self._recorder)
        return self._runners[key].run(ground)

    def _lay(self, state: GroundState, fresh: np.random.Generator | None) -> Any:
        lines = tuple(dict.fromkeys(self._candidate.lines))

        def streams(key: Key) -> Any:
            if key[2] in (OBSTACLES, SURVEY):
                if key not in state:
                    assert fresh is not None
                    state[key] = int(fresh.integers(2**63))
                return np.random.Generator(np.random.Philox(state[key]))  # type: ignore[arg-type]
            return _Normals(state, key, fresh)

        return lay_tracks(self._course, lines, self._spacing, self._positions, self._lead, 0, 0, streams)


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


def _move(state: GroundState, size: float, random: np.random.Generator) -> GroundState:
    """Blend normal numbers with fresh ones; take new seeds with the probability ``size`` halved."""
    keep, fresh = math.sqrt(1 - size * size), size
    moved: GroundState = {}
    for key, value in state.items():
        if isinstance(value, int):
            moved[key] = int(random.integers(2**63)) if random.random() < size / 2 else value
        else:
            moved[key] = (keep * value + fresh * random.standard_normal(value.size, dtype=np.float32)).astype(
                np.float32
            )
    return moved
