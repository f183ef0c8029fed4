"""Sections: limits, symmetry and what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from crossaxle.vehicles.built_up import back_to_back_channels, nested_channels, plated_channel
from crossaxle.vehicles.open_sections import channel, hat, i_section, z_section
from crossaxle.vehicles.sections import Section
from crossaxle.vehicles.thin_wall import open_section
from crossaxle.vehicles.tubes import flat, rectangular_tube, round_tube


@given(height=st.floats(0.1, 0.4), width=st.floats(0.04, 0.12), thickness=st.floats(0.003, 0.01))
def test_shear_centre_of_a_channel_lies_outboard_within_half_a_flange(height, width, thickness):
    section = channel(height, width, thickness, bend_radius=thickness)
    assert 0.0 < section.shear_centre < width / 2


@given(width=st.floats(0.03, 0.1), thickness=st.floats(0.003, 0.008))
def test_symmetric_sections_have_no_shear_centre_offset(width, thickness):
    for section in (
        i_section(0.2, width, thickness, thickness),
        z_section(0.2, width, thickness),
        back_to_back_channels(0.2, width, thickness),
    ):
        assert section.shear_centre == 0.0


def test_rolled_and_pressed_channel_of_one_thickness_agree():
    """Same mid-line, same walls; J differs by the corner's bulge, which only the rolled one counts: 2 %."""
    rolled, pressed = channel(0.27, 0.075, 0.007, flange_thickness=0.007), channel(0.27, 0.075, 0.007)
    for name in (
        "area",
        "second_moment_y",
        "second_moment_z",
        "warping_constant",
        "shear_centre",
        "flange_height",
    ):
        assert getattr(rolled, name) == pytest.approx(getattr(pressed, name), rel=1e-12)
    assert rolled.torsion_constant == pytest.approx(pressed.torsion_constant, rel=0.02)


def test_thin_reinforcement_changes_nothing():
    bare = channel(0.27, 0.075, 0.007, bend_radius=0.01)
    foil = 1e-7
    for reinforced in (
        nested_channels(0.27, 0.075, 0.007, 0.06, foil, bend_radius=0.01),
        plated_channel(0.27, 0.075, 0.007, 0.2, foil, bend_radius=0.01),
    ):
        for name in ("area", "second_moment_y", "torsion_constant", "warping_constant", "shear_centre"):
            assert getattr(reinforced, name) == pytest.approx(getattr(bare, name), rel=1e-4)


def test_reinforcement_stiffens_in_bending_torsion_and_warping():
    bare = channel(0.27, 0.075, 0.007, bend_radius=0.01)
    for reinforced in (
        nested_channels(0.27, 0.075, 0.007, 0.068, 0.006, bend_radius=0.01),
        plated_channel(0.27, 0.075, 0.007, 0.2, 0.008, bend_radius=0.01),
    ):
        for name in ("area", "second_moment_y", "torsion_constant", "warping_constant"):
            assert getattr(reinforced, name) > getattr(bare, name)


def test_bent_hat_has_the_area_of_its_developed_strip():
    """Straight walls and four quarter turns of the mid-line, measured by hand."""
    height, top, brim, t, inside = 0.1, 0.09, 0.04, 0.006, 0.009
    r = inside + t / 2
    strip = (top - t - 2 * r) + 2 * (height - t - 2 * r) + 2 * (brim + t / 2 - r) + 4 * math.pi / 2 * r
    # Chords are shorter than the arc they replace by less than 1e-3.
    assert hat(height, top, brim, t, bend_radius=inside).area == pytest.approx(strip * t, rel=1e-3)


def test_equal_nested_and_back_to_back_channels_weigh_the_same_as_their_parts():
    one = channel(0.24, 0.07, 0.006, bend_radius=0.009)
    two = back_to_back_channels(0.24, 0.07, 0.006, bend_radius=0.009)
    assert two.area == pytest.approx(2 * one.area, rel=1e-9)
    assert two.second_moment_y == pytest.approx(2 * one.second_moment_y, rel=1e-9)
    assert two.torsion_constant == pytest.approx(2 * one.torsion_constant, rel=1e-9)


