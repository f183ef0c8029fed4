"""The command that draws the shop's clearance sheet."""

from pathlib import Path

import click

from crossaxle.studies.cli.common import reporting_errors


@click.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--out",
    required=True,
    metavar="FILE",
    help="SVG, DXF (in mm at full size, sheet as layout), PDF or PNG, by the name's ending.",
)
@click.option(
    "--candidate",
    default="",
    metavar="KEY=VALUE,...",
    help="E.g. 'wheelbase=4.4 m, mount=rigid' [default: the recommended one].",
)
@click.option("--course", default="", metavar="NAME", help="One of the study's courses [default: the worst].")
@reporting_errors
def clearances(folder: str, out: str, candidate: str, course: str) -> None:
    """Draw the shop's sheet of clearances of one candidate.

    Every gap with what its item sweeps, what is built and what to build for the study's risk and life; stretch of
    hoses and bellows, travel of pivots and mounts. Nothing but DIR/results.nc is needed.
    """
    from crossaxle.studies.analysis.worst import worst_course
    from crossaxle.studies.base.cautions import CLEARANCES, caution_lines
    from crossaxle.studies.clearance_sheet.sheet_file import check_sheet_name, write_clearance_sheet
    from crossaxle.studies.report.chosen_candidate import chosen_candidate, chosen_course
    from crossaxle.studies.run.dataset import read_results
    from crossaxle.studies.run.sampling import RESULTS

    check_sheet_name(Path(out))
    dataset = read_results(Path(folder) / RESULTS)
    if course:
        at = chosen_course(dataset, course)
        chosen = chosen_candidate(dataset, candidate, at)
    else:
        chosen = chosen_candidate(dataset, candidate)
        at = worst_course(dataset, chosen.index)
    write_clearance_sheet(dataset, chosen.index, at, Path(out))
    where = f", {dataset['course'].values[at]}" if dataset.sizes["course"] > 1 else ""
    click.echo(f"wrote {out}: {chosen.name}{where}")
    click.echo("\n".join(caution_lines(CLEARANCES)))
