"""Replays: every output of a small real study comes out again, and its pictures show the posture computed.

The study has all four mounts, ground rough enough that wheels hang free, large-scale slopes, and a section of another
slope, so that two normal gravities occur.
"""

import dataclasses
import json
import shutil
import subprocess

import numpy as np
import pytest
from click.testing import CliRunner

import crossaxle
from crossaxle.sim.codes import GOOD
from crossaxle.studies.analysis.candidates import candidates, items
from crossaxle.studies.analysis.worst import (
    extreme_variables,
    find_worst,
    item_dimension,
    select_candidates,
    worst_sample,
)
from crossaxle.studies.cli.main import cli
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pictures.film import PLAYER_SCRIPT, PLAYER_STYLE, gif, make_film, player
from crossaxle.studies.posture.replay import ROUNDING, Replayer, gap_figures
from crossaxle.studies.posture.scene import SceneMaker

COURSE = """
name = "Boulder field"
[sections.boulders]
share = "60 %"
roughness = { iso_class = "H", waviness = 2.0, band_from = "0.05 cycle/m", band_to = "2 cycle/m" }
[sections.bank]
share = "40 %"
roughness = { iso_class = "G", waviness = 2.0, band_from = "0.05 cycle/m", band_to = "2 cycle/m" }
grade = { mean = "4 deg", deviation = "2 deg", length = "60 m" }
side_slope = { mean = "5 deg", deviation = "2 deg", length = "60 m" }
"""
STUDY = """
title = "Replay"
vehicle = "library:clinic"
courses = ["course.toml", "library:ondry_ridge"]
samples = 2
sample_length = "200 m"
seed = 3
[sweep]
mount = ["rigid", "pivoting", "pivoting four-point", "sprung"]
wheelbase = ["3.8 m", "5.0 m"]
"""


def run(folder, study=STUDY):
    """Run a study in this process and give its results as they are read from the file."""
    (folder / "course.toml").write_text(COURSE)
    (folder / "study.toml").write_text(study)
    crossaxle.save(crossaxle.run(crossaxle.load(folder / "study.toml")), folder)
    return crossaxle.open_results(folder)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("replay")


@pytest.fixture(scope="module")
def ds(folder):
    return run(folder)


@pytest.fixture(scope="module")
def replayer(ds):
    return Replayer(ds)


def all_of(ds, variable):
    """The worst of every item, candidate and course of a variable."""
    dimension = item_dimension(ds, variable)
    for course in range(ds.sizes["course"]):
        for item in items(ds, dimension) if dimension else [""]:
            for candidate in candidates(ds):
                found = worst_sample(ds, variable, item, candidate.index, course)
                if found is not None:
                    yield found


def test_every_output_replays_to_rounding(ds, replayer):
    """All variables with a position, all their items, candidates and courses: the compiled kernel's value again."""
    variables = extreme_variables(ds)
    assert {f"{v}_position" for v in variables} == {v for v in ds.data_vars if str(v).endswith("_position")}
    assert len(variables) >= 20
    met = [one for variable in variables for one in all_of(ds, variable)]
    assert {one.variable for one in met} == set(variables)
    for one in sorted(met, key=lambda one: (one.course, one.sample)):  # each sample's ground is laid once
        found = replayer.replay(one)
        assert found.standing.posture.code == GOOD
        assert found.exact and abs(found.difference) < ROUNDING, one
    assert (ds["free_events"].values > 0).any()
    assert len({float(s.normal_gravity) for s in replayer._track(0, 0, 0).segments}) == 2


def test_uncertain_values_are_drawn_again(tmp_path):
    uncertain = (
        '\n[uncertain]\n"axle.front.spring_rate" = { kind = "normal", mean = "290 N/mm", deviation = "30 N/mm" }\n'
        '"axle.rear.wheel_track" = { kind = "uniform", least = "1.9 m", most = "2.1 m" }\n'
    )
    ds = run(tmp_path, STUDY.replace(', "library:ondry_ridge"', "").replace('"3.8 m", ', "") + uncertain)
    replayer = Replayer(ds)
    for variable in ("frame_twist_maximum", "gap_minimum", "wheel_load_maximum"):
        found = [replayer.replay(one) for one in all_of(ds, variable)]
        assert all(one.exact for one in found)
    standing = found[0].standing
    assert standing.vehicle.file.axle["rear"].wheel_track != 2.05
    assert_felt(replayer, standing)


def test_a_value_that_is_not_the_computed_one_is_noticed(ds, replayer):
    worst = find_worst(ds, "frame_twist_maximum")
    tampered = dataclasses.replace(worst, value=worst.value * (1 + 1e-6))
    assert replayer.replay(worst).exact
    assert not replayer.replay(tampered).exact


