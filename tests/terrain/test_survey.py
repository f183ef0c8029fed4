"""Surveys: written and read again, refused with a clear text where they cannot serve, fitted, and laid."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from crossaxle.terrain.coherence import Coherence
from crossaxle.terrain.course import (
    Course,
    CourseFile,
    CourseSection,
    Patches,
    Roughness,
    SurveyReference,
    prepare,
)
from crossaxle.terrain.fit import fit
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.recording import lay_recording
from crossaxle.terrain.surface import read_surface
from crossaxle.terrain.survey import Survey, SurveyError, detrended, from_tracks, read_tracks, resampled
from crossaxle.terrain.tracks import TyreLine, lay_tracks
from tests.shortcuts import write_tracks


def ground(
    iso_class: str = "E", length: float = 1000.0, spacing: float = 0.1, sample: int = 0, **changes: object
) -> Survey:
    rough = Roughness(iso_class=iso_class, band_from=0.02, band_to=4.0, **changes)
    course = Course("surveyed", {"all": CourseSection(share=1, roughness=rough)})
    z = lay_ground(course, (1.0, -1.0), spacing, round(length / spacing) + 1, 4, sample).heights.astype(float)
    return Survey(z, np.array([1.0, -1.0]), spacing, spacing)


def test_written_and_read_again_is_the_same_ground(tmp_path: Path) -> None:
    """To the last bit: numbers are written with all their digits and the grid is kept."""
    made = ground()
    write_tracks(made, tmp_path / "survey.csv")
    read = read_tracks(tmp_path / "survey.csv", gauge=2.0)
    np.testing.assert_array_equal(read.heights, made.heights)
    np.testing.assert_array_equal(read.line_y, made.line_y)
    assert read.spacing == pytest.approx(made.spacing, rel=1e-12)


def test_uneven_steps_are_resampled() -> None:
    """A parabola sampled unevenly; linear interpolation errs by step^2/8 times its curvature."""
    x = np.cumsum(np.random.default_rng(1).uniform(0.08, 0.12, 400))
    found = from_tracks(x, 0.01 * x**2, 0 * x, gauge=2.0, spacing=0.05)
    places = x[0] + 0.05 * np.arange(found.heights.shape[1])
    np.testing.assert_allclose(found.heights[0], 0.01 * places**2, atol=0.02 * 0.12**2 / 8 + 1e-12)
    assert places[-1] <= x[-1] < places[-1] + 0.05


def test_coarser_points_are_averages() -> None:
    """A wave shorter than the new spacing disappears instead of returning as a long one; a slope stays."""
    x = 0.05 * np.arange(4001)
    wave = Survey(np.array([np.sin(2 * np.pi * x / 0.4)]), np.array([1.0]), 0.05, 0.05)
    assert np.abs(resampled(wave, 0.8).heights[0, 1:-1]).max() < 0.01
    slope = Survey(np.array([0.1 * x]), np.array([1.0]), 0.05, 0.05)
    coarse = resampled(slope, 0.8)
    np.testing.assert_allclose(coarse.heights[0, 1:-1], 0.1 * 0.8 * np.arange(coarse.heights.shape[1])[1:-1])


def test_detrending_takes_hills_and_leaves_waves() -> None:
    """Hann average over 20 m: a slope vanishes, a hill of 400 m falls below 1 %, a wave of 4 m stays within 3 %."""
    x = 0.1 * np.arange(20_001)
    inside = slice(200, -200)

    def left(z: np.ndarray) -> np.ndarray:
        return detrended(Survey(z[None], np.array([1.0]), 0.1, 0.1), 20.0).heights[0, inside]

    assert np.abs(left(5 + 0.2 * x)).max() < 1e-9
    assert np.abs(left(np.sin(2 * np.pi * x / 400))).max() < 0.01
    wave = np.sin(2 * np.pi * x / 4)
    np.testing.assert_allclose(left(wave), wave[inside], atol=0.03)


@pytest.mark.parametrize("iso_class", ["D", "F"])
@pytest.mark.parametrize("waviness", [1.6, 2.0, 2.4])
def test_fit_finds_class_waviness_and_coherence(iso_class: str, waviness: float) -> None:
    """4 km of laid ground: the line is known to 0.03 in slope and 3 % in level; bounds four times that.

    A bin of the longest waves has 2 x 49 segments' degrees of freedom, so coherences scatter by 0.1 or less.
    """
    survey = ground(iso_class, 4000.0, waviness=waviness)
    found = fit(survey, 40.0)
    assert found.iso_class == iso_class
    level = {"D": 1024e-6, "F": 16384e-6}[iso_class]
    assert found.spectrum.waviness == pytest.approx(waviness, abs=0.12)
    assert found.spectrum.level == pytest.approx(level, rel=0.12)
    assert found.coherence.kind == "isotropic"
    assert found.coherence_misfit["isotropic"] < 0.1
    assert found.coherence_misfit["independent"] > 0.3
    assert found.misfit_db < 0.7
    assert found.r_squared > 0.99
    assert found.kurtosis == pytest.approx(3, abs=0.3)


@pytest.mark.parametrize("kind", ["independent", "identical"])
def test_fit_finds_other_coherences(kind: str) -> None:
    section = CourseSection(
        share=1, roughness=Roughness(iso_class="E", band_from=0.02, band_to=4.0), coherence=kind
    )
    z = lay_ground(Course("s", {"all": section}), (1.0, -1.0), 0.1, 20_000, 1, 0).heights.astype(float)
    found = fit(Survey(z, np.array([1.0, -1.0]), 0.1, 0.1), 40.0)
    assert found.coherence.kind == kind
    assert found.coherence_misfit[kind] < 0.15


def test_fit_finds_an_exponential_coherence() -> None:
    section = CourseSection(
        share=1,
        roughness=Roughness(iso_class="E", band_from=0.02, band_to=4.0),
        coherence="exponential",
        coherence_decay=1.0,
    )
    z = lay_ground(Course("s", {"all": section}), (1.0, -1.0), 0.1, 80_000, 1, 0).heights.astype(float)
    found = fit(Survey(z, np.array([1.0, -1.0]), 0.1, 0.1), 40.0)
    assert found.coherence.kind == "exponential"
    assert found.coherence.decay == pytest.approx(1.0, rel=0.2)


def test_fit_says_where_a_straight_line_does_not_serve() -> None:
    """Ground with a strong washboard: the misfit is far above the scatter of the estimate."""
    smooth = ground("D")
    x = 0.1 * np.arange(smooth.heights.shape[1])
    wavy = Survey(smooth.heights + 0.05 * np.sin(2 * np.pi * x / 0.8), smooth.line_y, 0.1, 0.1)
    assert fit(smooth, 20.0).misfit_db < 1.0
    assert fit(wavy, 20.0).misfit_db > 5.0


def test_patches_show_in_the_kurtosis() -> None:
    section = CourseSection(
        share=1,
        roughness=Roughness(iso_class="E", band_from=0.05, band_to=4.0),
        patches=Patches(strength=0.5, length=30.0),
    )
    z = lay_ground(Course("s", {"all": section}), (1.0, -1.0), 0.1, 40_000, 1, 0).heights.astype(float)
    assert fit(Survey(z, np.array([1.0, -1.0]), 0.1, 0.1), 20.0).kurtosis > 4.5


def test_a_short_survey_becomes_long_ground_of_the_same_kind(tmp_path: Path) -> None:
    write_tracks(ground("F", 600.0), tmp_path / "wadi.csv")
    section = CourseSection(share=1, survey=SurveyReference(file="wadi.csv"))
    course = prepare(CourseFile(name="survey", sections={"wadi": section}), tmp_path)
    rough = course.sections["wadi"].roughness
    assert rough is not None
    assert course.sections["wadi"].survey is None
    assert rough.spectrum() == course.fits["wadi"].spectrum
    laid = [lay_ground(course, (1.0, -1.0), 0.05, 20_000, 1, k).heights for k in range(2)]
    assert laid[0].std() == pytest.approx(rough.spectrum().moment(0) ** 0.5, rel=0.1)
    assert not np.array_equal(laid[0], laid[1])


def test_a_survey_laid_as_measured_is_the_survey(tmp_path: Path) -> None:
    """Away from the join and the ends every stretch is found again in the detrended survey, left on the left."""
    made = ground("F", 300.0)
    write_tracks(made, tmp_path / "wadi.csv")
    section = CourseSection(share=1, survey=SurveyReference(file="wadi.csv", use="as measured"))
    course = prepare(CourseFile(name="survey", sections={"wadi": section}), tmp_path)
    level = detrended(made, 40.0).heights
    starts = set()
    for k in range(5):
        laid = lay_ground(course, (0.95, -1.05), 0.1, 1000, 1, k).heights.astype(float)
        for first in range(100, 900, 200):
            piece = laid[:, first : first + 100]
            errors = [np.abs(level[:, i : i + 100] - piece).max() for i in range(level.shape[1] - 100)]
            if min(errors) < 1e-6:
                starts.add(int(np.argmin(errors)) - first)
                break
        else:
            pytest.fail("no stretch of the laid ground is in the survey")
    assert len(starts) == 5, "every sample starts at another place"


def test_a_ring_has_no_step() -> None:
    """A long wave that does not fit the survey's length: the join is as smooth as a blend over 5 m can be."""
    x = 0.1 * np.arange(1001)
    wave = Survey(np.sin(2 * np.pi * (x + 3) / 37)[None], np.array([1.0]), 0.1, 0.1)
    z = lay_recording(wave, (1.0,), 0.1, 5000, np.random.default_rng(1))[0]
    assert z.size > 4 * x.size, "the survey is laid several times"
    # the wave's own slope, and the blend's: pi/2 over 5 m for either end
    assert np.abs(np.diff(z)).max() < 0.1 * (2 * np.pi / 37 * np.sqrt(2) + 2 * np.pi / 2 / 5.0)


