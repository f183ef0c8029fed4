"""report.pdf: the report laid out for A4, page one filled and never overfull."""

from typing import Any

from crossaxle.studies.base.cautions import REPORT, REPORT_POINTS
from crossaxle.studies.base.table import Cell, Table
from crossaxle.studies.report.report_content import Content, ReportPart, ReportSection
from crossaxle.studies.report.report_words import Paragraph, paragraph, paragraphs, pieces
from crossaxle.studies.report.typesetting import breakable, typeset


def report_pdf(content: Content) -> bytes:
    """Lay the report out as PDF."""
    return typeset("report.typ", *report_data(content))


def report_data(content: Content) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what the template shows, as plain data, and the charts as SVG by the names it uses."""
    pictures: dict[str, str] = {}
    data = {
        "title": breakable(content.title),
        "subtitle": breakable(content.subtitle),
        "caution": _prose(pieces(REPORT)),
        "parts": [_part(content, part, pictures) for part in content.parts],
        "method": {key: _prose(paragraph("method", key)) for key in ("title", "method", "sure", "distance")}
        | {"limits": [_prose(point) for point in paragraphs("method", "limits")]},
        "cautions": {
            "title": _prose(paragraph("cautions", "title")),
            "points": [_prose(pieces(point)) for point in REPORT_POINTS],
        },
        "again": {key: _prose(paragraph("again", key)) for key in ("title", "facts")},
        "facts": [[name, breakable(value)] for name, value in content.facts],
        "texts": [[name, value] for name, value in content.texts],
    }
    return data, pictures


def _part(content: Content, part: ReportPart, pictures: dict[str, str]) -> dict[str, Any]:
    found = part.page_one
    return {
        "course": breakable(found.course),
        "several": len(content.parts) > 1,
        "lead": [breakable(sentence) for sentence in found.lead],
        "failures": _table(found.failures),
        "to_build": [breakable(sentence) for sentence in found.changes_to_build],
        "signature": [[name, breakable(text)] for name, text in found.signature],
        "table": _table(found.table),
        "left_out": found.left_out,
        "numbers": _prose(paragraph("answer", "numbers", below=content.below, once=part.once)),
        "verdicts": _table(found.verdicts),
        "limits_left_out": found.limits_left_out,
        "limits": _prose(paragraph("answer", "limits")),
        "changes": _table(found.changes),
        "doubts": [breakable(sentence) for sentence in found.doubts],
        "driven": _table(part.driven),
        "sections": [_section(section, pictures) for section in part.sections],
    }


def _section(section: ReportSection, pictures: dict[str, str]) -> dict[str, Any]:
    shown = []
    for picture in section.pictures:
        file = f"{picture.name}.svg"
        pictures[file] = picture.drawn.wide
        shown.append({"file": file, "text": picture.drawn.text})
    return {
        "title": section.title,
        "words": _prose(section.words),
        "pictures": shown,
        "tables": [_table(table) for _, table in section.tables],
    }


def _table(table: Table | None) -> dict[str, Any] | None:
    if table is None:
        return None
    return {
        "caption": breakable(table.caption),
        "head": [_cell(cell) for cell in table.head],
        "rows": [[_cell(cell) for cell in row] for row in table.rows],
    }


def _cell(cell: Cell) -> dict[str, str]:
    return {
        "text": breakable(cell.text),
        "below": cell.below,
        "mark": cell.mark,
        "note": breakable(cell.note),
    }


def _prose(found: Paragraph) -> list[dict[str, Any]]:
    return [{"text": piece.text, "term": piece.term} for piece in found]
