"""One sample: a vehicle taken along one stretch of ground; all is checked before compiled code sees it.

Frame: ISO 8855 axes; the vehicle drives towards rising index. Position p of the sample has the front axle at
index ``lead + p`` of the tracks and an axle at station s behind it at index ``lead + p - s/spacing`` (linear
in between).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sim.active_sets import HOME, Condensed, SetTable, condensed, new_table
from sim.codes import GOOD, MEANING, NO_EQUILIBRIUM, NOT_FINITE, TIPPED
from sim.ground_plane import GRAVITY
from sim.keep import (
    CLOSED,
    LANES,
    TIPPED_POSITIONS,
    UNSOLVED_POSITIONS,
    Kept,
    Plan,
    Values,
    close_event,
    new_values,
)
from sim.kernel import Ground, Inputs, new_inputs, run_segment
from sim.posture import level_posture
from sim.recorder import Recorder
from sim.reduced import ReducedModel
from sim.structure import Array

Integers = NDArray[np.int64]

ABSURD = 1e6
"""Heights [m] and slopes beyond this are no ground; they count as not finite."""

WHOLE = 1e-6
"""Share of the spacing within which a station counts as a whole number of spacings."""


@dataclass(frozen=True)
class Segment:
    """Positions ``start`` to ``stop`` (exclusive) with the geometric stiffness of ``normal_gravity``."""

    start: int
    stop: int
    normal_gravity: float = GRAVITY


@dataclass(frozen=True)
class Tracks:
    """The ground of one sample.

    Attributes
    ----------
    heights : (lines, points), float32 or float64
        Ground height as the tyre's envelope feels it [m], without the large-scale slope.
    wheel_line : (w,)
        Line under each wheel.
    spacing : float
        Distance between points [m].
    grade, side_slope : (points,)
        Large-scale slope, tangents dz/dx and dz/dy, at the middle of the vehicle.
    lead : int
        Points before the first position's front axle; at least the last axle's station.
    segments : tuple of Segment
        Consecutive, together all positions from 0 to points - lead.
    """

    heights: NDArray[np.floating]
    wheel_line: Integers
    spacing: float
    grade: Array
    side_slope: Array
    lead: int
    segments: tuple[Segment, ...]

    @property
    def n_positions(self) -> int:
        """Number of positions."""
        return int(self.heights.shape[1]) - self.lead


def wheel_lines(wheel_y: Array, line_y: Array, tolerance: float = 1e-6) -> Integers:
    """Line (w,) at the lateral position of each wheel [m].

    Raises
    ------
    ValueError
        If a wheel has no line within ``tolerance``.
    """
    nearest = np.abs(np.subtract.outer(wheel_y, line_y)).argmin(axis=1)
    far = np.abs(wheel_y - np.asarray(line_y)[nearest]) > tolerance
    if far.any():
        raise ValueError(f"no ground line under the wheels at y = {wheel_y[far]} m; lines are at {line_y} m")
    return np.asarray(nearest, dtype=np.int64)


@dataclass(frozen=True)
class SampleResult:
    """What a sample gave; r records, w wheels. Places are distances from the first position.

    Attributes
    ----------
    code : int
        From :mod:`sim.codes`; TIPPED or NO_EQUILIBRIUM if any position was, NOT_FINITE if the sample was
        given up.
    distance : float
        [m]
    minimum, minimum_position, maximum, maximum_position : (r,)
        SI and [m]; NaN where not recorded.
    histogram : (sum of bins,) integers
        Record i's counts begin at ``recorder.histogram_starts[i]``.
    unload_events, free_events : (w,)
        Counts.
    unloaded_distance, free_distance : (w,)
        Length of the counted unload events, and distance at zero load [m].
    tipped_distance, no_equilibrium_distance, outside_range_distance : float
        [m]
    exceptional_distance : float
        Distance off the home set of hinges: some wheel up, some stop touched [m].
    """

    code: int
    distance: float
    minimum: Array
    minimum_position: Array
    maximum: Array
    maximum_position: Array
    histogram: Integers
    unload_events: Integers
    unloaded_distance: Array
    free_events: Integers
    free_distance: Array
    tipped_distance: float
    no_equilibrium_distance: float
    outside_range_distance: float
    exceptional_distance: float


@dataclass(frozen=True)
class _Prepared:
    """A model ready for the compiled code; all but the first two are caches and working memory only."""

    model: ReducedModel
    vehicle: Condensed
    table: SetTable
    inputs: Inputs
    values: Values


@dataclass(frozen=True)
class SampleRunner:
    """Takes samples with one vehicle; keeps the solved sets of hinges from one sample to the next.

    Not to be shared between threads: the working memory is reused. Results do not depend on what was run
    before.

    Parameters
    ----------
    models : sequence of ReducedModel
        One vehicle, reduced at each normal gravity that the tracks' segments name.
    recorder : Recorder
    linearised : bool
        First order in the slopes; only for comparison with closed forms of linear vehicles.

    Raises
    ------
    ValueError
        If the vehicle has no level posture, or a wheel carries nothing in it.
    """

    models: Sequence[ReducedModel]
    recorder: Recorder
    linearised: bool = False
    static_load: Array = field(init=False)
    _prepared: dict[float, _Prepared] = field(init=False)
    _plans: dict[float, Plan] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        if not self.models:
            raise ValueError("a sample needs at least one reduced model")
        prepared = {}
        first = self.models[0]
        if first.n_wheels < 4 or first.n_wheels % 2:
            raise ValueError(f"{first.n_wheels} wheels; two or more axles of two wheels each are needed")
        for model in self.models:
            if model.outputs != first.outputs or model.hinge_names != first.hinge_names:
                raise ValueError("the reduced models of one sample belong to different vehicles")
            level = level_posture(model)
            if level.code != GOOD:
                raise ValueError(f"the vehicle does not stand on level ground: {MEANING[level.code]}")
            loads = level.y[: model.n_wheels]
            if not (loads > 0.0).all():
                names = ", ".join(model.outputs[i].item for i in np.flatnonzero(~(loads > 0.0)))
                raise ValueError(f"standing level, these wheels carry nothing: {names}")
            vehicle = condensed(model, level.u)
            table = new_table(vehicle, level.active)
            inputs = new_inputs(table.excess[HOME, :, : len(model.hinge_names)].copy())
            values = new_values(table.output[HOME].copy(), inputs.u)
            prepared[model.normal_gravity] = _Prepared(model, vehicle, table, inputs, values)
        level = level_posture(first)
        object.__setattr__(self, "static_load", level.y[: first.n_wheels])
        object.__setattr__(self, "_prepared", prepared)

    def run(self, tracks: Tracks) -> SampleResult:
        """Take the vehicle along ``tracks``.

        Raises
        ------
        ValueError
            If the tracks do not fit together or not to the vehicle. Ground that is not finite gives a code
            instead.
        """
        self._check(tracks)
        if tracks.spacing not in self._plans:
            self._plans[tracks.spacing] = self._plan(tracks.spacing)
        plan = self._plans[tracks.spacing]
        kept = self._nothing_kept()
        if not _is_usable(tracks):
            return self._result(tracks, kept, NOT_FINITE)
        for segment in tracks.segments:
            prepared = self._prepared[segment.normal_gravity]
            run_segment(
                prepared.vehicle,
                prepared.table,
                _ground(prepared.model, tracks),
                plan,
                kept,
                prepared.inputs,
                prepared.values,
                segment.start,
                segment.stop,
                self.linearised,
            )
        for wheel in np.flatnonzero(kept.open_since != CLOSED):
            close_event(plan, kept, int(wheel), kept.open_since[wheel], tracks.n_positions)
        code = GOOD
        if kept.totals[TIPPED_POSITIONS] > 0:
            code = TIPPED
        if kept.totals[UNSOLVED_POSITIONS] > 0:
            code = NO_EQUILIBRIUM
        return self._result(tracks, kept, code)

    def _check(self, tracks: Tracks) -> None:
        model = self.models[0]
        points = tracks.heights.shape[1]
        if tracks.grade.shape != (points,) or tracks.side_slope.shape != (points,):
            raise ValueError(
                f"tracks have {points} points, but grade {tracks.grade.shape} "
                f"and side slope {tracks.side_slope.shape}"
            )
        if tracks.wheel_line.shape != (model.n_wheels,):
            raise ValueError(f"{len(tracks.wheel_line)} wheel lines for {model.n_wheels} wheels")
        if not ((tracks.wheel_line >= 0) & (tracks.wheel_line < len(tracks.heights))).all():
            raise ValueError(
                f"wheel lines {tracks.wheel_line} are not all among the {len(tracks.heights)} tracks"
            )
        longest = float(model.wheel_station.max())
        if model.wheel_station.min() < 0.0:
            raise ValueError("wheel stations are counted from the front axle and cannot be negative")
        if not tracks.spacing > 0.0:
            raise ValueError(f"spacing is {tracks.spacing} m; it must be positive")
        if tracks.lead < longest / tracks.spacing - WHOLE or tracks.n_positions < 1:
            raise ValueError(
                f"tracks of {points} points with a lead of {tracks.lead} are too short for a vehicle whose "
                f"last axle stands {longest:.4g} m behind the first, at a spacing of {tracks.spacing:.4g} m"
            )
        reached = 0
        for segment in tracks.segments:
            if segment.start != reached or segment.stop < segment.start:
                raise ValueError(
                    f"segment from {segment.start} to {segment.stop} does not follow position {reached}"
                )
            if segment.normal_gravity not in self._prepared:
                raise ValueError(
                    f"no reduced model for a normal gravity of {segment.normal_gravity} m/s2; "
                    f"there are {sorted(self._prepared)}"
                )
            reached = segment.stop
        if reached != tracks.n_positions:
            raise ValueError(f"segments end at position {reached} of {tracks.n_positions}")

    def _plan(self, spacing: float) -> Plan:
        recorder = self.recorder
        records, events = recorder.records, recorder.events
        channels = [channel for record in records for channel in record.channels]
        counts = [len(record.channels) for record in records]
        starts = recorder.histogram_starts
        counted = [(i, r.bins, starts[i]) for i, r in enumerate(records) if r.bins is not None]
        limits = [(channel, r.limit) for r in records if np.isfinite(r.limit) for channel in r.channels]
        return Plan(
            channel=np.array(channels, dtype=np.int64),
            first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            combine=np.array([int(record.combine) for record in records], dtype=np.int64),
            minimum=np.array([record.minimum for record in records], dtype=bool),
            maximum=np.array([record.maximum for record in records], dtype=bool),
            counted=np.array([i for i, _, _ in counted], dtype=np.int64),
            bins=np.array([bins.count for _, bins, _ in counted], dtype=np.int64),
            bin_first=np.array([start for _, _, start in counted], dtype=np.int64),
            bin_low=np.array([bins.low for _, bins, _ in counted], dtype=float),
            bin_scale=np.array([1.0 / bins.width for _, bins, _ in counted], dtype=float),
            limited=np.array([channel for channel, _ in limits], dtype=np.int64),
            limit=np.array([limit for _, limit in limits], dtype=float),
            steepest=float((GRAVITY * np.sin(recorder.slope_limit)) ** 2),
            load_start=events.start * self.static_load,
            load_end=events.end * self.static_load,
            load_free=events.free * self.static_load,
            shortest=int(np.ceil(events.shortest / spacing - WHOLE)),
            stride=max(1, round(recorder.histogram_spacing / spacing)),
        )

    def _nothing_kept(self) -> Kept:
        r, w = len(self.recorder.records), self.models[0].n_wheels
        return Kept(
            minimum=np.full(r, np.inf),
            maximum=np.full(r, -np.inf),
            minimum_at=np.full(r, -1),
            maximum_at=np.full(r, -1),
            histogram=np.zeros((LANES, self.recorder.histogram_starts[-1]), dtype=np.int64),
            unload_events=np.zeros(w, dtype=np.int64),
            unloaded=np.zeros(w, dtype=np.int64),
            free_events=np.zeros(w, dtype=np.int64),
            free=np.zeros(w, dtype=np.int64),
            open_since=np.full(w, CLOSED),
            is_free=np.zeros(w, dtype=bool),
            totals=np.zeros(4, dtype=np.int64),
        )

    def _result(self, tracks: Tracks, kept: Kept, code: int) -> SampleResult:
        spacing = tracks.spacing
        tipped, lost, outside, exceptional = (float(total) * spacing for total in kept.totals)
        return SampleResult(
            code=code,
            distance=tracks.n_positions * spacing,
            minimum=np.where(kept.minimum_at >= 0, kept.minimum, np.nan),
            minimum_position=np.where(kept.minimum_at >= 0, kept.minimum_at * spacing, np.nan),
            maximum=np.where(kept.maximum_at >= 0, kept.maximum, np.nan),
            maximum_position=np.where(kept.maximum_at >= 0, kept.maximum_at * spacing, np.nan),
            histogram=kept.histogram.sum(axis=0),
            unload_events=kept.unload_events,
            unloaded_distance=np.asarray(kept.unloaded * spacing),
            free_events=kept.free_events,
            free_distance=np.asarray(kept.free * spacing),
            tipped_distance=tipped,
            no_equilibrium_distance=lost,
            outside_range_distance=outside,
            exceptional_distance=exceptional,
        )


def run_sample(
    models: Sequence[ReducedModel], tracks: Tracks, recorder: Recorder, linearised: bool = False
) -> SampleResult:
    """One sample with a fresh :class:`SampleRunner`."""
    return SampleRunner(models, recorder, linearised).run(tracks)


def _is_usable(tracks: Tracks) -> bool:
    """Whether every height and slope is finite and far below where squares overflow."""
    arrays = (tracks.heights, tracks.grade, tracks.side_slope)
    return all(bool(array.min() > -ABSURD and array.max() < ABSURD) for array in arrays)


def _ground(model: ReducedModel, tracks: Tracks) -> Ground:
    behind = model.wheel_station / tracks.spacing
    whole = np.round(behind)
    index = tracks.lead - np.where(np.abs(behind - whole) < WHOLE, whole, behind)
    offset = np.floor(index).astype(np.int64)
    middle = round(tracks.lead - float(model.wheel_station.mean()) / tracks.spacing)
    return Ground(
        heights=np.ascontiguousarray(tracks.heights),
        grade=np.ascontiguousarray(tracks.grade, dtype=float),
        side_slope=np.ascontiguousarray(tracks.side_slope, dtype=float),
        line=np.asarray(tracks.wheel_line, dtype=np.int64),
        offset=offset,
        share=index - offset,
        slope_offset=middle,
        slope_x=model.plane.slope_x,
        slope_y=model.plane.slope_y,
        warp=model.plane.warp,
    )
