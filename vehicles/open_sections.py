"""Open sections of one piece: channel, hat, Z and I.

Frame: the section stands upright, z up; y runs from the web's mid-plane towards a channel's flanges. Properties are
integrated along the walls' mid-lines (crossaxle.vehicles.thin_wall); rolled sections add their junctions' share of J.
"""

import math

from crossaxle.vehicles.sections import Section, require_not_negative, require_positive, require_room
from crossaxle.vehicles.thin_wall import Point, ThinWall, bend, open_section, strip


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
