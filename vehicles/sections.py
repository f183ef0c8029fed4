"""Cross sections of rails and cross-members: the numbers that bending and torsion need.

Frame: the section stands upright, z up; a rail's y runs from the web's mid-plane towards its flanges. Open
sections are integrated along their mid-lines (vehicles.thin_wall); tubes and built-up sections have modules
of their own. A rail of unsymmetric section is taken as held straight sideways by the cross-members, so that
its second moment about the horizontal axis counts.
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
    torsion_constant : float
        Saint-Venant J [m4].
    section_modulus_y : float
        Second moment over the distance of the farthest fibre [m3].
    second_moment_z : float
        About the vertical axis [m4]; nan where a table does not give it.
    warping_constant : float
        Cw [m6]; 0 for closed sections.
    shear_centre : float
        Distance from the web's mid-plane to the shear centre, positive away from the flanges [m]; 0 if
        symmetric.
    flange_height : float
        Between the mid-lines of upper and lower flange, which carry warping into a joint [m]; 0 for closed
        sections.
    sectorial_coordinate : float
        Largest absolute normalised sectorial coordinate, at a flange's edge [m2]; warping stress is bimoment
        times this over Cw.
    opposite_sectorial_coordinate : float
        Largest at fibres where warping stress opposes bending stress while it adds at the flange's edge [m2]:
        the web corner of a channel, another flange edge of an I section; nan (taken as equal) where a table
        does not give it.
    shear_area_z : float
        Effective area in vertical shear [m2]; math.inf leaves shear flexibility out.
    reach : float
        From the web's mid-plane to the face where a cross-member begins [m]: half the web, or half a tube.
    flange_width, flange_thickness : float
        From the web's mid-plane to a flange's edge, and the flange's sheet [m], where flanges of rail and
        cross-member lie on each other; 0 for closed sections.

    Raises
    ------
    ValueError
        If a property that must be positive is not, one that cannot be negative is, or a section with its
        shear centre off the web has no warping constant.
    """

    area: float
    second_moment_y: float
    torsion_constant: float
    section_modulus_y: float
    second_moment_z: float = math.nan
    warping_constant: float = 0.0
    shear_centre: float = 0.0
    flange_height: float = 0.0
    sectorial_coordinate: float = 0.0
    opposite_sectorial_coordinate: float = math.nan
    shear_area_z: float = math.inf
    reach: float = 0.0
    flange_width: float = 0.0
    flange_thickness: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no section can have."""
        for name in ("area", "second_moment_y", "torsion_constant", "section_modulus_y", "shear_area_z"):
            if not getattr(self, name) > 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be above 0")
        for name in (
            "warping_constant",
            "flange_height",
            "sectorial_coordinate",
            "reach",
            "flange_width",
            "flange_thickness",
        ):
            if not getattr(self, name) >= 0.0:
                raise ValueError(f"section: {name} is {getattr(self, name):g}; it must be 0 or more")
        if not math.isfinite(self.shear_centre):
            raise ValueError(f"section: shear_centre is {self.shear_centre:g}; it must be a finite distance")
        if self.shear_centre != 0.0 and self.warping_constant == 0.0:
            # The slope at the web then differs from that at the shear centre by a jump at every joint.
            raise ValueError(
                f"section: shear_centre is {self.shear_centre:g} but warping_constant is 0; "
                "a section with its shear centre off the web warps: give its warping constant"
            )


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
    require_positive("channel", height=height, width=width, thickness=thickness)
    if flange_thickness is None:
        line = strip(pressed_line(height, width, thickness, bend_radius), thickness)
        return section_of(
            open_section(*line),
            flange=(height - thickness, width - thickness / 2.0, thickness),
            reach=thickness / 2.0,
        )
    require_positive("channel", flange_thickness=flange_thickness)
    if bend_radius != 0.0:
        raise ValueError("channel: bend_radius belongs to a pressed channel; a rolled one has a root_radius")
    tw, tf = thickness, flange_thickness
    require_room("channel", "height", height, 2.0 * (tf + root_radius), "two flanges and their fillets")
    require_room("channel", "width", width, tw + root_radius, "the web and its fillet")
    B, H = width - tw / 2.0, height - tf
    points = [(B, H / 2), (0.0, H / 2), (0.0, -H / 2), (B, -H / 2)]
    wall = open_section(points, [(0, 1, tf), (1, 2, tw), (2, 3, tf)])
    # Junctions of web and flange: I. El Darwish and B. G. Johnston, J. Struct. Div. ASCE 91 (1965), in the
    # form of the European section tables (recalled).
    a, r = tw / tf, root_radius / tf
    alpha = -0.0908 + 0.2621 * a + 0.1231 * r - 0.0752 * a * r - 0.0945 * a**2
    D = 2.0 * (
        (3.0 * root_radius + tw + tf) - math.sqrt(2.0 * (2 * root_radius + tw) * (2 * root_radius + tf))
    )
    J = 2 / 3 * width * tf**3 + (height - 2 * tf) * tw**3 / 3 + 2 * alpha * D**4 - 0.42 * tf**4
    return section_of(wall, flange=(H, B, tf), reach=tw / 2.0, torsion_constant=J)


def hat(
    height: float, top_width: float, brim_width: float, thickness: float, *, bend_radius: float = 0.0
) -> Section:
    """Hat: a top, two upright webs and two brims that point outwards, open side down.

    Parameters
    ----------
    height, top_width, brim_width : float
        Over all height; top between the outer faces of the webs; a brim from the outer face of its web to
        its edge [m].
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
    require_positive("hat", height=height, top_width=top_width, brim_width=brim_width, thickness=thickness)
    require_not_negative("hat", bend_radius=bend_radius)
    t, r = thickness, bend_radius + thickness / 2.0 if bend_radius > 0.0 else 0.0
    taken = thickness + bend_radius
    require_room("hat", "top_width", top_width, 2.0 * taken, "two webs and their bends")
    require_room("hat", "brim_width", brim_width, bend_radius, "its bend")
    require_room("hat", "height", height, 2.0 * taken, "top, brim and their bends")
    y, z, edge = (top_width - t) / 2.0, height - t, top_width / 2.0 + brim_width
    points = [(edge, 0.0)]
    points += bend((y, 0.0), (1.0, 0.0), (0.0, 1.0), r)
    points += bend((y, z), (0.0, -1.0), (-1.0, 0.0), r)
    points += bend((-y, z), (1.0, 0.0), (0.0, -1.0), r)
    points += bend((-y, 0.0), (0.0, 1.0), (-1.0, 0.0), r)
    points += [(-edge, 0.0)]
    wall = open_section(*strip(points, t))
    return section_of(wall, flange=(z, edge, t), reach=top_width / 2.0, symmetric=True)


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
    upper = pressed_line(height, width, thickness, bend_radius)
    half = len(upper) // 2
    points = upper[:half] + [(-y, z) for y, z in upper[half:]]
    wall = open_section(*strip(points, thickness))
    flange = (height - thickness, width - thickness / 2.0, thickness)
    return section_of(wall, flange=flange, reach=thickness / 2.0, symmetric=True)


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
    require_positive("i_section", height=height, width=width, web_thickness=tw, flange_thickness=tf)
    require_room("i_section", "height", height, 2.0 * (tf + root_radius), "two flanges and their fillets")
    require_room("i_section", "width", width, tw + 2.0 * root_radius, "the web and its fillets")
    H, b = height - tf, width / 2.0
    points = [(0.0, H / 2), (b, H / 2), (-b, H / 2), (0.0, -H / 2), (b, -H / 2), (-b, -H / 2)]
    wall = open_section(points, [(0, 1, tf), (0, 2, tf), (0, 3, tw), (3, 4, tf), (3, 5, tf)])
    # Junctions as for the channel, same source.
    a, r = tw / tf, root_radius / tf
    alpha = -0.042 + 0.2204 * a + 0.1355 * r - 0.0865 * a * r - 0.0725 * a**2
    D = ((tf + root_radius) ** 2 + (root_radius + 0.25 * tw) * tw) / (2.0 * root_radius + tf)
    J = 2 / 3 * width * tf**3 + (height - 2 * tf) * tw**3 / 3 + 2 * alpha * D**4 - 0.42 * tf**4
    return section_of(wall, flange=(H, b, tf), reach=tw / 2.0, torsion_constant=J, symmetric=True)


