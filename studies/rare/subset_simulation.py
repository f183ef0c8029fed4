"""Small probabilities without waiting for luck: subset simulation.

Au and Beck, Probabilistic Engineering Mechanics 16, 2001, 263-277: a rare event is reached in steps, each a
tenth as likely as the one before. Within a step Markov chains walk on from the states that got that far;
their moves keep the prior distribution and are taken only if the state stays beyond the step's threshold. The
size of the moves adapts to their acceptance. Independent repeats give the interval.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
from scipy.special import stdtrit

from crossaxle.arrays import Array, Integers
from crossaxle.studies.base.intervals import Interval

SHARE = 0.1
"""Share of the states that goes on to the next step."""
MOST_STEPS = 10
ACCEPTED = 0.44
"""Acceptance aimed at."""

State = TypeVar("State")


@dataclass(frozen=True)
class Problem(Generic[State]):
    """A random state and what is asked of it.

    Attributes
    ----------
    draw : callable
        Generator to a fresh state from the prior.
    move : callable
        State, size of the move between 0 and 1, generator to a new state; it must keep the prior.
    score : callable
        State to a number; large is rare.
    """

    draw: Callable[[np.random.Generator], State]
    move: Callable[[State, float, np.random.Generator], State]
    score: Callable[[State], float]


@dataclass(frozen=True)
class Rare:
    """Probability that the score reaches the level.

    Attributes
    ----------
    probability : Interval, shape ()
        Value 0 with an upper end where the level was not reached in any repeat.
    evaluations : int
        Scores computed.
    """

    probability: Interval
    evaluations: int


def rare_probability(
    problem: Problem[State],
    level: float,
    *,
    states: int = 300,
    repeats: int = 8,
    seed: int = 0,
    confidence: float = 0.95,
    progress: Callable[[], None] = lambda: None,
) -> Rare:
    """Estimate the probability that the score of a random state is at least ``level``.

    Parameters
    ----------
    problem : Problem
    level : float
    states : int
        Per step; at least 100.
    repeats : int
        Independent repeats, at least 3.
    seed : int
    confidence : float
        Probability with which the interval is to hold the true one.
    progress : callable
        Called after each repeat.

    Raises
    ------
    ValueError
        If there are too few states or repeats.
    """
    if states < 100 or repeats < 3:
        raise ValueError(
            f"{states} states and {repeats} repeats were asked for; at least 100 and 3 are needed"
        )
    runs = []
    for each in np.random.SeedSequence(seed).spawn(repeats):
        runs.append(_run(problem, level, states, np.random.Generator(np.random.Philox(each))))
        progress()
    found = np.array([run.probability for run in runs])
    cost = sum(run.evaluations for run in runs)
    if not found.any():
        # Of the states at the last threshold none went further: the rule of three for one repeat's independent ones.
        bound = float(np.mean([3 * run.reached / run.independent for run in runs]))
        return Rare(Interval(np.asarray(0.0), np.asarray(0.0), np.asarray(bound)), cost)
    mean = float(found.mean())
    # The estimates scatter about evenly on a logarithmic scale.
    relative = float(found.std(ddof=1)) / mean / np.sqrt(repeats)
    reach = np.exp(stdtrit(repeats - 1, 0.5 + confidence / 2) * np.sqrt(np.log1p(relative**2)))
    return Rare(
        Interval(np.asarray(mean), np.asarray(mean / reach), np.asarray(min(mean * reach, 1.0))), cost
    )


@dataclass(frozen=True)
class _Repeat:
    """One estimate.

    Attributes
    ----------
    probability, reached : float
        That found, and that of the last threshold reached.
    independent : int
        States at that threshold that owe nothing to one another: all that are freshly drawn, else one of each chain.
    evaluations : int
        Scores computed.
    """

    probability: float
    reached: float
    independent: int
    evaluations: int


def _run(problem: Problem[State], level: float, n: int, random: np.random.Generator) -> _Repeat:
    population = [problem.draw(random) for _ in range(n)]
    scores = np.array([problem.score(state) for state in population])
    probability, independent, cost, size = 1.0, n, n, 0.6
    for _ in range(MOST_STEPS):
        # A score itself, not a value between two: some may be infinite.
        threshold = float(np.quantile(scores, 1 - SHARE, method="lower"))
        if threshold >= level:
            break
        beyond = np.flatnonzero(scores > threshold)
        if beyond.size == 0:
            break  # a tenth of the states are alike at the top: the score gets no further
        probability, independent = probability * beyond.size / n, beyond.size
        population, scores, size, moved = _walk(
            problem, population, scores, beyond, n, threshold, size, random
        )
        cost += moved
    return _Repeat(probability * float(np.mean(scores >= level)), probability, independent, cost)


def _walk(
    problem: Problem[State],
    population: list[State],
    scores: Array,
    beyond: Integers,
    n: int,
    threshold: float,
    size: float,
    random: np.random.Generator,
) -> tuple[list[State], Array, float, int]:
    """Chains from the states beyond the threshold, together n states; new size of the moves; moves tried."""
    order = random.permutation(beyond)
    lengths = np.diff(np.linspace(0, n, order.size + 1).astype(int))
    states: list[State] = []
    values: list[float] = []
    tried = 0
    batch: list[bool] = []
    for start, length in zip(order, lengths, strict=True):
        state, value = population[int(start)], float(scores[int(start)])
        for k in range(int(length)):
            if k:
                proposal = problem.move(state, size, random)
                score = problem.score(proposal)
                tried += 1
                batch.append(score > threshold)
                if batch[-1]:
                    state, value = proposal, score
            states.append(state)
            values.append(value)
        if len(batch) >= n // 10:
            size = float(np.clip(size * np.exp(float(np.mean(batch)) - ACCEPTED), 0.02, 1.0))
            batch = []
    return states, np.array(values), size, tried
