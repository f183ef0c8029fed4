"""Thin-walled open sections: sectorial integration over straight walls.

A section is a tree of straight walls between points (y, z), z up. Area, second moments, shear centre,
warping constant and torsion constant follow from linear sectorial coordinates along each wall (Vlasov,
Thin-walled elastic beams, 2nd ed. 1961, ch. I). Bends are divided into short straight walls. Two parts that
are joined, such as a channel nested in another, are connected by a link: a wall of no thickness, which
carries the sectorial coordinate across and adds nothing else.
"""

import math
from dataclasses import dataclass

import numpy as np

from crossaxle.arrays import Array, Integers

Point = tuple[float, float]

BEND_DIVISIONS = 12
"""Straight walls per right-angled bend; the arc length is then right to 0.1 %."""

FREE_END = 0.105
"""Torsion constant lost at a free wall end over t^4: half of the 0.63 t/b in J = b t^3/3 (1 - 0.63 t/b)."""


@dataclass(frozen=True)
class ThinWall:
    """Properties of an open thin-walled section.

    Attributes
    ----------
    area : float
        [m2]
    second_moment_y, second_moment_z : float
        About horizontal and vertical axes through the centroid [m4].
    shear_centre : tuple of float
        (y, z) in the coordinates of the points [m].
    torsion_constant, warping_constant : float
        J [m4], Cw [m6].
    sectorial_coordinate : float
        Largest absolute normalised sectorial coordinate [m2].
    opposite_sectorial_coordinate : float
        Largest of those by which warping stress opposes bending stress where the largest one adds to it [m2].
    shear_area_z : float
        Area of the walls weighted by the square of their steepness [m2].
    reach_z : float
        Largest vertical distance of a wall's surface from the centroid [m].
    """

    area: float
    second_moment_y: float
    second_moment_z: float
    shear_centre: Point
    torsion_constant: float
    warping_constant: float
    sectorial_coordinate: float
    opposite_sectorial_coordinate: float
    shear_area_z: float
    reach_z: float


def bend(corner: Point, before: Point, after: Point, radius: float) -> list[Point]:
    """Points of a right-angled bend.

    Parameters
    ----------
    corner : tuple of float
        Where the two straight mid-lines would meet [m].
    before, after : tuple of float
        Unit vectors from the corner towards the previous and the next wall.
    radius : float
        Of the mid-line [m]; 0 gives the sharp corner.

    Returns
    -------
    list of (y, z)
    """
    if radius == 0.0:
        return [corner]
    centre = (corner[0] + radius * (before[0] + after[0]), corner[1] + radius * (before[1] + after[1]))
    angles = np.linspace(0.0, math.pi / 2.0, BEND_DIVISIONS + 1)
    return [
        (
            centre[0] - radius * (after[0] * math.cos(a) + before[0] * math.sin(a)),
            centre[1] - radius * (after[1] * math.cos(a) + before[1] * math.sin(a)),
        )
        for a in angles
    ]


def strip(points: list[Point], thickness: float) -> tuple[list[Point], list[tuple[int, int, float]]]:
    """Points and walls of one folded strip of constant thickness [m]."""
    return points, [(i, i + 1, thickness) for i in range(len(points) - 1)]


def open_section(points: list[Point], walls: list[tuple[int, int, float]]) -> ThinWall:
    """Integrate an open section.

    Parameters
    ----------
    points : list of (y, z)
        Mid-line points [m].
    walls : list of (int, int, float)
        Start point, end point, thickness [m]; 0 for a link. The walls must form a tree.

    Returns
    -------
    ThinWall

    Raises
    ------
    ValueError
        If the walls do not form one tree (a closed cell, or parts that nothing connects).
    """
    yz = np.array(points, dtype=np.float64)
    start = np.array([wall[0] for wall in walls])
    end = np.array([wall[1] for wall in walls])
    t = np.array([wall[2] for wall in walls], dtype=np.float64)
    if len(walls) != len(points) - 1:
        raise ValueError(
            f"{len(walls)} walls between {len(points)} points; an open section has one wall fewer"
        )
    step = yz[end] - yz[start]
    length = np.hypot(step[:, 0], step[:, 1])
    weight = t * length

    area = float(weight.sum())
    yz = yz - (weight @ (yz[start] + yz[end])) / (2.0 * area)
    centroid = np.array(points[0]) - yz[0]

    def product(f: Array, g: Array) -> float:
        """Integral of f g over the area, both linear along each wall."""
        f1, f2, g1, g2 = f[start], f[end], g[start], g[end]
        return float(weight @ (2 * f1 * g1 + f1 * g2 + f2 * g1 + 2 * f2 * g2) / 6.0)

    y, z = yz[:, 0], yz[:, 1]
    # What a wall adds across its own thickness counts for flat flanges and thick plates.
    across = weight * t**2 / 12.0
    direction = step / np.where(length > 0.0, length, 1.0)[:, None]
    Iy, Iz, Iyz = product(z, z), product(y, y), product(y, z)
    omega = _sectorial(yz, start, end, np.zeros(2))
    Iyw, Izw = product(omega, z), product(omega, y)
    determinant = Iy * Iz - Iyz**2
    if determinant > 1e-12 * Iy * Iz:
        pole = np.array([Iz * Iyw - Iyz * Izw, Iyz * Iyw - Iy * Izw]) / determinant
    else:
        # A single straight strip: its mid-line has no sectorial coordinate about its centroid.
        pole = np.zeros(2)
    omega = _sectorial(yz, start, end, pole)
    omega = omega - weight @ (omega[start] + omega[end]) / (2.0 * area)

    real = t > 0.0
    ends = np.bincount(np.concatenate([start[real], end[real]]), minlength=len(points))
    free = ends == 1
    J = float(length @ t**3) / 3.0 - FREE_END * float((free[start] * t**4 + free[end] * t**4).sum())
    half = np.abs(direction[:, 0]) * t / 2.0
    return ThinWall(
        area=area,
        second_moment_y=Iy + float(across @ direction[:, 0] ** 2),
        second_moment_z=Iz + float(across @ direction[:, 1] ** 2),
        shear_centre=(float(centroid[0] + pole[0]), float(centroid[1] + pole[1])),
        torsion_constant=J,
        warping_constant=product(omega, omega),
        sectorial_coordinate=float(np.abs(omega).max()),
        opposite_sectorial_coordinate=float(min((z * omega).max(), (-z * omega).max()) / np.abs(z).max()),
        shear_area_z=float(weight @ direction[:, 1] ** 2),
        reach_z=float(np.maximum(np.abs(z[start]) + half, np.abs(z[end]) + half)[real].max()),
    )


def _sectorial(yz: Array, start: Integers, end: Integers, pole: Array) -> Array:
    """Sectorial coordinate of every point about a pole, zero at the first point; shape (n_points,) [m2]."""
    relative = yz - pole
    omega = np.full(len(yz), np.nan)
    omega[0] = 0.0
    waiting = list(zip(start.tolist(), end.tolist(), strict=True))
    while waiting:
        left = []
        for i, j in waiting:
            swept = relative[i, 0] * relative[j, 1] - relative[i, 1] * relative[j, 0]
            if not np.isnan(omega[i]):
                omega[j] = omega[i] + swept
            elif not np.isnan(omega[j]):
                omega[i] = omega[j] - swept
            else:
                left.append((i, j))
        if len(left) == len(waiting):
            raise ValueError(
                f"{len(left)} walls hang on nothing; every part must be connected by a wall or a link"
            )
        waiting = left
    return omega
