"""The experiment of a study: every candidate on the same random ground, sample by sample.

Made once per worker from the study alone. A sample lays each course once, filters it once per distinct tyre and
line, and takes every candidate along it.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from threadpoolctl import threadpool_limits

from crossaxle.arrays import Array, Integers
from crossaxle.sim.codes import IMPOSSIBLE
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import level_posture
from crossaxle.sim.recorder import Recorder, WheelEvents, make_recorder
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.bins import choose_bins, choose_range_bins
from crossaxle.studies.run.row_layout import RowLayout, RowWriter, lay_out_rows
from crossaxle.studies.study.study import Study
from crossaxle.studies.study.surveys import prepare_course
from crossaxle.terrain.course import Course
from crossaxle.terrain.tracks import TyreLine, TyreTracks, lay_tracks
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.chassis import forget_chassis
from crossaxle.vehicles.tanks import detail_categories

CONTACT_STEP = 0.01
"""Contact lengths are rounded to this [m], so that candidates with nearly equal loads share filtered ground."""

SPACING_OF_COUNTS = 0.2
"""Distance between the positions that histograms count [m]."""


@dataclass(frozen=True)
class CandidateModel:
    """A candidate made ready.

    Attributes
    ----------
    vehicle : Vehicle
    level_model : ReducedModel
        At standard gravity.
    level : (k,)
        Outputs standing level.
    lines : tuple of TyreLine
        Under each wheel.
    """

    vehicle: Vehicle
    level_model: ReducedModel
    level: Array
    lines: tuple[TyreLine, ...]


class Experiment:
    """A study ready to be sampled.

    Parameters
    ----------
    study : Study

    Attributes
    ----------
    study : Study
    candidates : tuple of CandidateModel
    courses : tuple of Course
    recorders : tuple of Recorder
        One per candidate.
    columns : RowLayout

    Raises
    ------
    InputError
        If a file is wrong or a candidate impossible.
    """

    def __init__(self, study: Study) -> None:
        # For this process from here on: how many threads share a matrix decides the last bits of its solution,
        # those of a chassis that was worked out before included.
        threadpool_limits(1, user_api="blas")
        forget_chassis()
        self.study = study
        self.courses = tuple(
            prepare_course(source.name, file, surveys)
            for source, file, surveys in zip(study.courses, study.course_files(), study.surveys, strict=True)
        )
        self.candidates = tuple(
            _candidate(study, place, assembled) for place, assembled in enumerate(_assembled(study))
        )
        self.recorders = self._make_recorders()
        wheels = [output.item for output in self.candidates[0].level_model.outputs[: self._n_wheels]]
        self.columns: RowLayout = lay_out_rows(self.recorders, wheels)
        self._writers = tuple(RowWriter(self.columns, recorder) for recorder in self.recorders)
        self._runners: dict[tuple[int, frozenset[float]], tuple[CandidateModel, SampleRunner]] = {}
        self._last_drawn: tuple[int, tuple[CandidateModel | None, ...]] = (-1, ())

    def run(self, sample: int) -> tuple[Array, Integers]:
        """Take every candidate along one sample of every course.

        Returns
        -------
        rows : (candidates, courses, columns)
        histograms : (candidates, courses, bins of all histograms)
        """
        shape = (len(self.candidates), len(self.courses))
        rows = np.full((*shape, self.columns.width), np.nan)
        histograms = np.zeros((*shape, self.columns.histogram_width), dtype=np.int64)
        drawn = self.drawn(sample)
        for c, course in enumerate(self.courses):
            ground = self.ground(course, sample)
            for k, candidate in enumerate(drawn):
                if candidate is None:
                    self._writers[k].write_failure(IMPOSSIBLE, rows[k, c])
                    continue
                tracks = self.tracks(candidate, ground)
                result = self._runner(k, candidate, tracks).run(tracks)
                self._writers[k].write(result, rows[k, c], histograms[k, c])
        return rows, histograms

    def make_ready(self, course: Course) -> None:
        """Prepare and load all that samples of a course need, by one position of the first sample.

        Raises
        ------
        InputError
            If the ground cannot be laid.
        """
        ground = self.ground(course, 0)
        for k, candidate in enumerate(self.drawn(0)):
            if candidate is not None:
                tracks = self.tracks(candidate, ground)
                self._runner(k, candidate, tracks).run(tracks.start())

    def drawn(self, sample: int) -> tuple[CandidateModel | None, ...]:
        """Every candidate with the sample's own uncertain values; None where these make no possible vehicle."""
        if not self.study.file.uncertain:
            return self.candidates
        if self._last_drawn[0] != sample:
            found: list[CandidateModel | None] = []
            for place, file in enumerate(self.study.drawn_vehicle_files(sample)):
                try:
                    found.append(None if file is None else _candidate(self.study, place, assemble(file)))
                except (ValueError, InputError):
                    found.append(None)
            self._last_drawn = sample, tuple(found)
        return self._last_drawn[1]

    def ground(self, course: Course, sample: int) -> TyreTracks:
        """Lay one sample of a course under all tyres of all candidates; raise InputError if it cannot be laid."""
        file = self.study.file
        drawn = [candidate for candidate in self.drawn(sample) if candidate is not None]
        lines = tuple(
            dict.fromkeys([*self.lines, *(line for candidate in drawn for line in candidate.lines)])
        )
        longest = max(float(c.level_model.wheel_station.max()) for c in [*self.candidates, *drawn])
        lead = math.ceil(longest / file.spacing)
        try:
            return lay_tracks(course, lines, file.spacing, self.n_positions, lead, file.seed, sample)
        except ValueError as error:
            raise InputError(f'{self.study.source.name}: course "{course.name}": {error}') from None

    def tracks(self, candidate: CandidateModel, ground: TyreTracks) -> WheelTracks:
        """Choose from the ground what one candidate's wheels roll on."""
        return WheelTracks(
            heights=ground.heights,
            wheel_line=np.array([ground.lines.index(line) for line in candidate.lines]),
            spacing=ground.spacing,
            grade=ground.grade,
            side_slope=ground.side_slope,
            lead=ground.lead,
            segments=tuple(
                Segment(segment.start, segment.stop, GRAVITY * segment.slope_cosine)
                for segment in ground.segments
            ),
        )

    @property
    def n_positions(self) -> int:
        """Positions of one sample."""
        return max(1, round(self.study.file.sample_length / self.study.file.spacing))

    @property
    def _n_wheels(self) -> int:
        return self.candidates[0].level_model.n_wheels

    @cached_property
    def lines(self) -> tuple[TyreLine, ...]:
        """Lines of ground that the tyres of all candidates need."""
        return tuple(dict.fromkeys(line for candidate in self.candidates for line in candidate.lines))

    def _runner(self, place: int, candidate: CandidateModel, tracks: WheelTracks) -> SampleRunner:
        gravities = frozenset(segment.normal_gravity for segment in tracks.segments)
        known = self._runners.get((place, gravities))
        if known is None or known[0] is not candidate:
            known = candidate, SampleRunner(models(candidate, tracks), self.recorders[place])
            self._runners[place, gravities] = known
        return known[1]

    def _make_recorders(self) -> tuple[Recorder, ...]:
        thresholds = self.study.file.thresholds
        level = [(c.level_model.outputs, c.level) for c in self.candidates]
        bins = choose_bins(level)
        categories = [detail_categories(c.vehicle.file) for c in self.candidates]
        every = {category for one in categories for category in one.values()}
        ranges = choose_range_bins(level, every, self.study.file.fatigue.combined) if every else None
        cycles = [{("bracket_stress", name): ranges for name in one} if ranges else {} for one in categories]
        events = WheelEvents(
            start=thresholds.unload_below,
            end=thresholds.unload_ends_above,
            shortest=thresholds.unload_shortest,
        )
        limits = dict.fromkeys(("frame_twist", "body_roll", "pivot_angle"), thresholds.range_angle)
        return tuple(
            make_recorder(
                c.level_model.outputs,
                bins,
                limits,
                events,
                SPACING_OF_COUNTS,
                thresholds.range_slope,
                counted,
            )
            for c, counted in zip(self.candidates, cycles, strict=True)
        )


