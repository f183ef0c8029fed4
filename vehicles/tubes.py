"""Tubes and flat bars: closed or solid sections, which do not warp.

Frame: the section stands upright, z up. Tubes use Bredt's formula in torsion.
"""

import math

from crossaxle.vehicles.sections import Section, require_not_negative, require_positive, require_room
from crossaxle.vehicles.thin_wall import bend, open_section, strip


def rectangular_tube(height: float, width: float, thickness: float, *, corner_radius: float = 0.0) -> Section:
    """Rectangular tube; torsion by Bredt's formula plus the wall's own.

    Parameters
    ----------
    height, width, thickness : float
        Outer dimensions and wall [m].
    corner_radius : float
        Outer radius of the corners [m]; 0 for sharp ones.

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the walls leave no hollow or the corners no flat.
    """
    require_positive("rectangular_tube", height=height, width=width, thickness=thickness)
    require_not_negative("rectangular_tube", corner_radius=corner_radius)
    for name, value in (("height", height), ("width", width)):
        taken = 2.0 * max(thickness, corner_radius)
        require_room("rectangular_tube", name, value, taken, "two walls or corners")
    t, y, z = thickness, (width - thickness) / 2.0, (height - thickness) / 2.0
    r = max(corner_radius - t / 2.0, 0.0)
    ring = bend((y, z), (0.0, -1.0), (-1.0, 0.0), r)
    ring += bend((-y, z), (1.0, 0.0), (0.0, -1.0), r)
    ring += bend((-y, -z), (0.0, 1.0), (1.0, 0.0), r)
    ring += bend((y, -z), (-1.0, 0.0), (0.0, 1.0), r)
    # Slit at a point: the integrals that the slit does not touch are those of the tube.
    wall = open_section(*strip([*ring, ring[0]], t))
    enclosed = 4.0 * y * z - (4.0 - math.pi) * r**2
    around = wall.area / t
    # R. Bredt, Z. VDI 40 (1896): J = 4 A^2 / (integral ds/t).
    J = 4.0 * enclosed**2 * t / around + around * t**3 / 3.0
    return Section(
        area=wall.area,
        second_moment_y=wall.second_moment_y,
        second_moment_z=wall.second_moment_z,
        torsion_constant=J,
        section_modulus_y=wall.second_moment_y * 2.0 / height,
        shear_area_z=wall.shear_area_z,
        reach=width / 2.0,
    )


def round_tube(diameter: float, thickness: float) -> Section:
    """Round tube.

    Parameters
    ----------
    diameter, thickness : float
        Outer diameter and wall [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the wall leaves no hollow.
    """
    require_positive("round_tube", diameter=diameter, thickness=thickness)
    require_room("round_tube", "diameter", diameter, 2.0 * thickness, "two walls")
    inner = diameter - 2.0 * thickness
    area = math.pi / 4.0 * (diameter**2 - inner**2)
    second = math.pi / 64.0 * (diameter**4 - inner**4)
    return Section(
        area=area,
        second_moment_y=second,
        second_moment_z=second,
        torsion_constant=2.0 * second,
        section_modulus_y=second * 2.0 / diameter,
        shear_area_z=area / 2.0,
        reach=diameter / 2.0,
    )


def flat(height: float, width: float) -> Section:
    """Solid flat bar, upright or lying.

    Parameters
    ----------
    height, width : float
        One at least twice the other: torsion J = b t^3/3 (1 - 0.63 t/b) holds for flat bars only [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If a dimension is not above 0, or the bar is not flat.
    """
    require_positive("flat", height=height, width=width)
    b, t = max(height, width), min(height, width)
    if b < 2.0 * t:
        raise ValueError(
            f"flat: {b:g} m by {t:g} m is no flat bar; the longer side must be twice the shorter"
        )
    Iy = width * height**3 / 12.0
    return Section(
        area=height * width,
        second_moment_y=Iy,
        second_moment_z=height * width**3 / 12.0,
        torsion_constant=b * t**3 / 3.0 * (1.0 - 0.63 * t / b),
        section_modulus_y=Iy * 2.0 / height,
        shear_area_z=height * width * 5.0 / 6.0,
        reach=width / 2.0,
    )
