"""A recorder and what it has kept, as the arrays that the compiled code reads and fills."""

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from crossaxle.arrays import Array, Booleans, Integers
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.rainflow import Rainflow, new_rainflow
from crossaxle.sim.recorder import Recorder
from crossaxle.sim.tracks import WHOLE

CLOSED: Final = -1
"""In place of the start of an unload event: none is open."""

NOWHERE: Final = -1
"""In place of a position: no value has been met."""

LANES: Final = 4
"""Histograms filled in turn and added up at the end: neighbours share a bin, and each count waits for the last."""

TIPPED_POSITIONS: Final = 0
UNSOLVED_POSITIONS: Final = 1
OUTSIDE_POSITIONS: Final = 2
EXCEPTIONAL_POSITIONS: Final = 3
CONTACT_POSITIONS: Final = 4
N_TOTALS: Final = 5


class Plan(NamedTuple):
    """The recorder as arrays; r records over c channels, channels of record i at first[i] : first[i + 1].

    ``channel`` (c,) output of each; ``combine``, ``minimum``, ``maximum`` (r,); ``counted`` records with a
    histogram, their ``bins``, ``bin_first``, ``bin_low`` and ``bin_scale`` (1/width); ``limited`` outputs with
    a limit and their ``limit``; ``touching`` outputs that are below zero in contact; ``steepest``: squared in-
    plane gravity at the limit of slope; ``load_start``, ``load_end``, ``load_free`` (w,) of wheel events,
    ``shortest`` positions; ``stride`` positions between histogram counts; ``followed`` outputs whose cycles are
    counted.
    """

    channel: Integers
    first: Integers
    combine: Integers
    minimum: Booleans
    maximum: Booleans
    counted: Integers
    bins: Integers
    bin_first: Integers
    bin_low: Array
    bin_scale: Array
    limited: Integers
    limit: Array
    touching: Integers
    steepest: float
    load_start: Array
    load_end: Array
    load_free: Array
    shortest: int
    stride: int
    followed: Integers


class RecordedOutputs(NamedTuple):
    """What a sample has given so far; positions are counted from its first.

    ``minimum``, ``maximum`` (r,) and where, ``minimum_at``, ``maximum_at``; ``histogram`` (LANES, all bins);
    per wheel ``unload_events``, ``unloaded``, ``free_events``, ``free`` (counts, positions) and
    ``open_since`` (start of a current event or CLOSED), ``is_free``; ``totals``: positions tipped, without
    equilibrium, outside the range, off the home set; ``flow``; ``flow``: counters of cycles.
    """

    minimum: Array
    maximum: Array
    minimum_at: Integers
    maximum_at: Integers
    histogram: NDArray[np.int32]
    unload_events: Integers
    unloaded: Integers
    free_events: Integers
    free: Integers
    open_since: Integers
    is_free: Booleans
    totals: Integers
    flow: Rainflow


def make_plan(recorder: Recorder, column: Mapping[int, int], static_load: Array, spacing: float) -> Plan:
    """Plan for a vehicle whose output i is ``column[i]`` of the compiled code; level loads ``static_load`` (w,)."""
    records, events = recorder.records, recorder.events
    channels = [column[channel] for record in records for channel in record.channels]
    starts = recorder.histogram_starts
    counted = [(i, r.bins, starts[i]) for i, r in enumerate(records) if r.bins is not None]
    touching = [column[channel] for record in records if record.contact for channel in record.channels]
    limits = [(column[channel], r.limit) for r in records if np.isfinite(r.limit) for channel in r.channels]
    return Plan(
        channel=np.array(channels, dtype=np.int64),
        first=np.cumsum([0, *(len(record.channels) for record in records)], dtype=np.int64),
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
        touching=np.array(touching, dtype=np.int64),
        steepest=float((GRAVITY * np.sin(recorder.slope_limit)) ** 2),
        load_start=events.start * static_load,
        load_end=events.end * static_load,
        load_free=events.free * static_load,
        shortest=int(np.ceil(events.shortest / spacing - WHOLE)),
        stride=max(1, round(recorder.histogram_spacing / spacing)),
        followed=np.array([column[records[i].channels[0]] for i in recorder.followed], dtype=np.int64),
    )


def new_kept(recorder: Recorder, n_wheels: int) -> RecordedOutputs:
    """Arrays for what samples keep."""
    n_records, n_bins = len(recorder.records), recorder.histogram_starts[-1]
    ranges = [record.cycles for record in recorder.records if record.cycles]
    return RecordedOutputs(
        minimum=np.zeros(n_records),
        maximum=np.zeros(n_records),
        minimum_at=np.zeros(n_records, dtype=np.int64),
        maximum_at=np.zeros(n_records, dtype=np.int64),
        histogram=np.zeros((LANES, n_bins), dtype=np.int32),
        unload_events=np.zeros(n_wheels, dtype=np.int64),
        unloaded=np.zeros(n_wheels, dtype=np.int64),
        free_events=np.zeros(n_wheels, dtype=np.int64),
        free=np.zeros(n_wheels, dtype=np.int64),
        open_since=np.zeros(n_wheels, dtype=np.int64),
        is_free=np.zeros(n_wheels, dtype=bool),
        totals=np.zeros(N_TOTALS, dtype=np.int64),
        flow=new_rainflow(np.array([bins.width for bins in ranges]), ranges[0].count if ranges else 1),
    )
