"""Study files: sweeps into candidates, references into files, and what is refused."""

from pathlib import Path

import numpy as np
import pytest

from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.versions import identity
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import Study, from_attributes, load


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_example(tmp_path)
    return tmp_path


def changed(folder: Path, *changes: tuple[str, str]) -> Study:
    text = (folder / "study.toml").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "study.toml").write_text(text)
    return load(folder / "study.toml")


def test_sweep_makes_every_combination_in_order(folder: Path) -> None:
    study = changed(
        folder,
        (
            'mount = ["rigid", "pivoting"]',
            'mount = ["rigid", "sprung"]\ntank.water.spacing = ["80 cm", "1 m"]',
        ),
    )
    assert study.shape == (3, 2, 2)
    assert [one.key for one in study.swept] == ["wheelbase", "mount", "tank.water.spacing"]
    assert np.array_equal(study.swept[2].coordinate, [0.8, 1.0])
    assert study.swept[2].unit == "m"
    assert [c.place for c in study.candidates[:3]] == [(0, 0, 0), (0, 0, 1), (0, 1, 0)]
    vehicles = study.vehicle_files()
    assert [(v.wheelbase, v.mount, v.tank["water"].spacing) for v in vehicles[:3]] == [
        (3.8, "rigid", 0.8),
        (3.8, "rigid", 1.0),
        (3.8, "sprung", 0.8),
    ]


def test_positions_and_plain_numbers_can_be_swept(folder: Path) -> None:
    study = changed(
        folder,
        (
            'mount = ["rigid", "pivoting"]',
            'cab.back = ["front axle + 0.8 m", "front axle + 0.9 m"]\nframe.joint_factor = [0.5, 1, 2]',
        ),
    )
    assert study.swept[1].unit == ""
    assert study.swept[2].unit == "1"
    assert len(study.vehicle_files()) == 18


def test_nothing_swept(folder: Path) -> None:
    study = changed(folder, ('wheelbase = ["3.8 m", "4.4 m", "5.0 m"]\nmount = ["rigid", "pivoting"]', ""))
    assert study.shape == ()
    assert len(study.candidates) == len(study.vehicle_files()) == 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["3.8 m", "4.4 m", "5.0 m"]', '"3.8 m"', 'sweep.wheelbase: found "3.8 m"; allowed is a list'),
        ('["3.8 m", "4.4 m", "5.0 m"]', "[]", "sweep.wheelbase: found a list; allowed is a list of values"),
        ('["3.8 m", "4.4 m", "5.0 m"]', '["3.8 m", "380 cm"]', "sweep.wheelbase: holds the same value twice"),
        ('["3.8 m", "4.4 m", "5.0 m"]', "[inf, 1]", "not finite"),
        ('["3.8 m", "4.4 m", "5.0 m"]', "[[1], 2]", "found tables or lists among the values"),
        ('["3.8 m", "4.4 m", "5.0 m"]', str(list(range(10_001))), "makes 20002 candidates; at most 10000"),
        ("mount = [", '"a/b" = [', "a swept key cannot hold a slash"),
        ("samples = 200", "samples = 0", "samples: found 0; allowed is at least 1"),
        ("samples = 200", "samples = 2e9", "samples: found 2000000000.0; allowed is a whole number"),
        ("samples = 200", "sample = 200", 'sample: is not a known key; did you mean "samples"?'),
        (
            'spacing = "5 cm"',
            "spacing = 0.05",
            "spacing: 0.05 is a bare number; write a length with its unit",
        ),
        ('spacing = "5 cm"', 'spacing = "5 kg"', "is a mass; a length is needed"),
        ('spacing = "5 cm"', 'spacing = "2 m"', 'spacing: found "2 m"; allowed is at most 1'),
        ("seed = 1", "seed = -1", "seed: found -1; allowed is at least 0"),
        ("seed = 1", "seed = true", "seed: found true; allowed is a whole number"),
        ('courses = ["course.toml"]', "courses = []", "courses: found a list; allowed is at least 1 entries"),
        ('courses = ["course.toml"]', 'courses = ["no.toml"]', "no.toml: cannot be read: No such file"),
        (
            'courses = ["course.toml"]',
            'courses = ["library:no"]',
            '"library:no" is not a shipped course; shipped are ',
        ),
        ('vehicle = "vehicle.toml"', 'vehicle = "library:../x"', "is not a shipped vehicle"),
        (
            'unload_ends_above = "15 %"',
            'unload_ends_above = "5 %"',
            "unload_ends_above is 5 %; it must not be below",
        ),
    ],
)
def test_refused(folder: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        changed(folder, (old, new))
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ('["4.4 m", "4.4 kg"]', 'with wheelbase = "4.4 kg"'),
        ('["4.4 m", 4.4]', "is a bare number"),
        ('["4.4 m", "-4.4 m"]', "allowed is above 0"),
    ],
)
def test_swept_value_that_the_vehicle_does_not_allow(folder: Path, values: str, said: str) -> None:
    study = changed(folder, ('["3.8 m", "4.4 m", "5.0 m"]', values))
    with pytest.raises(InputError, match="sweep: with") as error:
        study.vehicle_files()
    assert said in str(error.value)


