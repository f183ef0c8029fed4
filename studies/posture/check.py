"""What `crossaxle check` says of a vehicle or a study, as data and as text: loads, stiffness, gaps, cost."""

import math
import os
from dataclasses import asdict
from typing import Any

from crossaxle.sim.ground_plane import GRAVITY
from crossaxle.sim.posture import level_posture
from crossaxle.sim.reduced import reduce
from crossaxle.studies.base.cautions import TIP_SLOPE, caution_lines
from crossaxle.studies.inputs.reader import Document
from crossaxle.studies.posture.mount_loads import mount_loads
from crossaxle.studies.posture.slopes import tip_angles
from crossaxle.studies.run.estimate import estimate
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.limit_items import check_limit_items
from crossaxle.studies.study.study import Study
from crossaxle.studies.study.study_file import Thresholds
from crossaxle.vehicles.assemble import Vehicle
from crossaxle.vehicles.frame import torsional_stiffness


def describe_vehicle(vehicle: Vehicle, slopes: bool = False) -> dict[str, Any]:
    """Describe a vehicle standing level; plain numbers and texts, units in the keys.

    Parameters
    ----------
    vehicle : Vehicle
    slopes : bool
        Whether to work out the slopes on which it tips, which takes longer than all the rest.

    Raises
    ------
    ValueError
        If the vehicle does not stand.
    """
    level = level_posture(reduce(vehicle.structure))
    if level.code:
        raise ValueError("the vehicle does not stand on level ground")
    wheels: dict[str, float] = {}
    gaps: dict[str, float] = {}
    for output, value in zip(vehicle.structure.outputs, level.y.tolist(), strict=True):
        if output.quantity == "wheel_load":
            wheels[output.item] = value
        elif output.quantity == "gap":
            gaps[output.item] = min(value, gaps.get(output.item, math.inf))
    stations = vehicle.structure.wheel_station
    stiffness = torsional_stiffness(vehicle.kinematics.frame, float(stations[0]), float(stations[-1]))
    loads = list(wheels.values())
    axles = {
        name: {
            "load_kg": (loads[2 * i] + loads[2 * i + 1]) / GRAVITY,
            "permitted_kg": axle.permitted_load,
        }
        for i, (name, axle) in enumerate(vehicle.file.axle.items())
    }
    return {
        "vehicle": vehicle.file.name,
        "mount": vehicle.file.mount,
        "wheelbase_m": vehicle.file.wheelbase,
        "mass_kg": vehicle.mass,
        "wheels": wheels,
        "axles": axles,
        "frame_torsional_stiffness_Nm_per_deg": stiffness * math.radians(1.0),
        "gaps": gaps,
        **({"tip_angles_deg": _degrees(tip_angles(vehicle))} if slopes else {}),
        "mount_loads": [asdict(row) for row in mount_loads(vehicle)] if not vehicle.kinematics.bare else [],
        "assumptions": list(vehicle.assumptions),
        "warnings": list(vehicle.warnings),
    }


def _degrees(angles: dict[str, float | None]) -> dict[str, float | None]:
    return {name: None if angle is None else math.degrees(angle) for name, angle in angles.items()}


def vehicle_text(found: dict[str, Any]) -> str:
    """Write what `describe_vehicle` found as text, in the trade's units."""
    lines = [
        f"{found['vehicle']}: {found['mount']} mount, wheelbase {found['wheelbase_m']:.2f} m, "
        f"{found['mass_kg']:,.0f} kg",
        "",
        "Axle loads, level",
        *(
            f"  {name:<28}{axle['load_kg']:>9,.0f} kg of {axle['permitted_kg']:,.0f} kg permitted"
            for name, axle in found["axles"].items()
        ),
        "",
        "Wheel loads, level",
        *(f"  {name:<28}{load / 1e3:>9.1f} kN" for name, load in found["wheels"].items()),
        "",
        "Bare frame between the first and the last axle",
        f"  {'torsional stiffness':<28}{found['frame_torsional_stiffness_Nm_per_deg'] / 1e3:>9.2f} kN m/deg",
    ]
    if found["gaps"]:
        lines += [
            "",
            "Gaps, level",
            *(f"  {name:<40}{gap * 1e3:>7.0f} mm" for name, gap in found["gaps"].items()),
        ]
    if found.get("tip_angles_deg"):
        limit = math.degrees(Thresholds().range_slope)
        lines += [
            "",
            f"Slope on which it tips, standing (beyond {limit:.0f} deg an estimate: small angles end there)",
            *(f"  {line}" for line in caution_lines(TIP_SLOPE)),
            *(
                f"  {name:<28}{'over 60' if angle is None else f'{angle:.1f}':>9} deg"
                for name, angle in found["tip_angles_deg"].items()
            ),
        ]
    if found["mount_loads"]:
        lines += ["", *_mount_load_lines(found["mount_loads"])]
    for heading, key in (
        ("Assumed, because the file leaves it open", "assumptions"),
        ("Warnings", "warnings"),
    ):
        if found.get(key):
            lines += ["", heading, *(f"  - {text}" for text in found[key])]
    return "\n".join(lines)