@pytest.fixture
def surface(tmp_path: Path) -> Path:
    x, y = np.arange(0, 60.1, 0.25), np.arange(-10, 10.1, 0.25)
    z = 0.02 * x[:, None] + 0.05 * y[None, :] + 0.1 * np.sin(2 * np.pi * x[:, None] / 8)
    data = xr.Dataset({"height": (("x", "y"), z)}, {"x": x, "y": y})
    data.to_netcdf(tmp_path / "surface.nc", engine="netcdf4")
    return tmp_path / "surface.nc"


def test_tracks_along_a_route_across_a_surface(surface: Path) -> None:
    """A straight oblique route: every track is the surface at its place, left on the left. Bilinear lookup of a wave

    of 8 m at 0.25 m errs by (2 pi/8)^2 0.1 0.25^2/8 = 0.5 mm.
    """
    survey = read_surface(surface, [(2.0, -4.0), (50.0, 6.0)], [1.0, 0.0, -1.0], spacing=0.1)
    along = np.array([48.0, 10.0]) / np.hypot(48, 10)
    run = 0.1 * np.arange(survey.heights.shape[1])
    for line, offset in enumerate((1.0, 0.0, -1.0)):
        x = 2 + run * along[0] - offset * along[1]
        y = -4 + run * along[1] + offset * along[0]
        np.testing.assert_allclose(
            survey.heights[line], 0.02 * x + 0.05 * y + 0.1 * np.sin(2 * np.pi * x / 8), atol=6e-4
        )
    assert survey.measured_spacing == pytest.approx(0.25)
    assert survey.length == pytest.approx(np.hypot(48, 10), abs=0.1)


