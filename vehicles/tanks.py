"""Tanks on cantilever brackets.

A bracket stands out from the rail's web and carries the tank at an inner and an outer point, d1 and d2 from
the web. Its flexibility at the two points is that of a cantilever (d_i^2 (3 d_j - d_i) / 6 EI, i nearer the root) plus
that of its root (d_i d_j / k_root) and of the pads. The rail's own twist and slope move the root, so
that two brackets at different stations wring the tank.
"""

import numpy as np
from numpy.typing import NDArray

from vehicles.equations import Equations
from vehicles.file import BracketEntry
from vehicles.kinematics import Kinematics
from vehicles.structure import Output
from vehicles.suspension import sign

Array = NDArray[np.float64]


def bracket_stiffness(entry: BracketEntry, youngs_modulus: float) -> Array:
    """Stiffness at the inner and outer carrying points, shape (2, 2) [N/m].

    Source: elastic line of a cantilever, any strength-of-materials text.
    """
    d = np.array([entry.inner, entry.outer])
    ei = youngs_modulus * entry.second_moment
    near, far = np.minimum.outer(d, d), np.maximum.outer(d, d)
    flexibility = near**2 * (3 * far - near) / (6 * ei) + np.outer(d, d) / entry.root_stiffness
    flexibility += np.eye(2) / entry.pad_stiffness
    return np.asarray(np.linalg.inv(flexibility))


def bracket_names(tank: str, count: int) -> list[str]:
    """Names of a tank's brackets, front to rear."""
    words = {2: ["front", "rear"], 3: ["front", "middle", "rear"]}
    return [f"{tank} {word}" for word in words.get(count, [str(i + 1) for i in range(count)])]


def add_tanks(equations: Equations, k: Kinematics, sagged: Array, level: Array | None) -> None:
    """Add brackets, tank twist and the outputs of every tank.

    Parameters
    ----------
    equations : Equations
    k : Kinematics
    sagged : (n,)
        As in `vehicles.mounts`.
    level : (n,) or None
        Displacements with the laden truck level, from which level differences count.
    """
    file = k.layout.file
    for name, tank in file.tank.items():
        part = f"tank {name}"
        stations = k.layout.bracket_stations(name)
        stiffness = bracket_stiffness(tank.bracket, file.frame.youngs_modulus)
        rates, shapes = np.linalg.eigh(stiffness)
        distances = (tank.bracket.inner, tank.bracket.outer)
        outward = sign(tank.side)
        supports = []
        for bracket, station in zip(bracket_names(name, tank.count), stations, strict=True):
            lifts = []
            for d in distances:
                y = k.rail_y(tank.side) + outward * d
                lifts.append(k.height(part, station, y) - k.rail(tank.side, station, y))
            lift = np.array(lifts)
            offset = -lift @ sagged
            for rate, shape in zip(rates, shapes.T, strict=True):
                equations.spring(shape @ lift, float(rate), float(shape @ offset))
            straps, pulls = stiffness @ lift, stiffness @ offset
            for row, constant, point in zip(straps, pulls, ("inner", "outer"), strict=True):
                equations.output(
                    Output("strap_force", bracket, "N", place=point), row, constant=float(constant)
                )
            moment = -np.array(distances)
            factor = tank.bracket.hot_spot_factor / tank.bracket.section_modulus
            equations.output(
                Output("bracket_stress", bracket, "Pa"),
                factor * (moment @ straps),
                constant=float(factor * (moment @ pulls)),
            )
            # Level of the carrying points themselves: the tank's bottom less the pad's give.
            give = straps / tank.bracket.pad_stiffness
            top = np.array([k.height(part, station, k.rail_y(tank.side) + outward * d) for d in distances])
            supports.append((top[1] - give[1]) - (top[0] - give[0]))
        equations.spring(k.unit(part, 3), tank.torsional_stiffness)
        difference = supports[0] - supports[-1]
        start = 0.0 if level is None else float(difference @ level)
        equations.output(Output("tank_level_difference", name, "m"), difference, constant=-start)
        equations.output(Output("tank_torque", name, "N m"), tank.torsional_stiffness * k.unit(part, 3))
