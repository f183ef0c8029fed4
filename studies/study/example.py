"""Shipped studies as files to edit: the example a newcomer starts from, and worked studies with their texts."""

from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from crossaxle.studies.base.storage import not_written
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.inputs.units import shown
from crossaxle.studies.study import library

VEHICLE, COURSE = "clinic", "wadi_tamrun"
"""Shipped files that the example study is about."""


def _examples() -> Traversable:
    return resources.files("crossaxle.studies").joinpath("examples")


def worked_studies() -> list[str]:
    """List the names of the worked studies."""
    return sorted(entry.name for entry in _examples().iterdir() if entry.joinpath("study.toml").is_file())


def example_texts() -> dict[str, str]:
    """Texts of the example by file name."""
    return {
        "study.toml": _examples().joinpath("study.toml").read_text(encoding="utf-8"),
        "vehicle.toml": library.text("vehicle", VEHICLE),
        "course.toml": library.text("course", COURSE),
    }


def write_example(folder: Path, worked: str | None = None) -> list[Path]:
    """Write the example, or a worked study with its text and figures, into a folder made if need be.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    InputError
        If there is no worked study of that name, or the folder cannot be made or written, or holds one of the files
        already.
    """
    if worked is None:
        contents = {name: text.encode("utf-8") for name, text in example_texts().items()}
    elif worked in worked_studies():
        entries = _examples().joinpath(worked).iterdir()
        contents = {entry.name: entry.read_bytes() for entry in sorted(entries, key=lambda entry: entry.name)}
    else:
        raise InputError(f"--worked: found {shown(worked)}; worked studies are {', '.join(worked_studies())}")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in contents:
            if (folder / name).exists():
                raise InputError(f"{folder / name}: is there already; choose another folder")
        for name, content in contents.items():
            (folder / name).write_bytes(content)
    except OSError as error:
        raise InputError(f"{folder}: {not_written(error, 'as DIR')}") from None
    return [folder / name for name in contents]
