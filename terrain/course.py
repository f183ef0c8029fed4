"""What a course file may say: a mix of named sections of ground by share of the distance."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, Self

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, model_validator

from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.obstacles import Obstacle
from crossaxle.terrain.quantity import (
    Angle,
    BandStart,
    Coordinate,
    DisplacementDensity,
    Length,
    Share,
    SlowLength,
    Spread,
    WaveNumber,
)
from crossaxle.terrain.spectrum import CLASS_MEANS, REFERENCE, Spectrum
from crossaxle.terrain.surface import read_surface
from crossaxle.terrain.survey import Survey, SurveyError, detrended, read_tracks

if TYPE_CHECKING:
    from crossaxle.terrain.fit import SpectrumFit

LINE_SPACING = 0.1
"""Lateral spacing of the lines taken from a surveyed surface [m]."""
LINES_BEYOND = 0.3
"""How far beyond the survey's gauge lines are taken on each side [m]."""

Name = Annotated[str, Field(min_length=1, max_length=60)]
Waviness = Annotated[float, Field(gt=0.5, le=4, strict=False)]


class CourseTable(BaseModel):
    """Common rules of every table: nothing unknown, nothing infinite, nothing changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Roughness(CourseTable):
    """Displacement spectrum of one track: a class of ISO 8608, or a level at a spatial frequency.

    The band has no default: every rate of events depends on its upper limit.
    """

    iso_class: Literal["A", "B", "C", "D", "E", "F", "G", "H"] | None = None
    level: DisplacementDensity | None = None
    level_at: WaveNumber = REFERENCE
    waviness: Waviness = 2.0
    waviness_above: Waviness | None = None
    break_at: WaveNumber | None = None
    band_from: BandStart
    band_to: WaveNumber

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.iso_class is None) == (self.level is None):
            raise ValueError("give either iso_class or level, not both and not neither")
        if self.iso_class is not None and self.level_at != REFERENCE:
            raise ValueError("level_at belongs to level; a class is defined at 0.1 cycle/m")
        self.spectrum()
        return self

    def spectrum(self) -> Spectrum:
        """Spectrum described; raises ValueError if its band holds no energy."""
        level = CLASS_MEANS[self.iso_class] if self.iso_class is not None else self.level
        return Spectrum(
            level or 0.0,
            self.band_from,
            self.band_to,
            self.waviness,
            self.waviness_above,
            self.break_at,
            self.level_at,
        )

    def level_at_reference(self) -> float:
        """G(n0) at 0.1 cycle/m, where classes are defined [m3], even if the band does not reach there."""
        if self.level_at == REFERENCE:
            return self.spectrum().level
        wide = replace(self.spectrum(), lower=1e-3, upper=1e3)
        return float(wide.density(REFERENCE))


class Patches(CourseTable):
    """Roughness whose strength varies along the way, so that heights are no longer Gaussian.

    The heights are multiplied by exp(s g - s^2), g being a slow Gaussian process of variance 1: the spectrum
    stays as stated on average, and the kurtosis rises from 3 to 3 exp(4 s^2).
    """

    strength: Annotated[float, Field(gt=0, le=1, strict=False)]
    length: SlowLength


class Slope(CourseTable):
    """Large-scale slope, constant or varying slowly about its mean."""

    mean: Angle = 0.0
    deviation: Spread = 0.0
    length: SlowLength = 50.0


class SurveyReference(CourseTable):
    """A survey file to take the ground from, see `crossaxle.terrain.survey`.

    `use`: ``"same kind"`` fits a spectrum and a coherence and lays long random ground of that kind;
    ``"as measured"`` lays the survey itself, end to end from a random starting place.
    """

    file: Annotated[str, Field(min_length=1, max_length=200)]
    use: Literal["same kind", "as measured"] = "same kind"
    detrend: Length = 40.0
    gauge: Length = 2.0
    variable: Name | None = None
    route: tuple[tuple[Coordinate, Coordinate], ...] | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.file.endswith(".csv") == self.file.endswith(".nc"):
            raise ValueError(f"file {self.file} is neither a .csv table of two tracks nor a .nc surface")
        if self.file.endswith(".nc") != (self.route is not None):
            raise ValueError("a .nc surface needs a route across it, and only a surface does")
        return self


class CourseSection(CourseTable):
    """One kind of ground."""

    share: Share
    roughness: Roughness | None = None
    coherence: Literal["isotropic", "independent", "identical", "exponential"] = "isotropic"
    coherence_decay: Annotated[float, Field(gt=0, strict=False)] | None = None
    patches: Patches | None = None
    obstacles: tuple[Obstacle, ...] = ()
    grade: Slope = Slope()
    side_slope: Slope = Slope()
    survey: SurveyReference | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.coherence == "exponential") != (self.coherence_decay is not None):
            raise ValueError('coherence_decay goes with coherence = "exponential", and is needed there')
        if self.roughness is not None and self.survey is not None:
            raise ValueError("give either roughness or survey, not both")
        if self.patches is not None and self.roughness is None and self.survey is None:
            raise ValueError("patches need roughness to vary")
        return self

    def model(self) -> Coherence:
        """Coherence between the tracks."""
        return Coherence(self.coherence, self.coherence_decay or 0.0)


class CourseFile(CourseTable):
    """A course: sections in the order in which every sample meets them."""

    name: Annotated[Name, Field(examples=["forest track"])]
    note: str = ""
    sections: Annotated[dict[Name, CourseSection], Field(min_length=1)]

    @model_validator(mode="after")
    def _whole(self) -> Self:
        total = sum(section.share for section in self.sections.values())
        if abs(total - 1) > 1e-6:
            raise ValueError(
                f"the shares of the sections add up to {100 * total:.4g} %; they must make 100 %"
            )
        return self


@dataclass(frozen=True)
class Course:
    """A course ready to be laid: surveys read, and either fitted or kept.

    Attributes
    ----------
    name : str
    sections : mapping of name to CourseSection
        None of them refers to a survey any more.
    recordings : mapping of section name to Survey
        Ground of the sections that are laid as measured.
    fits : mapping of section name to SpectrumFit
        How well the sections that follow a survey describe it.
    """

    name: str
    sections: Mapping[str, CourseSection]
    recordings: Mapping[str, Survey] = field(default_factory=dict)
    fits: "Mapping[str, SpectrumFit]" = field(default_factory=dict)


def prepare(file: CourseFile, folder: Path = Path()) -> Course:
    """Make a course ready to be laid: read its surveys and fit those that are to be continued at random.

    Parameters
    ----------
    file : CourseFile
    folder : Path
        Where the names of survey files start from: the folder of the course file.

    Raises
    ------
    SurveyError
        If a survey cannot be read or fitted; the text names its file.
    """
    sections: dict[str, CourseSection] = {}
    recordings: dict[str, Survey] = {}
    fits: dict[str, SpectrumFit] = {}
    for name, section in file.sections.items():
        if section.survey is None:
            sections[name] = section
        elif section.survey.use == "as measured":
            recordings[name] = detrended(_read(section.survey, folder), section.survey.detrend)
            sections[name] = section.model_copy(update={"survey": None})
        else:
            fits[name] = _fitted(section.survey, folder)
            sections[name] = _follow(section, fits[name])
    return Course(file.name, sections, recordings, fits)


def _read(reference: SurveyReference, folder: Path) -> Survey:
    path = folder / reference.file
    if reference.route is None:
        return read_tracks(path, reference.gauge)
    # enough lines beside the tracks that wheels of any usual track find one near
    half = round((reference.gauge / 2 + LINES_BEYOND) / LINE_SPACING)
    lines = LINE_SPACING * np.arange(-half, half + 1)
    return read_surface(path, reference.route, lines, variable=reference.variable)


def _fitted(reference: SurveyReference, folder: Path) -> "SpectrumFit":
    from crossaxle.terrain.fit import fit

    survey = _read(reference, folder)
    near = [int(np.argmin(np.abs(survey.line_y - y))) for y in (reference.gauge / 2, -reference.gauge / 2)]
    tracks = replace(survey, heights=survey.heights[near], line_y=survey.line_y[near])
    try:
        return fit(tracks, reference.detrend)
    except SurveyError as error:
        raise SurveyError(f"{folder / reference.file}: {error}") from None


def _follow(section: CourseSection, fitted: "SpectrumFit") -> CourseSection:
    """Replace a section's survey by the spectrum and coherence fitted to it."""
    s, coherence = fitted.spectrum, fitted.coherence
    rough = Roughness(level=s.level, waviness=s.waviness, band_from=s.lower, band_to=s.upper)
    update = {
        "survey": None,
        "roughness": rough,
        "coherence": coherence.kind,
        "coherence_decay": coherence.decay or None,
    }
    return section.model_copy(update=update)