def test_worst_is_the_worst_of_all_or_of_those_chosen(ds):
    found = find_worst(ds, "gap_minimum")
    assert found.value == float(ds["gap_minimum"].min())
    chosen = find_worst(ds, "gap_minimum:tank top to floor", "wheelbase=380 cm, mount=rigid", "Ondry Ridge")
    expected = ds["gap_minimum"].sel(
        gap="tank top to floor", wheelbase=3.8, mount="rigid", course="Ondry Ridge"
    )
    assert chosen.value == float(expected.min())
    assert chosen.sample == int(np.argmin(expected.values))
    assert find_worst(ds, "frame_twist_maximum").value == float(ds["frame_twist_maximum"].max())
    assert [c.name for c in select_candidates(ds, "mount = 'pivoting four-point'")] == [
        "pivoting four-point mount, wheelbase 3.8 m",
        "pivoting four-point mount, wheelbase 5 m",
    ]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("gap_minimun",), 'found "gap_minimun" (did you mean "gap_minimum"?)'),
        (("gap_minimum:cab roof",), 'did you mean "cab roof to alcove"?'),
        (("frame_twist_maximum:x",), "no item here"),
        (("distance",), "allowed: wheel_load_minimum"),
        (("gap_minimum", "wheelbase=4.4 m"), "allowed: 3.8 m, 5.0 m"),
        (("gap_minimum", "wheelbase=4,4 m"), "comma"),
        (("gap_minimum", "track=2 m"), "allowed: mount, wheelbase"),
        (("gap_minimum", "rigid"), "write KEY=VALUE"),
        (("gap_minimum", "", "Ondry"), 'did you mean "Ondry Ridge"?'),
        (("mount_travel_maximum:pivot", "mount=rigid"), "no sample has a value"),
    ],
)
def test_bad_choices_are_told(ds, arguments, said):
    with pytest.raises(InputError) as error:
        find_worst(ds, *arguments)
    assert said in str(error.value)


def assert_felt(replayer, standing):
    """The surface under each wheel, filtered through its tyre, is the ground the wheel stood on (float32: 1e-6 m)."""
    surface = replayer.surface(standing)
    candidate = replayer.experiment.drawn(standing.sample)[standing.candidate]
    for station, line, height in zip(
        standing.vehicle.structure.wheel_station, candidate.lines, standing.heights, strict=True
    ):
        felt = surface.felt(standing.front - station, line.radius, line.contact_length)
        at = np.flatnonzero(np.isclose(surface.line_y, line.y))
        assert felt[at] == pytest.approx([height], abs=2e-6)


def test_the_surface_of_pictures_is_the_sample_s_ground(ds, replayer):
    for variable in ("wheel_load_minimum", "gap_minimum"):
        assert_felt(replayer, replayer.replay(find_worst(ds, variable)).standing)


def test_drawn_tyres_stand_on_the_ground_and_free_ones_above_it(ds, replayer):
    """Tyres' centres: free radius plus clearance (minus deflection) over the ground, to 1 mm.

    Beyond that, drawing turns the axle by its finite angle phi: phi^3/6 of its half track, phi^2/2 of its height.
    """
    worst = find_worst(ds, "wheel_load_minimum:front left", "mount=rigid")
    standing = replayer.replay(worst).standing
    maker = SceneMaker(standing, replayer.surface(standing))
    scene = maker.scene(standing)
    assert any(wheel.free for wheel in scene.wheels)
    in_plane = {piece.name: piece.points.mean(axis=0) for piece in maker.shape.posed(standing.posture)}
    structure, h = standing.vehicle.structure, standing.heights
    x, y = -structure.wheel_station, structure.wheel_y
    fit = np.column_stack([np.ones_like(x), x, y])
    out = (h - fit @ np.linalg.lstsq(fit, h, rcond=None)[0]) * np.cos(
        np.arctan(np.hypot(*np.tan(scene.slope)))
    )
    k = standing.vehicle.kinematics
    for i, (wheel, ground) in enumerate(zip(scene.wheels, out, strict=True)):
        roll = abs(float(k.roll(f"axle {'front' if i < 2 else 'rear'}", 0.0) @ standing.posture.q))
        turned = roll**3 / 6 * abs(y[i]) + roll**2 / 2 * wheel.radius
        expected = ground + wheel.radius + wheel.clearance
        assert in_plane[wheel.name][2] == pytest.approx(expected, abs=1e-3 + turned)
        assert (wheel.load == 0.0) == wheel.free


def test_drawn_gaps_are_as_wide_as_computed_with_finite_rotations(ds, replayer):
    """Distance of the drawn points along the gap's direction; turning from level instead of from rest: 5 mm."""
    for text in ("gap_minimum:cab roof to alcove", "gap_minimum:cab back to body"):
        standing = replayer.replay(find_worst(ds, text)).standing
        shape = SceneMaker(standing, replayer.surface(standing)).shape
        for gap in gap_figures(standing):
            if standing.vehicle.file.gap[gap.name].boxes is None:
                ends = shape.gap_ends(gap.place, standing.posture)
                width = float((ends[1] - ends[0]) @ gap.place.direction)
                assert width == pytest.approx(gap.finite, abs=5e-3), gap.name


