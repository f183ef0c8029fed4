"""Tyres, leaf springs, stops, anti-roll bars and equalised pairs as springs and hinges.

A leaf spring acts between its axle end and the mean of its two hangers; an equalised pair's spring between
the mean of two axle ends and the frame at the trunnion. Compression is positive. Stops and helper springs
sit at travels from the level position of the laden truck.
"""

from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.file import AxleEntry, BogieEntry
from crossaxle.vehicles.kinematics import Kinematics, Side
from crossaxle.vehicles.structure import Output
from crossaxle.vehicles.tyres import tyre

GRAVITY = 9.80665  # m/s2, standard gravity, ISO 80000-3
RATED_DEFLECTION = 0.11  # m under the permitted axle load (recalled: 0.08 to 0.14 for leaf springs)
SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True)
class Leaf:
    """One leaf spring: name, compression row, and the entry with its rates and travels."""

    name: str
    row: Array
    rate: float
    entry: AxleEntry | BogieEntry


def sign(side: Side) -> int:
    """+1 on the left, -1 on the right."""
    return 1 if side == "left" else -1


def wheel_names(k: Kinematics) -> list[str]:
    """Names of the wheels, axle by axle, left before right."""
    axles = (
        ["front", "rear"]
        if len(k.axle_stations) == 2
        else [f"axle {i + 1}" for i in range(len(k.axle_stations))]
    )
    return [f"{axle} {side}" for axle in axles for side in SIDES]


def leaves(k: Kinematics) -> list[Leaf]:
    """All leaf springs of the truck."""
    file, layout = k.layout.file, k.layout
    found = []
    for name, axle in file.axle.items():
        if axle.bogie is not None:
            continue
        assert axle.spring_track is not None
        at, half = layout.station(axle.at), 0.5 * axle.spring_length
        sprung = axle.permitted_load - axle.mass
        for side in SIDES:
            y = 0.5 * sign(side) * axle.spring_track
            hangers = 0.5 * (k.rail(side, at - half, y) + k.rail(side, at + half, y))
            row = k.height(f"axle {name}", at, y) - hangers
            found.append(Leaf(f"{name} {side}", row, _rate(axle, sprung), axle))
    for name, bogie in file.bogie.items():
        members = [axle for axle in file.axle if file.axle[axle].bogie == name]
        sprung = sum(file.axle[axle].permitted_load - file.axle[axle].mass for axle in members)
        for side in SIDES:
            y = 0.5 * sign(side) * bogie.spring_track
            ends = [k.height(f"axle {axle}", 0.0, y) for axle in members]
            row = 0.5 * (ends[0] + ends[1]) - k.rail(side, layout.station(bogie.trunnion), y)
            found.append(Leaf(f"bogie {name} {side}", row, _rate(bogie, sprung), bogie))
    return found


def _rate(entry: AxleEntry | BogieEntry, sprung: float) -> float:
    if entry.spring_rate is not None:
        return entry.spring_rate
    return 0.5 * sprung * GRAVITY / (entry.spring_deflection or RATED_DEFLECTION)


def add_suspension(equations: Equations, k: Kinematics) -> None:
    """Add tyres (with the wheel loads as first outputs), springs, stops and anti-roll bars."""
    _add_tyres(equations, k)
    for leaf in leaves(k):
        entry = leaf.entry
        helper = entry.helper_rate if isinstance(entry, AxleEntry) else 0.0
        helper_works_level = helper > 0 and isinstance(entry, AxleEntry) and entry.helper_from < 0
        equations.spring(leaf.row, leaf.rate + (helper if helper_works_level else 0.0))
        kinks = [
            ("bump stop", leaf.row, entry.bump_travel, entry.bump_rate),
            ("rebound stop", -leaf.row, entry.rebound_travel, entry.rebound_rate),
        ]
        if helper > 0 and isinstance(entry, AxleEntry):
            way = -1 if helper_works_level else 1
            kinks.insert(0, ("helper", way * leaf.row, way * entry.helper_from, way * helper))
        for what, row, travel, stiffness in kinks:
            equations.hinge(f"{what} {leaf.name}", row, -travel, stiffness, from_level=True)
    file, layout = k.layout.file, k.layout
    for name, axle in file.axle.items():
        if axle.anti_roll > 0:
            at = layout.station(axle.at)
            equations.spring(k.roll(f"axle {name}", at) - k.frame_roll(at), axle.anti_roll)
    for name, bogie in file.bogie.items():
        front, rear = [axle for axle in file.axle if file.axle[axle].bogie == name]
        for side in SIDES:
            y = 0.5 * sign(side) * bogie.spring_track
            tilt = k.height(f"axle {front}", 0.0, y) - k.height(f"axle {rear}", 0.0, y)
            equations.spring(tilt, bogie.leaf_rate)
            for way, word in ((1, "front up"), (-1, "rear up")):
                equations.hinge(
                    f"articulation stop {name} {side} {word}",
                    way * tilt,
                    -bogie.articulation_travel,
                    bogie.articulation_rate,
                )


def _add_tyres(equations: Equations, k: Kinematics) -> None:
    for wheel, name in enumerate(wheel_names(k)):
        axle = list(k.layout.file.axle)[wheel // 2]
        entry = k.layout.file.axle[axle]
        y = 0.5 * entry.wheel_track * sign(SIDES[wheel % 2])
        rate = tyre(entry.tyre).stiffness
        row = -k.height(f"axle {axle}", 0.0, y)
        ground = np.zeros(equations.n_wheels)
        ground[wheel] = 1.0
        equations.wheel_spring(wheel, row, rate)
        equations.hinge(f"lift {name}", -row, 0.0, -rate, ground=-ground)
        equations.output(
            Output("wheel_load", name, "N"), rate * row, ground=rate * ground, hinges={f"lift {name}": -1.0}
        )
