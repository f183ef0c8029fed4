"""Replay: a position of a sample computed again from results alone, with the readable reference solver.

The study that the results carry is made ready again, the sample's ground is laid as it was, and the posture at one
position is followed from level ground. What was stored comes out again but for rounding, which is checked.
"""

import math
from dataclasses import dataclass

import numpy as np
import xarray as xr

from crossaxle.arrays import Array
from crossaxle.sim.codes import GOOD, MEANING
from crossaxle.sim.position import heights_at, input_at, slope_at
from crossaxle.sim.posture import Posture, solve_posture
from crossaxle.sim.recorder import Combine, Record
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.sim.tracks import WheelTracks
from crossaxle.studies.analysis.candidates import values
from crossaxle.studies.analysis.worst import Worst
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.posture.ground_surface import Surface, lay_surface
from crossaxle.studies.run.experiment import CandidateModel, Experiment
from crossaxle.studies.run.row_layout import EXTREMES
from crossaxle.studies.run.versions import versions
from crossaxle.studies.study.study import from_attributes
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.gaps import GapPlace, gap_places, gap_with_finite_rotations

ROUNDING = 1e-9
"""A replayed output may differ by this share of the quantity's largest magnitude in the results."""


@dataclass(frozen=True)
class Standing:
    """A candidate at one position of a sample.

    Attributes
    ----------
    candidate, course, sample, position : int
        Position number, from the sample's first.
    front : float
        Of the front axle, along the sample [m].
    vehicle : Vehicle
    posture : Posture
        All outputs and displacements; its code is not GOOD where there is none.
    heights : (w,)
        Ground under the wheels as their tyres feel it, without the large-scale slope [m].
    slope : tuple of two float
        Large-scale slope: tangents dz/dx and dz/dy.
    """

    candidate: int
    course: int
    sample: int
    position: int
    front: float
    vehicle: Vehicle
    posture: Posture
    heights: Array
    slope: tuple[float, float]


@dataclass(frozen=True)
class GapFigure:
    """One gap in a posture, at its tightest place [m].

    Attributes
    ----------
    name : str
    place : GapPlace
        The tightest of its places by the model's small rotations.
    level, small, finite : float
        Standing level; with small rotations, as in results; the least of its places with finite rotations.
    """

    name: str
    place: GapPlace
    level: float
    small: float
    finite: float


@dataclass(frozen=True)
class Replay:
    """An extreme of the results, computed again.

    Attributes
    ----------
    worst : Worst
    standing : Standing
    value : float
        The output as replayed, SI.
    scale : float
        Largest magnitude of the quantity in the results.
    made_with : str
        What versions the results were made with, if others than these; else empty.
    """

    worst: Worst
    standing: Standing
    value: float
    scale: float
    made_with: str

    @property
    def difference(self) -> float:
        """Replayed minus stored value, as a share of the scale."""
        return (self.value - self.worst.value) / self.scale

    @property
    def exact(self) -> bool:
        """Whether the two agree to rounding."""
        return abs(self.difference) <= ROUNDING


