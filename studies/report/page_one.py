"""Page one: which candidate to build, what fails, by how much candidates differ, and what is not certain.

The ranking is that of `crossaxle.studies.analysis.recommendation`: limits first, then outcomes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates, has_results, neighbours, values
from crossaxle.studies.analysis.drivers import found_drivers
from crossaxle.studies.analysis.fatigue_life import has_fatigue
from crossaxle.studies.analysis.implied import STOP_SHARE, USUAL_DISTANCE
from crossaxle.studies.analysis.outcomes import Outcome
from crossaxle.studies.analysis.recommendation import Recommendation, recommend
from crossaxle.studies.analysis.sizing import FAIR, needs
from crossaxle.studies.analysis.verdicts import MEETS, Evidence, Verdict
from crossaxle.studies.base.intervals import FEW
from crossaxle.studies.base.number_format import (
    chance,
    decimals_for,
    estimate_text,
    fixed,
    kilometres,
    multiple,
    quantity,
    short_bounds,
)
from crossaxle.studies.base.table import Cell, Table, name_cell
from crossaxle.studies.report.result_tables import contact_shares, headline_table
from crossaxle.studies.report.verdict_tables import MOST_LIMITS, limit_text, verdict_table, verdict_tables
from crossaxle.studies.study.aims import Aims, aims
from crossaxle.studies.study.limits import Limit

MOST_ROWS, MOST_ROWS_BESIDE_LIMITS = 12, 6
"""Candidates on page one, without and with limits."""
MOST_COMPARED, MOST_COMPARED_BESIDE_LIMITS = 6, 3
"""Comparisons on page one, without and with limits."""
MOST_IN_WORDS = 2
"""Comparisons that the verdict states in a sentence; the table of differences has more."""
MOST_FAILURES = 6
"""Failures of one candidate that page one lists; the tables of limits have all."""
SURE = 0.975


@dataclass(frozen=True)
class PageOne:
    """Page one for one course.

    Attributes
    ----------
    course : str
    lead, doubts : list of str
        Sentences; the first is the verdict.
    failures : Table or None
        What fails with each candidate as drawn, and what is not decided; None if nothing.
    changes_to_build : list of str
        What must change so that the first candidate can be built, each with its number.
    signature : list of (str, str)
        Revision, author, checker, date of the report.
    recommendation : Recommendation or None
        None if no sample gave a result.
    table : Table or None
        Headline numbers; None if no sample gave a result.
    verdicts : Table or None
        Stated limits.
    changes : Table or None
        What changes if a neighbour of the best candidate is chosen instead.
    left_out, limits_left_out : int
        Candidates and stated limits that did not fit on the page.
    all_verdicts : list of Table
        All candidates and limits, where page one has not all of them.
    outcomes : list of Outcome
    shown : list of Candidate
        The first candidate and, if there are others, the neighbour of it that ranks last: what the choice is against.
    """

    course: str
    lead: list[str]
    failures: Table | None
    changes_to_build: list[str]
    signature: list[tuple[str, str]]
    recommendation: Recommendation | None
    table: Table | None
    verdicts: Table | None
    changes: Table | None
    doubts: list[str]
    left_out: int
    limits_left_out: int
    all_verdicts: list[Table]
    outcomes: list[Outcome]
    shown: list[Candidate]


def page_one(ds: xr.Dataset, course: int = 0, evidence: Sequence[Evidence] = ()) -> PageOne:
    """Work out page one for one course; ``evidence`` is what searches for rare events found."""
    everyone, stated = candidates(ds), aims(ds)
    name = str(ds["course"].values[course]) if "course" in ds.coords else ""
    signature = _signature(stated)
    if not has_results(ds, course):
        lead = ["No sample gave a result: nothing can be said about any candidate."]
        return PageOne(name, lead, None, [], signature, None, None, None, None, [], 0, 0, [], [], [])
    found = recommend(ds, course, evidence)
    outcomes, judged, order = found.outcomes, found.judged, found.order
    best = everyone[order[0]]
    others = _compared(best, everyone, order)
    shown = [best, *_rejected(best, everyone, order)]
    rows, compared = (
        (MOST_ROWS_BESIDE_LIMITS, MOST_COMPARED_BESIDE_LIMITS) if judged else (MOST_ROWS, MOST_COMPARED)
    )
    keep = _on_page_one(order, [c.index for c in shown], rows)
    telling = _telling(found.limits, judged)[:MOST_LIMITS]
    whole = len(keep) == len(everyone) and len(telling) == len(found.limits)
    return PageOne(
        name,
        [*_verdict_words(found, everyone), *_lead(everyone, outcomes, best, others)],
        _failures([everyone[k] for k in order][:rows], found),
        _to_build(ds, course, best, found, stated),
        signature,
        found,
        headline_table(everyone, outcomes, keep, contact_shares(ds, course)),
        verdict_table([everyone[k] for k in keep], judged, telling, "Limits"),
        _changes(best, others[:compared], outcomes) if others else None,
        _doubts(ds, course, everyone, outcomes, best, others),
        len(everyone) - len(keep),
        len(found.limits) - len(telling),
        [] if whole else verdict_tables(everyone, judged, found.limits),
        outcomes,
        shown,
    )


def _signature(stated: Aims) -> list[tuple[str, str]]:
    """Lines for the foot of the verdict; what the study does not state is left to be filled in by hand."""
    return [
        ("Study revision", stated.revision),
        ("Report of", f"{date.today():%Y-%m-%d}"),
        ("Author", stated.author),
        ("Checked by", stated.checked_by),
    ]


def _verdict_words(found: Recommendation, everyone: list[Candidate]) -> list[str]:
    """Say what to build, or that nothing can be built as drawn, and on what that rests."""
    best = everyone[found.order[0]]
    undecided = found.undecided(best.index)
    if found.fails(best.index):
        alone = len(everyone) == 1
        first = "It cannot be built as drawn" if alone else "None of the candidates can be built as drawn"
        said = [f"{first}." if alone else f"{first}. Nearest: {best.name}."]
    elif likely := found.likely_missed(best.index):
        names = _list([f"{v.limit.what}{f' ({v.item})' if v.item else ''}" for v in likely])
        said = [
            f"No candidate demonstrably meets all limits. Nearest: {best.name}; it probably misses {names}."
        ]
    elif found.tied:
        names = _list([everyone[k].name for k in found.tied])
        said = [f"Tied: {names}. No outcome sets them apart with a probability of 95 % on identical terrain."]
    else:
        said = [f"Recommended: {best.name}." if len(everyone) > 1 else "It can be built as drawn."]
    if (found.tied or found.recommended is not None) and undecided:
        many = "one limit is" if len(undecided) == 1 else f"{len(undecided)} limits are"
        said[0] = f"{said[0]} Provisional: {many} not decided yet."
    if found.recommended is not None and found.decided_by is not None and len(everyone) > 1:
        said.append(f"Decided by {found.decided_by.heading.lower()}, after the limits.")
    return said


def failure_words(found: Recommendation, candidate: int) -> list[str]:
    """List what a candidate fails, outright failures first, in words."""
    return [*found.outright.get(candidate, []), *(_missed_words(found, v) for v in found.missed(candidate))]


def _missed_words(found: Recommendation, v: Verdict) -> str:
    """Say which limit is missed, implied ones in short."""
    if found.limits.index(v.limit) >= found.stated and v.limit.what == "gap":
        return f"interference: {v.item}"
    if v.limit.what == STOP_SHARE:
        return f"{v.item} reaches its stop"
    return f"{limit_text(v.limit)}{f' ({v.item})' if v.item and not v.limit.item else ''}"


def _failures(shown: list[Candidate], found: Recommendation) -> Table | None:
    """Make the table of what fails."""
    table = Table(
        "What fails as drawn, and what is open",
        [Cell("Candidate"), name_cell("Fails"), name_cell("Limits not decided yet")],
    )
    for c in shown:
        words, undecided = failure_words(found, c.index), found.undecided(c.index)
        more = len(words) - MOST_FAILURES
        text = "; ".join([*words[:MOST_FAILURES], *([f"{more} more"] if more > 0 else [])])
        names = [f"{v.limit.what}{f', {v.item}' if v.item else ''}" for v in undecided]
        some = "; ".join([*names[:3], *([f"{len(names) - 3} more"] if len(names) > 3 else [])])
        if text or some:
            table.rows.append(
                [
                    Cell(c.name),
                    Cell(text or "nothing", mark="name bad" if text else "name good"),
                    name_cell(some or "–"),
                ]
            )
    return table if table.rows else None


def _to_build(ds: xr.Dataset, course: int, best: Candidate, found: Recommendation, stated: Aims) -> list[str]:
    """Say what must change so that the first candidate can be built, each with the number to build."""
    said = []
    closing = {v.item for v in found.missed(best.index) if v.limit.what == "gap"}
    over = stated.life if stated.life_is_stated else USUAL_DISTANCE
    for need in needs(ds, stated.risk, over, course):
        if need.candidate != best.index or need.what != "clearance" or need.item not in closing:
            continue
        drawn = f"{fixed(need.built * 1e3, 0)} mm drawn"
        if need.basis == FAIR:
            said.append(
                f"{_capital(need.item)}: movement {fixed(float(need.needed.high) * 1e3, 0)} mm, {drawn}; build the "
                "movement and an allowance for tolerance, dynamics and dirt."
            )
        else:
            most = fixed(float(need.needed.low) * 1e3, 0)
            said.append(
                f"{_capital(need.item)}: movement of up to {most} mm met, {drawn}; too few samples or too poor a fit "
                "for a number to build."
            )
    stops = [v.item for v in found.missed(best.index) if v.limit.what == STOP_SHARE]
    return said + [
        f"{_capital(pivot)}: its stop is reached. Set a larger stop angle and run again; angles that the stop has cut "
        "off say nothing of the angle to build."
        for pivot in stops
    ]


def _on_page_one(order: list[int], always: list[int], rows: int) -> list[int]:
    """Return the first in rank and those that must be shown, as many as there are rows for."""
    others = [k for k in order if k not in always]
    return sorted([*always, *others[: rows - len(always)]])


def _telling(limits: list[Limit], judged: list[Verdict]) -> list[Limit]:
    """Return the limits, those first that the fewest candidates are shown to keep."""
    met = {limit: sum(v.status == MEETS for v in judged if v.limit == limit) for limit in limits}
    return sorted(limits, key=lambda limit: met[limit])


def _compared(best: Candidate, everyone: list[Candidate], order: list[int]) -> list[Candidate]:
    """Return those to compare the best with: neighbours in one swept quantity first, then the next best."""
    near = neighbours(best, everyone)
    near.sort(key=lambda c: order.index(c.index))
    rest = [everyone[k] for k in order[1:] if everyone[k] not in near]
    return (near or rest)[:MOST_COMPARED]


def _rejected(best: Candidate, everyone: list[Candidate], order: list[int]) -> list[Candidate]:
    """Return the last in rank of those that differ from the best in one choice, or of all; none if alone."""
    near = [c.index for c in neighbours(best, everyone)] or [k for k in order if k != best.index]
    return [everyone[max(near, key=order.index)]] if near else []


def _lead(
    everyone: list[Candidate],
    outcomes: list[Outcome],
    best: Candidate,
    others: list[Candidate],
) -> list[str]:
    events = outcomes[0]
    driven = float(np.nansum(events.distance[best.index]))
    if not np.nansum(events.samples):
        most = quantity(float(np.nanmax(events.estimate.high)), events.unit, 2)
        if len(everyone) == 1:
            return [
                f"No wheel unloaded in {kilometres(driven)} driven: with 95 % certainty fewer than {most}."
            ]
        return [
            f"No wheel unloaded with any candidate in {kilometres(driven)} driven by each: with 95 % certainty "
            f"fewer than {most} for each of them.",
            "Wheel contact does not decide between them on this ground; lean, gaps and stress do.",
        ]
    estimate = estimate_text(events.estimate[best.index], events.unit)
    if len(everyone) == 1:
        return [f"{_capital(best.name)} has {estimate} wheel-unload events over {kilometres(driven)} driven."]
    lead = [f"{_capital(best.name)}: {estimate} wheel-unload events over {kilometres(driven)} driven."]
    for other in others[:MOST_IN_WORDS]:
        found = events.compare(other.index, best.index)
        if float(found.ratio.low) > 1:
            lead.append(
                f"{_capital(other.name)}: {multiple(found.ratio, 'often')} {best.name} on identical terrain "
                f"(probability that it is worse: {chance(1 - found.chance_less)})."
            )
        elif float(found.ratio.high) < 1:
            lead.append(
                f"{_capital(other.name)}: fewer wheel-unload events on identical terrain, but it ranks lower by the "
                "limits."
            )
        else:
            lead.append(
                f"{_capital(other.name)}: no significant difference in wheel-unload events (probability that it is "
                f"worse: {chance(1 - found.chance_less)})."
            )
    return lead


def _changes(best: Candidate, others: list[Candidate], outcomes: list[Outcome]) -> Table:
    """Make the table of differences, other minus best, on the same ground."""
    head = [Cell("Alternative"), *(Cell(o.heading, o.unit) for o in outcomes)]
    rows = []
    for other in others:
        cells = []
        for o in outcomes:
            found = o.compare(other.index, best.index).difference
            if not np.isfinite(float(found.value)):
                cells.append(Cell("–", "does not apply"))
                continue
            unsure = float(found.low) <= 0 <= float(found.high)
            decimals = decimals_for(found)
            sign = "+" if float(found.value) > 0 else ""
            text = f"{sign}{fixed(float(found.value), decimals)}"
            cells.append(Cell(text, short_bounds(found, decimals), "unsure" if unsure else ""))
        rows.append([Cell(other.name), *cells])
    caption = f"Difference from {best.name} on identical terrain; grey italics: not significant (interval includes 0)"
    return Table(caption, head, rows)


def _doubts(
    ds: xr.Dataset,
    course: int,
    everyone: list[Candidate],
    outcomes: list[Outcome],
    best: Candidate,
    others: list[Candidate],
) -> list[str]:
    """Sentences on what the numbers do not settle."""
    doubts = []
    events = outcomes[0]
    totals = np.nansum(events.samples, axis=1)
    few = [c.name for c in everyone if 0 < totals[c.index] < FEW]
    none = [c.name for c in everyone if totals[c.index] == 0]
    if none:
        doubts.append(
            f"No unload event was seen with {_list(none)}. That does not mean never: at the upper bound given, the "
            "probability of seeing none is 5 % (rule of three)."
        )
    if few:
        doubts.append(
            f"Fewer than {FEW:.0f} unload events were seen with {_list(few)}: the interval of the rate is wide. More "
            "samples narrow it."
        )
    alike = [c.name for c in others if 1 - SURE < events.compare(c.index, best.index).chance_less < SURE]
    if alike and totals.any():
        doubts.append(f"Wheel-unload events: {best.name} does not differ significantly from {_list(alike)}.")
    if "drawn_value" in ds and found_drivers(ds, course) is None:
        doubts.append(
            f"Which uncertain value matters cannot be told from these {ds.sizes['sample']} samples: it takes 40 or "
            "more, of which more than 20 differ."
        )
    status = values(ds, "sample_status", course)
    failed, over = int((status > 1).sum()), status == 1
    tipped = [c.name for c in everyone if over[c.index].any()]
    if failed:
        doubts.append(
            f"{failed} samples ended without a result and are left out; see the table of distances."
        )
    if tipped:
        doubts.append(
            f"In {int(over.sum())} samples ({_list(tipped)}) the vehicle had no stable posture on some ground: "
            "rollover risk. These stretches are excluded from rates and extremes."
        )
    outside = np.nansum(values(ds, "outside_range_distance", course), axis=1)
    if outside.any():
        worst = int(np.argmax(outside))
        share = 100 * outside[worst] / np.nansum(events.distance[worst])
        doubts.append(
            f"On up to {quantity(float(share), '%', 2)} of the distance ({everyone[worst].name}) angles exceed the "
            "range in which the model is accurate."
        )
    if has_fatigue(ds) and aims(ds).fatigue.dynamic_factor == 1:
        doubts.append(
            "The study states no factor for dynamics (fatigue.dynamic_factor): brackets are judged by quasi-static "
            "stress ranges, which driving increases."
        )
    doubts.append(
        "Intervals cover terrain sampling error, not errors of the input: stiffness, masses and kind of ground are "
        "taken as given. Results are quasi-static: valid below about 0.2 to 0.3 m/s on rough ground."
    )
    return doubts


def _list(names: list[str], most: int = 4) -> str:
    """Join names in words; beyond ``most`` only count them."""
    if len(names) > most:
        return f"{'; '.join(names[:most])} and {len(names) - most} more"
    return names[0] if len(names) == 1 else f"{'; '.join(names[:-1])} and {names[-1]}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
