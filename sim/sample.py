"""One sample: a vehicle taken along one stretch of ground; all is checked before compiled code sees it."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from crossaxle.arrays import Array, Integers
from crossaxle.sim.active_sets import HOME, Condensed, SetTable, condensed, new_table
from crossaxle.sim.bookkeeping import Values, finish_sample, forget, new_values
from crossaxle.sim.codes import GOOD, MEANING, NO_EQUILIBRIUM, NOT_FINITE, TIPPED
from crossaxle.sim.kernel import Inputs, KernelGround, new_inputs, run_segment
from crossaxle.sim.plan import (
    NOWHERE,
    TIPPED_POSITIONS,
    UNSOLVED_POSITIONS,
    Plan,
    RecordedOutputs,
    make_plan,
    new_kept,
)
from crossaxle.sim.posture import level_posture
from crossaxle.sim.rainflow import finish
from crossaxle.sim.recorder import Recorder
from crossaxle.sim.reduced import ReducedModel
from crossaxle.sim.tracks import Segment, WheelTracks, check_tracks, middle_place, places_behind


@dataclass(frozen=True)
class SampleResult:
    """What a sample gave; r records, w wheels. Places are distances from the first position.

    Attributes
    ----------
    code : int
        From :mod:`crossaxle.sim.codes`; TIPPED or NO_EQUILIBRIUM if any position was, NOT_FINITE if the sample was
        given up.
    distance : float
        [m]
    minimum, minimum_position, maximum, maximum_position : (r,)
        SI and [m]; NaN where not recorded.
    histogram : (sum of bins,) integers
        Record i's counts begin at ``recorder.histogram_starts[i]``.
    half_cycles : (followed records, bins of range) integers
        Half cycles of the records in ``recorder.followed``; the sample is counted on its own, and what it leaves
        open counts as half cycles.
    unload_events, free_events : (w,)
        Counts.
    unloaded_distance, free_distance : (w,)
        Length of the counted unload events, and distance at zero load [m].
    tipped_distance, no_equilibrium_distance, outside_range_distance : float
        [m]
    contact_distance : float
        Distance with some gap below zero [m].
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
    half_cycles: Integers
    unload_events: Integers
    unloaded_distance: Array
    free_events: Integers
    free_distance: Array
    tipped_distance: float
    no_equilibrium_distance: float
    outside_range_distance: float
    contact_distance: float
    exceptional_distance: float