def test_tubes_do_not_warp_and_a_thin_one_obeys_bredt():
    """Thin round tube: J = 2 pi r^3 t to (t/2r)^2."""
    tube = round_tube(0.101, 0.001)
    assert tube.torsion_constant == pytest.approx(2 * math.pi * 0.05**3 * 0.001, rel=1.1e-4)
    assert tube.warping_constant == rectangular_tube(0.1, 0.06, 0.004).warping_constant == 0.0


def test_flat_bar_by_hand():
    bar = flat(0.1, 0.01)
    assert bar.second_moment_y == pytest.approx(0.01 * 0.1**3 / 12, rel=1e-12)
    # Exact series for b/t = 10: J = 0.312 b t^3 (Timoshenko and Goodier, Theory of elasticity, table of section 109).
    assert bar.torsion_constant == pytest.approx(0.312 * 0.1 * 0.01**3, rel=0.002)


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: channel(0.02, 0.075, 0.007, bend_radius=0.01), "0.02 m; two flanges and their bends take 0.034 m"),
        (lambda: channel(0.27, 0.01, 0.007, bend_radius=0.01), "width is 0.01 m; the web and its bend take 0.017 m"),
        (lambda: channel(0.27, 0.075, -0.007), "thickness is -0.007 m; it must be a length above 0"),
        (lambda: channel(math.nan, 0.075, 0.007), "height is nan m"),
        (lambda: channel(0.27, 0.075, 0.007, bend_radius=-0.01), "bend_radius is -0.01 m; it must be 0 or"),
        (lambda: channel(0.2, 0.075, 0.006, flange_thickness=0.01, bend_radius=0.01), "a rolled one has a root_radius"),
        (lambda: hat(0.1, 0.01, 0.05, 0.006), "top_width is 0.01 m; two webs and their bends take 0.012 m"),
        (lambda: i_section(0.02, 0.1, 0.006, 0.01), "two flanges and their fillets take 0.02 m"),
        (lambda: round_tube(0.01, 0.006), "diameter is 0.01 m; two walls take 0.012 m"),
        (lambda: rectangular_tube(0.1, 0.01, 0.006), "width is 0.01 m; two walls or corners take 0.012 m"),
        (lambda: flat(0.02, 0.015), "is no flat bar; the longer side must be twice the shorter"),
        (lambda: nested_channels(0.013, 0.075, 0.007, 0.06, 0.006), "two flanges of the outer channel take 0.014 m"),
        (lambda: plated_channel(0.27, 0.075, 0.007, 0.26, 0.006), "straight part of the web is 0.256 m"),
        (lambda: Section(1e-3, -1.0, 1e-8, 1e-4), "second_moment_y is -1; it must be above 0"),
        (lambda: Section(1e-3, 1e-5, 1e-8, 1e-4, warping_constant=-1.0), "warping_constant is -1; it must be 0 or"),
        (lambda: Section(1e-3, 1e-5, 1e-8, 1e-4, shear_centre=math.inf), "shear_centre is inf"),
    ],
)  # fmt: skip
def test_impossible_dimensions_are_refused_with_what_is_allowed(make, text):
    with pytest.raises(ValueError) as error:
        make()
    assert text in str(error.value)


def test_walls_that_form_no_tree_are_refused():
    square = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    with pytest.raises(ValueError, match="one wall fewer"):
        open_section(square, [(0, 1, 0.1), (1, 2, 0.1), (2, 3, 0.1), (3, 0, 0.1)])
    with pytest.raises(ValueError, match="hang on nothing"):
        open_section(square, [(0, 1, 0.1), (2, 3, 0.1), (3, 2, 0.1)])
