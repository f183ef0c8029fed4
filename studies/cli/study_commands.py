"""Commands of the main job: an example to start from, checking, running, reporting."""

import json
import sys
from pathlib import Path
from typing import Any

import click

from crossaxle.studies.cli.common import (
    assembled_vehicle,
    json_option,
    overrides_of,
    read_vehicle,
    reporting_errors,
    set_option,
)


@click.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--worked", metavar="NAME", help="A worked study instead: mount-and-wheelbase or tank-brackets."
)
@reporting_errors
def example(folder: str, worked: str | None) -> None:
    """Write a commented example study to start from.

    DIR gets study.toml, vehicle.toml and course.toml, or the files of a worked study with its text, README.md.
    """
    from crossaxle.studies.study.example import write_example

    for path in write_example(Path(folder), worked):
        click.echo(f"wrote {path}")
    if worked is None:
        click.echo(f"next: crossaxle run {Path(folder, 'study.toml')} --out {Path(folder, 'results')}")
    else:
        click.echo(f"next: read {Path(folder, 'README.md')}")


@click.command()
@click.argument("file", metavar="FILE")
@json_option
@set_option
@reporting_errors
def check(file: str, as_json: bool, assignments: tuple[str, ...]) -> None:
    """Validate a vehicle or study file and describe it.

    Of a vehicle, axle and wheel loads, the frame's torsional stiffness, gaps standing level and warnings are printed;
    of a study, its candidates and what it costs. FILE may be a shipped vehicle, e.g. library:clinic.
    """
    from crossaxle.studies.inputs.reader import InputError
    from crossaxle.studies.posture.check import (
        check_study,
        describe_vehicle,
        is_study,
        study_text,
        vehicle_text,
    )
    from crossaxle.studies.study.library import open_reference
    from crossaxle.studies.study.study import load

    source = open_reference(file, "vehicle", Path())
    if is_study(source):
        found = check_study(load(file, overrides_of(assignments)))
        click.echo(json.dumps(found, indent=1) if as_json else study_text(found))
        return
    assembled = assembled_vehicle(source, read_vehicle(source, overrides_of(assignments)))
    try:
        vehicle = describe_vehicle(assembled, slopes=True)
    except ValueError as error:
        raise InputError(f"{source.name}: {error}") from None
    click.echo(json.dumps(vehicle, indent=1) if as_json else vehicle_text(vehicle))


@click.command()
@click.argument("study", metavar="STUDY")
@click.option(
    "--out",
    required=True,
    metavar="DIR",
    help="Folder for results.nc, report.html, report.pdf, charts/ and tables/.",
)
@click.option(
    "--samples",
    type=int,
    metavar="N",
    help="Stretches of random ground to drive, instead of the study file's number.",
)
@click.option("--seed", type=int, metavar="N", help="Seed of the random ground, instead of the study file's.")
@click.option("--workers", type=int, metavar="N", help="Processes on this machine [default: one per core].")
@click.option("--scheduler", metavar="ADDRESS", help="Send the work to this dask.distributed scheduler.")
@click.option("--resume", is_flag=True, help="Go on with what DIR holds of this study, or extend it.")
@click.option("--overwrite", is_flag=True, help="Throw away the results that DIR holds and start again.")
@click.option("--yes-large", is_flag=True, help="Start even if it takes very long or much memory.")
@click.option(
    "--until-decided",
    type=click.IntRange(1, 10**8),
    metavar="MOST",
    help="Add samples until every limit of the study is met or missed for sure, up to MOST samples.",
)
@reporting_errors
def run(study: str, out: str, samples: int | None, seed: int | None, **options: Any) -> None:
    """Run a study and report it: the main job.

    Every candidate is driven over the same random ground. DIR gets results.nc, the report
    (report.html and report.pdf), charts/ and tables/. What it will cost is said before it starts; if it stops, the
    same command with --resume goes on.

    With --until-decided there are at least twice as many samples at every look, and the verdicts of all looks
    together are as sure as the report's are at one.
    """
    from crossaxle.studies.cli.main_job import Options, run_study
    from crossaxle.studies.cli.terminal import Terminal
    from crossaxle.studies.inputs.reader import InputError

    if not out.strip():
        raise InputError("--out: is empty; name a folder for the results, e.g. --out results")
    settings = {key: value for key, value in (("samples", samples), ("seed", seed)) if value is not None}
    sys.exit(run_study(study, Path(out), settings, Options(**options), Terminal()))


@click.command()
@click.argument("folder", metavar="DIR")
@reporting_errors
def report(folder: str) -> None:
    """Make charts and report again from results alone.

    Nothing but DIR/results.nc, which `crossaxle run` wrote, is needed.
    """
    from crossaxle.studies.report.report import write_report
    from crossaxle.studies.run.dataset import read_results
    from crossaxle.studies.run.sampling import RESULTS

    page, *charts = write_report(read_results(Path(folder) / RESULTS), Path(folder))
    click.echo(f"wrote {page} and {len(charts)} charts")
