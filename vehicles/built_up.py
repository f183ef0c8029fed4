"""Reinforced and built-up channel sections.

Frame: the section stands upright, z up; y runs from the (outer) channel's web mid-plane towards its
flanges. The parts bend and warp as one section and share the rail's twist, but each carries Saint-Venant
shear on its own: rivets, bolts and stitch welds hold parts together along the rail but do not make one
thick plate of them. Parts are joined at the webs by links (vehicles.thin_wall).
"""

from vehicles.sections import Section, pressed_line, require_positive, require_room, section_of
from vehicles.thin_wall import Point, open_section, strip


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
    inner_radius = max(bend_radius - inner_thickness, 0.0)
    require_room("nested_channels", "height", height, 2.0 * thickness, "two flanges of the outer channel")
    outer = _halved(pressed_line(height, width, thickness, bend_radius))
    shift = (thickness + inner_thickness) / 2.0
    inner = _halved(
        [
            (y + shift, z)
            for y, z in pressed_line(height - 2.0 * thickness, inner_width, inner_thickness, inner_radius)
        ]
    )
    points, walls = _linked([(outer, thickness), (inner, inner_thickness)])
    return section_of(
        open_section(points, walls),
        flange=(height - thickness, width - thickness / 2.0, thickness + inner_thickness),
        reach=thickness / 2.0 + inner_thickness,
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
    one = _halved([(y + thickness / 2.0, z) for y, z in pressed_line(height, width, thickness, bend_radius)])
    other = [(-y, z) for y, z in one]
    points, walls = _linked([(one, thickness), (other, thickness)])
    return section_of(
        open_section(points, walls),
        flange=(height - thickness, width, thickness),
        reach=thickness,
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
        If the plate does not fit between the channel's bends.
    """
    require_positive("plated_channel", plate_height=plate_height, plate_thickness=plate_thickness)
    outer = _halved(pressed_line(height, width, thickness, bend_radius))
    flat = height - 2.0 * (thickness + bend_radius)
    require_room("plated_channel", "flat part of the web", flat, plate_height, "the plate's height")
    shift, half = (thickness + plate_thickness) / 2.0, plate_height / 2.0
    points, walls = _linked(
        [(outer, thickness), ([(shift, half), (shift, 0.0), (shift, -half)], plate_thickness)]
    )
    return section_of(
        open_section(points, walls),
        flange=(height - thickness, width - thickness / 2.0, thickness),
        reach=thickness / 2.0 + plate_thickness,
    )


def _halved(line: list[Point]) -> list[Point]:
    """Mid-line of a channel with a point put in at half height of its web."""
    middle = len(line) // 2
    return [*line[:middle], (line[middle][0], 0.0), *line[middle:]]


def _linked(parts: list[tuple[list[Point], float]]) -> tuple[list[Point], list[tuple[int, int, float]]]:
    """Points and walls of strips (mid-line, thickness) linked to the first one at their middle points."""
    points: list[Point] = []
    walls: list[tuple[int, int, float]] = []
    for line, thickness in parts:
        first = len(points)
        points += line
        walls += [(first + i, first + j, t) for i, j, t in strip(line, thickness)[1]]
        if first:
            walls.append((len(parts[0][0]) // 2, first + len(line) // 2, 0.0))
    return points, walls
