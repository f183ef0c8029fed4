"""Numbers that the room's page states: tyre, rates of crossing, obstacles, rough classes; each worked out again."""

import re

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import read
from crossaxle.terrain.closed_form import Process, warp
from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.course import Course, CourseFile, CourseSection, Roughness, prepare
from crossaxle.terrain.envelope import envelope, margin
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.spectrum import Spectrum
from tests.documents import ROOT

PAGE = " ".join((ROOT / "terrain" / "README.md").read_text(encoding="utf-8").split())
SPACING, WHEELBASE, TRACK, RADIUS, CONTACT = 0.05, 4.5, 2.0, 0.6, 0.3
LAG = round(WHEELBASE / SPACING)


def stated(pattern: str) -> list[float]:
    """Numbers that the page gives in the groups of a pattern."""
    found = re.search(pattern, PAGE)
    assert found is not None, pattern
    return [float(text) for group in found.groups() for text in re.findall(r"-?[\d.]*\d", group)]


def warps(heights: np.ndarray) -> np.ndarray:
    """Cross-level now less that a wheelbase back [m]."""
    level = heights[0].astype(float) - heights[1]
    return level[LAG:] - level[:-LAG]


@pytest.mark.parametrize("iso_class", ["F", "G", "H"])
def test_what_the_tyre_does_to_the_warp(iso_class: str) -> None:
    """200 km with and without tyre: the table to its rounding (0.05 %) and a scatter of 0.03 % between seeds."""
    course = Course(
        "one class",
        {
            "all": CourseSection(
                share=1, roughness=Roughness(iso_class=iso_class, band_from=0.05, band_to=2.0)
            )
        },
    )
    edge = margin(SPACING, RADIUS, CONTACT)
    tyres = {"none": (0.0, 0.0), "contact": (0.0, CONTACT), "disc": (RADIUS, 0.0), "both": (RADIUS, CONTACT)}
    variance = dict.fromkeys(tyres, 0.0)
    for sample in range(20):
        lines = (TRACK / 2, -TRACK / 2)
        heights = lay_ground(course, lines, SPACING, 200_000, 7, sample, edge + LAG, edge).heights
        for name, (radius, contact) in tyres.items():
            cut = edge - margin(SPACING, radius, contact)
            felt = envelope(heights[:, cut : heights.shape[1] - cut], SPACING, radius, contact)
            variance[name] += float(warps(felt).var())
    change = [100 * (np.sqrt(variance[name] / variance["none"]) - 1) for name in ("contact", "disc", "both")]
    table = stated(rf"\| {iso_class} \| (-[\d.]+) % \| (-[\d.]+) % \| (-[\d.]+) % \|")
    assert change == pytest.approx(table, abs=0.08)


def test_rates_grow_with_the_bands_upper_limit() -> None:
    """Two standard deviations of warp passed upwards, by Rice's formula, and what points 5 cm apart miss of it."""
    limits = stated(r"times a kilometre for limits of ([\d., and]+) cycle/m")
    rates = stated(r"standard deviations upwards ([\d, and]+) times a kilometre")
    missed = stated(r"5 cm spacing misses ([\d., and]+) % of these")
    assert len(limits) == len(rates) == len(missed) == 4
    for upper, rate, loss in zip(limits, rates, missed, strict=True):
        process = Process(warp(WHEELBASE, TRACK), Spectrum(1e-3, 0.05, upper), Coherence())
        level = 2 * process.moment(0) ** 0.5
        rice = process.rice_rate(level)
        assert round(1e3 * rice) == rate
        assert 100 * (1 - process.sampled_rate(level, SPACING) / rice) == pytest.approx(loss, rel=0.25)


def test_slope_of_a_rough_class() -> None:
    """Variance of slope: integral of (2 pi n)^2 G(n), for w = 2 constant in n: (2 pi n0)^2 G(n0) (n2 - n1)."""
    (slope,) = stated(r"class H up to 2 cycle/m has a standard deviation of slope of ([\d.]+)")
    assert slope == round(2 * np.pi * 0.1 * np.sqrt(262144e-6 * (2 - 0.05)), 2)


def test_water_bars_make_the_extremes_of_ondry_ridge() -> None:
    """100 km with and without them, beyond four standard deviations of the course with them.

    Some 400 bars are met; their heights vary two-fold, so that the share scatters by about 3 % between seeds.
    """
    course = prepare(read(ROOT / "terrain" / "library" / "ondry_ridge.toml", CourseFile))
    bare = {
        name: section.model_copy(
            update={"obstacles": tuple(o for o in section.obstacles if o.kind != "water bar")}
        )
        for name, section in course.sections.items()
    }
    found = []
    for sections in (course.sections, bare):
        laid = Course("bars or none", sections)
        found.append(
            np.concatenate(
                [
                    warps(lay_ground(laid, (1.0, -1.0), SPACING, 20_000, 7, k, LAG, 0).heights)
                    for k in range(100)
                ]
            )
        )
    with_bars, without = (100 * float(np.mean(np.abs(x) > 4 * found[0].std())) for x in found)
    low, high = stated(r"five-fold \(([\d.]+) to ([\d.]+) %")
    assert with_bars == pytest.approx(high, rel=0.1)
    assert without == pytest.approx(low, rel=0.1)
    assert 4.5 < with_bars / without < 6


def test_a_disc_sinks_between_points_as_stated() -> None:
    """dx^2/(8 R) [mm]."""
    (sag,) = stated(r"sink by dx\^2/\(8 R\), ([\d.]+) mm for 5 cm and 0\.6 m")
    assert sag == round(1e3 * SPACING**2 / (8 * RADIUS), 1)