def models(candidate: CandidateModel, tracks: WheelTracks) -> list[ReducedModel]:
    """Reduce a candidate at every normal gravity that its tracks name."""
    gravities = dict.fromkeys(segment.normal_gravity for segment in tracks.segments)
    return [reduce(candidate.vehicle.structure, gravity) for gravity in gravities]


def _assembled(study: Study) -> list[Vehicle]:
    vehicles = []
    for candidate, file in zip(study.candidates, study.vehicle_files(), strict=True):
        try:
            vehicles.append(assemble(file))
        except ValueError as error:
            raise InputError(_told(study, candidate.name, error)) from None
    return vehicles


def _candidate(study: Study, place: int, vehicle: Vehicle) -> CandidateModel:
    try:
        model = reduce(vehicle.structure)
        level = level_posture(model)
        if level.code:
            raise ValueError("the vehicle does not stand on level ground")
    except ValueError as error:
        raise InputError(_told(study, study.candidates[place].name, error)) from None
    lines = tuple(
        TyreLine(
            float(y), tyre.radius, max(CONTACT_STEP, round(tyre.contact_length / CONTACT_STEP) * CONTACT_STEP)
        )
        for y, tyre in zip(vehicle.structure.wheel_y, vehicle.tyres, strict=True)
    )
    return CandidateModel(vehicle, model, level.y, lines)


def _told(study: Study, name: str, error: ValueError) -> str:
    chosen = f"with {name}: " if name else ""
    return f"{study.vehicle.name}: {chosen}{error}"
