"""What the commands share: one message for bad input, the options they have in common, files they all read."""

import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

if TYPE_CHECKING:
    from crossaxle.studies.inputs.reader import Document
    from crossaxle.vehicles.assemble import Vehicle
    from crossaxle.vehicles.file import VehicleFile

R = TypeVar("R")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs.")
set_option = click.option(
    "--set",
    "assignments",
    multiple=True,
    metavar="KEY=VALUE",
    help="Replace a value of the file, e.g. --set 'tank.water.spacing=1.2 m'. May be repeated.",
)


def reporting_errors(command: Callable[..., R]) -> Callable[..., R]:
    """Make a command turn bad input, failing disks and lost workers into one message on standard error."""

    @wraps(command)
    def run(*args: Any, **options: Any) -> R:
        from crossaxle.studies.base.workers import WorkersLostError
        from crossaxle.studies.inputs.reader import InputError

        try:
            return command(*args, **options)
        except InputError as error:
            stop(str(error), 2)
        except WorkersLostError as error:
            stop(str(error), 1)
        except BrokenPipeError:
            sys.exit(0)
        except OSError as error:
            from crossaxle.studies.base.storage import not_written

            stop(f"{error.filename or 'a file'}: {not_written(error)}", 1)

    return run


def stop(message: str, status: int) -> NoReturn:
    """Leave with a message on standard error."""
    click.echo(f"crossaxle: {message}", err=True)
    sys.exit(status)


def overrides_of(assignments: tuple[str, ...]) -> dict[str, Any]:
    """Values that ``--set`` replaces, by their keys."""
    from crossaxle.studies.inputs.reader import assignment

    return dict(assignment(text) for text in assignments)


def read_vehicle(source: "Document", overrides: dict[str, Any]) -> "VehicleFile":
    """Check a vehicle file with some of its values replaced."""
    from crossaxle.studies.inputs.reader import validate
    from crossaxle.vehicles.file import VehicleFile

    return validate(source, VehicleFile, overrides)


def assembled_vehicle(source: "Document", file: "VehicleFile", bare: bool = False) -> "Vehicle":
    """Assemble a vehicle; what makes it impossible is bad input."""
    from crossaxle.studies.inputs.reader import InputError
    from crossaxle.vehicles.assemble import assemble

    try:
        return assemble(file, bare)
    except ValueError as error:
        raise InputError(f"{source.name}: {error}") from None


def save(figure: Any, chart: str) -> None:
    """Write a chart to the file named by ``--chart``."""
    from crossaxle.studies.inputs.reader import InputError

    if Path(chart).suffix.lower() not in (".png", ".svg", ".pdf"):
        raise InputError(f"--chart {chart}: allowed are names that end in .png, .svg or .pdf")
    figure.savefig(chart)
    click.echo(f"wrote {chart}", err=True)
