"""A study, complete: its files' texts, its settings and its candidates; all that a worker needs to run it.

A study travels as texts by name (`Study.attributes`), which results keep as attributes, so that they can be
reported and run again without the files they came from.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from crossaxle.studies.inputs.reader import Document, InputError, document, open_document, validate
from crossaxle.studies.study.library import is_shipped, open_reference
from crossaxle.studies.study.study_file import StudyFile
from crossaxle.studies.study.surveys import Surveys, pack_surveys, read_surveys, unpack_surveys
from crossaxle.studies.study.sweep import Combination, Swept, combinations, read_sweep
from crossaxle.studies.study.uncertain import draw, middles, overrides
from crossaxle.terrain.course import CourseFile
from crossaxle.vehicles.file import VehicleFile


@dataclass(frozen=True)
class Study:
    """A study with the content of the files it refers to.

    Attributes
    ----------
    file : StudyFile
    source, vehicle : Document
        Study file and vehicle file as read.
    courses : tuple of Document
    surveys : tuple of mapping of name to bytes
        Survey files of each course.
    settings : mapping
        What the command line changed of the study file (seed, samples).
    swept : tuple of Swept
    candidates : tuple of Combination
        All combinations of swept values, the last key changing fastest.
    """

    file: StudyFile
    source: Document
    vehicle: Document
    courses: tuple[Document, ...]
    surveys: tuple[Surveys, ...]
    settings: Mapping[str, Any]
    swept: tuple[Swept, ...]
    candidates: tuple[Combination, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of values of each swept key."""
        return tuple(len(one.values) for one in self.swept)

    def vehicle_files(self) -> tuple[VehicleFile, ...]:
        """Return the vehicle file of every candidate, in order.

        Raises
        ------
        InputError
            If the vehicle file is wrong, or becomes so with a candidate's values (which are then named), or in the
            middle of the uncertain values' distributions.
        """
        base = validate(self.vehicle, VehicleFile)
        if uncertain := self.file.uncertain:
            try:
                middle = overrides(uncertain, middles(uncertain))
                validate(self.vehicle, VehicleFile, {**self.candidates[0].overrides, **middle})
            except InputError as error:
                raise InputError(
                    f"{self.source.name}: uncertain: in the middle of the distributions:", *error.messages
                ) from None
        if not self.swept:
            return (base,)
        files = []
        for candidate in self.candidates:
            try:
                files.append(validate(self.vehicle, VehicleFile, candidate.overrides))
            except InputError as error:
                raise InputError(
                    f"{self.source.name}: sweep: with {candidate.name}:", *error.messages
                ) from None
        return tuple(files)

    def drawn_vehicle_files(self, sample: int) -> tuple[VehicleFile | None, ...]:
        """Return every candidate's vehicle file with the uncertain values of one sample.

        None where a drawn value is not allowed, which a distribution without bounds may bring about.
        """
        uncertain = self.file.uncertain
        drawn = overrides(uncertain, draw(uncertain, self.file.seed, sample))
        files: list[VehicleFile | None] = []
        for candidate in self.candidates:
            try:
                files.append(validate(self.vehicle, VehicleFile, {**candidate.overrides, **drawn}))
            except InputError:
                files.append(None)
        return tuple(files)

    def course_files(self) -> tuple[CourseFile, ...]:
        """Return the course files, in order; raise InputError if one is wrong or two have one name."""
        files = tuple(validate(course, CourseFile) for course in self.courses)
        names = [file.name for file in files]
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise InputError(f'{self.source.name}: courses: two of them have the name "{twice}"; rename one')
        return files

    def attributes(self) -> dict[str, Any]:
        """Write the study as texts by name; `from_attributes` makes it again from them."""
        courses = {f"course_{i + 1}": course.text for i, course in enumerate(self.courses)}
        return {
            "study": self.source.text,
            "vehicle": self.vehicle.text,
            **courses,
            "files": [self.source.name, self.vehicle.name, *(course.name for course in self.courses)],
            "surveys": json.dumps([pack_surveys(surveys) for surveys in self.surveys]),
            "settings": json.dumps(dict(self.settings)),
        }


def load(path: Path | str, settings: Mapping[str, Any] | None = None) -> Study:
    """Read a study file and the files it refers to.

    Parameters
    ----------
    path : path
    settings : mapping, optional
        Keys of the study file that replace its values, e.g. ``{"samples": 10}``.

    Raises
    ------
    InputError
        If one of the files cannot be read or the study file is wrong. Vehicle and courses are checked when asked
        for.
    """
    source = open_document(path)
    file = validate(source, StudyFile, settings)
    folder = Path(path).parent
    try:
        vehicle = open_reference(file.vehicle, "vehicle", folder)
        courses = tuple(open_reference(course, "course", folder) for course in file.courses)
    except InputError as error:
        raise InputError(f"{path}: names a file that cannot be used:", *error.messages) from None
    surveys = tuple(
        {} if is_shipped(reference) else read_surveys(course, (folder / reference).parent)
        for reference, course in zip(file.courses, courses, strict=True)
    )
    return _study(source, vehicle, courses, surveys, settings or {})


def from_attributes(attributes: Mapping[str, Any]) -> Study:
    """Make a study again from what `Study.attributes` wrote, such as the attributes of its results.

    Raises
    ------
    InputError
        If they do not make one.
    """
    try:
        names = [str(name) for name in attributes["files"]]
        texts = [str(attributes[key]) for key in ("study", "vehicle")]
        texts += [str(attributes[f"course_{i + 1}"]) for i in range(len(names) - 2)]
        surveys = tuple(unpack_surveys(packed) for packed in json.loads(str(attributes["surveys"])))
        settings = json.loads(str(attributes["settings"]))
    except (KeyError, ValueError) as error:
        raise InputError(f"the results do not hold the study they come from: {error}") from None
    source, vehicle, *courses = (document(n, t) for n, t in zip(names, texts, strict=True))
    return _study(source, vehicle, tuple(courses), surveys, settings)


def _study(
    source: Document,
    vehicle: Document,
    courses: tuple[Document, ...],
    surveys: tuple[Surveys, ...],
    settings: Mapping[str, Any],
) -> Study:
    file = validate(source, StudyFile, settings)
    try:
        swept = read_sweep(file.sweep)
    except InputError as error:
        raise InputError(*(f"{source.name}: {message}" for message in error.messages)) from None
    both = {one.key for one in swept} & set(file.uncertain)
    if both:
        raise InputError(f"{source.name}: uncertain: {sorted(both)} are swept too; a key is one or the other")
    return Study(file, source, vehicle, courses, surveys, settings, swept, combinations(swept))
