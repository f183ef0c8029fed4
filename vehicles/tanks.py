"""Tanks on cantilever brackets.

A bracket stands out from the rail's web and carries the tank at an inner and an outer point, d1 and d2 from
the web. Its flexibility at the two points is that of a cantilever (d_i^2 (3 d_j - d_i) / 6 EI, i nearer the root) plus
that of its root (d_i d_j / k_root) and of the pads. The rail's own twist and slope move the root, so
that two brackets at different stations twist the tank.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from crossaxle.arrays import Array
from crossaxle.vehicles.equations import Equations
from crossaxle.vehicles.file import BracketEntry, VehicleFile
from crossaxle.vehicles.kinematics import Kinematics
from crossaxle.vehicles.structure import Output
from crossaxle.vehicles.suspension import sign


@lru_cache(maxsize=256)
def bracket_stiffness(entry: BracketEntry, youngs_modulus: float) -> Array:
    """Stiffness at the inner and outer carrying points, shape (2, 2) [N/m].

    Source: elastic line of a cantilever, any strength-of-materials text.
    """
    d = np.array([entry.inner, entry.outer])
    ei = youngs_modulus * entry.second_moment
    near, far = np.minimum.outer(d, d), np.maximum.outer(d, d)
    flexibility = near**2 * (3 * far - near) / (6 * ei) + np.outer(d, d) / entry.root_stiffness
    flexibility += np.eye(2) / entry.pad_stiffness
    stiffness = np.asarray(np.linalg.inv(flexibility))
    stiffness.setflags(write=False)
    return stiffness


def bracket_names(tank: str, count: int) -> list[str]:
    """Names of a tank's brackets, front to rear."""
    words = {2: ["front", "rear"], 3: ["front", "middle", "rear"]}
    return [f"{tank} {word}" for word in words.get(count, [str(i + 1) for i in range(count)])]


def detail_categories(file: VehicleFile) -> dict[str, float]:
    """Detail category [Pa] of every bracket that has one, by its name."""
    return {
        bracket: tank.bracket.detail_category
        for name, tank in file.tank.items()
        if tank.bracket.detail_category is not None
        for bracket in bracket_names(name, tank.count)
    }


@dataclass(frozen=True)
class Bracket:
    """One bracket; its strap forces are straps q + pulls, tension positive.

    Attributes
    ----------
    name, tank : str
    straps : (2, n)
    pulls : (2,)
        At the inner and the outer carrying point.
    tilt : (n,)
        Height of the outer carrying point over the inner one.
    """

    name: str
    tank: str
    straps: Array
    pulls: Array
    tilt: Array


def add_tanks(equations: Equations, k: Kinematics, sagged: Array) -> list[Bracket]:
    """Add brackets and twist of every tank (``sagged`` as in `crossaxle.vehicles.mounts`); return the brackets."""
    file = k.layout.file
    brackets = []
    for name, tank in file.tank.items():
        part, pad = f"tank {name}", tank.bracket.pad_stiffness
        stations = k.layout.bracket_stations(name)
        stiffness = bracket_stiffness(tank.bracket, file.frame.youngs_modulus)
        rates, shapes = np.linalg.eigh(stiffness)
        reach = [k.rail_y(tank.side) + sign(tank.side) * d for d in (tank.bracket.inner, tank.bracket.outer)]
        for bracket, station in zip(bracket_names(name, tank.count), stations, strict=True):
            bottom = np.array([k.height(part, station, y) for y in reach])
            lift = bottom - np.array([k.rail(tank.side, station, y) for y in reach])
            offset = -lift @ sagged
            for rate, shape in zip(rates, shapes.T, strict=True):
                equations.spring(shape @ lift, float(rate), float(shape @ offset))
            straps = stiffness @ lift
            # The carrying points themselves stand lower than the tank's bottom by what the pads have stretched.
            carrying = bottom - straps / pad
            brackets.append(Bracket(bracket, name, straps, stiffness @ offset, carrying[1] - carrying[0]))
        equations.spring(k.unit(part, 3), tank.torsional_stiffness)
    return brackets


def add_tank_outputs(equations: Equations, k: Kinematics, brackets: list[Bracket]) -> None:
    """Add strap forces, root stresses, level differences (from those of the level laden truck) and tank torques.

    The root stress is nominal bending stress times the hot-spot factor: structural stress where that is above 1.
    """
    for bracket in brackets:
        entry = k.layout.file.tank[bracket.tank].bracket
        for row, pull, place in zip(bracket.straps, bracket.pulls, ("inner", "outer"), strict=True):
            equations.output(Output("strap_force", bracket.name, "N", place), row, constant=float(pull))
        per_force = -np.array([entry.inner, entry.outer]) * entry.hot_spot_factor / entry.section_modulus
        equations.output(
            Output("bracket_stress", bracket.name, "Pa"),
            per_force @ bracket.straps,
            constant=float(per_force @ bracket.pulls),
        )
    for name, tank in k.layout.file.tank.items():
        own = [bracket for bracket in brackets if bracket.tank == name]
        difference = own[0].tilt - own[-1].tilt
        equations.output(Output("tank_level_difference", name, "m"), difference, from_level=difference)
        twist = k.unit(f"tank {name}", 3)
        equations.output(Output("tank_torque", name, "N m"), tank.torsional_stiffness * twist)