def test_transposed_surface_is_the_same(surface: Path, tmp_path: Path) -> None:
    with xr.open_dataset(surface) as data:
        data.transpose("y", "x").to_netcdf(tmp_path / "other.nc", engine="netcdf4")
    route, lines = [(2.0, -4.0), (50.0, 6.0)], [1.0, -1.0]
    np.testing.assert_array_equal(
        read_surface(surface, route, lines).heights, read_surface(tmp_path / "other.nc", route, lines).heights
    )


def test_course_on_a_surface(surface: Path) -> None:
    reference = SurveyReference(
        file="surface.nc", use="as measured", route=((2.0, 0.0), (55.0, 0.0)), detrend=20.0
    )
    file = CourseFile(name="s", sections={"bank": CourseSection(share=1, survey=reference)})
    course = prepare(file, surface.parent)
    z = lay_ground(course, (1.0, -1.0), 0.05, 2000, 1, 0).heights
    assert z.std() == pytest.approx(0.1 / np.sqrt(2), rel=0.3)
    np.testing.assert_allclose(z[0], z[1], atol=1e-6, err_msg="the side slope is a trend and is taken out")


def csv_text(**replaced: str) -> str:
    lines = ["distance,left,right"] + [f"{0.1 * i:.1f},{0.01 * (i % 3)},{0.01 * (i % 2)}" for i in range(40)]
    for number, text in replaced.items():
        lines[int(number[1:])] = text
    return "\n".join(line for line in lines if line != "drop")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (csv_text(n0="x,y,z"), r"first line holds x, y, z; it must be distance,left,right"),
        ("", r"first line holds nothing"),
        (csv_text(n5="0.4,abc,0"), r"line 6: found 0.4,abc,0; three numbers are needed"),
        (csv_text(n5="0.4,0.1"), r"line 6: found 0.4,0.1; three numbers are needed"),
        (csv_text(n5="0.4,nan,0"), r"left has no height at 0.4 m"),
        (csv_text(n5="0.4,0,inf"), r"right has no height at 0.4 m"),
        (csv_text(n5="nan,0,0"), r"distance of point 5 is not a number"),
        (csv_text(n5="0.25,0,0"), r"distance goes from 0.3 to 0.25 m; it must rise"),
        (csv_text(n5="0.3,0,0"), r"distance goes from 0.3 to 0.3 m; it must rise"),
        (
            csv_text(n5="drop", n6="drop", n7="drop"),
            r"gap of 0.4 m after 0.3 m where 0.1 m is usual; at most 0.25 m",
        ),
        ("distance,left,right\n0,0,0\n1,0,0", r"holds 2 points; at least 10 are needed"),
    ],
)
def test_a_bad_table_is_refused(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(SurveyError, match=r"bad.csv: .*" + message):
        read_tracks(path, 2.0)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    for file, route in (("none.csv", None), ("none.nc", ((0.0, 0.0), (9.0, 0.0)))):
        section = CourseSection(share=1, survey=SurveyReference(file=file, route=route))
        with pytest.raises(SurveyError, match=rf"{file}: cannot be read"):
            prepare(CourseFile(name="s", sections={"a": section}), tmp_path)


@pytest.mark.parametrize(
    ("survey", "detrend", "message"),
    [
        (ground(length=100.0), 20.0, r"100 m long; detrended over 20 m, a spectrum needs at least 120 m"),
        (
            ground(length=1000.0),
            1.2,
            r"carry waves up to 4 cycle/m and detrending leaves those above 1.66667",
        ),
        (Survey(np.zeros((2, 9000)), np.array([1.0, -1.0]), 0.1, 0.1), 20.0, r"survey is flat"),
        (
            Survey(np.random.default_rng(1).normal(size=(2, 9000)), np.array([1.0, -1.0]), 0.1, 0.1),
            20.0,
            r"spectrum falls as n\^-?0.0\d; ground falls with an exponent between",
        ),
    ],
)
def test_what_cannot_be_fitted_is_refused(survey: Survey, detrend: float, message: str) -> None:
    with pytest.raises(SurveyError, match=message):
        fit(survey, detrend)


def test_detrending_needs_length() -> None:
    with pytest.raises(SurveyError, match=r"10 m long; detrending over 20 m needs a longer one"):
        detrended(ground(length=10.0), 20.0)


def test_a_survey_too_coarse_for_the_tyre_is_refused() -> None:
    coarse = Survey(np.random.default_rng(1).normal(0, 0.1, (2, 400)), np.array([1.0, -1.0]), 0.3, 0.3)
    course = Course("s", {"wadi": CourseSection(share=1)}, {"wadi": coarse})
    with pytest.raises(
        SurveyError, match=r"section wadi: .* 0.3 m apart are too coarse for a tyre of radius 0.6 m"
    ):
        lay_tracks(course, (TyreLine(1.0, 0.6, 0.3),), 0.05, 1000, 100, 1, 0)


def test_a_surface_that_cannot_serve_is_refused(surface: Path, tmp_path: Path) -> None:
    lines = [1.0, -1.0]
    with pytest.raises(
        SurveyError, match=r"leaves the surface at x = 60.\d+, y = 1 m; it spans x from 0 to 60"
    ):
        read_surface(surface, [(2.0, 0.0), (70.0, 0.0)], lines)
    with pytest.raises(SurveyError, match=r"route needs at least two corners"):
        read_surface(surface, [(2.0, 0.0)], lines)
    with pytest.raises(SurveyError, match=r"no variable depth on x and y; found: height"):
        read_surface(surface, [(2.0, 0.0), (9.0, 0.0)], lines, variable="depth")
    with xr.open_dataset(surface) as data:
        data["height"].values[100, 40] = np.nan
        data.to_netcdf(tmp_path / "hole.nc", engine="netcdf4")
        data.assign(other=data.height).to_netcdf(tmp_path / "two.nc", engine="netcdf4")
        data.isel(x=slice(None, None, -1)).to_netcdf(tmp_path / "falling.nc", engine="netcdf4")
    with pytest.raises(SurveyError, match=r"hole.nc: the track at 0 m has no height at"):
        read_surface(tmp_path / "hole.nc", [(2.0, 0.0), (50.0, 0.0)], [0.0])
    with pytest.raises(SurveyError, match=r"two.nc: holds 2 variables on x and y \(height, other\)"):
        read_surface(tmp_path / "two.nc", [(2.0, 0.0), (50.0, 0.0)], lines)
    with pytest.raises(SurveyError, match=r"falling.nc: x must be a coordinate that rises"):
        read_surface(tmp_path / "falling.nc", [(2.0, 0.0), (50.0, 0.0)], lines)


def test_coherence_needs_no_decay_unless_exponential() -> None:
    assert Coherence().decay == 0
