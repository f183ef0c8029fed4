"""Outputs that belong to no spring: twist, rail angles and stresses, lean, relative angles, stability."""

from collections.abc import Sequence

import numpy as np

from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.gravity import PointMass
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.rail_stress import stress_rows
from crossaxle.vehicles.structure import Output
from crossaxle.vehicles.suspension import GRAVITY, SIDES

RAIL_ANGLE_STATIONS = 41
STRESS_PLACES = ("flange edge ahead", "web corner ahead", "flange edge behind", "web corner behind")


def add_frame_outputs(equations: Equations, k: Kinematics) -> None:
    """Frame twist between first and last axle and to named stations; for postures also along the rails, and stress."""
    front, rear = float(k.axle_stations[0]), float(k.axle_stations[-1])
    equations.output(Output("frame_twist", "", "rad"), k.frame_roll(front) - k.frame_roll(rear))
    for station in np.linspace(k.frame.start, k.frame.end, RAIL_ANGLE_STATIONS):
        equations.output(
            Output("rail_angle", f"{station:.3f}", "rad", recorded=False), k.frame_roll(float(station))
        )
    for name, position in k.layout.file.station.items():
        turn = k.frame_roll(front) - k.frame_roll(k.layout.station(position))
        equations.output(Output("station_twist", name, "rad"), turn)
    members = k.layout.file.frame.cross_member
    for name, entry in members.items():
        station = k.layout.station(entry.at)
        for side in SIDES:
            for place, row in zip(STRESS_PLACES, stress_rows(k.frame, side, station), strict=True):
                equations.output(
                    Output("rail_stress", f"{name} {side}", "Pa", place=place, recorded=False),
                    k.full(row),
                )


def add_lean_outputs(equations: Equations, k: Kinematics) -> None:
    """Lean of the body against the ground's mean plane, and the angle between cab and body."""
    centre = k.centre("body")
    front = k.layout.references["body front"]
    equations.output(Output("body_roll", "", "rad"), k.roll("body", centre))
    equations.output(
        Output("cab_to_body", "", "rad", recorded=False), k.roll("cab", front) - k.roll("body", front)
    )


def add_stability_outputs(equations: Equations, k: Kinematics, masses: Sequence[PointMass]) -> None:
    """Tip margin: what still presses on the ground on the side that would lift first.

    For each edge over which the vehicle could tip (left and right wheels, last and first axle) the load that remains
    on the wheels beyond it, as a share of their load on level ground by statics: 1 level, 0 about to tip.
    """
    weight = GRAVITY * sum(mass.mass for mass in masses)
    moment = GRAVITY * sum(mass.mass * mass.y for mass in masses)
    arm = GRAVITY * sum(mass.mass * mass.station for mass in masses)
    axles = list(k.layout.file.axle.values())
    half_track = 0.5 * float(np.mean([axle.wheel_track for axle in axles]))
    wheelbase = float(k.axle_stations[-1] - k.axle_stations[0])
    rear = arm / weight / wheelbase
    left = 0.5 + 0.5 * moment / (weight * half_track)
    edges = {
        "left": (slice(0, None, 2), left * weight),
        "right": (slice(1, None, 2), (1 - left) * weight),
        "front": (slice(None, -2), (1 - rear) * weight),
        "rear": (slice(2, None), rear * weight),
    }
    rows, grounds = equations.wheel_load_rows()
    for place, (wheels, level) in edges.items():
        equations.output(
            Output("tip_margin", "", "1", place=place),
            rows[wheels].sum(axis=0) / level,
            ground=grounds[wheels].sum(axis=0) / level,
            hinges={f"lift {name}": -1.0 / level for name in equations.wheel_names[wheels]},
        )
