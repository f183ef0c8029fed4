"""Sections against finite elements of the solid section, by the sectionproperties library (R. van Leeuwen et al.).

The library solves Saint-Venant torsion and warping of the section as it is, with its thickness, bends and
fillets. Thin-walled theory on the mid-line leaves out terms of the order (t/B)^2 and the bulge of sharp
corners: 2 % on shear centre and warping constant for sheet of these proportions, more for rolled sections
with fillets, where the bound says how much. Lengths in the finite-element model are in millimetres.
"""

import numpy as np
import pytest

pytest.importorskip("sectionproperties")

from sectionproperties.analysis import Section as FiniteElements
from sectionproperties.pre import Geometry, library
from shapely import LineString, box, unary_union

from crossaxle.vehicles.built_up import back_to_back_channels, nested_channels, plated_channel
from crossaxle.vehicles.open_sections import channel, hat, i_section, z_section
from crossaxle.vehicles.tubes import rectangular_tube, round_tube

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("ignore")]


def sheet(line, thickness):
    return LineString(line).buffer(thickness / 2, cap_style="flat", join_style="mitre")


def rounded(corners, radius):
    """Line with an arc of the radius put in at every inner corner, by tangent points and angles."""
    line = [corners[0]]
    for before, corner, after in zip(corners, corners[1:], corners[2:], strict=False):
        before, corner, after = (np.array(point, dtype=float) for point in (before, corner, after))
        a, b = (
            (before - corner) / np.hypot(*(before - corner)),
            (after - corner) / np.hypot(*(after - corner)),
        )
        centre = corner + radius * (a + b)
        start, end = np.arctan2(*(-b)[::-1]), np.arctan2(*(-a)[::-1])
        turn = (end - start + np.pi) % (2 * np.pi) - np.pi
        line += [
            tuple(centre + radius * np.array([np.cos(p), np.sin(p)]))
            for p in start + turn * np.linspace(0, 1, 13)
        ]
    return [*line, corners[-1]]


def pressed(height, width, thickness, radius, shift=0.0):
    """Mid-line of a pressed channel in mm, web at y = shift."""
    z, edge = (height - thickness) / 2, shift + width - thickness / 2
    corners = [(edge, z), (shift, z), (shift, -z), (edge, -z)]
    return rounded(corners, radius + thickness / 2) if radius else corners


def joined(*parts):
    """Touching parts as one solid; a hair's breadth closes rounding gaps, and the slivers it makes are cut off."""
    grown = unary_union([part.buffer(1e-3, join_style="mitre") for part in parts])
    return grown.buffer(-1e-3, join_style="mitre").simplify(0.02)