def test_two_courses_of_one_name(folder: Path) -> None:
    study = changed(folder, ('["course.toml"]', '["course.toml", "course.toml"]'))
    with pytest.raises(InputError, match="two of them have the name"):
        study.course_files()


def test_study_made_again_from_its_attributes(folder: Path) -> None:
    study = load(folder / "study.toml", {"samples": 7, "seed": 3})
    again = from_attributes(study.attributes())
    assert (again.file, again.vehicle, again.courses) == (study.file, study.vehicle, study.courses)
    assert again.file.samples == 7
    assert again.attributes() == study.attributes()
    assert identity(again) == identity(study)


def test_identity_tells_studies_apart(folder: Path) -> None:
    path = folder / "study.toml"
    base = identity(load(path))
    assert identity(load(path, {"samples": 3})) == base
    assert identity(load(path, {"seed": 2})) != base
    assert identity(load(path, {"spacing": "10 cm"})) != base
    vehicle = (folder / "vehicle.toml").read_text()
    (folder / "vehicle.toml").write_text(vehicle + "\n# a comment\n")
    assert identity(load(path)) == base
    (folder / "vehicle.toml").write_text(vehicle.replace('wheelbase = "4.4 m"', 'wheelbase = "4.5 m"'))
    assert identity(load(path)) != base


def with_survey(folder: Path, name: str = "measured.csv") -> Study:
    """A study whose course follows a survey of 200 m."""
    rng = np.random.default_rng(1)
    x = np.arange(0.0, 200.0, 0.1)
    heights = np.cumsum(rng.normal(0.0, 0.01, (2, x.size)), axis=1)
    rows = "\n".join(f"{a:.2f},{b:.4f},{c:.4f}" for a, b, c in zip(x, *heights, strict=True))
    (folder / "measured.csv").write_text(f"distance,left,right\n{rows}\n")
    (folder / "course.toml").write_text(
        f'name = "surveyed"\n[sections.all]\nshare = "100 %"\nsurvey = {{ file = "{name}", use = "as measured" }}\n'
    )
    return load(folder / "study.toml", {"samples": 1, "sample_length": "100 m"})


def test_surveys_travel_with_the_study(folder: Path) -> None:
    study = with_survey(folder)
    texts = study.attributes()
    here, _ = Experiment(study).run(0)
    (folder / "measured.csv").unlink()
    again = from_attributes(texts)
    assert identity(again) == identity(study)
    there, _ = Experiment(again).run(0)
    assert np.array_equal(here, there, equal_nan=True)


@pytest.mark.parametrize("name", ["../measured.csv", "/etc/passwd.csv", "a/../../b.csv", "missing.csv"])
def test_surveys_from_elsewhere_are_refused(folder: Path, name: str) -> None:
    with pytest.raises(InputError, match=r"must lie in the folder of the course|cannot be read"):
        with_survey(folder, name)


def test_survey_that_is_no_survey(folder: Path) -> None:
    study = with_survey(folder)
    (folder / "measured.csv").write_text("a,b\n1,2\n")
    with pytest.raises(InputError, match=r"course.toml: measured\.csv: "):
        Experiment(load(folder / "study.toml"))
    assert study.surveys
