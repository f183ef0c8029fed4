"""Report and charts from made-up results: complete, self-contained, and safe whatever the names."""

import csv
import io
import re
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser

import matplotlib as mpl
import numpy as np
import pytest
from PIL import Image

from crossaxle.studies.analysis.outcomes import headline, once_in
from crossaxle.studies.base.csv_tables import table_csv
from crossaxle.studies.base.table import Cell, Table
from crossaxle.studies.charts import style
from crossaxle.studies.charts.catalogue import catalogue
from crossaxle.studies.charts.text import fold, width
from crossaxle.studies.charts.unloading import unloading
from crossaxle.studies.report.page_one import MOST_ROWS_BESIDE_LIMITS, page_one
from crossaxle.studies.report.report import write_report

ODD = 'Büro "<b>Föhn</b>" & Söhne, verlängert um $x^2$ – Ausführung 7b'


class Page(HTMLParser):
    """Collects tags, ids, links and text, and checks that tags close in order."""

    VOID = ("meta", "link", "img", "source", "br", "input")

    def __init__(self, text):
        super().__init__()
        self.open, self.seen, self.words = [], [], []
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def written(synthetic, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    ds = synthetic(candidates={"wheelbase": (3.8, 5.0), "mount": ("rigid", "pivoting")})
    return ds, folder, write_report(ds, folder)


def test_all_files_are_written_and_can_be_read(written):
    _, folder, paths = written
    assert paths[0] == folder / "report.html"
    assert folder / "report.pdf" in paths
    charts = [p for p in paths if p.parent == folder / "charts"]
    assert {p.suffix for p in charts} == {".png", ".svg", ".pdf"}
    for path in paths:
        content = path.read_bytes()
        if path.suffix == ".png":
            with Image.open(path) as picture:
                assert picture.size[0] == 1600
        elif path.suffix == ".svg":
            ElementTree.fromstring(content)
        elif path.suffix == ".pdf":
            assert content.startswith(b"%PDF-")
    assert paths[0].stat().st_size < 8e6


def test_tables_for_a_spreadsheet_have_units_numbers_and_no_formulas(written):
    """Numbers are numbers: the rates are those counted, but for digits that their interval does not bear."""
    ds, folder, _ = written
    with (folder / "tables" / "wheel_unloading_by_axle.csv").open(encoding="utf-8-sig", newline="") as file:
        head, *rows = csv.reader(file)
    assert head[:5] == [
        "Candidate", "Wheels", "Unload events [per km]", "Unload events [per km], interval from",
        "Unload events [per km], interval to",
    ]  # fmt: skip
    front = ds.isel(wheel=[0, 1]).sum(("course", "sample"))
    counted = (front["unload_events"].sum("wheel") / ds["distance"].sum(("course", "sample")) * 1000).values
    told = [row for row in rows if row[1] == "front"]
    for row, rate in zip(told, counted.ravel(), strict=True):
        assert float(row[2]) == pytest.approx(rate, rel=0.3)
        assert float(row[3]) <= float(row[2]) <= float(row[4])


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", '=cmd|"/c calc"!A0', "  =1"])
def test_no_name_becomes_a_formula(name):
    table = Table(name, [Cell(name), Cell("Gap", name)], [[Cell(name, mark="name"), Cell("−3.5", "−4 to 2")]])
    head, row = csv.reader(io.StringIO(table_csv(table)))
    assert row[0] == f"'{name}"
    assert row[1:] == ["-3.5", "-4", "2"]
    assert not any(cell.lstrip().startswith(("=", "@")) for cell in (*head, *row))


def test_the_page_needs_nothing_from_outside_and_its_links_lead_somewhere(written):
    page = Page(written[2][0].read_text(encoding="utf-8"))
    ids = {a["id"] for _, a in page.seen if "id" in a}
    for tag, attributes in page.seen:
        for key in ("src", "href", "srcset"):
            if key in attributes:
                link = attributes[key]
                assert link.startswith("data:") or link[1:] in ids, (tag, link[:200])
        assert tag != "script"  # made-up results have no posture to film
        if tag == "img":
            assert len(attributes["alt"]) > 40
    assert "http://" not in "".join(page.words)


def test_page_one_states_the_numbers_computed(written):
    ds, _, paths = written
    text = " ".join("".join(Page(paths[0].read_text(encoding="utf-8")).words).split())
    total = ds["unload_events"].sum(("course", "sample", "wheel"))
    km = ds["distance"].sum(("course", "sample")) / 1000
    rigid = float((total / km).sel(wheelbase=3.8, mount="rigid"))
    assert f"wheelbase 3.8 m, rigid mount {rigid:.1f}" in text
    for must in (
        "Rollover",
        "pedestals",
        "Cracked tank",
        "body-mounting rules",
        "19 times out of 20",
        "rule of three",
    ):
        assert must in text
    assert 'title = "Field clinic, invented"' in text


def test_title_of_the_chart_states_the_ratio_of_the_counts(synthetic):
    ds = synthetic(n_samples=1000)
    events = ds["unload_events"].sum(("course", "sample", "wheelbase")).values
    front = events[:, :2].sum(axis=1)
    said = unloading(ds).get_label()
    assert said.startswith("Rigid mount unloads the front wheels ")
    found = float(re.search(r"wheels (\d+) times as often as pivoting mount", said)[1])
    assert found == pytest.approx(front[0] / front[1], rel=0.05)


@pytest.mark.parametrize(
    "case",
    [
        {"candidates": {"mount": ("rigid", ODD)}, "gaps": (ODD, "x" * 60), "brackets": (ODD,), "failed": 3},
        {"candidates": {"wheelbase": (4.4,)}, "quiet": True, "n_samples": 20, "gaps": ("hatch",)},
        {"candidates": {"mount": ("rigid",)}, "gaps": (), "brackets": (), "tanks": (), "n_samples": 1},
        {
            "courses": ("quarry", 'a "<second>" course'),
            "candidates": {"body.mass": (5e3, 7e3)},
            "n_samples": 20,
        },
        {"failed": 20, "n_samples": 20, "candidates": {"mount": ("rigid", "pivoting")}},
        {
            "n_samples": 20,
            "candidates": {"mount": ("rigid", "pivoting")},
            "fail_candidate": True,
            "gaps": ("hatch",),
        },
    ],
    ids=[
        "odd names",
        "one quiet candidate",
        "no items, one sample",
        "two courses",
        "every sample failed",
        "one candidate failed",
    ],
)
def test_no_study_breaks_the_report(synthetic, tmp_path, case):
    case = dict(case)
    one_fails = case.pop("fail_candidate", False)
    ds = synthetic(**case)
    if one_fails:
        ds["sample_status"][{"mount": 1}] = 2
    text = write_report(ds, tmp_path)[0].read_text(encoding="utf-8")
    page = Page(text)
    assert not any(tag in ("b", "second") for tag, _ in page.seen)
    words = "".join(page.words)
    assert not re.search(r"\b(nan|inf)\b", words)
    if case.get("quiet"):
        assert "No wheel unloaded" in words and "rule of three" in words


def test_nothing_swept(synthetic, tmp_path):
    ds = synthetic(candidates={"mount": ("rigid",)}, gaps=("hatch",)).isel(mount=0, drop=True)
    assert "The vehicle has" in write_report(ds, tmp_path)[0].read_text(encoding="utf-8")


def test_forty_candidates(synthetic):
    ds = synthetic(
        candidates={
            "wheelbase": np.linspace(3.8, 5, 5),
            "mount": ("rigid", "pivoting"),
            "spring": (1, 2, 3, 4),
        },
        n_samples=20,
    )
    found = page_one(ds)
    assert len(found.table.rows) == MOST_ROWS_BESIDE_LIMITS
    assert found.left_out == 40 - MOST_ROWS_BESIDE_LIMITS  # gaps that close are a limit of every study
    for entry in catalogue(ds)[:2]:
        assert entry.draw(style.WIDE).get_size_inches()[1] < 30


@pytest.mark.parametrize("across", [style.WIDE, style.NARROW])
@pytest.mark.parametrize("mounts", [("rigid", "pivoting"), ("rigid", ODD)])
def test_no_text_of_a_chart_is_cut_or_lies_on_another(synthetic, monkeypatch, across, mounts):
    """Every drawn text lies within its figure, and no two overlap by more than 2.5 pixels."""
    drawn = []
    draw = mpl.text.Text.draw
    monkeypatch.setattr(
        mpl.text.Text, "draw", lambda text, *a, **k: (drawn.append(text), draw(text, *a, **k))
    )
    ds = synthetic(candidates={"wheelbase": (3.8, 4.4, 5.0), "mount": mounts}, gaps=("tank top to floor",))
    for entry in catalogue(ds):
        drawn.clear()
        made = entry.draw(across)
        made.canvas.draw()
        boxes = [(t.get_window_extent(), t.get_text()) for t in drawn if t.get_text().strip()]
        assert len(boxes) > 10
        for k, (one, first) in enumerate(boxes):
            whole = made.bbox.padded(1)
            assert whole.contains(*one.min) and whole.contains(*one.max), (entry.name, first)
            for other, second in boxes[k + 1 :]:
                shared = mpl.transforms.Bbox.intersection(one, other)
                assert shared is None or min(shared.width, shared.height) < 2.5, (entry.name, first, second)


def test_folded_text_fits_and_loses_nothing_but_what_an_ellipsis_stands_for():
    text = "a body of sixty characters, and Donaudampfschifffahrtsgesellschaften"
    lines = fold(text, 1.5, 12.0)
    assert all(width(line, 12.0) <= 1.5 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    cut = fold(text, 1.5, 12.0, most=1)
    assert len(cut) == 1 and cut[0].endswith("…") and width(cut[0], 12.0) <= 1.5


def test_levels_of_page_one_are_met_about_ten_times(synthetic):
    """Level met once in L: in all driven it is passed about driven / L times (5 to 20 with 200 samples)."""
    ds = synthetic()
    every = once_in(ds)
    lean = next(o for o in headline(ds) if o.key.startswith("body_roll"))
    for k in range(6):
        passed = (lean.samples[k] * lean.scale > lean.estimate.value[k]).sum()
        assert 5 <= passed <= 20
    assert every == 20e3
