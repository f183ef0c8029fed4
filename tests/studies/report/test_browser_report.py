"""The report as a reader meets it: in a browser at laptop, projector and phone width, and printed.

Two reports: one of a real small study with postures and film, one of made-up results whose names are long, odd and
hostile and which states many limits.
"""

import base64
import importlib.util
import pickle
from pathlib import Path

import pytest
import typst
from axe_playwright_python.sync_playwright import Axe
from filelock import FileLock

import crossaxle
from crossaxle.studies.report.report import write_report
from crossaxle.studies.report.report_pdf import report_data, report_pdf
from crossaxle.studies.report.typesetting import sources

_SPEC = importlib.util.spec_from_file_location("browser", Path(__file__).parents[1] / "browser.py")
browser_module = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(browser_module)
Opened = browser_module.Opened

SIZES = {"laptop": (1366, 768), "projector": (1920, 1080), "phone": (390, 844)}
A4 = {"width": 703, "height": 1039}
"""Paper between the margins the page sets, in CSS pixels of 1/96 inch: 210 - 2 x 12 by 297 - 2 x 11 mm."""

HOSTILE = "Büro \"><script>document.title='hit'</script><b>Föhn</b>' & Söhne"
STUDY = """
title = "Two mounts"
vehicle = "library:clinic"
courses = ["library:ondry_ridge"]
samples = 20
sample_length = "50 m"
seed = 3
[sweep]
mount = ["rigid", "pivoting"]
"""
LIMITS = "".join(f'[[limits]]\nwhat = "gap"\nat_least = "{k} mm"\n' for k in range(1, 10))


def real(folder):
    """Results of a small study, one gap, bracket and mount point of it."""
    (folder / "study.toml").write_text(STUDY)
    ds = crossaxle.run(crossaxle.load(folder / "study.toml"))
    return ds.isel(gap=[0], bracket=[0])


def hostile(synthetic):
    """Made-up results of eight candidates, with names that break careless pages."""
    ds = synthetic(
        candidates={"wheelbase": (3.8, 4.4), "mount": ("rigid", HOSTILE, "x" * 60, "W" * 60)},
        n_samples=20,
        gaps=(HOSTILE,),
        brackets=("m" * 60,),
        study=f'title = "Hostile"\n{LIMITS}',
    )
    ds.attrs["title"] = f"{HOSTILE} =1+1"
    return ds


@pytest.fixture(scope="module")
def reports(synthetic, tmp_path_factory, worker_id):
    """Write both once, whichever of the processes that test beside each other comes first; keep what was laid out."""
    common = tmp_path_factory.getbasetemp()
    if worker_id != "master":
        common = common.parent
    kept = common / "browser_reports.pickle"
    with FileLock(common / "browser_reports.lock"):
        if not kept.exists():
            kept.write_bytes(pickle.dumps(written(synthetic, tmp_path_factory)))
        return pickle.loads(kept.read_bytes())


def written(synthetic, tmp_path_factory):
    """Write both; return what was laid out, as plain data, and the pages."""
    datasets = {"real": real(tmp_path_factory.mktemp("real")), "hostile": hostile(synthetic)}
    with pytest.MonkeyPatch.context() as patch:
        seen = []
        patch.setattr(
            "crossaxle.studies.report.report.report_pdf",
            lambda content: seen.append(report_data(content)) or report_pdf(content),
        )
        pages = {name: write_report(ds, tmp_path_factory.mktemp(name))[0] for name, ds in datasets.items()}
    return dict(zip(pages, seen, strict=True)), pages


@pytest.fixture(scope="module")
def pages(reports):
    return reports[1]


@pytest.fixture(scope="module")
def browser():
    with browser_module.chromium() as started:
        yield started


@pytest.mark.parametrize("name", ["real", "hostile"])
@pytest.mark.parametrize("size", SIZES)
def test_page_fits_is_whole_and_keeps_to_itself(browser, pages, name, size):
    with Opened(browser, pages[name], *SIZES[size]) as opened:
        page = opened.page
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        sticking_out = page.evaluate(
            """() => [...document.querySelectorAll('main *')]
            .filter(e => !e.closest('.scroll') && e.getBoundingClientRect().right > window.innerWidth + 1)
            .map(e => e.outerHTML.slice(0, 80))"""
        )
        assert sticking_out == []
        broken = page.evaluate(
            "[...document.images].filter(i => !i.complete || !i.naturalWidth).map(i => i.alt.slice(0, 80))"
        )
        assert broken == []
        assert page.evaluate("document.images.length") > 5
        lost = page.evaluate(
            """() => [...document.querySelectorAll('a[href^="#"]')]
            .filter(a => !document.getElementById(a.getAttribute('href').slice(1))).length"""
        )
        assert lost == 0
        assert opened.said == []
        assert [url for url in opened.asked if not url.startswith("data:")] == [pages[name].as_uri()]
        assert page.title() != "hit"


@pytest.mark.parametrize("name", ["real", "hostile"])
@pytest.mark.parametrize("size", ["laptop", "phone"])
def test_accessibility_checker_finds_nothing(browser, pages, name, size):
    """Contrast, alternative texts, headings, tables, landmarks: all rules of axe."""
    with Opened(browser, pages[name], *SIZES[size], bypass_csp=True) as opened:
        found = Axe().run(opened.page)
        assert found.violations_count == 0, found.generate_report()


def test_links_to_tables_give_what_a_spreadsheet_reads(browser, pages):
    with Opened(browser, pages["hostile"], *SIZES["laptop"]) as opened:
        links = opened.page.evaluate(
            "[...document.querySelectorAll('a[download]')].map(a => [a.download, a.href])"
        )
    assert len({name for name, _ in links}) > 5
    for name, address in links:
        content = base64.b64decode(address.partition(",")[2])
        assert content == (pages["hostile"].parent / "tables" / name).read_bytes()


def test_film_plays_and_pauses(browser, pages):
    shown = "[...document.querySelectorAll('.film img')].findIndex(i => !i.hidden)"
    with Opened(browser, pages["real"], *SIZES["laptop"]) as opened:
        page = opened.page
        first = page.evaluate(shown)
        page.click(".film button")
        for _ in range(100):  # the page allows no other script, so that waiting is done out here
            page.wait_for_timeout(100)
            if page.evaluate(shown) != first:
                break
        assert page.evaluate(shown) != first
        page.click(".film button")
        slider = page.locator(".film input")
        slider.fill("0")
        assert page.evaluate(shown) == 0
        assert page.locator(".film output").inner_text().endswith("before")
        assert opened.said == []


@pytest.mark.parametrize("name", ["real", "hostile"])
def test_printed_page_is_no_wider_than_the_paper(browser, pages, name):
    with Opened(browser, pages[name], A4["width"], A4["height"]) as opened:
        opened.page.emulate_media(media="print")
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= A4["width"]
        if name == "real":
            bottom = opened.page.evaluate("document.querySelector('.answer').getBoundingClientRect().bottom")
            assert bottom <= A4["height"]
        assert opened.page.pdf(format="A4").startswith(b"%PDF")
        assert opened.said == []


@pytest.mark.parametrize("name", ["real", "hostile"])
def test_answer_fills_one_sheet_of_the_pdf(reports, name):
    made = sources("report.typ", *reports[0][name])
    ends = typst.query(made.pop("input"), "<answer-ends>", field="value", one=True, **made)
    assert int(ends) == 1
