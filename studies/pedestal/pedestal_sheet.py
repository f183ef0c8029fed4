"""The workshop's test sheet for a pedestal test: what to raise, what to measure, what to expect, and cautions.

A predicted value carries a tolerance: how far a sound reading may lie from it. It is the root of the sum of squares
of what the value changes by when the frame, the tyres and the springs are stiffer by the shares below, of a share of
each wheel load for masses that are not quite where the file has them, and of what the instrument adds. The shares
are common practice, no source.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined

from crossaxle.sim.codes import GOOD
from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import Posture
from crossaxle.studies.base.cautions import PEDESTALS, caution_note
from crossaxle.studies.base.number_format import MINUS
from crossaxle.studies.pedestal.pedestal_test import Pedestal, PedestalSolver, pedestal_test
from crossaxle.studies.pedestal.readings import COLUMNS
from crossaxle.studies.posture.posture_values import describe_posture, gaps_with_finite_rotations
from crossaxle.vehicles.assemble import Vehicle, assemble
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.suspension import RATED_DEFLECTION
from crossaxle.vehicles.tyres import tyre

FRAME_SPREAD = 0.30
"""Share by which an unmeasured frame may be stiffer or softer ..."""

MEASURED_FRAME_SPREAD = 0.10
"""... and one whose file carries a factor from a test."""

TYRE_SPREAD = 0.15
SPRING_SPREAD = 0.10
MASS_SPREAD = 0.03

INSTRUMENTS = {"deg": 0.2, "kN": 0.2, "mm": 3.0}
"""What a careful reading adds, two standard uncertainties, by unit."""

STRENGTH = 2.0
"""A pedestal must carry at least this times the largest computed wheel load (common practice, no source)."""


@dataclass(frozen=True)
class Row:
    """One thing to read off at one height: predicted value and tolerance, in ``unit``, as text.

    ``reading`` is its name in a file of readings; empty where such a file has no place for it.
    """

    what: str
    unit: str
    predicted: str
    tolerance: str
    reading: str


@dataclass(frozen=True)
class LiftStep:
    """One height of the pedestals [m], the largest wheel load there [N], what to read, and what to look out for."""

    height: float
    largest_load: float
    rows: tuple[Row, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Figure:
    """A predicted number in the unit of the sheet."""

    unit: str
    value: float
    reading: str = ""


def pedestal_sheet(test: Pedestal) -> str:
    """Write the test sheet as one HTML page that prints on A4.

    Parameters
    ----------
    test : Pedestal
        Its heights are the sheet's steps, all below that at which the first wheel comes free; level ground comes first.
    """
    file, bare = test.vehicle.file, test.vehicle.kinematics.bare
    heights = sorted({0.0, *(height for height in test.heights if height > 0)})
    if min(test.heights) < 0:  # pits are not part of the sheet, nor is a wheel that comes free over one
        test = pedestal_test(test.vehicle, test.under, heights)
    steps, left_off = _steps(test, heights)
    largest = max(step.largest_load for step in steps)
    environment = Environment(
        loader=PackageLoader("crossaxle.studies.pedestal"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    return environment.get_template("pedestal_sheet.html.j2").render(
        caution=caution_note(PEDESTALS),
        vehicle=file.name,
        state="bare chassis, without body, mounts and payload"
        if bare
        else f"{file.mount} mount, load state: {file.load_state}",
        wheelbase=f"{file.wheelbase:.2f} m",
        mass=f"{test.vehicle.mass:,.0f} kg".replace(",", " "),
        under=test.under,
        stay=[wheel for wheel in test.wheels if wheel not in test.under],
        pressures=[(name, f"{axle.tyre.pressure / 1e5:.1f} bar") for name, axle in file.axle.items()],
        steps=steps,
        left_off=left_off,
        first_free=test.first_free,
        largest=f"{largest / 1e3:.0f} kN",
        rated=f"{math.ceil(STRENGTH * largest / 1e3):.0f} kN",
        frame_spread=f"{100 * _frame_spread(file):.0f} %",
        spreads={"tyres": f"{100 * TYRE_SPREAD:.0f} %", "springs": f"{100 * SPRING_SPREAD:.0f} %"},
        mass_spread=f"{100 * MASS_SPREAD:.0f} %",
        instruments=INSTRUMENTS,
        readings=_readings(test, steps),
    )


def _steps(test: Pedestal, heights: Sequence[float]) -> tuple[list[LiftStep], str]:
    """Steps up to where the truck should not be raised further, and why the others are left off."""
    vehicle = test.vehicle
    solvers = [PedestalSolver(one, test.raised) for one in (vehicle, *_varied(vehicle))]
    free = test.first_free
    steps: list[LiftStep] = []
    for number, height in enumerate(heights):
        posture = solvers[0].posture(height)
        shown = describe_posture(vehicle, posture)
        rest = len(heights) - number
        if posture.code != GOOD or any(solver.posture(height).code != GOOD for solver in solvers):
            return steps, f"{_steps_left(rest)} left off: the truck may tip at {_mm(height)}."
        if shown["outside_range"]:
            return (
                steps,
                f"{_steps_left(rest)} left off: from {_mm(height)} on angles are too large to predict.",
            )
        if free is not None and free.height <= height:
            return (
                steps,
                f"{_steps_left(rest)} left off: the {free.wheel} wheel is free from {_mm(free.height)} on.",
            )
        figures = [
            _figures(solver.vehicle, solver.posture(height), solver.posture(0.0)) for solver in solvers
        ]
        largest = float(posture.y[: len(test.wheels)].max())
        may_lift = any(solver.lifted(height)[0] for solver in solvers[1:])
        steps.append(LiftStep(height, largest, tuple(_rows(figures)), tuple(_notes(figures[0], may_lift))))
    return steps, ""


def _steps_left(number: int) -> str:
    return "One higher step is" if number == 1 else f"{number} higher steps are"


def _varied(vehicle: Vehicle) -> list[Vehicle]:
    """The same truck with a stiffer frame, stiffer tyres, stiffer springs."""
    file = vehicle.file
    frame = file.frame.model_copy(
        update={"stiffness_factor": file.frame.stiffness_factor * (1 + _frame_spread(file))}
    )

    def axles(change: Callable[[str], dict[str, object]]) -> dict[str, object]:
        return {"axle": {name: axle.model_copy(update=change(name)) for name, axle in file.axle.items()}}

    def tyres(name: str) -> dict[str, object]:
        entry = file.axle[name].tyre
        stiffness = tyre(entry).stiffness * (1 + TYRE_SPREAD)
        return {"tyre": entry.model_copy(update={"stiffness": stiffness})}

    def springs(rate: float | None, deflection: float | None) -> dict[str, object]:
        if rate is not None:
            return {"spring_rate": rate * (1 + SPRING_SPREAD)}
        return {"spring_deflection": (deflection or RATED_DEFLECTION) / (1 + SPRING_SPREAD)}

    stiff_springs = axles(
        lambda name: springs(file.axle[name].spring_rate, file.axle[name].spring_deflection)
    )
    stiff_springs["bogie"] = {
        name: bogie.model_copy(update=springs(bogie.spring_rate, bogie.spring_deflection))
        for name, bogie in file.bogie.items()
    }
    return [
        assemble(file.model_copy(update=update), vehicle.kinematics.bare)
        for update in ({"frame": frame}, axles(tyres), stiff_springs)
    ]


def _frame_spread(file: VehicleFile) -> float:
    frame = file.frame
    factors = (
        frame.stiffness_factor,
        frame.joint_factor,
        frame.joint_torsion_factor,
        frame.joint_warping_factor,
    )
    return FRAME_SPREAD if all(factor == 1.0 for factor in factors) else MEASURED_FRAME_SPREAD


def _figures(vehicle: Vehicle, posture: Posture, level: Posture) -> dict[str, _Figure]:
    """What can be read off a standing truck; twists against the level truck."""
    shown, flat = describe_posture(vehicle, posture), describe_posture(vehicle, level)
    figures = {
        f"load under {wheel}": _Figure("kN", state["load_N"] / 1e3, f"wheel load {wheel}")
        for wheel, state in shown["wheels"].items()
    }
    k = vehicle.kinematics
    front, last = float(k.axle_stations[0]), float(k.axle_stations[-1])
    for station in (0.5 * last, last):
        row = k.frame_roll(front) - k.frame_roll(station)
        twist = math.degrees(float(row @ (posture.q - level.q)))
        figures[f"twist of the rails, first axle against {station:.2f} m behind"] = _Figure(
            "deg", twist, f"twist front axle to {_position(vehicle, station)}"
        )
    if not k.bare:
        for words, key in (("lean of the body", "body_roll_deg"), ("cab against body", "cab_to_body_deg")):
            figures[words] = _Figure("deg", shown[key] - flat[key])
    for gap, distance in gaps_with_finite_rotations(vehicle, posture).items():
        figures[f"gap: {gap}"] = _Figure("mm", distance * 1e3, f"gap {gap}")
    return figures


def _rows(figures: list[dict[str, _Figure]]) -> list[Row]:
    """Rows of one step, from the figures of the truck and of its varied ones."""
    own, *others = figures
    rows = []
    for what, figure in own.items():
        parts = [INSTRUMENTS[figure.unit], *(other[what].value - figure.value for other in others)]
        if figure.unit == "kN":
            parts.append(MASS_SPREAD * figure.value)
        tolerance = math.hypot(*parts)
        decimals = 0 if figure.unit == "mm" else 1
        predicted = f"{figure.value:.{decimals}f}".replace("-", MINUS)
        if figure.unit == "kN":
            predicted += f" ({figure.value * 1e3 / GRAVITY:.0f} kg)"
        rows.append(Row(what, figure.unit, predicted, f"{tolerance:.{decimals}f}", figure.reading))
    return rows


def _notes(figures: dict[str, _Figure], may_lift: bool) -> list[str]:
    notes = []
    if may_lift:
        notes.append(
            "A wheel may come free below this height if frame, tyres or springs are stiffer. Stop at first lift-off."
        )
    for what, figure in figures.items():
        if figure.unit == "mm" and figure.value < 20:
            notes.append(f"Computed: {what} is down to {figure.value:.0f} mm. Look before going on.")
    return notes


def _readings(test: Pedestal, steps: Sequence[LiftStep]) -> str:
    """A file of readings with everything but the values, raising and then lowering."""
    lines = [",".join(COLUMNS)]
    under = " and ".join(test.under)
    for direction, ordered in (("raising", steps[1:]), ("lowering", steps[-2:0:-1])):
        for step in ordered:
            for row in step.rows:
                if row.reading:
                    spread = f"{0.5 * INSTRUMENTS[row.unit]:g} {row.unit}"
                    lines.append(
                        f"{step.height * 1e3:.0f} mm,{under},{_cell(row.reading)},,{spread},{direction}"
                    )
    return "\n".join(lines)


def _position(vehicle: Vehicle, station: float) -> str:
    """A station as a position of a vehicle file."""
    wheelbase = vehicle.file.wheelbase
    for share, words in ((1.0, "rear axle"), (0.5, "0.5 wheelbase")):
        if math.isclose(station, share * wheelbase):
            return words
    return f"front axle + {station:.3f} m"


def _cell(text: str) -> str:
    quoted = text.replace('"', '""')
    return f'"{quoted}"' if any(c in text for c in ',"') else text


def _mm(height: float) -> str:
    return f"{height * 1e3:.0f} mm"
