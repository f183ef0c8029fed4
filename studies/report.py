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

from studies.charts.export import address, save, solid_address
from studies.clearance_sheet_file import recommended_sheets
from studies.film import PLAYER_SCRIPT, PLAYER_STYLE
from studies.rare_findings import read_findings
from studies.report_content import Content, Picture, Section, make_content
from studies.report_pdf import report_pdf
from studies.report_words import paragraph, paragraphs
from studies.storage import write_whole
from studies.table_files import table_csv, write_tables
from studies.tables import Table


def write_report(ds: xr.Dataset, folder: Path | str) -> list[Path]:
    """Write report.html, report.pdf, clearances.svg, charts/ (PNG, SVG, PDF) and tables/ (CSV) into a folder.

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
    page, paper = folder / "report.html", folder / "report.pdf"
    with ThreadPoolExecutor() as threads:  # the typesetter works outside Python's lock
        printed = threads.submit(report_pdf, content)
        saved = [threads.submit(save, p.drawn.wide, charts, p.name) for p in _pictures(content)]
        written = write_tables(_tables(content), folder / "tables")
        sheets = recommended_sheets(ds, [part.answer.shown for part in content.parts])
        for name, svg in sheets.items():
            write_whole(folder / name, svg.encode("utf-8"))
            written.append(folder / name)
        write_whole(page, _page(content, sheets).encode("utf-8"))
        write_whole(paper, printed.result())
        charted = [path for one in saved for path in one.result()]
    return [page, paper, *charted, *written]


def _sections(content: Content) -> Iterator[Section]:
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


def _page(content: Content, sheets: Mapping[str, str]) -> str:
    environment = Environment(
        loader=PackageLoader("studies"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html.j2").render(
        content=content,
        sheets=[(name, Markup(address(svg))) for name, svg in sheets.items()],
        address=_address,
        csv_address=_csv_address,
        words=paragraph,
        word_lists=paragraphs,
        film_style=Markup(PLAYER_STYLE),
        film_script=Markup(PLAYER_SCRIPT),
        film_hash=b64encode(sha256(PLAYER_SCRIPT.encode("utf-8")).digest()).decode("ascii"),
        films=any(section.films for section in _sections(content)),
        markup=Markup,
    )


def _address(picture: Picture, narrow: bool) -> Any:
    """Data address of a chart; it holds no character that ends an attribute."""
    svg = picture.drawn.narrow if narrow else picture.drawn.wide
    return Markup(solid_address(svg) if picture.solid else address(svg))


def _csv_address(table: Table) -> Any:
    encoded = b64encode(table_csv(table).encode("utf-8-sig")).decode("ascii")
    return Markup(f"data:text/csv;base64,{encoded}")
