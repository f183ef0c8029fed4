"""The command line: reads options, says what went wrong in one message, and leaves the work to others.

Everything heavy is imported inside the commands, so that ``--help`` answers at once. Exit status: 0 done, 1 stopped
or failed although the input was good, 2 bad input.
"""

import json
import os
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

if TYPE_CHECKING:
    from studies.files import Document
    from vehicles.assemble import Vehicle
    from vehicles.file import VehicleFile

R = TypeVar("R")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs.")
set_option = click.option(
    "--set",
    "assignments",
    multiple=True,
    metavar="KEY=VALUE",
    help="Replace a value of the file, e.g. --set 'tank.water.spacing=1.2 m'. May be repeated.",
)


def main() -> None:
    """Run the command line; linear algebra stays on one thread, so that results do not depend on cores."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    cli(prog_name="crossaxle")


def told(command: Callable[..., R]) -> Callable[..., R]:
    """Make a command turn bad input and failing disks into one message on standard error."""

    @wraps(command)
    def run(*args: Any, **options: Any) -> R:
        from studies.files import InputError

        try:
            return command(*args, **options)
        except InputError as error:
            _stop(str(error), 2)
        except BrokenPipeError:
            sys.exit(0)
        except OSError as error:
            _stop(f"{error.filename or 'file'}: {error.strerror or error}", 1)

    return run


def _stop(message: str, status: int) -> NoReturn:
    click.echo(f"crossaxle: {message}", err=True)
    sys.exit(status)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def cli() -> None:
    """Compute what rough ground does to a stiff body on a flexible truck frame.

    Start with `crossaxle example DIR`, then `crossaxle run DIR/study.toml --out RESULTS`.
    """


@cli.command()
@click.argument("folder", metavar="DIR")
@told
def example(folder: str) -> None:
    """Write a commented example study to start from.

    DIR gets study.toml, vehicle.toml and course.toml.
    """
    from studies.example import write_example

    for path in write_example(Path(folder)):
        click.echo(f"wrote {path}")
    click.echo(f"next: crossaxle run {Path(folder, 'study.toml')} --out {Path(folder, 'results')}")


@cli.command()
@click.argument("file", metavar="FILE")
@json_option
@set_option
@told
def check(file: str, as_json: bool, assignments: tuple[str, ...]) -> None:
    """Validate a vehicle or study file and describe it.

    Prints axle and wheel loads, the frame's torsional stiffness, gaps standing level, and warnings.
    """
    from studies.check import check_study, describe_vehicle, is_study, study_text, vehicle_text
    from studies.library import open_reference
    from studies.study import load

    source = open_reference(file, "vehicle", Path())
    if is_study(source):
        found = check_study(load(file, _overrides(assignments)))
        click.echo(json.dumps(found, indent=1) if as_json else study_text(found))
        return
    vehicle = describe_vehicle(
        _assembled(source, _vehicle_file(source, _overrides(assignments))), slopes=True
    )
    click.echo(json.dumps(vehicle, indent=1) if as_json else vehicle_text(vehicle))


@cli.command()
@click.argument("study", metavar="STUDY")
@click.option("--out", required=True, metavar="DIR", help="Folder for results.nc, report.html and charts/.")
@click.option("--samples", type=int, help="Stretches of random ground, instead of the study file's number.")
@click.option("--seed", type=int, help="Seed of the random ground, instead of the study file's.")
@click.option("--workers", type=int, help="Processes on this machine [default: one per core].")
@click.option("--scheduler", metavar="ADDRESS", help="Send the work to this dask.distributed scheduler.")
@click.option("--resume", is_flag=True, help="Go on with what DIR holds of this study, or extend it.")
@click.option("--overwrite", is_flag=True, help="Throw away what DIR holds.")
@click.option("--yes-large", is_flag=True, help="Start even if it takes very long or much memory.")
@click.option(
    "--until-decided",
    type=click.IntRange(1, 10**8),
    metavar="MOST",
    help="Add samples until every limit is met or missed for sure, MOST samples at the most.",
)
@told
def run(study: str, out: str, samples: int | None, seed: int | None, **options: Any) -> None:
    """Run a study and report it: the main job.

    Every candidate is driven over the same random ground. DIR gets results.nc, report.html and charts/.
    """
    from studies.main_job import Options, run_study

    settings = {key: value for key, value in (("samples", samples), ("seed", seed)) if value is not None}
    sys.exit(run_study(study, Path(out), settings, Options(**options)))


@cli.command()
@click.argument("folder", metavar="DIR")
@told
def report(folder: str) -> None:
    """Make charts and report again from results alone."""
    from studies.dataset import read_results
    from studies.report import write_report
    from studies.run import RESULTS

    page, *charts = write_report(read_results(Path(folder) / RESULTS), Path(folder))
    click.echo(f"wrote {page} and {len(charts)} charts")


@cli.command()
@click.argument("course", metavar="COURSE")
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@json_option
@told
def ground(course: str, chart: str | None, as_json: bool) -> None:
    """Describe and draw the ground of a course.

    Tracks, spectrum against the ISO classes, and the warp over a wheelbase.
    """
    from studies.files import validate
    from studies.ground_view import describe_ground, draw_ground
    from studies.library import is_shipped, open_reference
    from studies.surveys import prepare_course, read_surveys
    from terrain.course import CourseFile

    source = open_reference(course, "course", Path())
    file = validate(source, CourseFile)
    surveys = {} if is_shipped(course) else read_surveys(source, Path(course).parent)
    prepared = prepare_course(course, file, surveys)
    try:
        found = describe_ground(prepared)
        figure = draw_ground(prepared) if chart else None
    except ValueError as error:
        _stop(f"{course}: {error}", 2)
    if figure is not None:
        _save(figure, chart or "")
    click.echo(json.dumps(found, indent=1) if as_json else _outline(found))


@cli.command()
@click.argument("vehicle", metavar="VEHICLE")
@click.option("--bare", is_flag=True, help="Leave body, mounts and payload away.")
@click.option("--mount", metavar="NAME", help="One of the vehicle file's mounts.")
@click.option("--wheelbase", metavar="QUANTITY", help='E.g. "4.4 m".')
@click.option("--under", metavar="WHEEL,WHEEL", help="Wheels to raise [default: front right, rear left].")
@click.option("--heights", default="0 m:0.6 m:0.05 m", show_default=True, help="One, or from, to and step.")
@click.option("--grade", metavar="ANGLE", help='Grade of the ground, positive uphill, e.g. "5 deg".')
@click.option(
    "--side-slope", metavar="ANGLE", help="Side slope of the ground, positive with the left side high."
)
@set_option
@json_option
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@click.option("--sheet", metavar="FILE", help="Write the workshop's test sheet (HTML, prints on A4).")
@told
def pedestal(
    vehicle: str, bare: bool, mount: str | None, wheelbase: str | None, under: str | None, heights: str,
    grade: str | None, side_slope: str | None, assignments: tuple[str, ...], as_json: bool, chart: str | None,
    sheet: str | None,
) -> None:  # fmt: skip
    """Compute a pedestal test.

    Wheels are raised step by step; loads, twist, gaps and the first wheel free are printed.
    """
    from studies.charts.pedestal import pedestal_chart
    from studies.files import InputError
    from studies.library import open_reference
    from studies.pedestal import pedestal_test
    from studies.pedestal_view import describe_pedestal, pedestal_text, read_heights, read_slope

    chosen = {"mount": mount, "wheelbase": wheelbase}
    overrides = {key: value for key, value in chosen.items() if value is not None} | _overrides(assignments)
    source = open_reference(vehicle, "vehicle", Path())
    assembled = _assembled(source, _vehicle_file(source, overrides), bare)
    wheels = [name.strip() for name in under.split(",")] if under is not None else None
    steps, slope = (
        read_heights(heights),
        (read_slope("--grade", grade), read_slope("--side-slope", side_slope)),
    )
    if sheet and any(slope):
        raise InputError(
            "--sheet: a workshop's test stands on level ground; leave --grade and --side-slope out"
        )
    try:
        test = pedestal_test(assembled, wheels, steps, slope)
    except ValueError as error:
        raise InputError(f"{vehicle}: {error}") from None
    if chart:
        _save(pedestal_chart(test), chart)
    if sheet:
        from studies.pedestal_sheet import pedestal_sheet
        from studies.storage import write_whole

        if Path(sheet).suffix.lower() not in (".html", ".htm"):
            raise InputError(
                f"--sheet {sheet}: allowed are names that end in .html; print it to PDF from a browser"
            )
        try:
            page = pedestal_sheet(test)
        except ValueError as error:
            raise InputError(f"{vehicle}: {error}") from None
        write_whole(Path(sheet), page.encode("utf-8"))
        click.echo(f"wrote {sheet}", err=True)
    found = describe_pedestal(test)
    click.echo(json.dumps(found, indent=1) if as_json else pedestal_text(found))


@cli.command()
@click.argument("folder", metavar="DIR")
@click.option(
    "--worst",
    required=True,
    metavar="NAME",
    help="Output to replay at its worst: a variable of results.nc, of one item if there are several, "
    "e.g. 'gap_minimum:cab back to body', frame_twist_maximum.",
)
@click.option("--candidate", default="", metavar="KEY=VALUE,...", help="E.g. 'wheelbase=4.4 m, mount=rigid'.")
@click.option("--course", default="", metavar="NAME", help="One of the study's courses.")
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@click.option("--film", metavar="FILE", help="Film the metres before and after (GIF, or HTML with a player).")
@json_option
@told
def replay(
    folder: str, worst: str, candidate: str, course: str, chart: str | None, film: str | None, as_json: bool
) -> None:
    """Reproduce and draw the worst posture of an output.

    Nothing but DIR/results.nc is needed.

    Without --candidate and --course the worst over all of them is taken.
    """
    from studies.dataset import read_results
    from studies.replay import Replayer
    from studies.replay_view import check_film_name, describe_replay, draw_replay, replay_text, write_film
    from studies.run import RESULTS
    from studies.worst import find_worst

    check_film_name(film)
    dataset = read_results(Path(folder) / RESULTS)
    chosen = find_worst(dataset, worst, candidate, course)
    replayer = Replayer(dataset)
    found = replayer.replay(chosen)
    if chart:
        _save(draw_replay(dataset, replayer, found), chart)
    if film:
        write_film(dataset, replayer, found, Path(film))
        click.echo(f"wrote {film}", err=True)
    click.echo(
        json.dumps(describe_replay(dataset, found), indent=1) if as_json else replay_text(dataset, found)
    )
    if not found.exact:
        _stop("the replay differs from the results by more than rounding; see above", 1)


@cli.command()
@click.argument("vehicle", metavar="VEHICLE")
@click.argument("readings", metavar="READINGS.csv")
@click.option("--out", required=True, metavar="FILE", help="New vehicle file, with the fitted stiffness.")
@click.option(
    "--adjust",
    "adjusted",
    multiple=True,
    metavar="NAME",
    help="What to fit: stiffness-factor (the whole frame), joint-factor (all joints), joint-torsion, joint-warping. "
    "May be repeated.  [default: stiffness-factor]",
)
@click.option("--bare", is_flag=True, help="The test was made on the bare chassis.")
@click.option("--mount", metavar="NAME", help="Mount of the tested truck, if not the file's.")
@click.option("--wheelbase", metavar="QUANTITY", help="Wheelbase of the tested truck, if not the file's.")
@set_option
@json_option
@click.option("--chart", metavar="FILE", help="Draw the fit (PNG, SVG or PDF by the name's ending).")
@click.option("--overwrite", is_flag=True, help="Replace FILE if it exists.")
@told
def calibrate(
    vehicle: str, readings: str, out: str, adjusted: tuple[str, ...], bare: bool, mount: str | None,
    wheelbase: str | None, assignments: tuple[str, ...], as_json: bool, chart: str | None, overwrite: bool,
) -> None:  # fmt: skip
    """Fit the frame to a measured pedestal test.

    FILE becomes a new vehicle file with the stiffness found.

    READINGS.csv has the columns height, under, measured, value, uncertainty and direction, with units in the cells;
    `crossaxle pedestal --sheet` prepares it.
    """
    from studies.calibrate import calibrate as fit
    from studies.calibration_view import (
        calibrated_text,
        calibration_text,
        describe_calibration,
        refuse_to_replace,
        write_calibrated,
    )
    from studies.files import InputError
    from studies.library import open_reference
    from studies.readings import read_readings

    refuse_to_replace(Path(out), overwrite)
    chosen = {"mount": mount, "wheelbase": wheelbase}
    overrides = {key: value for key, value in chosen.items() if value is not None} | _overrides(assignments)
    source = open_reference(vehicle, "vehicle", Path())
    file = _vehicle_file(source, overrides)
    try:
        found = fit(file, read_readings(readings), adjusted or ("stiffness-factor",), bare)
    except ValueError as error:
        raise InputError(f"{readings}: {error}") from None
    write_calibrated(Path(out), calibrated_text(source, found, readings))
    click.echo(f"wrote {out}", err=True)
    if chart:
        from studies.charts.calibration import calibration_chart

        _save(calibration_chart(found), chart)
    click.echo(json.dumps(describe_calibration(found), indent=1) if as_json else calibration_text(found))


def _overrides(assignments: tuple[str, ...]) -> dict[str, Any]:
    from studies.files import assignment

    return dict(assignment(text) for text in assignments)


def _vehicle_file(source: "Document", overrides: dict[str, Any]) -> "VehicleFile":
    from studies.files import validate
    from vehicles.file import VehicleFile

    return validate(source, VehicleFile, overrides)


def _assembled(source: "Document", file: "VehicleFile", bare: bool = False) -> "Vehicle":
    from studies.files import InputError
    from vehicles.assemble import assemble

    try:
        return assemble(file, bare)
    except ValueError as error:
        raise InputError(f"{source.name}: {error}") from None


def _save(figure: Any, chart: str) -> None:
    from studies.files import InputError

    if Path(chart).suffix.lower() not in (".png", ".svg", ".pdf"):
        raise InputError(f"--chart {chart}: allowed are names that end in .png, .svg or .pdf")
    figure.savefig(chart)
    click.echo(f"wrote {chart}", err=True)


def _outline(found: Any, indent: str = "") -> str:
    """Write nested data as indented lines."""
    lines = []
    for key, value in found.items():
        name = str(key).replace("_", " ")
        if isinstance(value, dict):
            lines += [f"{indent}{name}", _outline(value, indent + "  ")]
        elif isinstance(value, list):
            lines += [f"{indent}{name}", *(f"{indent}  - {entry}" for entry in value)]
        else:
            text = f"{value:.4g}" if isinstance(value, float) else value
            lines.append(f"{indent}{name}: {text}")
    return "\n".join(line for line in lines if line)
