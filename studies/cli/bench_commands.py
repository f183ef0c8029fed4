"""Commands about the ground alone and the standing truck: describe a course, compute and fit a pedestal test."""

import json
from pathlib import Path

import click

from crossaxle.studies.cli.common import (
    assembled_vehicle,
    json_option,
    overrides_of,
    read_vehicle,
    reporting_errors,
    save,
    set_option,
    stop,
)


@click.command()
@click.argument("course", metavar="COURSE")
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@json_option
@reporting_errors
def ground(course: str, chart: str | None, as_json: bool) -> None:
    """Describe and draw the ground of a course.

    Tracks, spectrum against the ISO classes, and the warp over a wheelbase. COURSE is a course file or a shipped
    course, e.g. library:wadi_tamrun.
    """
    from crossaxle.studies.ground.course_chart import draw_ground
    from crossaxle.studies.ground.course_description import describe_ground
    from crossaxle.studies.ground.course_words import ground_words
    from crossaxle.studies.inputs.reader import validate
    from crossaxle.studies.study.library import is_shipped, open_reference
    from crossaxle.studies.study.surveys import prepare_course, read_surveys
    from crossaxle.terrain.course import CourseFile

    source = open_reference(course, "course", Path())
    file = validate(source, CourseFile)
    surveys = {} if is_shipped(course) else read_surveys(source, Path(course).parent)
    prepared = prepare_course(course, file, surveys)
    try:
        found = describe_ground(prepared)
        figure = draw_ground(prepared) if chart else None
    except ValueError as error:
        stop(f"{course}: {error}", 2)
    if figure is not None:
        save(figure, chart or "")
    click.echo(json.dumps(found, indent=1) if as_json else ground_words(found))


@click.command()
@click.argument("vehicle", metavar="VEHICLE")
@click.option("--bare", is_flag=True, help="Leave body, mounts and payload away.")
@click.option(
    "--mount", metavar="NAME", help="One of the vehicle file's mounts [default: the file's own choice]."
)
@click.option("--wheelbase", metavar="QUANTITY", help='E.g. "4.4 m" [default: the file\'s].')
@click.option("--under", metavar="WHEEL,WHEEL", help="Wheels to raise [default: front right, rear left].")
@click.option(
    "--heights",
    default="0 m:0.6 m:0.05 m",
    show_default=True,
    metavar="HEIGHT|FROM:TO:STEP",
    help='How far to raise them, e.g. "0.4 m", or step by step.',
)
@click.option("--grade", metavar="ANGLE", help='Grade of the ground, positive uphill, e.g. "5 deg".')
@click.option(
    "--side-slope", metavar="ANGLE", help="Side slope of the ground, positive with the left side high."
)
@set_option
@json_option
@click.option("--chart", metavar="FILE", help="Draw it (PNG, SVG or PDF by the name's ending).")
@click.option("--sheet", metavar="FILE", help="Write the workshop's test sheet (HTML, prints on A4).")
@reporting_errors
def pedestal(
    vehicle: str, bare: bool, mount: str | None, wheelbase: str | None, under: str | None, heights: str,
    grade: str | None, side_slope: str | None, assignments: tuple[str, ...], as_json: bool, chart: str | None,
    sheet: str | None,
) -> None:  # fmt: skip
    """Compute a pedestal test.

    Wheels are raised step by step; loads, twist, gaps and the first wheel free are printed. VEHICLE is a vehicle file
    or a shipped vehicle, e.g. library:clinic.
    """
    from crossaxle.studies.inputs.reader import InputError
    from crossaxle.studies.pedestal.pedestal_chart import pedestal_chart
    from crossaxle.studies.pedestal.pedestal_test import pedestal_test
    from crossaxle.studies.pedestal.pedestal_view import (
        describe_pedestal,
        pedestal_text,
        read_heights,
        read_slope,
    )
    from crossaxle.studies.study.library import open_reference

    chosen = {"mount": mount, "wheelbase": wheelbase}
    overrides = {key: value for key, value in chosen.items() if value is not None} | overrides_of(assignments)
    source = open_reference(vehicle, "vehicle", Path())
    standing = assembled_vehicle(source, read_vehicle(source, overrides), bare)
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
        test = pedestal_test(standing, wheels, steps, slope)
    except ValueError as error:
        raise InputError(f"{vehicle}: {error}") from None
    if chart:
        save(pedestal_chart(test), chart)
    if sheet:
        from crossaxle.studies.base.storage import write_whole
        from crossaxle.studies.pedestal.pedestal_sheet import pedestal_sheet

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


@click.command()
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
@reporting_errors
def calibrate(
    vehicle: str, readings: str, out: str, adjusted: tuple[str, ...], bare: bool, mount: str | None,
    wheelbase: str | None, assignments: tuple[str, ...], as_json: bool, chart: str | None, overwrite: bool,
) -> None:  # fmt: skip
    """Fit the frame to a measured pedestal test.

    FILE becomes a new vehicle file with the stiffness found.

    READINGS.csv has the columns height, under, measured, value, uncertainty and direction, with units in the cells;
    `crossaxle pedestal --sheet` prepares it.
    """
    from crossaxle.studies.inputs.reader import InputError
    from crossaxle.studies.pedestal.calibration import calibrate as fit
    from crossaxle.studies.pedestal.calibration_view import (
        calibrated_text,
        calibration_text,
        describe_calibration,
        refuse_to_replace,
        write_calibrated,
    )
    from crossaxle.studies.pedestal.readings import read_readings
    from crossaxle.studies.study.library import open_reference

    refuse_to_replace(Path(out), overwrite)
    chosen = {"mount": mount, "wheelbase": wheelbase}
    overrides = {key: value for key, value in chosen.items() if value is not None} | overrides_of(assignments)
    source = open_reference(vehicle, "vehicle", Path())
    file = read_vehicle(source, overrides)
    try:
        found = fit(file, read_readings(readings), adjusted or ("stiffness-factor",), bare)
    except ValueError as error:
        raise InputError(f"{readings}: {error}") from None
    write_calibrated(Path(out), calibrated_text(source, found, readings))
    click.echo(f"wrote {out}", err=True)
    if chart:
        from crossaxle.studies.pedestal.calibration_chart import calibration_chart

        save(calibration_chart(found), chart)
    click.echo(json.dumps(describe_calibration(found), indent=1) if as_json else calibration_text(found))
