"""report.json: the verdict of page one as data, for other programs."""

import json
from collections.abc import Sequence
from typing import Any

import xarray as xr

from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.base.cautions import REPORT_POINTS
from crossaxle.studies.report.page_one import PageOne, failure_words
from crossaxle.studies.report.report_words import pieces
from crossaxle.studies.report.verdict_tables import limit_text


def verdict_json(ds: xr.Dataset, pages: Sequence[PageOne]) -> bytes:
    """Write the verdict as JSON.

    ``recommended``: name of the candidate to build, null if none can be built as drawn, the best are tied, or courses
    disagree; ``tied``: names; ``reasons``: sentences of page one; ``failed``: what each candidate fails; ``limits``:
    every verdict; ``cautions``. Several courses: ``courses`` has the same of each by its name.
    """
    names = [c.name for c in candidates(ds)]
    each = [_one(page, names) for page in pages]
    choices = {one["recommended"] for one in each}
    whole: dict[str, Any] = {
        "recommended": next(iter(choices)) if len(choices) == 1 else None,
        "tied": each[0]["tied"] if len(each) == 1 else [],
        "reasons": [reason for one in each for reason in one["reasons"]],
        "failed": {
            name: list(dict.fromkeys(text for one in each for text in one["failed"].get(name, [])))
            for name in names
            if any(name in one["failed"] for one in each)
        },
        "limits": [limit for one in each for limit in one["limits"]],
        "cautions": ["".join(piece.text for piece in pieces(point)) for point in REPORT_POINTS],
    }
    if len(pages) > 1:
        whole["courses"] = {page.course: one for page, one in zip(pages, each, strict=True)}
    return (json.dumps(whole, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _one(page: PageOne, names: list[str]) -> dict[str, Any]:
    found = page.recommendation
    if found is None:
        return {"recommended": None, "tied": [], "reasons": page.lead, "failed": {}, "limits": []}
    failed = {names[k]: words for k in found.order if (words := failure_words(found, k))}
    return {
        "recommended": None if found.recommended is None else names[found.recommended],
        "tied": [names[k] for k in found.tied],
        "reasons": page.lead,
        "failed": failed,
        "limits": [
            {
                "candidate": names[v.candidate],
                "course": page.course,
                "limit": limit_text(v.limit),
                "stated": found.limits.index(v.limit) < found.stated,
                "item": v.item,
                "verdict": v.status,
                "probability": v.probability,
                "basis": v.basis,
            }
            for v in found.judged
        ],
    }
