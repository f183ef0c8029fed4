"""Where the numbers of a sample stand: one row of columns per candidate and course, the same for all candidates.

Items that a candidate lacks (a mount point of another mount) stay NaN in its rows.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array, Integers
from crossaxle.sim.recorder import Bins, Recorder
from crossaxle.sim.sample import SampleResult
from crossaxle.studies.base.quantities import CYCLES, QUANTITIES

FOLDS = 20
"""Histograms are summed over samples into this many groups, sample number modulo it."""


PER_SAMPLE = (
    "distance",
    "sample_status",
    "tipped_distance",
    "no_equilibrium_distance",
    "outside_range_distance",
    "contact_distance",
)
PER_WHEEL = ("unload_events", "unloaded_distance", "free_events", "free_distance")
EXTREMES = ("minimum", "maximum")


@dataclass(frozen=True)
class ColumnBlock:
    """Columns of one variable: its name, the dimension of its items (or empty), and where they start."""

    variable: str
    dimension: str
    start: int
    count: int


@dataclass(frozen=True)
class Histogram:
    """Columns of one histogram: quantity, dimension of its items (or empty), bins, and where they start.

    ``share``: what a count stands for; half a cycle where cycles are counted, else one position.
    """

    quantity: str
    dimension: str
    bins: Bins
    start: int
    items: int
    share: float = 1.0


@dataclass(frozen=True)
class RowLayout:
    """Layout of all candidates' rows.

    Attributes
    ----------
    items : dict of dimension to tuple of str
        Names along every item dimension, those of all candidates together.
    blocks : tuple of ColumnBlock
    histograms : tuple of Histogram
    """

    items: dict[str, tuple[str, ...]]
    blocks: tuple[ColumnBlock, ...]
    histograms: tuple[Histogram, ...]

    @property
    def width(self) -> int:
        """Number of columns."""
        return self.blocks[-1].start + self.blocks[-1].count

    @property
    def histogram_width(self) -> int:
        """Number of bins of all histograms together."""
        if not self.histograms:
            return 0
        last = self.histograms[-1]
        return last.start + last.items * last.bins.count


def lay_out_rows(recorders: Sequence[Recorder], wheels: Sequence[str]) -> RowLayout:
    """Lay out the columns for candidates that record with `recorders`.

    Parameters
    ----------
    recorders : sequence of Recorder
    wheels : sequence of str
        Names of the wheels.
    """
    items: dict[str, dict[str, None]] = {"wheel": dict.fromkeys(wheels)}
    extremes: dict[str, None] = {}
    bins: dict[str, Bins] = {}
    for recorder in recorders:
        for record in recorder.records:
            dimension = QUANTITIES[record.quantity].dimension
            if dimension:
                items.setdefault(dimension, {})[record.item] = None
            for which in EXTREMES:
                if getattr(record, which):
                    extremes[f"{record.quantity}_{which}"] = None
            if record.bins:
                bins[record.quantity] = record.bins
            if record.cycles:
                bins[CYCLES[record.quantity]] = record.cycles
    named = [(name, "") for name in PER_SAMPLE] + [(name, "wheel") for name in PER_WHEEL]
    for extreme in extremes:
        dimension = QUANTITIES[extreme.rsplit("_", 1)[0]].dimension
        named += [(extreme, dimension), (f"{extreme}_position", dimension)]
    blocks: list[ColumnBlock] = []
    start = 0
    for variable, dimension in named:
        count = len(items[dimension]) if dimension else 1
        blocks.append(ColumnBlock(variable, dimension, start, count))
        start += count
    histograms: list[Histogram] = []
    start = 0
    for quantity, one in bins.items():
        dimension = QUANTITIES[quantity].dimension
        count = len(items[dimension]) if dimension else 1
        share = 0.5 if quantity in CYCLES.values() else 1.0
        histograms.append(Histogram(quantity, dimension, one, start, count, share))
        start += count * one.count
    return RowLayout({name: tuple(found) for name, found in items.items()}, tuple(blocks), tuple(histograms))


class RowWriter:
    """Writes a candidate's sample results into rows of a layout.

    Parameters
    ----------
    columns : RowLayout
    recorder : Recorder
        The candidate's own.
    """

    def __init__(self, columns: RowLayout, recorder: Recorder) -> None:
        self._blocks = {block.variable: block for block in columns.blocks}
        self._extremes = {which: self._places(columns, recorder, which) for which in EXTREMES}
        starts = recorder.histogram_starts
        places = {histogram.quantity: histogram for histogram in columns.histograms}

        def bins_of(quantity: str, item: str) -> slice:
            to = places[quantity]
            place = columns.items[to.dimension].index(item) if to.dimension else 0
            first = to.start + place * to.bins.count
            return slice(first, first + to.bins.count)

        self._histograms: list[tuple[slice, slice]] = []
        for i, record in enumerate(recorder.records):
            if record.bins:
                own, to = slice(starts[i], starts[i + 1]), bins_of(record.quantity, record.item)
                if self._histograms:
                    before, to_before = self._histograms[-1]
                    if (before.stop, to_before.stop) == (own.start, to.start):
                        # neighbours in both are copied in one go
                        own, to = slice(before.start, own.stop), slice(to_before.start, to.stop)
                        self._histograms.pop()
                self._histograms.append((own, to))
        followed = [recorder.records[i] for i in recorder.followed]
        self._cycles = [bins_of(CYCLES[record.quantity], record.item) for record in followed]

    def write(self, result: SampleResult, row: Array, histogram: Integers) -> None:
        """Write one result into a row (width,) that holds NaN, and add its counts to (histogram_width,)."""
        singles = {
            "distance": result.distance,
            "sample_status": result.code,
            "tipped_distance": result.tipped_distance,
            "no_equilibrium_distance": result.no_equilibrium_distance,
            "outside_range_distance": result.outside_range_distance,
            "contact_distance": result.contact_distance,
        }
        for name, value in singles.items():
            row[self._blocks[name].start] = value
        for name in PER_WHEEL:
            block = self._blocks[name]
            row[block.start : block.start + block.count] = getattr(result, name)
        for which, (own, value_at, position_at) in self._extremes.items():
            row[value_at] = getattr(result, which)[own]
            row[position_at] = getattr(result, f"{which}_position")[own]
        for own_bins, bins in self._histograms:
            histogram[bins] += result.histogram[own_bins]
        for half_cycles, bins in zip(result.half_cycles, self._cycles, strict=True):
            histogram[bins] += half_cycles

    def write_failure(self, code: int, row: Array) -> None:
        """Write a sample that could not be run into a row (width,) that holds NaN."""
        row[self._blocks["sample_status"].start] = code
        row[self._blocks["distance"].start] = 0.0

    def _places(
        self, columns: RowLayout, recorder: Recorder, which: str
    ) -> tuple[Integers, Integers, Integers]:
        """Records that keep this extreme, and the columns of value and position."""
        own, value_at, position_at = [], [], []
        for i, record in enumerate(recorder.records):
            if getattr(record, which):
                value = self._blocks[f"{record.quantity}_{which}"]
                position = self._blocks[f"{record.quantity}_{which}_position"]
                item = columns.items[value.dimension].index(record.item) if value.dimension else 0
                own.append(i)
                value_at.append(value.start + item)
                position_at.append(position.start + item)
        return np.array(own), np.array(value_at), np.array(position_at)