class Replayer:
    """Replays positions of the samples of results; keeps the last sample's ground and all models made.

    Parameters
    ----------
    ds : Dataset
        Results, as `crossaxle.studies.run.dataset.read_results` gives them.

    Raises
    ------
    InputError
        If the results do not hold their study.
    """

    def __init__(self, ds: xr.Dataset) -> None:
        self._ds = ds
        self.experiment = Experiment(from_attributes(ds.attrs))
        made_with = str(ds.attrs.get("versions", ""))
        self._made_with = made_with if made_with != versions() else ""
        self._scales: dict[str, float] = {}
        self._tracks: dict[tuple[int, int, int], WheelTracks] = {}
        self._surfaces: dict[tuple[int, int], Surface] = {}
        self._models: dict[tuple[int, int, float], ReducedModel] = {}

    def replay(self, worst: Worst) -> Replay:
        """Compute an extreme again.

        Raises
        ------
        InputError
            If there is no posture where the results say there is one.
        """
        position = round(worst.position / self.experiment.study.file.spacing)
        standing = self.stand(worst.candidate, worst.course, worst.sample, position)
        if standing.posture.code != GOOD:
            raise InputError(
                f"{worst.variable} at {worst.position:g} m of sample {worst.sample} cannot be replayed: "
                f"{MEANING[standing.posture.code]}; the results were made with "
                f"{self._ds.attrs.get('versions', 'unknown versions')}, this is {versions()}"
            )
        record = self._record(worst, worst.candidate)
        assert record is not None  # results hold it
        return Replay(
            worst,
            standing,
            recorded_value(record, standing.posture.y, worst.smallest),
            self._scale(worst.quantity),
            self._made_with,
        )

    def stand(self, candidate: int, course: int, sample: int, position: int) -> Standing:
        """Stand a candidate on a sample's ground, the front axle at position number ``position``.

        Raises
        ------
        ValueError
            If the sample has no such position.
        """
        if not 0 <= position < self.experiment.n_positions:
            raise ValueError(f"position {position} of {self.experiment.n_positions}")
        tracks = self._track(candidate, course, sample)
        gravity = next(s.normal_gravity for s in tracks.segments if s.start <= position < s.stop)
        model = self._model(candidate, sample, gravity)
        posture = solve_posture(model, input_at(model, tracks, position))
        return Standing(
            candidate,
            course,
            sample,
            position,
            position * tracks.spacing,
            self._drawn(candidate, sample).vehicle,
            posture,
            heights_at(model, tracks, position),
            slope_at(model, tracks, position),
        )

    def around(self, standing: Standing, reach: float, step: float) -> list[Standing]:
        """Stand the same candidate every ``step`` [m] from ``reach`` [m] before to ``reach`` after.

        The ends of the sample cut it short. The standing itself is among them.
        """
        spacing = self.experiment.study.file.spacing
        stride = max(1, round(step / spacing))
        count = int(reach / spacing / stride)
        middle = standing.position
        places = [middle + k * stride for k in range(-count, count + 1)]
        return [
            self.stand(standing.candidate, standing.course, standing.sample, place)
            for place in places
            if 0 <= place < self.experiment.n_positions
        ]

    def output(self, worst: Worst, standing: Standing) -> float:
        """Return the output that an extreme is one of, in another posture of any candidate (NaN if there is none)."""
        record = self._record(worst, standing.candidate)
        return math.nan if record is None else recorded_value(record, standing.posture.y, worst.smallest)

    def surface(self, standing: Standing) -> Surface:
        """Return the ground of a standing's sample as a surface, for pictures."""
        course, sample = standing.course, standing.sample
        if (course, sample) not in self._surfaces:
            laid = lay_surface(self.experiment, self.experiment.courses[course], sample)
            self._surfaces = {(course, sample): laid}
        return self._surfaces[course, sample]

    def _record(self, worst: Worst, candidate: int) -> Record | None:
        records = self.experiment.recorders[candidate].records
        own = (r for r in records if (r.quantity, r.item) == (worst.quantity, worst.item))
        return next(own, None)

    def _scale(self, quantity: str) -> float:
        if quantity not in self._scales:
            names = [
                f"{quantity}_{kind}" for kind in (*EXTREMES, "static") if f"{quantity}_{kind}" in self._ds
            ]
            courses = range(self._ds.sizes["course"])
            largest = max(np.nanmax(np.abs(values(self._ds, n, c))) for n in names for c in courses)
            self._scales[quantity] = float(largest) or 1.0
        return self._scales[quantity]

    def _track(self, candidate: int, course: int, sample: int) -> WheelTracks:
        key = candidate, course, sample
        if key not in self._tracks:
            ground = self.experiment.ground(self.experiment.courses[course], sample)
            self._tracks = {
                (k, course, sample): self.experiment.tracks(one, ground)
                for k, one in enumerate(self.experiment.drawn(sample))
                if one is not None
            }
        return self._tracks[key]

    def _model(self, candidate: int, sample: int, gravity: float) -> ReducedModel:
        key = candidate, sample, gravity
        if key not in self._models:
            self._models[key] = reduce(self._drawn(candidate, sample).vehicle.structure, gravity)
        return self._models[key]

    def _drawn(self, candidate: int, sample: int) -> CandidateModel:
        drawn = self.experiment.drawn(sample)[candidate]
        if drawn is None:
            raise ValueError(f"sample {sample} makes no possible vehicle of this candidate")
        return drawn


def recorded_value(record: Record, y: Array, smallest: bool) -> float:
    """Combine outputs y (k,) as sampling does into the record of an extreme; NaN where there is no posture."""
    own = y[list(record.channels)]
    if record.combine == Combine.LARGEST_MAGNITUDE:
        return float(np.abs(own).max())
    return float(own.min() if smallest else own.max())


def gap_figures(standing: Standing) -> list[GapFigure]:
    """Work out every gap of a posture with small and with finite rotations, in the order of the vehicle file."""
    vehicle, posture = standing.vehicle, standing.posture
    k = vehicle.kinematics
    small = {
        (output.item, output.place): float(value)
        for output, value in zip(vehicle.structure.outputs, posture.y, strict=True)
        if output.quantity == "gap"
    }
    figures = []
    places: dict[str, list[GapPlace]] = {}
    for place in gap_places(vehicle.layout):
        if all(k.carries(part) for part in place.parts):
            places.setdefault(place.name, []).append(place)
    for name, group in places.items():
        tightest = min(group, key=lambda place: small[name, place.place])
        finite = (gap_with_finite_rotations(place, k, posture.q, vehicle.level[: k.n]) for place in group)
        figures.append(
            GapFigure(
                name, tightest, tightest.clearance, small[name, tightest.place], min(finite, default=math.nan)
            )
        )
    return figures
