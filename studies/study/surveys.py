"""Survey files that courses refer to, kept with the study so that it can be run again anywhere.

Their contents travel as texts (compressed, base 64) and are laid out again in a temporary folder where they are read.
"""

import base64
import tempfile
import zlib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from crossaxle.studies.inputs.reader import Document, InputError, bytes_of
from crossaxle.studies.inputs.units import shown
from crossaxle.terrain.course import Course, CourseFile, prepare

LARGEST_SURVEY = 50_000_000
"""A larger survey file is refused [bytes]."""

Surveys = Mapping[str, bytes]
"""Content of survey files by the names that a course gives them."""


def read_surveys(course: Document, folder: Path) -> Surveys:
    """Read the survey files of a course.

    Parameters
    ----------
    course : Document
        Not yet validated: what does not look like a survey is left for validation to complain about.
    folder : Path
        Folder of the course file.

    Raises
    ------
    InputError
        If a file cannot be read, or does not lie in the folder of the course file or below.
    """
    found: dict[str, bytes] = {}
    sections = course.table.get("sections")
    for section in sections.values() if isinstance(sections, dict) else ():
        survey = section.get("survey") if isinstance(section, dict) else None
        name = survey.get("file") if isinstance(survey, dict) else None
        if not isinstance(name, str):
            continue
        path = PurePosixPath(name)
        if path.is_absolute() or ".." in path.parts or "\0" in name:
            raise InputError(
                f"{course.name}: survey file {shown(name)}: must lie in the folder of the course file or below"
            )
        found[name] = bytes_of(folder / name, LARGEST_SURVEY)
    return found


def pack_surveys(surveys: Surveys) -> dict[str, str]:
    """Write survey files as texts."""
    return {name: base64.b64encode(zlib.compress(content)).decode() for name, content in surveys.items()}


def unpack_surveys(texts: Mapping[str, str]) -> Surveys:
    """Read what `pack_surveys` wrote; raise ValueError if it is damaged."""
    try:
        return {name: zlib.decompress(base64.b64decode(text)) for name, text in texts.items()}
    except zlib.error as error:
        raise ValueError(f"a survey file is damaged: {error}") from None


def prepare_course(name: str, file: CourseFile, surveys: Surveys) -> Course:
    """Make a course ready to be laid, its surveys read from their contents.

    Raises
    ------
    InputError
        If a survey cannot be used.
    """
    with tempfile.TemporaryDirectory() as temporary:
        for survey, content in surveys.items():
            path = Path(temporary, survey)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        try:
            return prepare(file, Path(temporary))
        except ValueError as error:
            raise InputError(f"{name}: {str(error).replace(f'{temporary}/', '')}") from None