def solved(shape, size, web=0.0):
    """Second moments, J, Cw and shear centre (outboard of the web's mid-plane) in SI units."""
    geometry = shape if isinstance(shape, Geometry) else Geometry(shape)
    geometry.create_mesh([size])
    section = FiniteElements(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    Iy, Iz, _ = section.get_ic()
    return {
        "area": section.get_area() * 1e-6,
        "second_moment_y": Iy * 1e-12,
        "second_moment_z": Iz * 1e-12,
        "torsion_constant": section.get_j() * 1e-12,
        "warping_constant": section.get_gamma() * 1e-18,
        "shear_centre": (web - section.get_sc()[0]) * 1e-3,
    }


@pytest.fixture
def agree(checked):
    """Within 0.5 % for area and second moments; bounds for the rest; a bound of None leaves a property out."""

    def compare(section, expected, **bounds):
        for name, value in expected.items():
            bound = bounds.get(name, 0.005)
            if bound is not None:
                own = getattr(section, name)
                assert own == pytest.approx(value, rel=bound, abs=1e-30), name
                worst = abs(own / value - 1)
                if bound <= 0.005:
                    checked("section properties held to 0.5 %", "sectionproperties (finite elements)", worst)
                else:
                    checked(
                        "section properties held to wider bounds (fillets, bonded sheets)",
                        "sectionproperties (finite elements)",
                        worst,
                    )

    return compare


def test_pressed_channel_with_bends(agree):
    shape = sheet(pressed(270, 75, 7, 10), 7)
    agree(channel(0.270, 0.075, 0.007, bend_radius=0.010), solved(shape, 6),
          torsion_constant=0.005, warping_constant=0.01, shear_centre=0.01)  # fmt: skip


def test_pressed_channel_with_sharp_corners(agree):
    """The solid corner holds more torsion than two strips: 1 %."""
    agree(channel(0.270, 0.075, 0.007), solved(sheet(pressed(270, 75, 7, 0), 7), 6),
          torsion_constant=0.01, warping_constant=0.01, shear_centre=0.01)  # fmt: skip


def test_z_section(agree):
    line = rounded([(67, 97), (0, 97), (0, -97), (-67, -97)], 12)
    agree(z_section(0.200, 0.070, 0.006, bend_radius=0.009), solved(sheet(line, 6), 6),
          torsion_constant=0.005, warping_constant=0.01, shear_centre=None)  # fmt: skip


def test_hat(agree):
    line = rounded([(120, 0), (67, 0), (67, 114), (-67, 114), (-67, 0), (-120, 0)], 11)
    agree(hat(0.120, 0.140, 0.050, 0.006, bend_radius=0.008), solved(sheet(line, 6), 6),
          torsion_constant=0.005, warping_constant=0.02, shear_centre=None)  # fmt: skip


OUTER = sheet(pressed(270, 75, 7, 10), 7)
BONDED = {"torsion_constant": None, "warping_constant": 0.02, "shear_centre": 0.02}
"""Bonded all over, sheets are stiffer in torsion than sheets that slip on each other: J is left out here."""


def test_nested_channels(agree):
    shape = joined(OUTER, sheet(pressed(256, 68, 6, 4, shift=6.5), 6))
    agree(nested_channels(0.270, 0.075, 0.007, 0.068, 0.006, bend_radius=0.010), solved(shape, 6), **BONDED)


def test_channel_with_plate_on_its_web(agree):
    shape = joined(OUTER, box(3.5, -100, 11.5, 100))
    agree(plated_channel(0.270, 0.075, 0.007, 0.200, 0.008, bend_radius=0.010), solved(shape, 6), **BONDED)


def test_back_to_back_channels(agree):
    one = pressed(240, 70, 6, 9, shift=3.0)
    shape = joined(sheet(one, 6), sheet([(-y, z) for y, z in one], 6))
    agree(back_to_back_channels(0.240, 0.070, 0.006, bend_radius=0.009), solved(shape, 6),
          **BONDED | {"shear_centre": None})  # fmt: skip


def test_rolled_channel_with_fillets(agree):
    """200 x 75 x 6 x 12.5 mm, 12 mm fillets: the thin-walled mid-line leaves the fillets out of all but J."""
    shape = library.channel_section(d=200, b=75, t_f=12.5, t_w=6, r=12, n_r=12)
    agree(channel(0.200, 0.075, 0.006, flange_thickness=0.0125, root_radius=0.012), solved(shape, 8, web=3.0),
          area=0.03, second_moment_y=0.03, second_moment_z=0.02, torsion_constant=0.005, warping_constant=0.03,
          shear_centre=0.06)  # fmt: skip


def test_rolled_i_section_with_fillets(agree):
    """IPE 300; fillets as for the channel."""
    shape = library.i_section(d=300, b=150, t_f=10.7, t_w=7.1, r=15, n_r=12)
    agree(i_section(0.300, 0.150, 0.0071, 0.0107, root_radius=0.015), solved(shape, 10),
          area=0.03, second_moment_y=0.03, torsion_constant=0.01, warping_constant=0.02, shear_centre=None)  # fmt: skip


def test_rectangular_tube(agree):
    shape = library.rectangular_hollow_section(d=120, b=80, t=6, r_out=12, n_r=12)
    agree(rectangular_tube(0.120, 0.080, 0.006, corner_radius=0.012), solved(shape, 6),
          torsion_constant=0.005, warping_constant=None, shear_centre=None)  # fmt: skip


def test_round_tube(agree):
    """96 straight sides in the finite elements: 0.1 % short of the circle."""
    shape = library.circular_hollow_section(d=114, t=6.3, n=96)
    agree(round_tube(0.114, 0.0063), solved(shape, 6),
          torsion_constant=0.005, warping_constant=None, shear_centre=None)  # fmt: skip
