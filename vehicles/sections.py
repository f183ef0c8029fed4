"""Cross sections of rails and cross-members: the numbers that bending and torsion need.

Frame: the section stands upright, z up; a rail's y runs from the web's mid-plane towards its flanges. Open sections are
integrated along their mid-lines (vehicles.thin_wall); closed ones use Bredt's formula. A rail of unsymmetric section is
taken as held straight sideways by the cross-members, so the second moment about the horizontal axis counts.
"""

import math
from dataclasses import dataclass

from vehicles.thin_wall import Point, ThinWall, bend, open_section, strip


@dataclass(frozen=True)
class Section:
    """Properties of a section; also the constructor for values from a table.

    Attributes
    ----------
    area : float
        [m2]
    second_moment_y : float
        About the horizontal axis, vertical bending [m4].
    second_moment_z : float
        About the vertical axis [m4].
    torsion_constant : float
        Saint-Venant J [m4].
    warping_constant : float
        Cw [m6]; 0 for closed sections.
    shear_centre : float
        Distance from the web's mid-plane to the shear centre, positive away from the flanges [m]; 0 if symmetric.
    flange_height : float
        Between the mid-lines of upper and lower flange, which carry warping into a joint [m]; 0 for closed sections.
    section_modulus_y : float
        Second moment over the distance of the farthest fibre [m3].
    sectorial_coordinate : float
        Largest absolute normalised sectorial coordinate [m2]; warping stress is bimoment times this over Cw.
    shear_area_z : float
        Effective area in vertical shear [m2]; math.inf leaves shear flexibility out.
    reach : float
        From the web's mid-plane to the face where a cross-member begins [m]: half the web, or half a tube.

    Raises
    ------
    ValueError
        If a property that must be positive is not, or one that cannot be negative is.
    """

    area: float
    second_moment_y: float
    second_moment_z: float
    torsion_constant: float
    warping_constant: float
    shear_centre: float
    flange_height: float
    section_modulus_y: float
    sectorial_coordinate: float
    shear_area_z: float
    reach: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no section can have."""
        for name in (
            "area", "second_moment_y", "second_moment_z", "torsion_constant", "section_modulus_y", "shear_area_z",
        ):  # fmt: skip
            if not getattr(self, name) > 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be above 0")
        for name in ("warping_constant", "flange_height", "sectorial_coordinate", "reach"):
            if not getattr(self, name) >= 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be 0 or more")
        if not math.isfinite(self.shear_centre):
            raise ValueError(f"section: shear_centre is {self.shear_centre:g}; it must be a finite distance")


def channel(
    height: float,
    width: float,
    thickness: float,
    *,
    flange_thickness: float | None = None,
    bend_radius: float = 0.0,
    root_radius: float = 0.0,
) -> Section:
    """Channel, pressed from one sheet or rolled.

    Parameters
    ----------
    height, width : float
        Over all; the width is that of a flange including the web [m].
    thickness : float
        Of the sheet, or of a rolled channel's web [m].
    flange_thickness : float, optional
        Of a rolled channel's flanges [m]; without it the channel is pressed.
    bend_radius : float
        Inner radius of a pressed channel's bends [m].
    root_radius : float
        Of a rolled channel's fillets [m]; they stiffen it in torsion.

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the dimensions leave no web or no flange.
    """
    _positive("channel", height=height, width=width, thickness=thickness)
    if flange_thickness is None:
        return _from_wall(open_section(*strip(_pressed(height, width, thickness, bend_radius), thickness)),
                          flange_height=height - thickness, reach=thickness / 2.0)  # fmt: skip
    _positive("channel", flange_thickness=flange_thickness)
    if bend_radius != 0.0:
        raise ValueError("channel: bend_radius belongs to a pressed channel; a rolled one has a root_radius")
    tw, tf = thickness, flange_thickness
    _room("channel", "height", height, 2.0 * (tf + root_radius), "two flanges and their fillets")
    _room("channel", "width", width, tw + root_radius, "the web and its fillet")
    B, H = width - tw / 2.0, height - tf
    points = [(B, H / 2), (0.0, H / 2), (0.0, -H / 2), (B, -H / 2)]
    wall = open_section(points, [(0, 1, tf), (1, 2, tw), (2, 3, tf)])
    # Junctions of web and flange: D. Johnston and I. El Darwish, J. Struct. Div. ASCE 91 (1965), in the form of the
    # European section tables (recalled).
    a, r = tw / tf, root_radius / tf
    alpha = -0.0908 + 0.2621 * a + 0.1231 * r - 0.0752 * a * r - 0.0945 * a**2
    D = 2.0 * (
        (3.0 * root_radius + tw + tf) - math.sqrt(2.0 * (2 * root_radius + tw) * (2 * root_radius + tf))
    )
    J = 2 / 3 * width * tf**3 + (height - 2 * tf) * tw**3 / 3 + 2 * alpha * D**4 - 0.42 * tf**4 / 2
    return _from_wall(wall, flange_height=H, reach=tw / 2.0, torsion_constant=J)


def hat(
    height: float, top_width: float, brim_width: float, thickness: float, *, bend_radius: float = 0.0
) -> Section:
    """Hat: a top, two upright webs and two brims that point outwards, open side down.

    Parameters
    ----------
    height, top_width, brim_width : float
        Over all height; top between the outer faces of the webs; a brim from the outer face of its web to its edge [m].
    thickness, bend_radius : float
        Of the sheet, and inside its bends [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the dimensions leave no top, web or brim.
    """
    _positive("hat", height=height, top_width=top_width, brim_width=brim_width, thickness=thickness)
    _not_negative("hat", bend_radius=bend_radius)
    t, r = thickness, bend_radius + thickness / 2.0 if bend_radius > 0.0 else 0.0
    taken = thickness + bend_radius
    _room("hat", "top_width", top_width, 2.0 * taken, "two webs and their bends")
    _room("hat", "brim_width", brim_width, bend_radius, "its bend")
    _room("hat", "height", height, 2.0 * taken, "top, brim and their bends")
    y, z, edge = (top_width - t) / 2.0, height - t, top_width / 2.0 + brim_width
    points = [(edge, 0.0)]
    points += bend((y, 0.0), (1.0, 0.0), (0.0, 1.0), r)
    points += bend((y, z), (0.0, -1.0), (-1.0, 0.0), r)
    points += bend((-y, z), (1.0, 0.0), (0.0, -1.0), r)
    points += bend((-y, 0.0), (0.0, 1.0), (-1.0, 0.0), r)
    points += [(-edge, 0.0)]
    return _from_wall(open_section(*strip(points, t)), flange_height=z, reach=top_width / 2.0, symmetric=True)


def z_section(height: float, width: float, thickness: float, *, bend_radius: float = 0.0) -> Section:
    """Z section: an upright web, the upper flange to one side and the lower to the other.

    Parameters
    ----------
    height, width : float
        Over all height; a flange including the web [m].
    thickness, bend_radius : float
        Of the sheet, and inside its bends [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the dimensions leave no web or no flange.
    """
    upper = _pressed(height, width, thickness, bend_radius)
    half = len(upper) // 2
    points = upper[:half] + [(-y, z) for y, z in upper[half:]]
    return _from_wall(open_section(*strip(points, thickness)), flange_height=height - thickness,
                      reach=thickness / 2.0, symmetric=True)  # fmt: skip


def i_section(
    height: float, width: float, web_thickness: float, flange_thickness: float, *, root_radius: float = 0.0
) -> Section:
    """I section with equal flanges, rolled or welded.

    Parameters
    ----------
    height, width, web_thickness, flange_thickness : float
        [m]
    root_radius : float
        Of the fillets [m]; 0 for a welded section.

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the dimensions leave no web or no flange.
    """
    tw, tf = web_thickness, flange_thickness
    _positive("i_section", height=height, width=width, web_thickness=tw, flange_thickness=tf)
    _room("i_section", "height", height, 2.0 * (tf + root_radius), "two flanges and their fillets")
    _room("i_section", "width", width, tw + 2.0 * root_radius, "the web and its fillets")
    H, b = height - tf, width / 2.0
    points = [(0.0, H / 2), (b, H / 2), (-b, H / 2), (0.0, -H / 2), (b, -H / 2), (-b, -H / 2)]
    wall = open_section(points, [(0, 1, tf), (0, 2, tf), (0, 3, tw), (3, 4, tf), (3, 5, tf)])
    # Junctions as for the channel, same source.
    a, r = tw / tf, root_radius / tf
    alpha = -0.042 + 0.2204 * a + 0.1355 * r - 0.0865 * a * r - 0.0725 * a**2
    D = ((tf + root_radius) ** 2 + (root_radius + 0.25 * tw) * tw) / (2.0 * root_radius + tf)
    J = 2 / 3 * width * tf**3 + (height - 2 * tf) * tw**3 / 3 + 2 * alpha * D**4 - 0.42 * tf**4
    return _from_wall(wall, flange_height=H, reach=tw / 2.0, torsion_constant=J, symmetric=True)


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
    _positive("rectangular_tube", height=height, width=width, thickness=thickness)
    _not_negative("rectangular_tube", corner_radius=corner_radius)
    for name, value in (("height", height), ("width", width)):
        _room("rectangular_tube", name, value, 2.0 * max(thickness, corner_radius), "two walls or corners")
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
        area=wall.area, second_moment_y=wall.second_moment_y, second_moment_z=wall.second_moment_z, torsion_constant=J,
        warping_constant=0.0, shear_centre=0.0, flange_height=0.0, section_modulus_y=wall.second_moment_y * 2.0 / height,
        sectorial_coordinate=0.0, shear_area_z=wall.shear_area_z, reach=width / 2.0,
    )  # fmt: skip


def round_tube(diameter: float, thickness: float) -> Section:
    """Round tube of outer diameter and wall [m]; ValueError if the wall leaves no hollow."""
    _positive("round_tube", diameter=diameter, thickness=thickness)
    _room("round_tube", "diameter", diameter, 2.0 * thickness, "two walls")
    inner = diameter - 2.0 * thickness
    area = math.pi / 4.0 * (diameter**2 - inner**2)
    second = math.pi / 64.0 * (diameter**4 - inner**4)
    # Half the area carries shear in a thin ring.
    return Section(
        area=area, second_moment_y=second, second_moment_z=second, torsion_constant=2.0 * second, warping_constant=0.0,
        shear_centre=0.0, flange_height=0.0, section_modulus_y=second * 2.0 / diameter, sectorial_coordinate=0.0,
        shear_area_z=area / 2.0, reach=diameter / 2.0,
    )  # fmt: skip


def flat(height: float, width: float) -> Section:
    """Solid flat bar, upright or lying [m]; torsion J = b t^3/3 (1 - 0.63 t/b), which holds for b above 2 t."""
    _positive("flat", height=height, width=width)
    b, t = max(height, width), min(height, width)
    if b < 2.0 * t:
        raise ValueError(
            f"flat: {b:g} m by {t:g} m is no flat bar; the longer side must be twice the shorter"
        )
    Iy = width * height**3 / 12.0
    return Section(
        area=height * width, second_moment_y=Iy, second_moment_z=height * width**3 / 12.0,
        torsion_constant=b * t**3 / 3.0 * (1.0 - 0.63 * t / b), warping_constant=0.0, shear_centre=0.0, flange_height=0.0,
        section_modulus_y=Iy * 2.0 / height, sectorial_coordinate=0.0, shear_area_z=height * width * 5.0 / 6.0,
        reach=width / 2.0,
    )  # fmt: skip


def _pressed(height: float, width: float, thickness: float, bend_radius: float) -> list[Point]:
    """Mid-line of a pressed channel, from the upper flange's edge to the lower's; web at y = 0."""
    _positive("pressed section", height=height, width=width, thickness=thickness)
    _not_negative("pressed section", bend_radius=bend_radius)
    taken = thickness + bend_radius
    _room("pressed section", "height", height, 2.0 * taken, "two flanges and their bends")
    _room("pressed section", "width", width, taken, "the web and its bend")
    B, z = width - thickness / 2.0, (height - thickness) / 2.0
    r = bend_radius + thickness / 2.0 if bend_radius > 0.0 else 0.0
    upper = [(B, z), *bend((0.0, z), (1.0, 0.0), (0.0, -1.0), r)]
    return upper + [(y, -z) for y, z in reversed(upper)]


def _from_wall(
    wall: ThinWall,
    *,
    flange_height: float,
    reach: float,
    torsion_constant: float | None = None,
    symmetric: bool = False,
) -> Section:
    """Section of an integrated wall; the web's mid-plane is at y = 0."""
    return Section(
        area=wall.area,
        second_moment_y=wall.second_moment_y,
        second_moment_z=wall.second_moment_z,
        torsion_constant=wall.torsion_constant if torsion_constant is None else torsion_constant,
        warping_constant=wall.warping_constant,
        shear_centre=0.0 if symmetric else -wall.shear_centre[0],
        flange_height=flange_height,
        section_modulus_y=wall.second_moment_y / wall.reach_z,
        sectorial_coordinate=wall.sectorial_coordinate,
        shear_area_z=wall.shear_area_z,
        reach=reach,
    )


def _positive(what: str, **values: float) -> None:
    for name, value in values.items():
        if not (value > 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be a length above 0")


def _not_negative(what: str, **values: float) -> None:
    for name, value in values.items():
        if not (value >= 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be 0 or a length above 0")


def _room(what: str, name: str, value: float, taken: float, by: str) -> None:
    if not value > taken:
        raise ValueError(
            f"{what}: {name} is {value:g} m; {by} take {taken:g} m, so it must be more than that"
        )
