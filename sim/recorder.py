"""What a sample keeps of the outputs: which extremes, histograms, limits and wheel events.

A *record* combines the outputs of one quantity and item (its places), or of all items of a quantity, into one
scalar along the sample: the value itself, the largest magnitude, or the least value of the group. Extremes,
wheel events and cycles are taken at every position; histograms at a coarser spacing, because the tyre's
envelope holds nothing shorter.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np

from crossaxle.arrays import Array
from crossaxle.sim.structure import OutputName


class Combine(IntEnum):
    """How the outputs of a record become one scalar.

    The maximum of a record of least values is nevertheless the greatest value of the whole group: a gap
    between boxes is as small as at its tightest corner, and opens as far as at its widest; a bracket is pressed
    hardest where its straps' force is least, and a strap pulls hardest where it is greatest.
    """

    VALUE = 0
    LARGEST_MAGNITUDE = 1
    LEAST = 2


@dataclass(frozen=True)
class Rule:
    """How a quantity is recorded.

    ``together``: one record for all its items (its item is then empty). ``contact``: below zero two parts overlap.
    """

    combine: Combine
    minimum: bool
    maximum: bool
    together: bool = False
    contact: bool = False


SIGNED = Rule(Combine.VALUE, minimum=True, maximum=True)
MAGNITUDE = Rule(Combine.LARGEST_MAGNITUDE, minimum=False, maximum=True)

RULES: Mapping[str, Rule] = {
    "gap": Rule(Combine.LEAST, minimum=True, maximum=True, contact=True),
    "strap_force": Rule(Combine.LEAST, minimum=True, maximum=True),
    "bracket_stress": MAGNITUDE,
    "tank_level_difference": MAGNITUDE,
    "tank_torque": MAGNITUDE,
    "frame_twist": MAGNITUDE,
    "station_twist": MAGNITUDE,
    "body_roll": MAGNITUDE,
    "body_torque": Rule(Combine.LARGEST_MAGNITUDE, minimum=False, maximum=True, together=True),
    "mount_travel": MAGNITUDE,
    "pivot_angle": MAGNITUDE,
    "tip_margin": Rule(Combine.LEAST, minimum=True, maximum=False, together=True),
}
"""Rules by quantity; every other one is recorded with its sign, least and greatest, item by item."""


@dataclass(frozen=True)
class Bins:
    """Uniform histogram bins from ``low`` to ``high`` (SI); the first and last also hold what lies beyond."""

    low: float
    high: float
    count: int

    def __post_init__(self) -> None:
        if not (self.low < self.high and self.count > 0):
            raise ValueError(
                f"bins from {self.low} to {self.high}, {self.count} of them: need low < high, count > 0"
            )

    @property
    def width(self) -> float:
        """Width of a bin."""
        return (self.high - self.low) / self.count

    @property
    def centres(self) -> Array:
        """Bin centres, (count,)."""
        return self.low + self.width * np.arange(0.5, self.count)


@dataclass(frozen=True)
class WheelEvents:
    """When a wheel counts as unloaded and as free.

    Attributes
    ----------
    start, end : float
        Share of the level static load below which an unload event starts and above which it ends.
    shortest : float
        Events shorter than this are not counted [m].
    free : float
        Share of the level static load up to which a wheel counts as free: zero, with room for rounding.
    """

    start: float = 0.10
    end: float = 0.15
    shortest: float = 0.1
    free: float = 1e-6

    def __post_init__(self) -> None:
        if not (0.0 <= self.free <= self.start <= self.end and self.shortest >= 0.0):
            raise ValueError(f"wheel events {self}: need 0 <= free <= start <= end and shortest >= 0")


@dataclass(frozen=True)
class Record:
    """One recorded scalar: outputs ``channels`` (indices) combined; extremes, histogram, range limit, cycles.

    ``contact``: a position with a value below zero counts as one with parts in contact.

    ``cycles``: bins of range in which the cycles of the signed output are counted
    (:mod:`crossaxle.sim.rainflow`). Fatigue belongs to one place, so such a record has one channel.
    """

    quantity: str
    item: str
    unit: str
    channels: tuple[int, ...]
    combine: Combine
    minimum: bool
    maximum: bool
    bins: Bins | None
    limit: float
    cycles: Bins | None = None
    contact: bool = False

    def __post_init__(self) -> None:
        if self.combine == Combine.LARGEST_MAGNITUDE and self.minimum:
            raise ValueError(f'"{self.quantity}": a largest magnitude has no minimum')
        if self.cycles and (len(self.channels) != 1 or self.cycles.low != 0.0):
            raise ValueError(
                f'cycles of "{self.quantity}" of "{self.item}" are asked for over {len(self.channels)} places in bins '
                f"from {self.cycles.low}; they are counted at one place, in bins from 0: name the places as items"
            )


@dataclass(frozen=True)
class Recorder:
    """Everything a sample keeps.

    Attributes
    ----------
    records : tuple of Record
    events : WheelEvents
    histogram_spacing : float
        Distance between histogram counts [m], rounded to whole positions.
    slope_limit : float
        Slope of the mean plane [rad] beyond which a position counts as outside the range of validity, as it
        does where a record's magnitude exceeds its limit.
    """

    records: tuple[Record, ...]
    events: WheelEvents = field(default_factory=WheelEvents)
    histogram_spacing: float = 0.2
    slope_limit: float = float(np.pi / 2)

    def __post_init__(self) -> None:
        counts = {record.cycles.count for record in self.records if record.cycles}
        if len(counts) > 1:
            raise ValueError(
                f"cycles are asked for in {sorted(counts)} bins; the number must be the same for all"
            )

    @property
    def followed(self) -> tuple[int, ...]:
        """Records whose cycles are counted."""
        return tuple(i for i, record in enumerate(self.records) if record.cycles)

    @property
    def keys(self) -> tuple[tuple[str, str], ...]:
        """(quantity, item) of each record, in order."""
        return tuple((record.quantity, record.item) for record in self.records)

    @property
    def histogram_starts(self) -> tuple[int, ...]:
        """Where each record's bins start in the flat histogram; the last entry is its length."""
        counts = [record.bins.count if record.bins else 0 for record in self.records]
        return tuple(int(start) for start in np.concatenate([[0], np.cumsum(counts, dtype=np.int64)]))


