"""The example that a newcomer starts from: the shipped study with its vehicle and course, as files to edit."""

from importlib import resources
from pathlib import Path

from studies import library
from studies.files import InputError

VEHICLE, COURSE = "clinic", "wadi_tamrun"
"""Shipped files that the example study is about."""


def example_texts() -> dict[str, str]:
    """Texts of the example by file name."""
    study = resources.files("studies").joinpath("examples", "study.toml").read_text(encoding="utf-8")
    return {
        "study.toml": study,
        "vehicle.toml": library.text("vehicle", VEHICLE),
        "course.toml": library.text("course", COURSE),
    }


def write_example(folder: Path) -> list[Path]:
    """Write the example into a folder, made if need be; return the paths.

    Raises
    ------
    InputError
        If the folder cannot be made or written, or holds one of the files already.
    """
    texts = example_texts()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in texts:
            if (folder / name).exists():
                raise InputError(f"{folder / name}: is there already; choose another folder")
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputError(f"{folder}: cannot be written: {error.strerror}") from None
    return [folder / name for name in texts]
