"""Description and figure of a course."""

import json
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from crossaxle.studies.base.number_format import tick
from crossaxle.studies.cli.main import cli
from crossaxle.studies.ground.course_chart import draw_ground
from crossaxle.studies.ground.course_description import View, describe_ground, warp_angles
from crossaxle.studies.ground.course_words import ground_words
from crossaxle.studies.inputs.reader import read
from crossaxle.terrain.course import Course, CourseFile, CourseSection, Roughness, prepare
from crossaxle.terrain.distribution import fixed
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.obstacles import Ditch, Hole, Ruts, Step, Washboard, WaterBar

LIBRARY = Path(__file__).parents[3] / "terrain" / "library"
SHORT = View(distance=3000.0)


def course(name: str) -> Course:
    return prepare(read(LIBRARY / f"{name}.toml", CourseFile))


def test_description_is_plain_and_complete() -> None:
    found = json.loads(json.dumps(describe_ground(course("kurrin_pass"), SHORT)))
    assert found["course"] == "Kurrin Pass"
    assert list(found["sections"]) == ["approach", "traverse", "summit meadow"]
    traverse = found["sections"]["traverse"]
    assert traverse["roughness"]["iso_class"] == "F"
    assert traverse["side_slope_deg"] == pytest.approx({"mean": 6.0, "std": 3.0})
    assert traverse["obstacles_per_km"] == pytest.approx({"ditch": 5.0, "boulder": 6.0})
    assert found["laid"]["distance_m"] == 3000
    assert found["warnings"] == []


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.toml")), ids=lambda path: path.stem)
def test_words_say_what_the_file_says(path: Path) -> None:
    """Every section with its share, class and obstacles; no key of the description shows through."""
    prepared = prepare(read(path, CourseFile))
    words = ground_words(describe_ground(prepared, SHORT))
    for name, section in prepared.sections.items():
        assert f"{name}: {tick(100 * section.share)} % of the way" in words
        if section.roughness is not None and section.roughness.iso_class is not None:
            assert f"class {section.roughness.iso_class}" in words
        assert all(f" {obstacle.kind.replace('_', ' ')}" in words for obstacle in section.obstacles)
    assert "_" not in words and "{" not in words and "None" not in words


def test_formula_and_laid_ground_agree_where_the_formula_holds() -> None:
    """Roughness alone, no disc, no average: 20 km leave 3 % scatter in the warp's deviation."""
    rough = Roughness(iso_class="F", band_from=0.03, band_to=2.0)
    plain = Course("plain", {"all": CourseSection(share=1, roughness=rough)})
    found = describe_ground(plain, View(radius=0.0, contact_length=0.0))
    formula = found["sections"]["all"]["roughness"]
    assert found["laid"]["warp_std_deg"] == pytest.approx(formula["warp_std_deg"], rel=0.06)
    assert found["laid"]["height_std_m"] == pytest.approx(formula["height_std_m"], rel=0.06)
    # the normal distribution's 90 % quantile of the absolute value is 1.645 deviations
    assert found["laid"]["warp_deg"]["0.9"] == pytest.approx(1.645 * formula["warp_std_deg"], rel=0.08)
    height = found["laid"]["pedestal_height_m"]["0.9"]
    assert height == pytest.approx(np.radians(found["laid"]["warp_deg"]["0.9"]) * 2.0 / 2)


def test_level_by_value_names_its_class() -> None:
    rough = Roughness(level=1e-4, level_at=1.0, waviness=2.0, band_from=0.5, band_to=2.0)
    found = describe_ground(Course("c", {"all": CourseSection(share=1, roughness=rough)}), SHORT)
    assert found["sections"]["all"]["roughness"]["density_at_0.1_cycle_per_m_m3"] == pytest.approx(1e-2)
    assert found["sections"]["all"]["roughness"]["iso_class"] == "F"


def test_tyre_smooths_the_warp() -> None:
    """Disc and contact average take away short waves."""
    felt = warp_angles(course("felbrack_heath"), SHORT)
    raw = warp_angles(course("felbrack_heath"), View(distance=3000.0, radius=0.0, contact_length=0.0))
    assert 0.85 * raw.std() < felt.std() < raw.std()


@pytest.mark.parametrize("name", ["ondry_ridge", "wadi_tamrun"])
def test_figure_is_drawn_with_units_and_its_obstacles(name: str) -> None:
    made = draw_ground(course(name), SHORT)
    with BytesIO() as file:
        made.savefig(file, format="png", dpi=50)
        assert file.tell() > 20_000
    labels = {axes.get_ylabel() for axes in made.axes} | {axes.get_xlabel() for axes in made.axes}
    assert {
        "height [m]",
        "to the left [m]",
        "spatial frequency [cycle/m]",
        "displacement density [m³]",
        "twist from front to rear axle [deg]",
    } <= labels
    titles = " ".join(axes.get_title(loc="left") for axes in made.axes)
    for section in course(name).sections:
        assert section in titles


def test_every_kind_of_obstacle_can_be_marked() -> None:
    obstacles = (
        Ditch(rate=0.02, width=fixed(2.0), depth=fixed(0.3), angle=fixed(0.4), side="either"),
        Hole(rate=0.02, diameter=fixed(1.0), depth=fixed(0.2)),
        Step(rate=0.02, height=fixed(0.2)),
        Ruts(rate=0.02, length=fixed(10.0), depth=fixed(0.2)),
        WaterBar(rate=0.02, width=fixed(1.0), height=fixed(0.2)),
        Washboard(rate=0.02, length=fixed(10.0), wave_length=fixed(0.7), amplitude=fixed(0.02)),
    )
    made = draw_ground(
        Course("all", {"all": CourseSection(share=1, obstacles=obstacles)}), View(distance=1000.0)
    )
    named = {text.get_text() for axes in made.axes for text in axes.texts}
    assert named & {"ditch", "hole", "step", "ruts", "water bar", "washboard"}


def test_at_most_four_sections_are_shown() -> None:
    rough = Roughness(iso_class="D", band_from=0.05, band_to=2.0)
    sections = {f"part {i}": CourseSection(share=0.2, roughness=rough) for i in range(5)}
    made = draw_ground(Course("five", sections), View(distance=1000.0))
    assert sum(axes.get_ylabel() == "to the left [m]" for axes in made.axes) == 4


def test_a_fitted_survey_is_described_in_words(tmp_path: Path) -> None:
    """Ground laid from a spectrum, surveyed, and fitted again as ground of the same kind."""
    found = lay_ground(course("ondry_ridge"), (1.0, -1.0), 0.25, 4_000, 1, 0)
    rows = "\n".join(f"{0.25 * k:.2f},{a:.5f},{b:.5f}" for k, (a, b) in enumerate(found.heights[:2].T))
    (tmp_path / "survey.csv").write_text(f"distance,left,right\n{rows}\n", encoding="utf-8")
    (tmp_path / "course.toml").write_text(
        'name = "Surveyed"\n[sections.a]\nshare = "100 %"\nsurvey = { file = "survey.csv", use = "same kind" }\n',
        encoding="utf-8",
    )
    for options in ([], ["--json"], ["--chart", str(tmp_path / "chart.svg")]):
        done = CliRunner().invoke(cli, ["ground", str(tmp_path / "course.toml"), *options])
        assert done.exit_code == 0, done.output
    words = CliRunner().invoke(cli, ["ground", str(tmp_path / "course.toml")]).stdout
    assert "fitted to a survey" in words and "isotropic" in words