def make_recorder(
    outputs: Sequence[OutputName],
    histograms: Mapping[str, Bins] | None = None,
    limits: Mapping[str, float] | None = None,
    events: WheelEvents | None = None,
    histogram_spacing: float = 0.2,
    slope_limit: float = float(np.pi / 2),
    cycles: Mapping[tuple[str, str], Bins] | None = None,
) -> Recorder:
    """Make the recorder for a structure's ``outputs``.

    Parameters
    ----------
    outputs : sequence of OutputName
        Those marked as recorded are kept.
    histograms : mapping of quantity to Bins
        Quantities that get a histogram, the same bins for all items.
    limits : mapping of quantity to float
        Magnitude (SI) beyond which a position counts as outside the range of validity.
    cycles : mapping of (quantity, item) to Bins
        Records whose cycles are counted, and the bins of range.

    Raises
    ------
    ValueError
        If outputs that are not combined share quantity and item.
    """
    histograms, limits, cycles = histograms or {}, limits or {}, cycles or {}
    groups: dict[tuple[str, str], list[int]] = {}
    for channel, output in enumerate(outputs):
        if output.recorded:
            together = RULES.get(output.quantity, SIGNED).together
            groups.setdefault((output.quantity, "" if together else output.item), []).append(channel)
    records = []
    for (quantity, item), channels in groups.items():
        rule = RULES.get(quantity, SIGNED)
        if len(channels) > 1 and rule.combine == Combine.VALUE:
            raise ValueError(f'{len(channels)} outputs are named "{quantity}" of "{item}"; names must differ')
        records.append(
            Record(
                quantity,
                item,
                outputs[channels[0]].unit,
                tuple(channels),
                rule.combine,
                rule.minimum,
                rule.maximum,
                histograms.get(quantity),
                limits.get(quantity, float("inf")),
                cycles.get((quantity, item)),
                rule.contact,
            )
        )
    return Recorder(tuple(records), events or WheelEvents(), histogram_spacing, slope_limit)
