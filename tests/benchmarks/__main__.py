"""`python -m tests.benchmarks [FILE]`: prints the speed table and writes it as JSON (default: benchmarks.json).

Best of several repeats, one core unless said otherwise, on the shipped vehicles and courses. Ratios compare what was
measured in
the same run: the compiled kernel, a vectorised NumPy evaluation of the linear part alone (no contact, no events), and a
quadratic programming library called once per position, which includes the cost of calling it.
"""

import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path

import numpy as np
import quadprog

from sim.ground_plane import GRAVITY, input_vector
from sim.posture import posture_on
from sim.recorder import make_recorder
from sim.reduced import reduce
from sim.sample import SampleRunner
from sim.tracks import Segment, Tracks
from studies.bins import choose_bins
from studies.files import document, validate
from terrain.course import CourseFile, prepare
from terrain.tracks import TyreLine, lay_tracks
from vehicles.assemble import Vehicle, assemble
from vehicles.file import VehicleFile

SPACING, POSITIONS = 0.05, 200_000


def best(work: Callable[[], object], repeats: int = 7) -> float:
    """Shortest of several times [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def vehicle(name: str, **changes: object) -> Vehicle:
    """A shipped vehicle."""
    text = resources.files("vehicles").joinpath("library", f"{name}.toml").read_text(encoding="utf-8")
    return assemble(validate(document(name, text), VehicleFile, changes))


def ground(made: Vehicle, course: str, positions: int = POSITIONS) -> Tracks:
    """Ground of a shipped course under a vehicle."""
    text = resources.files("terrain").joinpath("library", f"{course}.toml").read_text(encoding="utf-8")
    lines = tyre_lines(made)
    laid = lay_tracks(
        prepare(validate(document(course, text), CourseFile), Path()), lines, SPACING, positions, 140, 1, 0
    )
    segments = tuple(Segment(s.start, s.stop, GRAVITY) for s in laid.segments)
    index = np.array([lines.index(line) for line in _lines_of(made)])
    return Tracks(laid.heights, index, SPACING, laid.grade, laid.side_slope, laid.lead, segments)


def _lines_of(made: Vehicle) -> list[TyreLine]:
    first = made.tyres[0]
    return [TyreLine(float(y), first.radius, first.contact_length) for y in made.structure.wheel_y]


def tyre_lines(made: Vehicle) -> tuple[TyreLine, ...]:
    """Distinct lines under a vehicle's wheels, all with the first wheel's tyre."""
    return tuple(dict.fromkeys(_lines_of(made)))


def runner(made: Vehicle, outputs: int | None = None) -> SampleRunner:
    """A vehicle ready to run, recording all its outputs with histograms, or only the first so many."""
    structure = made.structure
    recorded = [i for i, output in enumerate(structure.outputs) if output.recorded]
    kept = recorded if outputs is None else recorded[:outputs]
    structure = replace(
        structure,
        outputs=tuple(structure.outputs[i] for i in kept),
        output_row=structure.output_row[kept],
        output_ground=structure.output_ground[kept],
        output_gravity=structure.output_gravity[kept],
        output_hinge=structure.output_hinge[kept],
        output_constant=structure.output_constant[kept],
    )
    model = reduce(structure)
    level = posture_on(model, np.zeros(model.n_wheels)).y
    return SampleRunner([model], make_recorder(model.outputs, choose_bins([(model.outputs, level)])))


def kernel_rate(made: Vehicle, tracks: Tracks, outputs: int | None = None) -> tuple[float, float]:
    """Positions per second, and share of positions off the reference segments."""
    one = runner(made, outputs)
    result = one.run(tracks)
    share = result.exceptional_distance / result.distance
    return tracks.n_positions / best(lambda: one.run(tracks)), share


def numpy_rate(made: Vehicle, outputs: int) -> float:
    """Positions per second of the linear part alone in vectorised NumPy."""
    model = reduce(made.structure)
    rng = np.random.default_rng(1)
    z = rng.normal(0, 0.1, (4, POSITIONS))
    slope_x, slope_y, warp = model.plane.slope_x, model.plane.slope_y, model.plane.warp
    gain, constant = model.output_input[:outputs], model.output_constant[:outputs, None]

    def work() -> np.ndarray:
        b, c = slope_x @ z, slope_y @ z
        n = 1 / np.sqrt(1 + b * b + c * c)
        m = 1 / np.sqrt(1 + b * b)
        u = np.vstack([-GRAVITY * b * m, -GRAVITY * c * n * m, -GRAVITY * n, n * (warp.T @ z)])
        return gain @ u + constant

    return POSITIONS / best(work)


def quadprog_rate(made: Vehicle) -> float:
    """Positions per second of a general QP library called per position for the tyres' contact alone."""
    model = reduce(made.structure)
    lifts = [i for i, name in enumerate(model.hinge_names) if name.startswith("lift")][:4]
    compliance = np.diag(1.0 / -model.hinge_stiffness[lifts]) - model.hinge_compliance[np.ix_(lifts, lifts)]
    # All four wheels cannot lift, so the matrix is singular there; a little give makes it one that the library takes,
    # which serves to time it.
    values = np.linalg.eigvalsh(compliance)
    compliance += (1e-3 * values[-1] - min(values[0], 0.0)) * np.eye(4)
    rng = np.random.default_rng(2)
    inputs = [input_vector(model.plane, z) for z in rng.normal(0, 0.3, (2000, 4))]
    excess = [(model.hinge_constant + model.hinge_input @ u)[lifts] for u in inputs]
    identity, zero = np.eye(4), np.zeros(4)

    def work() -> None:
        for h in excess:
            quadprog.solve_qp(compliance, h, identity, zero)

    return len(excess) / best(work, 3)


