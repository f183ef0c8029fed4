"""Report of a results Dataset: report.html and report.pdf, charts/ and tables/.

The page needs nothing beside it: charts are embedded twice, once for wide screens and paper and once for phones, tables
also as CSV, films as pictures. The one script in it, the films' player, is allowed by its hash, so that no other runs.
"""

from base64 import b64encode
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path
from typing import Any

import xarray as xr
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from crossaxle.studies.base.cautions import REPORT, REPORT_POINTS
from crossaxle.studies.base.csv_tables import table_csv, write_tables
from crossaxle.studies.base.storage import write_whole
from crossaxle.studies.base.table import Table
from crossaxle.studies.pictures.export import address
from crossaxle.studies.pictures.film import PLAYER_SCRIPT, PLAYER_STYLE
from crossaxle.studies.rare.rare_findings import read_findings
from crossaxle.studies.report.report_charts import Forms, forms
from crossaxle.studies.report.report_content import Content, Picture, ReportSection, make_content
from crossaxle.studies.report.report_pdf import report_pdf
from crossaxle.studies.report.report_words import paragraph, paragraphs, pieces
from crossaxle.studies.report.verdict_file import verdict_json


def write_report(ds: xr.Dataset, folder: Path | str) -> list[Path]:
    """Write report.html, .pdf and .json, clearances.svg, charts/ (PNG, SVG, PDF) and tables/ (CSV) into a folder.

    Parameters
    ----------
    ds : Dataset
        Results of one study, as in results.nc.
    folder : path
        Made if it does not exist. Files of the same name are replaced.

    Returns
    -------
    list of Path
        What was written, the page first.
    """
    folder = Path(folder)
    charts = folder / "charts"
    charts.mkdir(parents=True, exist_ok=True)
    content = make_content(ds, read_findings(ds, folder))
    page, paper, verdict = folder / "report.html", folder / "report.pdf", folder / "report.json"
    with ThreadPoolExecutor() as threads:  # the typesetter works outside Python's lock
        printed = threads.submit(report_pdf, content)
        pictures = list(_pictures(content))
        made = dict(
            zip((p.name for p in pictures), threads.map(forms, (p.drawn for p in pictures)), strict=True)
        )
        written = [path for p in pictures for path in _save(p, made[p.name], charts)]
        written += write_tables(_tables(content), folder / "tables")
        for name, svg in _sheets(content):
            write_whole(folder / name, svg.encode("utf-8"))
            written.append(folder / name)
        write_whole(page, _page(content, made).encode("utf-8"))
        write_whole(paper, printed.result())
        write_whole(verdict, verdict_json(ds, [part.page_one for part in content.parts]))
    return [page, paper, verdict, *written]


def _save(picture: Picture, made: Forms, folder: Path) -> list[Path]:
    """Write a chart as NAME.png, NAME.svg and NAME.pdf; return their paths."""
    contents = {".png": made.png, ".svg": picture.drawn.wide.encode("utf-8"), ".pdf": made.pdf}
    paths = []
    for ending, content in contents.items():
        path = folder / f"{picture.name}{ending}"
        path.write_bytes(content)
        paths.append(path)
    return paths


def _sheets(content: Content) -> list[tuple[str, str]]:
    return [part.sheet for part in content.parts if part.sheet is not None]


def _sections(content: Content) -> Iterator[ReportSection]:
    for part in content.parts:
        yield from part.sections


def _pictures(content: Content) -> Iterator[Picture]:
    for section in _sections(content):
        yield from section.pictures


def _tables(content: Content) -> Iterator[tuple[str, Table]]:
    for part in content.parts:
        yield from part.tables
    for section in _sections(content):
        yield from section.tables


def _page(content: Content, made: Mapping[str, Forms]) -> str:
    environment = Environment(
        loader=PackageLoader("crossaxle.studies.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html.j2").render(
        content=content,
        sheets=[(name, Markup(address(svg))) for name, svg in _sheets(content)],
        forms=made,
        csv_address=_csv_address,
        words=paragraph,
        word_lists=paragraphs,
        caution=pieces(REPORT),
        caution_points=[pieces(point) for point in REPORT_POINTS],
        film_style=Markup(PLAYER_STYLE),
        film_script=Markup(PLAYER_SCRIPT),
        film_hash=b64encode(sha256(PLAYER_SCRIPT.encode("utf-8")).digest()).decode("ascii"),
        films=any(section.films for section in _sections(content)),
        markup=Markup,
    )


def _csv_address(table: Table) -> Any:
    encoded = b64encode(table_csv(table).encode("utf-8-sig")).decode("ascii")
    return Markup(f"data:text/csv;base64,{encoded}")
