"""What a report holds, before it is laid out for page or paper: answers, questions with charts and tables, facts."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import xarray as xr

from crossaxle.studies.analysis.candidates import candidates, has_results, swept, values
from crossaxle.studies.analysis.outcomes import once_in
from crossaxle.studies.analysis.pairing import pairing_table
from crossaxle.studies.analysis.trade_offs import trade_off_table
from crossaxle.studies.base.number_format import kilometres
from crossaxle.studies.base.parallel_jobs import in_parallel
from crossaxle.studies.base.quantities import level_tables
from crossaxle.studies.base.table import Table
from crossaxle.studies.charts.catalogue import catalogue, slug
from crossaxle.studies.clearance_sheet.sheet_file import recommended_sheet
from crossaxle.studies.rare.rare_findings import Finding
from crossaxle.studies.rare.rare_view import rare_table
from crossaxle.studies.report.fatigue_table import fatigue_table
from crossaxle.studies.report.page_one import PageOne, page_one
from crossaxle.studies.report.report_charts import Drawn, drawn
from crossaxle.studies.report.report_postures import postures
from crossaxle.studies.report.report_words import Paragraph, paragraph
from crossaxle.studies.report.result_tables import distance_table, gap_table, level_table, wheel_table
from crossaxle.studies.report.sizing_tables import build_tables, crossing_table
from crossaxle.studies.study.aims import aims

QUESTIONS = (
    ("trade", "What does wheel contact cost?"),
    ("limits", "Which stated limits are kept?"),
    ("wheels", "How often and how long do wheels unload?"),
    ("gaps", "How small do the gaps get?"),
    ("tanks", "What do the tank and its brackets see?"),
    ("frame", "What do frame, body and mounts go through?"),
    ("stability", "How far does it lean, and how near is tipping?"),
    ("postures", "What do the worst postures look like?"),
    ("drivers", "Which uncertain value matters?"),
    ("rare", "What is too rare to be met by driving?"),
    ("build", "What must be built for a long life?"),
)


@dataclass(frozen=True)
class Picture:
    """A chart with its name as a file."""

    name: str
    drawn: Drawn


@dataclass(frozen=True)
class ReportSection:
    """One question: its words, charts, tables by file name, and films as HTML."""

    title: str
    words: Paragraph
    pictures: list[Picture]
    tables: list[tuple[str, Table]]
    films: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class ReportPart:
    """Everything about one course.

    ``tables`` are those of page one and of the distances, by file name; ``sheet`` is the clearance sheet of the
    recommended candidate, its file name and SVG, where there is one.
    """

    page_one: PageOne
    sections: list[ReportSection]
    driven: Table
    once: str
    tables: list[tuple[str, Table]]
    sheet: tuple[str, str] | None = None

    def file_of(self, table: Table) -> str:
        """Name of the file that a table of page one is written to."""
        return next(name for name, one in self.tables if one is table)


@dataclass(frozen=True)
class Content:
    """The whole report."""

    title: str
    subtitle: str
    below: str
    parts: list[ReportPart]
    facts: list[tuple[str, str]]
    texts: list[tuple[str, str]]


def make_content(ds: xr.Dataset, findings: Sequence[Finding] = ()) -> Content:
    """Work out the report of results and of the findings about rare events kept beside them."""
    attributes = _attributes(ds)
    return Content(
        str(ds.attrs.get("title", "Wheel contact, gaps and stresses on rough ground")),
        _subtitle(ds),
        f"{100 * float(ds.attrs.get('unload_below', 0.10)):g}",
        [_part(ds, course, findings) for course in range(ds.sizes["course"])],
        [(name, value) for name, value in attributes if "\n" not in value],
        [(name, value) for name, value in attributes if "\n" in value],
    )


def _part(ds: xr.Dataset, course: int, findings: Sequence[Finding]) -> ReportPart:
    prefix = f"course_{course + 1}_" if ds.sizes["course"] > 1 else ""
    found = page_one(ds, course, findings)
    if not has_results(ds, course):
        return ReportPart(found, [], distance_table(ds, course), "", [])
    entries = catalogue(ds, course)
    # The longest first, so that all cores end together.
    jobs: list[Callable[[], Any]] = [
        partial(postures, ds, course, found.shown),
        partial(recommended_sheet, ds, course, found.shown[0]),
        partial(_tables, ds, course, found, findings),
        *(partial(drawn, entry.draw) for entry in entries),
    ]
    worst, sheet, tables, *charts = in_parallel(jobs)
    pictures: dict[str, list[Picture]] = {}
    for entry, chart in zip(entries, charts, strict=True):
        pictures.setdefault(entry.section, []).append(Picture(f"{prefix}{slug(entry.name)}", chart))
    if worst is not None:
        pictures["postures"] = [
            Picture(f"{prefix}posture_{k + 1}", chart) for k, chart in enumerate(worst.pictures)
        ]
        if worst.along is not None:
            pictures.setdefault("frame", []).append(Picture(f"{prefix}frame_along", worst.along))
    once = kilometres(once_in(ds, course))
    sections = [
        ReportSection(
            title,
            paragraph("questions", key, once=once),
            pictures.get(key, []),
            _named(prefix, tables.get(key, [])),
            [worst.film] if key == "postures" and worst is not None else [],
        )
        for key, title in QUESTIONS
        if pictures.get(key) or tables.get(key)
    ]
    driven = distance_table(ds, course)
    first = [t for t in (found.failures, found.table, found.verdicts, found.changes, driven) if t is not None]
    return ReportPart(found, sections, driven, once, _named(prefix, first), sheet)


def _named(prefix: str, tables: list[Table]) -> list[tuple[str, Table]]:
    """Name tables as files by what their captions begin with."""
    return [
        (f"{prefix}{slug(table.caption.partition(',')[0].partition(' so that')[0])}", table)
        for table in tables
    ]


def _tables(
    ds: xr.Dataset, course: int, found: PageOne, findings: Sequence[Finding]
) -> dict[str, list[Table]]:
    """Tables by section."""
    tables: dict[str, list[Table]] = {"limits": found.all_verdicts, "wheels": [wheel_table(ds, course)]}
    if ds.sizes.get("gap"):
        tables["gaps"] = [gap_table(ds, course)]
    stated = aims(ds)
    tables["build"] = build_tables(ds, stated, course)
    for section, made in (
        ("trade", trade_off_table(ds, course)),
        ("trade", pairing_table(ds, course, *found.shown) if len(found.shown) == 2 else None),
        ("rare", rare_table(ds, findings, stated.life, course)),
        ("build", crossing_table(ds, stated, course)),
    ):
        if made is not None:
            tables.setdefault(section, []).append(made)
    for one in level_tables():
        if not one.dimension or ds.sizes.get(one.dimension):
            table = level_table(ds, course, one.caption, one.headings, one.dimension)
            if table.rows:
                tables.setdefault(one.section, []).append(table)
    if (fatigue := fatigue_table(ds, course)) is not None:
        tables.setdefault("tanks", []).append(fatigue)
    return tables


def _subtitle(ds: xr.Dataset) -> str:
    n, courses = len(candidates(ds)), ds.sizes["course"]
    names = [name.replace("_", " ").replace(".", " ") for name in swept(ds)]
    driven = kilometres(float(np.nansum(values(ds, "distance")[0])))
    text = f"{n} candidate{'s' if n != 1 else ''}"
    text += f" (by {', '.join(names)})" if names else ""
    text += f", each driven over the same {driven} of random ground, in {ds.sizes['sample']} samples"
    return f"{text}, on each of {courses} courses." if courses > 1 else f"{text}."


def _attributes(ds: xr.Dataset) -> list[tuple[str, str]]:
    def text(value: Any) -> str:
        several = isinstance(value, np.ndarray | list | tuple)
        return ", ".join(str(v) for v in value) if several else str(value)

    return [(str(k).replace("_", " "), text(v)) for k, v in ds.attrs.items() if k != "surveys"]
