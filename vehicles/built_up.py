"""Reinforced and built-up channel sections.

Frame: the section stands upright, z up; y runs from the (outer) channel's web mid-plane towards its flanges.
The parts bend and warp as one section, but each carries Saint-Venant shear on its own: rivets, bolts and
stitch welds hold parts together along the rail without making one thick plate of them. Where webs lie on each
other they are one wall in their common mid-plane; sheets branch off it through links (crossaxle.vehicles.thin_wall).
"""

from crossaxle.vehicles.open_sections import channel, pressed_line, section_of
from crossaxle.vehicles.sections import Section, require_positive, require_room
from crossaxle.vehicles.thin_wall import Point, ThinWall, open_section
from crossaxle.vehicles.tubes import flat


def nested_channels(
    height: float,
    width: float,
    thickness: float,
    inner_width: float,
    inner_thickness: float,
    *,
    bend_radius: float = 0.0,
) -> Section:
    """Channel with a second one set inside it, web on web and flange on flange.

    Parameters
    ----------
    height, width, thickness : float
        Of the outer channel [m].
    inner_width, inner_thickness : float
        Of the inner one; its height is what the outer leaves [m].
    bend_radius : float
        Inside the outer channel's bends; the inner channel's bends follow it [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the dimensions leave no room for the inner channel.
    """
    require_positive("nested_channels", height=height, thickness=thickness)
    require_room("nested_channels", "height", height, 2.0 * thickness, "two flanges of the outer channel")
    inner_height = height - 2.0 * thickness
    inner_radius = max(bend_radius - inner_thickness, 0.0)
    outer = _upper(height, width, thickness, bend_radius, 0.0)
    shift = (thickness + inner_thickness) / 2.0
    inner = _upper(inner_height, inner_width, inner_thickness, inner_radius, shift)
    whole = thickness + inner_thickness
    core = (shift * inner_thickness / whole, min(outer[0][1], inner[0][1]))
    wall = _branched(core, whole, [(outer, thickness), (inner, inner_thickness)])
    apart = (
        channel(height, width, thickness, bend_radius=bend_radius),
        channel(inner_height, inner_width, inner_thickness, bend_radius=inner_radius),
    )
    return section_of(
        wall,
        flange=(height - thickness, width - thickness / 2.0, whole),
        reach=thickness / 2.0 + inner_thickness,
        torsion_constant=sum(part.torsion_constant for part in apart),
    )


def back_to_back_channels(
    height: float, width: float, thickness: float, *, bend_radius: float = 0.0
) -> Section:
    """Two equal pressed channels joined web to web, flanges pointing away from each other.

    Parameters
    ----------
    height, width, thickness : float
        Of each channel; the width is that of its flange including its web [m].
    bend_radius : float
        Inside the bends [m].

    Returns
    -------
    Section
        Measured from the plane between the webs.

    Raises
    ------
    ValueError
        If the dimensions leave no web or no flange.
    """
    one = _upper(height, width, thickness, bend_radius, thickness / 2.0)
    other = [(-y, z) for y, z in one]
    wall = _branched((0.0, one[0][1]), 2.0 * thickness, [(one, thickness), (other, thickness)])
    single = channel(height, width, thickness, bend_radius=bend_radius)
    return section_of(
        wall,
        flange=(height - thickness, width, thickness),
        reach=thickness,
        torsion_constant=2.0 * single.torsion_constant,
        symmetric=True,
    )


def plated_channel(
    height: float,
    width: float,
    thickness: float,
    plate_height: float,
    plate_thickness: float,
    *,
    bend_radius: float = 0.0,
) -> Section:
    """Pressed channel with a flat upright plate on the inside of its web.

    Parameters
    ----------
    height, width, thickness : float
        Of the channel [m].
    plate_height, plate_thickness : float
        Of the plate, centred on the web [m].
    bend_radius : float
        Inside the channel's bends [m].

    Returns
    -------
    Section

    Raises
    ------
    ValueError
        If the plate does not fit between the channel's bends, or is no flat plate.
    """
    bare = channel(height, width, thickness, bend_radius=bend_radius)
    straight = height - 2.0 * (thickness + bend_radius)
    require_room("plated_channel", "straight part of the web", straight, plate_height, "the plate's height")
    plate = flat(plate_height, plate_thickness)
    whole = thickness + plate_thickness
    core = ((thickness + plate_thickness) / 2.0 * plate_thickness / whole, plate_height / 2.0)
    sheet = [(0.0, plate_height / 2.0), *_upper(height, width, thickness, bend_radius, 0.0)]
    return section_of(
        _branched(core, whole, [(sheet, thickness)]),
        flange=(height - thickness, width - thickness / 2.0, thickness),
        reach=thickness / 2.0 + plate_thickness,
        torsion_constant=bare.torsion_constant + plate.torsion_constant,
    )


def _upper(height: float, width: float, thickness: float, bend_radius: float, shift: float) -> list[Point]:
    """Mid-line of a channel's upper half from its web to the flange's edge, web at y = shift [m]."""
    line = pressed_line(height, width, thickness, bend_radius)
    return [(y + shift, z) for y, z in reversed(line[: len(line) // 2])]


def _branched(core: Point, core_thickness: float, sheets: list[tuple[list[Point], float]]) -> ThinWall:
    """Integrate a web of joined sheets and the sheets that leave it at both ends.

    Parameters
    ----------
    core : tuple of float
        y of the joined webs' common mid-plane and half their height [m].
    core_thickness : float
        [m]
    sheets : list of (points, thickness)
        Mid-lines of the upper halves from the web outwards; the lower halves mirror them.

    Returns
    -------
    ThinWall
    """
    points: list[Point] = [core, (core[0], -core[1])]
    walls = [(0, 1, core_thickness)]
    for line, thickness in sheets:
        for end, half in ((0, line), (1, [(y, -z) for y, z in line])):
            walls.append((end, len(points), 0.0))
            walls += [(len(points) + i, len(points) + i + 1, thickness) for i in range(len(half) - 1)]
            points += half
    return open_section(points, walls)
