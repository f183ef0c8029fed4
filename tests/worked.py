"""The worked studies made again: ``python -m tests.worked`` runs the commands of their texts and writes what they give.

For each study, in an empty folder, every command of its README.md runs as it stands there; then the tables between the
marks in README.md and the figures beside it are replaced by those of the results.
"""

import os
import sys
import tempfile
from pathlib import Path

import xarray as xr
from matplotlib.figure import Figure
from PIL import Image

from crossaxle.studies.analysis.candidates import Candidate, candidates
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.analysis.sizing import needs
from crossaxle.studies.analysis.verdicts import verdicts
from crossaxle.studies.base.number_format import kilometres
from crossaxle.studies.base.table import Cell, Table, estimate_cell
from crossaxle.studies.charts.catalogue import catalogue
from crossaxle.studies.report.result_tables import headline_table
from crossaxle.studies.report.sizing_tables import crossing_table
from crossaxle.studies.report.verdict_tables import verdict_table
from crossaxle.studies.run.dataset import read_results
from crossaxle.studies.study.aims import Aims, aims
from tests.documents import WORKED, between, commands, follow

STUDIES = {
    "mount-and-wheelbase": ("unload_events", "body_torque", "gap_1_cab_roof_to_alcove"),
    "tank-brackets": ("bracket_1_water_front", "gap_3_water_tank_to_floor"),
}
"""Figures kept beside each text, by their names among the report's charts."""

COLUMNS = ("Wheel-unload events", "Clearance used", "Bracket stress", "Body torque", "Lean")
WIDTH, DOTS, COLOURS = 7.0, 90, 48


def tables(results: Path) -> str:
    """Write a text's tables: headline numbers, limits, clearances needed, where swept values stop keeping a limit."""
    ds = read_results(results)
    everyone, stated = candidates(ds), aims(ds)
    chosen = [o for o in headline(ds) if o.heading in COLUMNS]
    made = [
        headline_table(everyone, chosen, [c.index for c in everyone]),
        verdict_table(everyone, verdicts(ds, stated.limits), stated.limits, "Stated limits"),
        _clearances(ds, everyone, stated),
        crossing_table(ds, stated, 0),
    ]
    return "\n\n".join(_markdown(table) for table in made if table is not None and table.rows)


def _clearances(ds: xr.Dataset, everyone: list[Candidate], stated: Aims) -> Table:
    """What the gaps with a stated limit need."""
    limited = {limit.item for limit in stated.limits if limit.what == "gap"}
    chance = (
        f"Movement that is passed with a probability of {100 * stated.risk:g} % in {kilometres(stated.life)}"
    )
    head = [Cell("Candidate"), Cell("Gap"), Cell("Built", "mm"), Cell("Needed", "mm"), Cell("Basis")]
    table = Table(f"{chance}; build its upper bound and an allowance", head)
    for need in needs(ds, stated.risk, stated.life):
        if need.what == "clearance" and need.item in limited:
            built, needed = Cell(f"{1e3 * need.built:.0f}"), estimate_cell(need.needed.times(1e3))
            table.rows.append(
                [Cell(everyone[need.candidate].name), Cell(need.item), built, needed, Cell(need.basis)]
            )
    return table


def _markdown(table: Table) -> str:
    head = [f"{cell.text} [{cell.below}]" if cell.below else cell.text for cell in table.head]
    rows = [
        [f"{cell.text} ({cell.below})" if cell.below else cell.text for cell in row] for row in table.rows
    ]
    lines = [head, ["---"] * len(head), *rows]
    return f"{table.caption}:\n\n" + "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _draw(figure: Figure, path: Path) -> None:
    """Save a chart small: few dots, few colours."""
    figure.savefig(path, dpi=DOTS)
    with Image.open(path) as image:
        small = image.convert("RGB").quantize(COLOURS)
    small.save(path, optimize=True)


def make(name: str) -> None:
    """Make a study's tables and figures again."""
    page = WORKED / name / "README.md"
    text = page.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        follow(commands(text), Path(folder))
        results = Path(folder, "study", "results", "results.nc")
        page.write_text(between(text, "results", tables(results)), encoding="utf-8")
        charts = {entry.name: entry for entry in catalogue(read_results(results))}
        for figure in STUDIES[name]:
            _draw(charts[figure].draw(WIDTH), WORKED / name / f"{figure}.png")


if __name__ == "__main__":
    for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[variable] = "1"
    for wanted in sys.argv[1:] or STUDIES:
        make(wanted)
