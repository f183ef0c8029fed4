"""The answer in plain words: which candidate unloads its wheels least, by how much, at what cost, how surely.

Candidates are ranked by wheel-unload events (all wheels together), because that is what rough ground is lost
by; everything else is told as what the choice costs. A candidate that misses a limit stated in the study comes last.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import Candidate, candidates, has_results, neighbours, values
from crossaxle.studies.analysis.drivers import found_drivers
from crossaxle.studies.analysis.fatigue_life import has_fatigue
from crossaxle.studies.analysis.outcomes import Outcome, headline
from crossaxle.studies.analysis.verdicts import MEETS, MISSES, OPEN, Verdict, verdicts
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
from crossaxle.studies.base.table import Cell, Table
from crossaxle.studies.report.result_tables import headline_table
from crossaxle.studies.report.verdict_tables import MOST_LIMITS, verdict_table, verdict_tables
from crossaxle.studies.study.aims import aims
from crossaxle.studies.study.limits import Limit

MOST_ROWS, MOST_ROWS_BESIDE_LIMITS = 12, 6
"""Candidates on page one, without and with stated limits."""
MOST_COMPARED, MOST_COMPARED_BESIDE_LIMITS = 6, 3
"""Comparisons on page one, without and with stated limits."""
MOST_IN_WORDS = 2
"""Comparisons that the answer tells in a sentence; the table of differences has more."""
SURE = 0.975


@dataclass(frozen=True)
class PageOne:
    """Page one for one course.

    Attributes
    ----------
    course : str
    lead, doubts : list of str
        Sentences.
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
        The best candidate and, if there are others, the neighbour of it that ranks last: what the choice is against.
    """

    course: str
    lead: list[str]
    table: Table | None
    verdicts: Table | None
    changes: Table | None
    doubts: list[str]
    left_out: int
    limits_left_out: int
    all_verdicts: list[Table]
    outcomes: list[Outcome]
    shown: list[Candidate]


def page_one(ds: xr.Dataset, course: int = 0) -> PageOne:
    """Work out the answer for one course."""
    everyone = candidates(ds)
    name = str(ds["course"].values[course]) if "course" in ds.coords else ""
    if not has_results(ds, course):
        lead = ["No sample gave a result: nothing can be said about any candidate."]
        return PageOne(name, lead, None, None, None, [], 0, 0, [], [], [])
    outcomes = headline(ds, course)
    stated = aims(ds).limits
    judged = verdicts(ds, stated, course)
    order = _order(outcomes, judged)
    best = everyone[order[0]]
    others = _compared(best, everyone, order)
    shown = [best, *_rejected(best, everyone, order)]
    rows, compared = (
        (MOST_ROWS_BESIDE_LIMITS, MOST_COMPARED_BESIDE_LIMITS) if judged else (MOST_ROWS, MOST_COMPARED)
    )
    keep = _on_page_one(order, [c.index for c in shown], rows)
    telling = _telling(stated, judged)[:MOST_LIMITS]
    whole = len(keep) == len(everyone) and len(telling) == len(stated)
    return PageOne(
        name,
        _kept(everyone, judged) + _lead(everyone, outcomes, best, others) + _touching(outcomes, best),
        headline_table(everyone, outcomes, keep),
        verdict_table([everyone[k] for k in keep], judged, telling, "Stated limits"),
        _changes(best, others[:compared], outcomes) if others else None,
        _doubts(ds, course, everyone, outcomes, best, others),
        len(everyone) - len(keep),
        len(stated) - len(telling),
        [] if whole else verdict_tables(everyone, judged, stated),
        outcomes,
        shown,
    )


def _on_page_one(order: list[int], always: list[int], rows: int) -> list[int]:
    """Return the first in rank and those that must be shown, as many as there are rows for."""
    others = [k for k in order if k not in always]
    return sorted([*always, *others[: rows - len(always)]])


def _telling(limits: list[Limit], judged: list[Verdict]) -> list[Limit]:
    """Return the limits, those first that the fewest candidates are shown to keep."""
    met = {limit: sum(v.status == MEETS for v in judged if v.limit == limit) for limit in limits}
    return sorted(limits, key=lambda limit: met[limit])


def _order(outcomes: list[Outcome], judged: list[Verdict]) -> list[int]:
    """Candidates that may keep the limits first, those from fewest unload events to most; then by the next outcome."""
    keys = [np.where(np.isfinite(o.estimate.value), o.estimate.value, np.inf) for o in outcomes]
    missing = np.zeros(len(keys[0]))
    missing[[v.candidate for v in judged if v.status == MISSES]] = 1
    return [int(k) for k in np.lexsort([*keys[::-1], missing])]


def _kept(everyone: list[Candidate], judged: list[Verdict]) -> list[str]:
    """Say which candidates keep all stated limits, which miss one and which are open."""
    if not judged:
        return []
    status: dict[str, list[str]] = {MEETS: [], OPEN: [], MISSES: []}
    for c in everyone:
        mine = {v.status for v in judged if v.candidate == c.index}
        worst = next((s for s in (MISSES, OPEN, MEETS) if s in mine), None)
        if worst:
            status[worst].append(c.name)
    said = []
    if status[MEETS]:
        said.append(f"All stated limits are met by {_list(status[MEETS])}.")
    if status[OPEN]:
        said.append(f"Not decided yet: {_list(status[OPEN])}.")
    if status[MISSES]:
        said.append(f"At least one limit is missed by {_list(status[MISSES])}.")
    if not status[MEETS]:
        said.insert(0, "No candidate is shown to keep all stated limits.")
    return said


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
    lead = [f"{_capital(best.name)} has the fewest wheel-unload events: {estimate}."]
    for other in others[:MOST_IN_WORDS]:
        found = events.compare(other.index, best.index)
        if float(found.ratio.low) > 1:
            lead.append(
                f"{_capital(other.name)} has {multiple(found.ratio, 'many')} it on the same ground; chance that "
                f"it truly has more: {chance(1 - found.chance_less)}."
            )
        else:
            lead.append(
                f"Against {other.name} it is not settled: the chance that this one truly has more is "
                f"{chance(1 - found.chance_less)}."
            )
    return lead


def _touching(outcomes: list[Outcome], best: Candidate) -> list[str]:
    """Say that parts of the best candidate touch as built, if more than its clearance is used up."""
    for o in outcomes:
        if o.key.startswith("gap_minimum") and float(o.estimate.value[best.index]) > 100:
            used = estimate_text(o.estimate[best.index], o.unit)
            return [
                f"As built, its parts touch: {o.item[best.index]} uses up {used} of its clearance about once in "
                f"{kilometres(o.every)}. What to build instead has a section of its own."
            ]
    return []


def _changes(best: Candidate, others: list[Candidate], outcomes: list[Outcome]) -> Table:
    """Make the table of differences, other minus best, on the same ground."""
    head = [Cell("Instead of it"), *(Cell(o.heading, o.unit) for o in outcomes)]
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
    caption = (
        f"Difference to {best.name} on the same ground; grey and slanted: the interval holds nought, so that "
        "even the direction is open"
    )
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
            f"No unload event was seen with {_list(none)}. That does not mean never: the upper end given is "
            "the rate at which seeing none would be a 1 in 20 chance (the rule of three)."
        )
    if few:
        doubts.append(
            f"Fewer than {FEW:.0f} unload events were seen with {_list(few)}: the rate is known only within the "
            "wide interval given. More samples narrow it."
        )
    open_order = [
        c.name for c in others if (p := events.compare(c.index, best.index).chance_less) > 1 - SURE and p > 0
    ]
    if open_order and totals.any():
        doubts.append(f"Whether {best.name} truly has fewer unload events than {_list(open_order)} is open.")
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
            f"In {int(over.sum())} samples, with {_list(tipped)}, some ground was so steep or twisted that the "
            "vehicle had no posture without tipping. These stretches carry no numbers and count in no rate but as "
            "distance; they are a danger of their own."
        )
    outside = np.nansum(values(ds, "outside_range_distance", course), axis=1)
    if outside.any():
        worst = int(np.argmax(outside))
        share = 100 * outside[worst] / np.nansum(events.distance[worst])
        doubts.append(
            f"On up to {quantity(float(share), '%', 2)} of the distance ({everyone[worst].name}) angles were beyond "
            "the range in which the model is accurate."
        )
    if has_fatigue(ds) and aims(ds).fatigue.dynamic_factor == 1:
        doubts.append(
            "The study states no factor for dynamics (fatigue.dynamic_factor): brackets are judged by the stress "
            "ranges of crawling, which driving raises."
        )
    doubts.append(
        "The intervals cover the luck of the ground drawn, not errors of the input: stiffness, masses and kind of "
        "ground are taken as given. Driving is at walking pace, without dynamics."
    )
    return doubts


def _list(names: list[str], most: int = 4) -> str:
    """Join names in words; beyond ``most`` only count them."""
    if len(names) > most:
        return f"{'; '.join(names[:most])} and {len(names) - most} more"
    return names[0] if len(names) == 1 else f"{'; '.join(names[:-1])} and {names[-1]}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