def memory_bandwidth() -> float:
    """Bytes copied per second, read and write counted."""
    a = np.zeros(16_000_000)
    b = np.empty_like(a)
    return 2 * a.nbytes / best(lambda: np.copyto(b, a))


def multiply_add_rate() -> float:
    """Multiplications and additions per second of a matrix product on this machine's linear algebra."""
    a = np.random.default_rng(0).normal(size=(1200, 1200))
    return 2 * 1200**3 / best(lambda: a @ a, 5)


def gravity_error(made: Vehicle, slope: float) -> float:
    """Largest wheel-load error of plain g in the geometric stiffness, as a share of static load, on a side slope."""
    exact = posture_on(reduce(made.structure, GRAVITY * np.cos(slope)), np.zeros(4), 0, np.tan(slope)).y[:4]
    held = posture_on(reduce(made.structure), np.zeros(4), 0, np.tan(slope)).y[:4]
    level = posture_on(reduce(made.structure), np.zeros(4)).y[:4]
    return float(np.abs((held - exact) / level).max())


def main() -> None:
    """Measure, print, write."""
    clinic, sprung = vehicle("clinic"), vehicle("clinic", mount="sprung")
    easy = ground(clinic, "larch_ridge")
    wadi = ground(clinic, "wadi_tamrun")
    table: dict[str, float] = {}
    table["kernel, two axles, 12 outputs, easy course [positions/s]"], _ = kernel_rate(clinic, easy, 12)
    table["kernel, two axles, all outputs, easy course [positions/s]"], _ = kernel_rate(clinic, easy)
    name = "kernel, sprung mount, stops and obstacles, severe course"
    table[f"{name} [positions/s]"], table[f"{name}: share off the reference segments"] = kernel_rate(
        sprung, wadi, 12
    )
    for axles, shipped in ((3, "laboratory"), (4, "rescue")):
        made = vehicle(shipped)
        table[f"kernel, {axles} axles, 12 outputs [positions/s]"], _ = kernel_rate(
            made, ground(made, "larch_ridge"), 12
        )
    table["vectorised NumPy, linear part alone [positions/s]"] = numpy_rate(clinic, 12)
    table["quadprog called per position [positions/s]"] = quadprog_rate(clinic)
    text = resources.files("terrain").joinpath("library", "wadi_tamrun.toml").read_text(encoding="utf-8")
    course = prepare(validate(document("wadi", text), CourseFile), Path())
    lines = tyre_lines(clinic)
    seconds = best(lambda: lay_tracks(course, lines, SPACING, POSITIONS, 140, 1, 0), 5)
    table["ground with tyre envelope, two tracks [positions/s]"] = POSITIONS / seconds
    table["vehicle file to reduced model, frame known [ms]"] = 1e3 * best(
        lambda: reduce(assemble(clinic.file).structure)
    )
    table["memory copied [GB/s]"] = memory_bandwidth() / 1e9
    table["matrix product, multiply-adds on all cores [GFLOP/s]"] = multiply_add_rate() / 1e9
    table["plain g instead of g cos(alpha) at 15 deg side slope, share of static load"] = gravity_error(
        clinic, np.deg2rad(15)
    )
    kernel = table["kernel, two axles, 12 outputs, easy course [positions/s]"]
    table["kernel over NumPy's linear part"] = (
        kernel / table["vectorised NumPy, linear part alone [positions/s]"]
    )
    table["kernel over quadprog per position"] = kernel / table["quadprog called per position [positions/s]"]
    for axles in (3, 4):
        table[f"two axles over {axles} axles"] = (
            kernel / table[f"kernel, {axles} axles, 12 outputs [positions/s]"]
        )
    for what, value in table.items():
        print(f"{what:<84}{value:>16,.4g}")
    path = Path(sys.argv[1] if len(sys.argv) > 1 else "benchmarks.json")
    path.write_text(json.dumps(table, indent=1) + "\n", encoding="utf-8")
    print(f"wrote {path}")


if __name__ == "__main__":
    main()