@dataclass(frozen=True)
class _Prepared:
    """A model as the compiled code reads it; table, inputs and values are a cache and working memory only."""

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

    Attributes
    ----------
    static_load : (w,)
        Wheel loads standing level [N].

    Raises
    ------
    ValueError
        If the vehicle has no level posture, or a wheel carries nothing in it.
    """

    models: Sequence[ReducedModel]
    recorder: Recorder
    linearised: bool = False
    static_load: Array = field(init=False)
    _column: dict[int, int] = field(init=False)
    _kept: RecordedOutputs = field(init=False)
    _prepared: dict[float, _Prepared] = field(init=False, default_factory=dict)
    _plans: dict[float, Plan] = field(init=False, default_factory=dict)
    _places: dict[tuple[float, int], tuple[Integers, Array, int]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        if not self.models:
            raise ValueError("a sample needs at least one reduced model")
        first = self.models[0]
        w = first.n_wheels
        if w < 4 or w % 2 or first.wheel_station.min() < 0.0:
            raise ValueError(
                f"wheels at stations {first.wheel_station} m; two or more axles of two wheels each are needed, "
                "counted from the front axle"
            )
        recorded = {channel for record in self.recorder.records for channel in record.channels}
        channels = [*range(w), *sorted(recorded - set(range(w)))]
        object.__setattr__(self, "_column", {channel: i for i, channel in enumerate(channels)})
        for model in reversed(self.models):
            if model.outputs != first.outputs or model.hinge_names != first.hinge_names:
                raise ValueError("the reduced models of one sample belong to different vehicles")
            level = level_posture(model)
            if level.code != GOOD:
                raise ValueError(f"the vehicle does not stand on level ground: {MEANING[level.code]}")
            empty = np.flatnonzero(~(level.y[:w] > 0.0))
            if len(empty):
                names = ", ".join(model.outputs[i].item for i in empty)
                raise ValueError(f"standing level, these wheels carry nothing: {names}")
            vehicle = condensed(model, channels, level.u)
            table = new_table(vehicle, level.active)
            inputs = new_inputs(table.excess[HOME, :, : len(model.hinge_names)].copy())
            values = new_values(table.output[HOME].copy(), inputs.u, inputs.middle, inputs.half)
            self._prepared[model.normal_gravity] = _Prepared(vehicle, table, inputs, values)
        object.__setattr__(self, "static_load", level.y[:w])
        object.__setattr__(self, "_kept", new_kept(self.recorder, w))

    def run(self, tracks: WheelTracks) -> SampleResult:
        """Take the vehicle along ``tracks``.

        Raises
        ------
        ValueError
            If the tracks do not fit together or not to the vehicle. Ground that is not finite gives a code
            instead.
        """
        model = self.models[0]
        check_tracks(tracks, model.wheel_station)
        plan, ground, kept = self._plan(tracks.spacing), self._ground(tracks), self._kept
        forget(kept)
        for segment in _joined(tracks.segments):
            if segment.normal_gravity not in self._prepared:
                raise ValueError(
                    f"no reduced model for a normal gravity of {segment.normal_gravity} m/s2; "
                    f"there are {sorted(self._prepared)}"
                )
            ready = self._prepared[segment.normal_gravity]
            finite = run_segment(
                ready.vehicle,
                ready.table,
                ground,
                plan,
                kept,
                ready.inputs,
                ready.values,
                segment.start,
                segment.stop,
                self.linearised,
            )
            if not finite:
                forget(kept)
                return _result(tracks, kept, NOT_FINITE)
        finish_sample(plan, kept, tracks.n_positions)
        finish(kept.flow)
        code = GOOD
        if kept.totals[TIPPED_POSITIONS] > 0:
            code = TIPPED
        if kept.totals[UNSOLVED_POSITIONS] > 0:
            code = NO_EQUILIBRIUM
        return _result(tracks, kept, code)

    def _plan(self, spacing: float) -> Plan:
        if spacing not in self._plans:
            self._plans[spacing] = make_plan(self.recorder, self._column, self.static_load, spacing)
        return self._plans[spacing]

    def _ground(self, tracks: WheelTracks) -> KernelGround:
        model, key = self.models[0], (tracks.spacing, tracks.lead)
        if key not in self._places:
            self._places[key] = (
                *places_behind(model.wheel_station, tracks),
                middle_place(model.wheel_station, tracks),
            )
        offset, share, middle = self._places[key]
        return KernelGround(
            heights=np.ascontiguousarray(tracks.heights),
            grade=np.ascontiguousarray(tracks.grade, dtype=float),
            side_slope=np.ascontiguousarray(tracks.side_slope, dtype=float),
            line=np.asarray(tracks.wheel_line, dtype=np.int64),
            offset=offset,
            share=share,
            slope_offset=middle,
            slope_x=model.plane.slope_x,
            slope_y=model.plane.slope_y,
            warp=model.plane.warp,
        )


def _joined(segments: Sequence[Segment]) -> list[Segment]:
    """Segments with neighbours of the same normal gravity made one."""
    joined: list[Segment] = []
    for segment in segments:
        if joined and joined[-1].normal_gravity == segment.normal_gravity:
            joined[-1] = replace(joined[-1], stop=segment.stop)
        else:
            joined.append(segment)
    return joined


def _result(tracks: WheelTracks, kept: RecordedOutputs, code: int) -> SampleResult:
    spacing = tracks.spacing
    tipped, lost, outside, exceptional, contact = (total * spacing for total in kept.totals.tolist())
    low, high = kept.minimum_at != NOWHERE, kept.maximum_at != NOWHERE
    return SampleResult(
        code=code,
        distance=tracks.n_positions * spacing,
        minimum=np.where(low, kept.minimum, np.nan),
        minimum_position=np.where(low, kept.minimum_at * spacing, np.nan),
        maximum=np.where(high, kept.maximum, np.nan),
        maximum_position=np.where(high, kept.maximum_at * spacing, np.nan),
        histogram=kept.histogram[0].astype(np.int64),
        half_cycles=kept.flow.half_cycles.copy(),
        unload_events=kept.unload_events.copy(),
        unloaded_distance=np.asarray(kept.unloaded * spacing),
        free_events=kept.free_events.copy(),
        free_distance=np.asarray(kept.free * spacing),
        tipped_distance=tipped,
        no_equilibrium_distance=lost,
        outside_range_distance=outside,
        contact_distance=contact,
        exceptional_distance=exceptional,
    )