def test_around_ends_with_the_sample(ds, replayer):
    standing = replayer.stand(0, 0, 0, 3)
    around = replayer.around(standing, 2.0, 0.25)
    assert around[0].position == 3 and around[-1].front == pytest.approx(standing.front + 2.0)
    with pytest.raises(ValueError, match="of 4000"):
        replayer.stand(0, 0, 0, 4000)


@pytest.fixture(scope="module")
def film(ds, replayer):
    worst = find_worst(ds, "wheel_load_minimum:front left", "mount=rigid")
    standing = replayer.replay(worst).standing
    pivoting = select_candidates(ds, "mount=pivoting")[0].index
    other = replayer.stand(pivoting, worst.course, worst.sample, standing.position)
    return make_film(replayer, worst, [other, standing], ['A: <b>"Föhn"</b> & Co', "B: rigid"])


def test_film_is_small_and_rests_at_its_posture(film):
    content = gif(film)
    assert content.startswith(b"GIF89a")
    assert len(content) < 1.5e6
    assert len(player(film)) < 2e6
    assert film.places[film.here] == 0.0
    assert len({frame.size for frame in film.frames}) == 1 and len(film.frames) >= 30
    assert any(first.tobytes() != film.frames[0].tobytes() for first in film.frames[1:])


def test_player_asks_for_nothing_from_outside(film):
    page = player(film)
    assert "<b>" not in page and "&lt;b&gt;" in page
    assert "http" not in page + PLAYER_SCRIPT + PLAYER_STYLE
    assert "eval" not in PLAYER_SCRIPT and "Function" not in PLAYER_SCRIPT
    assert page.count(" hidden>") == len(
        film.frames
    )  # all frames but one, and the controls until the script runs


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no browser")
@pytest.mark.slow
def test_player_plays_in_a_browser(film, tmp_path):
    """The script of the page shows the controls, and a press on the button moves on to the next frame."""
    press = (
        "document.querySelector('.film button').click();"
        "setTimeout(() => document.querySelector('.film button').click(), 400);"
    )
    page = tmp_path / "film.html"
    page.write_text(
        f"<!DOCTYPE html><html lang='en'><meta charset='utf-8'><title>film</title><style>{PLAYER_STYLE}</style>"
        f"{player(film)}<script>{PLAYER_SCRIPT}{press}</script></html>"
    )
    dom = subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=3000", "--dump-dom",
         f"--user-data-dir={tmp_path / 'profile'}", page.as_uri()],
        capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip
    assert '<div class="controls"><button type="button">Play</button>' in dom
    moved = dom.split("<output>")[1].split("</output>")[0]
    assert moved.endswith("after")


def test_command_replays_draws_and_films(folder, ds):
    arguments = [
        "replay",
        str(folder),
        "--worst",
        "gap_minimum:tank top to floor",
        "--candidate",
        "mount=pivoting",
    ]
    chart, film = folder / "posture.png", folder / "film.html"
    told = CliRunner().invoke(cli, [*arguments, "--chart", str(chart), "--film", str(film)])
    assert told.exit_code == 0, told.output
    assert "replayed: the same to rounding" in told.stdout
    assert chart.read_bytes().startswith(b"\x89PNG")
    assert "<script>" in film.read_text() and "http" not in film.read_text()
    found = json.loads(CliRunner().invoke(cli, [*arguments, "--json"]).stdout)
    assert found["same_to_rounding"] and found["candidate"]["mount"] == "pivoting mount"
    assert found["posture"]["gaps"]["tank top to floor"] == pytest.approx(found["stored"])
    assert found["stored"] == float(ds["gap_minimum"].sel(gap="tank top to floor", mount="pivoting").min())


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--worst", "gap_minimum", "--chart", "x.bmp"], "--chart x.bmp: allowed are names that end in"),
        (["--worst", "gap_minimum", "--film", "x.avi"], "--film x.avi: allowed are names that end in"),
        (["--worst", "nothing"], '--worst: found "nothing"'),
        (["--worst", "gap"], '--worst: found "gap" (did you mean "gap_minimum"?)'),
        (
            ["--worst", "gap_minimum", "--candidate", "mount"],
            '"mount" has no value; write KEY=VALUE, e.g. "mount=rigid"',
        ),
    ],
)
def test_command_refuses_bad_input(folder, ds, options, said):
    told = CliRunner().invoke(cli, ["replay", str(folder), *options])
    assert told.exit_code == 2
    assert said in told.stderr and "Traceback" not in told.stderr
