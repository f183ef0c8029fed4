"""Worked studies: their commands run as their texts give them, on few samples; tables and figures belong to them."""

import re

import pytest
import xarray as xr

from crossaxle.studies.study.example import worked_studies
from crossaxle.studies.study.study import load
from tests.documents import WORKED, commands, follow
from tests.worked import STUDIES, tables


def test_every_worked_study_has_a_text_that_is_made_by_the_command():
    assert set(worked_studies()) == set(STUDIES)


@pytest.mark.parametrize("name", STUDIES)
def test_commands_of_the_text(name, tmp_path, monkeypatch):
    monkeypatch.setattr(
        "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
    )
    text = (WORKED / name / "README.md").read_text(encoding="utf-8")
    listed = commands(text)
    assert listed[0] == ["crossaxle", "example", "study", "--worked", name]
    follow(listed, tmp_path, "--samples", "2", "--workers", "1")
    results = tmp_path / "study" / "results" / "results.nc"
    with xr.open_dataset(results) as dataset:
        assert dataset.sizes["sample"] == 2
    assert (tmp_path / "study" / "worst.png").stat().st_size > 10_000
    # The text's tables have the rows that these results have; with so few samples nothing is said of what to build.
    assert _names(tables(results)) <= _names(text.split("<!-- results -->")[1].split("<!-- end")[0])


def _names(text: str) -> set[str]:
    """First cells of all rows: candidates, headings, limits."""
    return {line.split("|")[1].strip() for line in text.splitlines() if line.startswith("|")}


@pytest.mark.parametrize("name", STUDIES)
def test_text_states_seed_and_distance_and_shows_small_figures(name, tmp_path):
    text = (WORKED / name / "README.md").read_text(encoding="utf-8")
    shown = set(re.findall(r"\]\((\w+\.png)\)", text))
    assert (
        shown == {path.name for path in (WORKED / name).glob("*.png")} == {f"{f}.png" for f in STUDIES[name]}
    )
    assert all((WORKED / name / figure).stat().st_size < 60_000 for figure in shown)
    if (WORKED / name / "measured.toml").exists():
        raise AssertionError("measured.toml is written by the reader's calibration")
    study = (WORKED / name / "study.toml").read_text(encoding="utf-8")
    path = tmp_path / "study.toml"
    path.write_text(study.replace('"measured.toml"', '"library:laboratory"'))
    file = load(path, {}).file
    assert f"{file.samples} samples of {file.sample_length / 1e3:g} km, seed {file.seed}" in " ".join(
        text.split()
    )
    assert "invented" in text.lower()