def pressed_line(height: float, width: float, thickness: float, bend_radius: float) -> list[Point]:
    """Mid-line of a pressed channel, from the upper flange's edge to the lower's; web at y = 0 [m].

    ValueError if the dimensions leave no web or no flange.
    """
    require_positive("pressed section", height=height, width=width, thickness=thickness)
    require_not_negative("pressed section", bend_radius=bend_radius)
    taken = thickness + bend_radius
    require_room("pressed section", "height", height, 2.0 * taken, "two flanges and their bends")
    require_room("pressed section", "width", width, taken, "the web and its bend")
    B, z = width - thickness / 2.0, (height - thickness) / 2.0
    r = bend_radius + thickness / 2.0 if bend_radius > 0.0 else 0.0
    upper = [(B, z), *bend((0.0, z), (1.0, 0.0), (0.0, -1.0), r)]
    return upper + [(y, -z) for y, z in reversed(upper)]


def section_of(
    wall: ThinWall,
    *,
    flange: tuple[float, float, float],
    reach: float,
    torsion_constant: float | None = None,
    symmetric: bool = False,
) -> Section:
    """Section of an integrated wall whose web's mid-plane is at y = 0.

    Parameters
    ----------
    wall : ThinWall
    flange : tuple of float
        ``flange_height``, ``flange_width`` and ``flange_thickness`` as in ``Section`` [m].
    reach : float
        As in ``Section`` [m].
    torsion_constant : float, optional
        In place of the wall's own [m4].
    symmetric : bool
        True where the shear centre lies at no distance sideways, whatever its height.

    Returns
    -------
    Section
    """
    return Section(
        area=wall.area,
        second_moment_y=wall.second_moment_y,
        second_moment_z=wall.second_moment_z,
        torsion_constant=wall.torsion_constant if torsion_constant is None else torsion_constant,
        warping_constant=wall.warping_constant,
        shear_centre=0.0 if symmetric else -wall.shear_centre[0],
        flange_height=flange[0],
        section_modulus_y=wall.second_moment_y / wall.reach_z,
        sectorial_coordinate=wall.sectorial_coordinate,
        opposite_sectorial_coordinate=wall.opposite_sectorial_coordinate,
        shear_area_z=wall.shear_area_z,
        reach=reach,
        flange_width=flange[1],
        flange_thickness=flange[2],
    )


def require_positive(what: str, **values: float) -> None:
    """Refuse lengths [m] that are not above 0 with a ValueError that names them."""
    for name, value in values.items():
        if not (value > 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be a length above 0")


def require_not_negative(what: str, **values: float) -> None:
    """Refuse lengths [m] below 0 with a ValueError that names them."""
    for name, value in values.items():
        if not (value >= 0.0 and math.isfinite(value)):
            raise ValueError(f"{what}: {name} is {value:g} m; it must be 0 or a length above 0")


def require_room(what: str, name: str, value: float, taken: float, by: str) -> None:
    """Refuse a length [m] that what lies along it already takes up, with a ValueError that says by what."""
    if not value > taken:
        raise ValueError(
            f"{what}: {name} is {value:g} m; {by} take {taken:g} m, so it must be more than that"
        )
