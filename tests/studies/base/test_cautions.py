"""Cautions stand where somebody is about to act on a number: before it, in every form, and never in JSON."""

import html
import json
import re
import shutil
import subprocess

import numpy as np
import pytest
from click.testing import CliRunner

import crossaxle
from crossaxle.studies.analysis.worst import find_worst
from crossaxle.studies.base import cautions
from crossaxle.studies.charts import style
from crossaxle.studies.clearance_sheet.drawing_parts import Text
from crossaxle.studies.clearance_sheet.layout import lay_out_sheet
from crossaxle.studies.clearance_sheet.sheet_numbers import clearance_sheet
from crossaxle.studies.cli.main import cli
from crossaxle.studies.pictures.film import make_film
from crossaxle.studies.posture.replay import Replayer
from crossaxle.studies.report.report import write_report

STUDY = """
title = "Cautions"
vehicle = "library:clinic"
courses = ["library:felbrack_heath"]
samples = 2
sample_length = "200 m"
seed = 3
"""
RULES = ("body-mounting rules", "local regulations", "licensed practice")
STANDS = ("ated stands", "chock", "obody in, under or beside", "first lift-off")
SPEED = "0.2 to 0.3 m/s"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("cautions")
    (made / "study.toml").write_text(STUDY)
    crossaxle.save(crossaxle.run(crossaxle.load(made / "study.toml")), made)
    return made


def ask(*arguments):
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, done.output
    return done.stdout


def plain(text):
    """Text on one line, so that a fold does not hide words."""
    return " ".join(text.split())


def before(text, number, *words):
    """Whether all words stand ahead of the first number that somebody acts on."""
    head = plain(text[: text.index(number)])
    return [word for word in words if word not in head] == []


def svg_words(path):
    """Words of a chart: each line of text stands in the file as a comment beside its outlines."""
    return plain(" ".join(html.unescape(line) for line in re.findall(r"<!-- (.*?) -->", path.read_text())))


def pdf_words(path, *options):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is missing")
    read = subprocess.run(["pdftotext", *options, str(path), "-"], capture_output=True, text=True, check=True)
    return plain(read.stdout)


def test_tip_slopes():
    said = ask("check", "library:clinic")
    start = said.index("Slope on which it tips")
    assert before(
        said[start:],
        "left side high",
        "not a slope that is safe",
        "Lateral give of tyres and springs",
        *RULES,
    )
    assert "CAUTION" not in ask("check", "library:clinic", "--json")


def test_pedestals_in_text_chart_and_sheet(tmp_path):
    chart, sheet = tmp_path / "chart.svg", tmp_path / "sheet.html"
    asked = ("pedestal", "library:clinic", "--bare", "--heights", "0 m:0.5 m:0.1 m")
    said = ask(*asked, "--chart", chart, "--sheet", sheet)
    assert before(said, "height  ", "CAUTION", *STANDS, *RULES)
    page = html.unescape(sheet.read_text())
    for words in (*STANDS, *RULES):
        assert words in svg_words(chart)
        assert words in page[: page.index("What to raise")]
    assert "CAUTION" not in ask(*asked, "--json")
    ask(*asked, "--chart", tmp_path / "chart.pdf")
    assert "Stop at first lift-off" in pdf_words(tmp_path / "chart.pdf")


def test_calibration(tmp_path):
    readings, chart = tmp_path / "readings.csv", tmp_path / "fit.svg"
    readings.write_text(
        "height,under,measured,value,uncertainty,direction\n"
        "200 mm,front right and rear left,twist front axle to rear axle,-5.5 deg,0.2 deg,raising\n"
    )
    asked = ("calibrate", "library:clinic", readings, "--bare", "--overwrite", "--out", tmp_path / "new.toml")
    said = ask(*asked, "--chart", chart)
    assert before(said, "95 % interval", "CAUTION", "obody in, under or beside", "first lift-off", *RULES)
    assert "makes no posture safe" in svg_words(chart)
    assert "CAUTION" not in ask(*asked, "--json")


def test_replay_in_text_chart_and_film(folder, tmp_path):
    asked = ("replay", folder, "--worst", "frame_twist_maximum")
    chart, film = tmp_path / "posture.svg", tmp_path / "film.html"
    said = ask(*asked, "--chart", chart, "--film", film)
    assert before(said, "wheels\n", "CAUTION", "not one to drive into", SPEED, *RULES)
    page = plain(html.unescape(film.read_text()))
    for words in ("not one to drive into", SPEED, *RULES):
        assert words in svg_words(chart)
        assert words in page[: page.index("<figure")]
    assert "CAUTION" not in ask(*asked, "--json")


def test_every_frame_of_a_film_carries_the_caution_in_red(folder):
    """In a GIF the pixels are all there is: the upper lines hold the colour of danger, in words above the views."""
    replayer = Replayer(crossaxle.open_results(folder))
    standing = replayer.stand(0, 0, 0, 2000)
    worst = find_worst(crossaxle.open_results(folder), "frame_twist_maximum")
    film = make_film(replayer, worst, [standing], ["truck"], step=5.0)
    assert cautions.REPLAY in film.text
    danger = np.array([int(style.DANGER[k : k + 2], 16) for k in (1, 3, 5)])
    for frame in film.frames:
        top = np.asarray(frame.convert("RGB"))[:40].astype(int)
        near = np.abs(top - danger).max(axis=-1) < 40
        assert near.sum() > 500


def test_rare_events(folder):
    asked = (
        "rare",
        folder,
        "--output",
        "gap_minimum:cab roof to alcove",
        "--level",
        "99 mm",
        "--repeats",
        "3",
    )
    said = ask(*asked)
    assert before(said, "Gap, cab roof", "CAUTION", "a rate of the model", SPEED, *RULES)
    assert "CAUTION" not in ask(*asked, "--json")


def test_clearances(folder, tmp_path):
    said = plain(ask("clearances", folder, "--out", tmp_path / "sheet.svg"))
    sheet = lay_out_sheet(clearance_sheet(crossaxle.open_results(folder), 0))
    drawn = " ".join(entity.text for entity in sheet.entities if isinstance(entity, Text))
    for words in ("Not a manufacturing drawing", SPEED, "body-mounting rules", "local regulations"):
        assert words in said
        assert words in drawn


def test_page_one_has_one_line_under_its_title(folder, tmp_path):
    data = crossaxle.open_results(folder)
    write_report(data, tmp_path)
    page = (tmp_path / "report.html").read_text()
    line = cautions.REPORT.replace("*", "")
    said = plain(html.unescape(re.sub(r"<[^>]+>", "", page.split("</header>")[0])))
    assert line in said
    paper = pdf_words(tmp_path / "report.pdf", "-l", "1")
    assert before(paper, "Verdict", "people die of it", "local regulations", "licensed practice")
    assert json.loads((tmp_path / "report.json").read_text())["cautions"][0].startswith("Rollover kills")
