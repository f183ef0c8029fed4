"""Course files: the shipped ones are sound, and what is wrong in a file is said with its place and a remedy."""

from pathlib import Path

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import InputError, document, read, validate
from crossaxle.terrain.course import Course, CourseFile, CourseSection, Patches, Roughness, Slope, prepare
from crossaxle.terrain.distribution import fixed
from crossaxle.terrain.ground import lay_ground
from crossaxle.terrain.obstacles import Boulder, Ditch, Step, Washboard
from crossaxle.terrain.plausibility import doubts

LIBRARY = Path(__file__).parents[2] / "terrain" / "library"
SHIPPED = sorted(LIBRARY.glob("*.toml"))

GOOD = """
name = "Test"
[sections.road]
share = "100 %"
roughness = { iso_class = "E", band_from = "0.02 cycle/m", band_to = "2 cycle/m" }
[[sections.road.obstacles]]
kind = "ditch"
rate = "2 1/km"
width = { from = "1 m", to = "200 cm" }
depth = { median = "0.3 m", spread = 0.4, most = "0.6 m" }
angle = "30 deg"
"""


def parsed(text: str) -> CourseFile:
    return validate(document("course.toml", text), CourseFile)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_courses_are_sound(path: Path) -> None:
    course = prepare(read(path, CourseFile))
    assert doubts(course) == []
    ground = lay_ground(course, (1.0, -1.0), 0.05, 20_000, 1, 0)
    assert np.all(np.isfinite(ground.heights))
    text = path.read_text(encoding="utf-8")
    assert text.startswith("#"), "a comment says what it is"
    assert "nvented" in text


def test_shipped_courses_run_from_easy_to_severe() -> None:
    """Roughness of the cross-level doubles at least twice on the way through the list."""
    spread = {}
    for path in SHIPPED:
        z = lay_ground(prepare(read(path, CourseFile)), (1.0, -1.0), 0.1, 100_000, 1, 0).heights
        spread[path.stem] = float((z[0] - z[1]).std())
    assert len(spread) >= 4
    order = ["ondry_ridge", "felbrack_heath", "kurrin_pass", "wadi_tamrun"]
    values = [spread[name] for name in order]
    assert values == sorted(values)
    assert values[-1] > 3 * values[0]


def test_quantities_become_si() -> None:
    section = parsed(GOOD).sections["road"]
    ditch = section.obstacles[0]
    assert isinstance(ditch, Ditch)
    assert ditch.rate == pytest.approx(2e-3)
    assert (ditch.width.low, ditch.width.high) == (1.0, 2.0)
    assert ditch.angle == fixed(np.radians(30))
    assert section.roughness is not None
    assert section.roughness.spectrum().upper == 2.0


@pytest.mark.parametrize(
    ("found", "replacement", "messages"),
    [
        ('"100 %"', '"90 %"', ["shares of the sections add up to 90 %; they must make 100 %"]),
        ('band_to = "2 cycle/m"', 'band_to = "0.01 cycle/m"', ["sections.road.roughness", "holds no energy"]),
        (', band_to = "2 cycle/m"', "", ["sections.road.roughness.band_to: is missing"]),
        ('"2 cycle/m"', "2", ["band_to: 2 is a bare number", "cycle/m"]),
        ('iso_class = "E"', 'iso_class = "J"', ["iso_class", '"J"']),
        ('iso_class = "E"', 'level = "1 m3", iso_class = "E"', ["give either iso_class or level"]),
        ('iso_class = "E",', "", ["give either iso_class or level"]),
        ('iso_class = "E"', 'iso_class = "E", waviness = 9', ["waviness: found 9; allowed is at most 4"]),
        ('kind = "ditch"', 'kind = "ditsch"', ['did you mean "ditch"?']),
        (
            'width = { from = "1 m", to = "200 cm" }',
            'width = { from = "3 m", to = "2 m" }',
            ["smaller value first"],
        ),
        (
            'width = { from = "1 m", to = "200 cm" }',
            'width = { from = "1 m" }',
            ["has the keys from;", "median"],
        ),
        ('width = { from = "1 m", to = "200 cm" }', 'width = "-1 m"', ["gives values down to -1 m"]),
        ('width = { from = "1 m", to = "200 cm" }', "", ["width: is missing"]),
        ('most = "0.6 m"', 'most = "0.2 m"', ["most above the median"]),
        ('angle = "30 deg"', 'angel = "30 deg"', ['did you mean "angle"?']),
        ('share = "100 %"', 'share = "100 %"\ncoherence = "exponential"', ["coherence_decay goes with"]),
        (
            'share = "100 %"',
            'share = "100 %"\nsurvey = { file = "a.csv" }',
            ["give either roughness or survey"],
        ),
        ('share = "100 %"', 'share = "100 %"\nsurvey = { file = "a.txt" }', ["neither a .csv table"]),
        ('share = "100 %"', 'share = "100 %"\nsurvey = { file = "a.nc" }', ["needs a route"]),
    ],
)
def test_what_is_wrong_is_said(found: str, replacement: str, messages: list[str]) -> None:
    assert found in GOOD
    with pytest.raises(InputError) as caught:
        parsed(GOOD.replace(found, replacement))
    for message in messages:
        assert message in str(caught.value)


def test_patches_need_roughness() -> None:
    with pytest.raises(ValueError, match="patches need roughness"):
        CourseSection(share=1, patches=Patches(strength=0.3, length=20.0))


def rough(**changes: object) -> Roughness:
    values = {"iso_class": "F", "band_from": 0.05, "band_to": 2.0, **changes}
    return Roughness(**values)


@pytest.mark.parametrize(
    ("section", "messages"),
    [
        (
            {"roughness": rough(iso_class="H", band_from=0.01)},
            ["up to 2 cycle/m", "standard deviation of 0.45 (24 deg)", "no wheel meets", "lower band_to"],
        ),
        ({"roughness": rough(waviness=3.0)}, ["waviness 3.00 lies outside 1.5 to 2.5"]),
        ({"roughness": rough(band_to=0.4)}, ["ends at 0.4 cycle/m", "shorter than 2.5 m"]),
        ({"side_slope": Slope(mean=0.4, deviation=0.1, length=20.0)}, ["side_slope reaches 34 deg"]),
        (
            {"obstacles": (Boulder(rate=1e-3, diameter=fixed(1.0), height=fixed(0.8)),)},
            ["boulder up to 0.8 m high is an edge that no wheel climbs"],
        ),
        ({"obstacles": (Step(rate=1e-3, height=fixed(0.7)),)}, ["step up to 0.7 m high is an edge"]),
        (
            {"obstacles": (Ditch(rate=1e-3, width=fixed(1.0), depth=fixed(0.6)),)},
            ["ditch 0.6 m deep and 1 m wide has walls of 62 deg"],
        ),
        (
            {
                "obstacles": (
                    Washboard(rate=0.05, length=fixed(30.0), wave_length=fixed(0.8), amplitude=fixed(0.02)),
                )
            },
            ["50 times a washboard per km covers 150 % of the way"],
        ),
    ],
)
def test_doubts_come_with_numbers_and_remedy(section: dict[str, object], messages: list[str]) -> None:
    found = doubts(Course("doubtful", {"some": CourseSection(share=1, **section)}))
    assert len(found) == 1
    assert found[0].startswith("section some: ")
    for message in messages:
        assert message in found[0]


def test_a_step_with_a_ramp_may_be_high() -> None:
    step = Step(rate=1e-3, height=fixed(0.7), ramp=fixed(2.0))
    assert doubts(Course("c", {"some": CourseSection(share=1, obstacles=(step,))})) == []
