"""Rare events on random ground: how often a gap closes or a bracket passes its limit, far beyond what was driven.

Subset simulation (``crossaxle.studies.rare.subset_simulation``) over all random numbers of one stretch of a course
(``crossaxle.studies.rare.random_stretch``). Uncertain values of the vehicle file stay at the file's own.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from crossaxle.sim.sample import SampleRunner
from crossaxle.studies.base.intervals import Interval
from crossaxle.studies.base.quantities import is_least
from crossaxle.studies.rare.random_stretch import GroundState, RandomStretch
from crossaxle.studies.rare.subset_simulation import Problem, rare_probability
from crossaxle.studies.run.experiment import Experiment, models

LONGEST_STRETCH = 1000.0
"""Longer samples are looked at in stretches of this length [m]: more numbers than it takes would slow the walk."""


RAREST = 1e-10
"""Once in ten million km, as far as the search was held to closed forms: no upper bound is below it [1/m]."""


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
    stretch : float, optional
        Length of a stretch [m]: that of the study's samples by default, so that sections are mixed as in them,
        but no longer than ``LONGEST_STRETCH``.

    Attributes
    ----------
    ground : RandomStretch
    """

    def __init__(
        self, experiment: Experiment, candidate: int, course: int = 0, stretch: float | None = None
    ) -> None:
        file = experiment.study.file
        length = min(file.sample_length, LONGEST_STRETCH) if stretch is None else stretch
        self._experiment = experiment
        self._candidate = experiment.candidates[candidate]
        self._recorder = experiment.recorders[candidate]
        self.ground = RandomStretch(
            experiment.courses[course],
            tuple(dict.fromkeys(self._candidate.lines)),
            file.spacing,
            max(1, round(length / file.spacing)),
            math.ceil(float(self._candidate.level_model.wheel_station.max()) / file.spacing),
        )

    @property
    def stretch(self) -> float:
        """Length of a stretch [m]."""
        return self.ground.length

    def rate(
        self,
        variable: str,
        item: str,
        level: float,
        *,
        states: int = 300,
        repeats: int = 8,
        seed: int = 0,
        progress: Callable[[], None] = lambda: None,
    ) -> RareRate:
        """Estimate how often an output passes a level per metre.

        Parameters
        ----------
        variable, item : str
            As in results: ``gap_minimum`` passes downwards, ``bracket_stress_maximum`` upwards.
        level : float
            SI.
        states, repeats, seed : int
            See `crossaxle.studies.rare.subset_simulation.rare_probability`.
        progress : callable
            Called after each repeat.

        Raises
        ------
        ValueError
            If the candidate does not record the output.
        """
        sign = -1.0 if is_least(variable) else 1.0
        found = rare_probability(
            self.problem(variable, item),
            sign * level,
            states=states,
            repeats=repeats,
            seed=seed,
            progress=progress,
        )
        p = found.probability
        # Passings being independent, a stretch is free of them with probability exp(-rate times length).
        ends = [-np.log1p(-np.minimum(end, 1 - 1e-12)) / self.stretch for end in (p.value, p.low, p.high)]
        return RareRate(Interval(ends[0], ends[1], np.maximum(ends[2], RAREST)), found.evaluations)

    def problem(self, variable: str, item: str) -> Problem[GroundState]:
        """Return the random ground and the score of one output, larger being worse.

        A stretch on which the output has no value at all, because the vehicle tips everywhere, has passed any level.

        Raises
        ------
        ValueError
            If the candidate does not record the output.
        """
        quantity, _, kind = variable.rpartition("_")
        records = self._recorder.records
        known = {"minimum": [r for r in records if r.minimum], "maximum": [r for r in records if r.maximum]}
        of_kind = known.get(kind, [])
        chosen = next((r for r in of_kind if (r.quantity, r.item) == (quantity, item)), None)
        if chosen is None:
            names = [f"{r.quantity}_{k} {r.item}".strip() for k, some in known.items() for r in some]
            raise ValueError(
                f"{variable} {item}".strip() + f" is not recorded; recorded are: {', '.join(sorted(names))}"
            )
        alone = replace(self._recorder, records=(replace(chosen, bins=None, cycles=None),))
        runners: dict[frozenset[float], SampleRunner] = {}

        def score(state: GroundState) -> float:
            ground = self._experiment.tracks(self._candidate, self.ground.lay(state))
            key = frozenset(segment.normal_gravity for segment in ground.segments)
            if key not in runners:
                runners[key] = SampleRunner(models(self._candidate, ground), alone)
            result = runners[key].run(ground)
            value = -result.minimum[0] if kind == "minimum" else result.maximum[0]
            return float(value) if np.isfinite(value) else float("inf")

        return Problem(self.ground.draw, self.ground.move, score)
