"""Channels and an I section against published tables.

AISC, Steel construction manual, table 1-5 (American Standard channels): warping constant and shear centre,
which the tapered flanges hardly change. J is not compared: a tapered flange holds more than one of its mean
thickness. IPE 300 from the worked example of SCI P385, Design of steel beams in torsion, quoted at second hand.
"""

import pytest

from crossaxle.vehicles.open_sections import channel, i_section

INCH = 0.0254


@pytest.mark.parametrize(
    ("height", "width", "web", "flange", "warping", "shear_centre"),
    [
        (12.0, 2.94, 0.282, 0.501, 112.0, 0.870),
        (10.0, 2.60, 0.240, 0.436, 45.5, 0.796),
        (15.0, 3.40, 0.400, 0.650, 358.0, 0.896),
    ],
    ids=["C12x20.7", "C10x15.3", "C15x33.9"],
)
def test_aisc_channel(height, width, web, flange, warping, shear_centre, checked):
    """Three figures, thin-walled theory within 1 %; the table's shear centre counts from the web's back."""
    section = channel(height * INCH, width * INCH, web * INCH, flange_thickness=flange * INCH)
    assert section.warping_constant == pytest.approx(warping * INCH**6, rel=0.01)
    centre = section.shear_centre - web * INCH / 2
    assert centre == pytest.approx(shear_centre * INCH, rel=0.01)
    worst = max(
        abs(section.warping_constant / (warping * INCH**6) - 1), abs(centre / (shear_centre * INCH) - 1)
    )
    checked("warping constant and shear centre of channels", "AISC tables", worst)


@pytest.mark.parametrize(
    ("radius", "torsion", "warping", "shear_centre"),
    [(0.0, 4.629e4, 1.588e10, 18.53), (0.010, 4.461e4, 1.472e10, 19.52)],
    ids=["sharp corners", "bend radius 10 mm"],
)
def test_pressed_channel_270_75_7(radius, torsion, warping, shear_centre):
    """Finite elements of the solid section, computed once: J, Cw within 1 %, shear centre from the web's back in mm."""
    section = channel(0.270, 0.075, 0.007, bend_radius=radius)
    assert section.torsion_constant == pytest.approx(torsion * 1e-12, rel=0.01)
    assert section.warping_constant == pytest.approx(warping * 1e-18, rel=0.01)
    assert section.shear_centre - 0.0035 == pytest.approx(shear_centre * 1e-3, rel=0.01)


def test_sci_p385_ipe_300(checked):
    """J = 20.1 cm4, Iw = 0.126 dm6, three figures each; J includes the fillets' share within 1 %."""
    section = i_section(0.300, 0.150, 0.0071, 0.0107, root_radius=0.015)
    assert section.torsion_constant == pytest.approx(2.01e-7, rel=0.01)
    assert section.warping_constant == pytest.approx(1.26e-7, rel=0.005)
    worst = max(abs(section.torsion_constant / 2.01e-7 - 1), abs(section.warping_constant / 1.26e-7 - 1))
    checked("torsion and warping constant of an IPE 300", "SCI P385, at second hand", worst)


def test_closed_form_of_a_sharp_thin_walled_channel():
    """e = 3 B^2 t/(H + 6 B), Cw = H^2 B^3 t/12 (2 H + 3 B)/(H + 6 B) on the mid-line: exact for the integration."""
    H, B, t = 0.263, 0.0715, 0.007
    section = channel(0.270, 0.075, 0.007)
    assert section.shear_centre == pytest.approx(3 * B**2 / (H + 6 * B), rel=1e-12)
    assert section.warping_constant == pytest.approx(
        H**2 * B**3 * t / 12 * (2 * H + 3 * B) / (H + 6 * B), rel=1e-12
    )
    assert section.sectorial_coordinate == pytest.approx((B - section.shear_centre) * H / 2, rel=1e-12)
