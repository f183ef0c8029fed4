"""Which candidate to build: limits first, then outcomes one after the other, and *tied* where the ground cannot tell.

A candidate that misses a limit, stated or implied, cannot be built as drawn and ranks behind all that do not. Among the
others those are equal in an outcome whose paired difference is not sure (below 95 %); the next outcome then decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates
from crossaxle.studies.analysis.implied import implied_limits, outright_failures, with_stop_share
from crossaxle.studies.analysis.outcomes import Outcome, headline
from crossaxle.studies.analysis.verdicts import MEETS, MISSES, OPEN, Evidence, Verdict, verdicts
from crossaxle.studies.study.aims import aims
from crossaxle.studies.study.limits import Limit

SURE = 0.95
"""Probability from which one candidate counts as better than another on the same ground."""
LIKELY = 0.5
"""Probability of keeping an undecided limit below which a candidate is not recommended."""
OPEN_YET, LIKELY_FAILS, FAILS = 1, 2, 3
"""Ranks of candidates that do not keep all limits for sure; 0 is that of those that do."""
MATTERS = 0.02
"""Share of the better value below which a difference decides nothing, however sure it is."""


@dataclass(frozen=True)
class Recommendation:
    """What results say about the choice on one course.

    Attributes
    ----------
    order : list of int
        Candidates from best to worst: those without a missed limit first, then by outcomes.
    recommended : int or None
        To build; None if all miss a limit, or the best are tied.
    tied : list of int
        Candidates of which none is surely better than the others in any outcome, best estimate first; empty if one is.
    decided_by : Outcome or None
        The outcome that sets the recommended candidate apart from the last that equalled it before; None if limits do,
        or there is no other.
    judged : list of Verdict
        On all limits, stated and implied.
    limits : list of Limit
        Stated ones, then implied ones.
    stated : int
        How many of them the study states.
    outright : dict of int to list of str
        What fails whatever the ground's luck, or was seen to.
    outcomes : list of Outcome
    """

    order: list[int]
    recommended: int | None
    tied: list[int]
    decided_by: Outcome | None
    judged: list[Verdict]
    limits: list[Limit]
    stated: int
    outright: dict[int, list[str]]
    outcomes: list[Outcome]

    def missed(self, candidate: int) -> list[Verdict]:
        """List the limits that a candidate surely misses."""
        return [v for v in self.judged if v.candidate == candidate and v.status == MISSES]

    def undecided(self, candidate: int) -> list[Verdict]:
        """List the limits on which a candidate's verdict is open."""
        return [v for v in self.judged if v.candidate == candidate and v.status == OPEN]

    def likely_missed(self, candidate: int) -> list[Verdict]:
        """List the limits on which the verdict is open, but which the candidate probably misses."""
        return [v for v in self.undecided(candidate) if v.probability < LIKELY]

    def fails(self, candidate: int) -> bool:
        """Whether a candidate cannot be built as drawn."""
        return bool(self.missed(candidate) or self.outright.get(candidate))


def recommend(ds: xr.Dataset, course: int = 0, evidence: Sequence[Evidence] = ()) -> Recommendation:
    """Judge all limits, rank the candidates, and recommend one if one is best.

    Parameters
    ----------
    ds : Dataset
        With results on the course, see ``candidates.has_results``.
    course : int
    evidence : sequence of Evidence
        What searches for rare events found.
    """
    stated = aims(ds)
    limits = [*stated.limits, *implied_limits(ds, stated)]
    judged = verdicts(with_stop_share(ds), limits, course, evidence=evidence)
    outright = outright_failures(ds, stated, course)
    outcomes, everyone = headline(ds, course), candidates(ds)
    ranks = {c.index: _rank(c, judged, outright) for c in everyone}
    keys = [np.where(np.isfinite(o.estimate.value), o.estimate.value, np.inf) for o in outcomes]
    order = [int(k) for k in np.lexsort([*keys[::-1], np.array([ranks[c.index] for c in everyone])])]
    equal, decided_by = _equal([k for k in order if ranks[k] == ranks[order[0]]], outcomes)
    order = [*equal, *(k for k in order if k not in equal)]
    failing = ranks[order[0]] >= LIKELY_FAILS
    return Recommendation(
        order,
        order[0] if len(equal) == 1 and not failing else None,
        equal if len(equal) > 1 and not failing else [],
        decided_by,
        judged,
        limits,
        len(stated.limits),
        outright,
        outcomes,
    )


def _rank(c: Candidate, judged: list[Verdict], outright: dict[int, list[str]]) -> int:
    """0 if all limits are met, 1 if some verdict is open, 2 if one is probably missed, 3 if something fails."""
    if c.index in outright:
        return FAILS
    ranks = [
        {MEETS: 0, MISSES: FAILS}.get(v.status, OPEN_YET if v.probability >= LIKELY else LIKELY_FAILS)
        for v in judged
        if v.candidate == c.index
    ]
    return max(ranks, default=0)


def _equal(best: list[int], outcomes: list[Outcome]) -> tuple[list[int], Outcome | None]:
    """Candidates that are left when each outcome in turn has taken out those that are surely worse in it."""
    decided_by = None
    for outcome in outcomes:
        value = outcome.estimate.value
        known = [k for k in best if np.isfinite(value[k])]
        if len(best) == 1 or not known:
            continue
        top = min(known, key=lambda k: float(value[k]))
        left = [k for k in best if k == top or not _worse(outcome, k, top)]
        if len(left) < len(best):
            best, decided_by = left, outcome
    return best, decided_by


def _worse(outcome: Outcome, candidate: int, top: int) -> bool:
    """Whether a candidate is surely worse than the best in an outcome; one without a value there is not."""
    if not np.isfinite(outcome.estimate.value[candidate]):
        return False
    found = outcome.compare(candidate, top)
    matters = MATTERS * abs(float(outcome.estimate.value[top]))
    return 1 - found.chance_less >= SURE and float(found.difference.value) > matters