def _mount_load_lines(rows: list[dict[str, Any]]) -> list[str]:
    """Mount load table: a line per mount point, a column per load case; side and fore-aft per station."""
    cases = list(dict.fromkeys(row["case"] for row in rows))
    points = list(dict.fromkeys(row["point"] for row in rows))
    at = {(row["case"], row["point"]): row for row in rows}
    tipping = {row["case"]: row["tips_at"] for row in rows}
    keys = ("vertical", "upright", "side", "fore_aft")
    lines = [
        "Mount loads for hand calculation, kN: vertical (frame presses the body up), in brackets with the truck held",
        "upright (rails held level at the axles) / side (left) / fore-aft (forward). Side and fore-aft are per mount",
        "station, both rails together; the factors are the file's load cases. Wheels are held down, so that the truck",
        "leans but cannot tip.",
        *(
            f"  {case}: a free truck tips at {100 * share:.0f} % of this case, earlier with lateral give"
            for case, share in tipping.items()
            if share is not None
        ),
        f"  {'':<16}" + "".join(f"{case:>32}" for case in cases),
    ]
    for point in points:
        cells = [
            "{vertical} ({upright}) / {side} / {fore_aft}".format(
                **{key: f"{at[case, point][key] / 1e3 + 0.0:.1f}" for key in keys}
            )
            for case in cases
        ]
        lines.append(f"  {point:<16}" + "".join(f"{cell:>32}" for cell in cells))
    return lines


def is_study(source: Document) -> bool:
    """Whether a document is meant as a study: it names courses or samples, which no vehicle has."""
    return bool({"courses", "samples", "sweep"} & source.table.keys())


def check_study(study: Study) -> dict[str, Any]:
    """Build every candidate of a study and describe it, lay the first ground; raise InputError if anything is wrong."""
    experiment = Experiment(study)
    check_limit_items(experiment)
    cost = estimate(experiment, os.cpu_count() or 1)
    if not cost.absurd:
        for course in experiment.courses:
            experiment.ground(course, 0)
    candidates = [
        {"choices": dict(one.overrides), **describe_vehicle(made.vehicle)}
        for one, made in zip(study.candidates, experiment.candidates, strict=True)
    ]
    return {
        "study": study.file.title,
        "courses": [course.name for course in experiment.courses],
        "samples": study.file.samples,
        "distance_km": cost.distance / 1e3,
        "positions": cost.positions,
        "time_s": cost.time,
        "memory_MB": cost.memory / 1e6,
        "candidates": candidates,
        "warnings": list(dict.fromkeys(text for one in candidates for text in one["warnings"])),
    }


def study_text(found: dict[str, Any]) -> str:
    """Write what `check_study` found as text."""
    lines = [
        f"{found['study']}: {len(found['candidates'])} candidates on {', '.join(found['courses'])}",
        f"{found['samples']} samples, {found['distance_km']:,.0f} km each, "
        f"about {max(1.0, found['time_s']):,.0f} s on this machine",
        "",
    ]
    for one in found["candidates"]:
        name = ", ".join(f"{key} {value}" for key, value in one["choices"].items()) or one["vehicle"]
        loads = ", ".join(f"{axle} {load['load_kg']:,.0f} kg" for axle, load in one["axles"].items())
        lines.append(
            f"  {name}: {loads}; frame {one['frame_torsional_stiffness_Nm_per_deg'] / 1e3:.2f} kN m/deg"
        )
    if found["warnings"]:
        lines += ["", "Warnings", *(f"  - {text}" for text in found["warnings"])]
    return "\n".join(lines)
