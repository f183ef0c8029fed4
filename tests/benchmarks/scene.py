"""What is measured: the shipped vehicles on the shipped courses, and how it is timed."""

import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np

from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.recorder import make_recorder
from crossaxle.sim.reduced import ReducedModel, reduce
from crossaxle.sim.sample import SampleRunner
from crossaxle.sim.tracks import Segment, WheelTracks
from crossaxle.studies.inputs.reader import document, validate
from crossaxle.studies.run.bins import choose_bins
from crossaxle.terrain.course import Course, CourseFile, prepare
from crossaxle.terrain.tracks import TyreLine, lay_tracks
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.chassis import forget_chassis
from crossaxle.vehicles.file import VehicleFile
from tests.shortcuts import posture_on

SPACING, POSITIONS, LEAD = 0.05, 200_000, 140
OUTPUTS = 12


def best(work: Callable[[], object], repeats: int = 9) -> float:
    """Shortest of several times [s]: what other programs do meanwhile only ever adds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


@cache
def vehicle(name: str, mount: str | None = None) -> Vehicle:
    """A shipped vehicle."""
    text = (
        resources.files("crossaxle.vehicles").joinpath("library", f"{name}.toml").read_text(encoding="utf-8")
    )
    return assemble(validate(document(name, text), VehicleFile, {"mount": mount} if mount else {}))


@cache
def sweep() -> tuple[VehicleFile, ...]:
    """Candidates on one chassis, each with a mount, bracket spacing, stiffness and load that no other has."""
    text = (
        resources.files("crossaxle.vehicles").joinpath("library", "clinic.toml").read_text(encoding="utf-8")
    )
    read = document("clinic", text)
    return tuple(
        validate(
            read,
            VehicleFile,
            {
                "mount": mount,
                f'mounts."{mount}".stiffness': f"{18 + 0.1 * i} kN/mm",
                "tank.water.spacing": f"{900 - 3 * i} mm",
                "mass.equipment.mass": f"{1700 + 7 * i} kg",
            },
        )
        for i, mount in enumerate(5 * ["rigid", "pivoting", "pivoting four-point", "sprung"])
    )


def further_candidate(repeats: int = 9) -> float:
    """Seconds from vehicle file to reduced model, over a sweep whose first candidate has made the chassis."""
    first, *others = sweep()
    times = []
    for _ in range(repeats):
        forget_chassis()
        reduce(assemble(first).structure)
        times.append(best(lambda: [reduce(assemble(file).structure) for file in others], 1))
    return min(times) / len(others)


@cache
def course(name: str) -> Course:
    """A shipped course."""
    text = (
        resources.files("crossaxle.terrain").joinpath("library", f"{name}.toml").read_text(encoding="utf-8")
    )
    return prepare(validate(document(name, text), CourseFile), Path())


def lines_of(made: Vehicle) -> list[TyreLine]:
    """Line under each wheel, all with the first wheel's tyre."""
    first = made.tyres[0]
    return [TyreLine(float(y), first.radius, first.contact_length) for y in made.structure.wheel_y]


def tyre_lines(made: Vehicle) -> tuple[TyreLine, ...]:
    """Distinct lines under a vehicle's wheels."""
    return tuple(dict.fromkeys(lines_of(made)))


def ground(made: Vehicle, name: str, positions: int = POSITIONS) -> WheelTracks:
    """Ground of a shipped course under a vehicle."""
    lines = tyre_lines(made)
    laid = lay_tracks(course(name), lines, SPACING, positions, LEAD, 1, 0)
    segments = tuple(Segment(s.start, s.stop, GRAVITY) for s in laid.segments)
    index = np.array([lines.index(line) for line in lines_of(made)])
    return WheelTracks(laid.heights, index, SPACING, laid.grade, laid.side_slope, laid.lead, segments)


def model_of(made: Vehicle, outputs: int | None = None) -> ReducedModel:
    """A vehicle's reduced model with all the outputs that are sampled, or only the first so many."""
    structure = made.structure
    recorded = [i for i, output in enumerate(structure.outputs) if output.recorded][:outputs]
    return reduce(
        replace(
            structure,
            outputs=tuple(structure.outputs[i] for i in recorded),
            output_row=structure.output_row[recorded],
            output_ground=structure.output_ground[recorded],
            output_gravity=structure.output_gravity[recorded],
            output_hinge=structure.output_hinge[recorded],
            output_constant=structure.output_constant[recorded],
        )
    )


def runner(made: Vehicle, outputs: int | None = None) -> SampleRunner:
    """A vehicle ready to run, with extremes, histograms and events of all its outputs or the first so many."""
    model = model_of(made, outputs)
    level = posture_on(model, np.zeros(model.n_wheels)).y
    return SampleRunner([model], make_recorder(model.outputs, choose_bins([(model.outputs, level)])))


def kernel_rate(made: Vehicle, tracks: WheelTracks, outputs: int | None = OUTPUTS) -> tuple[float, float]:
    """Positions per second, and share of positions off the reference segments."""
    one = runner(made, outputs)
    result = one.run(tracks)
    return tracks.n_positions / best(lambda: one.run(tracks)), result.exceptional_distance / result.distance
