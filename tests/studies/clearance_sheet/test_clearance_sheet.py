"""The shop's clearance sheet: its numbers are the results', its drawings are true to scale, and nothing overlaps."""

import json
import sys
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

import crossaxle
from crossaxle.studies.analysis.candidates import candidates
from crossaxle.studies.analysis.extremes import fit_extremes
from crossaxle.studies.analysis.worst import worst_course
from crossaxle.studies.clearance_sheet.drawing_parts import LAYERS, Dimension, Line, Text
from crossaxle.studies.clearance_sheet.dxf import LAYOUT, dxf
from crossaxle.studies.clearance_sheet.gap_detail import view_of
from crossaxle.studies.clearance_sheet.layout import PAPERS, lay_out_sheet
from crossaxle.studies.clearance_sheet.paper import clearances
from crossaxle.studies.clearance_sheet.sheet_numbers import clearance_sheet
from crossaxle.studies.cli.main import cli
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.pictures.export import compact_svg
from crossaxle.studies.pictures.truck_views import project
from crossaxle.studies.report.chosen_candidate import chosen_candidate

STUDY = """
title = "Clearances"
vehicle = "library:{vehicle}"
courses = ["library:ondry_ridge"]
samples = {samples}
sample_length = "{length} m"
seed = 3
"""
SWEEP = '[sweep]\nmount = ["rigid", "pivoting", "sprung"]\n'
PIVOTING = 1
HOSTILE = (
    'Schläuche "vorn" <b>&amp; Kühler</b> 5 %%d ^J $x_1$ \\P {ä}',
    "<script>alert('ÄÖÜß')</script> -- ]]> \\U+0041 %%c 100 %",
    "M" * 60,
    "a long name of many short words that goes on to sixty marks.",
)


def run(folder, vehicle="clinic", samples=24, length=60, sweep=SWEEP):
    path = folder / f"{vehicle}.toml"
    path.write_text(STUDY.format(vehicle=vehicle, samples=samples, length=length) + sweep)
    return crossaxle.run(crossaxle.load(path))


@pytest.fixture(scope="module")
def ds(tmp_path_factory):
    return run(tmp_path_factory.mktemp("clearances"))


def with_gaps(ds, names):
    """The results with copies of the point gaps under other names, in Dataset and vehicle file alike."""
    text = str(ds.attrs["vehicle"])
    copied = ds.isel(gap=[k % 5 for k in range(len(names))]).assign_coords(gap=list(names))
    for k, name in enumerate(names):
        original = str(ds["gap"].values[k % 5])
        entry = text.split(f'[gap."{original}"]')[1].split("[gap.")[0]
        copied.attrs["vehicle"] = f"{copied.attrs['vehicle']}\n[gap.{json.dumps(name)}]{entry}"
    return copied


def dimensions(panel):
    return [entity for entity in panel.entities if isinstance(entity, Dimension)]


def gap_numbers(ds, candidate):
    """Built, least, widest of every gap straight from the Dataset [mm]."""
    one = ds.isel(mount=candidate)
    rows = (
        one["gap_static"],
        one["gap_minimum"].min(["course", "sample"]),
        one["gap_maximum"].max(["course", "sample"]),
    )
    return 1e3 * np.array([row.values for row in rows]).T


def written(sheet):
    return " ".join(entity.text for entity in sheet.entities if isinstance(entity, Text))


def test_numbers_are_those_of_the_results(ds):
    sheet = clearance_sheet(ds, PIVOTING)
    found = [[1e3 * v for v in (c.built, c.least, c.widest)] for c in sheet.clearances]
    np.testing.assert_allclose(found, gap_numbers(ds, PIVOTING), rtol=1e-12)
    # What the vehicle file states as the clearances of its gaps; the boxes of the last stand 270 mm apart.
    np.testing.assert_allclose([row[0] for row in found], [100, 250, 110, 40, 120, 270], atol=1e-6)
    turned = [travel for travel in sheet.travels if travel.turns]
    assert turned[0].met == float(ds["pivot_angle_maximum"].isel(mount=PIVOTING).max())
    assert turned[0].stop == pytest.approx(np.radians(9.0))


def test_what_to_build_is_passed_with_the_stated_risk(ds):
    sheet = clearance_sheet(ds, PIVOTING)
    for k, clearance in enumerate(sheet.clearances):
        widening = ds["gap_maximum"].isel(mount=PIVOTING, course=0, gap=k).values - clearance.built
        rate = fit_extremes(widening, 60.0).passings(float(clearance.stretch.value)).value
        # Poisson: the chance of at least one passing within the life.
        assert 1 - np.exp(-rate * sheet.life) == pytest.approx(sheet.risk, rel=1e-9)
        assert clearance.needed.low <= clearance.needed.value <= clearance.needed.high


@pytest.mark.parametrize("candidate", [0, PIVOTING, 2])
def test_dimensions_measure_the_numbers_of_the_results(ds, candidate):
    sheet = clearance_sheet(ds, candidate)
    panels = lay_out_sheet(sheet).panels
    side, behind, *details = panels
    assert [d.text for d in dimensions(side)] == ["wheelbase 4400", "body 4800"]
    assert [d.text for d in dimensions(behind)] == ["body 2450", "floor 1400"]
    for panel, clearance, row in zip(details, sheet.clearances, gap_numbers(ds, candidate), strict=True):
        drawn = [d.length * (-1 if d.overlap else 1) for d in dimensions(panel)]
        np.testing.assert_allclose(drawn[:3], row, atol=1e-9)
        if len(drawn) == 4:
            assert drawn[3] == pytest.approx(1e3 * float(clearance.needed.value))


def test_details_stand_as_on_the_truck_and_to_scale(ds):
    sheet = clearance_sheet(ds, PIVOTING)
    laid = lay_out_sheet(sheet)
    for panel, clearance in zip(laid.panels[2:], sheet.clearances, strict=True):
        place = clearance.places[0]
        fixed = place.points[place.parts.index(clearance.against)]
        item = place.points[place.parts.index(clearance.item)]
        towards = project(view_of(clearance), item - fixed)[:2]
        faces = {
            e.layer: np.mean(e.points, axis=0) for e in panel.entities if isinstance(e, Line) and e.closed
        }
        apart = faces["Sweeping item as built"] - faces["Body"]
        np.testing.assert_allclose(apart / np.hypot(*apart), towards / np.hypot(*towards), atol=1e-9)
        built = dimensions(panel)[0]
        ends = np.array([panel.on_sheet(point) for point in (built.first, built.second)])
        assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(1e3 * clearance.built * panel.scale)


def check_words(sheet):
    """All text lies on the sheet inside the border, and no two texts overlap."""
    made = clearances(sheet)
    canvas = made.canvas
    canvas.draw()
    boxes = [(t.get_text(), t.get_window_extent(canvas.get_renderer())) for t in made.axes[0].texts]
    mm = made.dpi / 25.4
    for text, box in boxes:
        assert box.x0 > 9.5 * mm and box.y0 > 9.5 * mm, text
        assert box.x1 < (sheet.size[0] - 9.5) * mm and box.y1 < (sheet.size[1] - 9.5) * mm, text
    for k, (text, box) in enumerate(boxes):
        small = box.padded(-0.3 * mm)
        for other, with_it in boxes[k + 1 :]:
            assert not small.overlaps(with_it.padded(-0.3 * mm)), f"{text} / {other}"
    return made


@pytest.mark.parametrize("candidate", [0, PIVOTING, 2])
def test_no_words_overlap_or_leave_the_sheet(ds, candidate):
    check_words(lay_out_sheet(clearance_sheet(ds, candidate)))


@pytest.mark.parametrize("vehicle", ["rescue", "laboratory"])
def test_trucks_with_more_axles(vehicle, tmp_path):
    results = run(tmp_path, vehicle, samples=20, length=20, sweep="")
    sheet = lay_out_sheet(clearance_sheet(results, 0))
    check_words(sheet)
    assert not ezdxf_of(sheet).audit().has_errors


def test_too_few_samples_to_foretell(ds):
    sheet = clearance_sheet(ds.isel(sample=slice(0, 5)), PIVOTING)
    assert all(clearance.needed is None for clearance in sheet.clearances)
    laid = lay_out_sheet(sheet)
    check_words(laid)
    assert all(len(dimensions(panel)) == 3 for panel in laid.panels[2:])
    assert "Too few samples (5)" in written(laid)


def test_absurd_upper_ends_are_not_offered_to_build(ds):
    sheet = clearance_sheet(ds, 0)
    absurd = [c for c in sheet.clearances if c.needed.high > 4 * max(c.built, c.widest)]
    assert absurd  # 24 samples of 60 m say little of 10,000 km
    words = written(lay_out_sheet(sheet))
    assert words.count("is too wide to build by") == len([c for c in absurd if not c.poor])
    assert not any(f"build {1e3 * c.to_build(sheet.allowance):.0f} mm" in words for c in absurd if not c.poor)


def test_caution_and_origin_stand_on_the_sheet(ds):
    words = written(lay_out_sheet(clearance_sheet(ds, PIVOTING)))
    for phrase in (
        "Not a manufacturing drawing",
        "chassis maker's",
        "invented demonstration vehicle",
        "pivoting (three-point)",
        "4400 mm",
        str(ds["course"].values[0]),
        "crossaxle",
        "numba",
    ):
        assert phrase in words, phrase


def ezdxf_of(sheet):
    from io import StringIO

    return ezdxf.read(StringIO(dxf(sheet)))


@pytest.mark.parametrize("candidate", [0, PIVOTING])
def test_dxf_read_back_has_the_same_distances(ds, candidate):
    sheet = clearance_sheet(ds, candidate)
    laid = lay_out_sheet(sheet)
    document = ezdxf_of(laid)
    audit = document.audit()
    assert not audit.errors and not audit.fixes
    assert document.units == ezdxf.units.MM
    measured = [d.get_measurement() for d in document.modelspace().query("DIMENSION")]
    expected = [4400.0, 4800.0, 2450.0, 1400.0]
    for panel, row in zip(laid.panels[2:], gap_numbers(ds, candidate), strict=True):
        expected += [*np.abs(row), *(d.length for d in dimensions(panel)[3:])]
    np.testing.assert_allclose(measured, expected, atol=0.1)
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used <= set(LAYERS) and {"Body", "Cab", "Frame", "Swept envelope", "Dimensions"} <= used


def test_dxf_layout_shows_every_panel_at_its_scale(ds):
    laid = lay_out_sheet(clearance_sheet(ds, PIVOTING))
    views = [v for v in ezdxf_of(laid).paperspace(LAYOUT).query("VIEWPORT") if v.dxf.id != 1]
    assert len(views) == len(laid.panels)
    for view, panel in zip(views, laid.panels, strict=True):
        assert view.dxf.height / view.dxf.view_height == pytest.approx(panel.scale)


def test_names_with_anything_in_them(ds):
    laid = lay_out_sheet(clearance_sheet(with_gaps(ds, HOSTILE), PIVOTING))
    page = compact_svg(check_words(laid))
    ElementTree.fromstring(page)
    document = ezdxf_of(laid)
    audit = document.audit()
    assert not audit.errors and not audit.fixes
    read = "".join(t.plain_text() for t in document.paperspace(LAYOUT).query("TEXT")).replace(" ", "")
    for name in HOSTILE:
        assert name.replace(" ", "") in read, name


@pytest.mark.parametrize(("count", "paper"), [(1, "A3"), (6, "A3"), (7, "A2"), (16, "A1"), (100, "A0")])
def test_paper_grows_with_the_number_of_gaps(ds, count, paper):
    many = with_gaps(ds, [f"gap number {k}" for k in range(count)])
    laid = lay_out_sheet(clearance_sheet(many, PIVOTING))
    assert laid.size == PAPERS[paper]
    assert ("further gaps" in written(laid)) == (len(laid.panels) - 2 < count)
    if count in (1, 7):
        check_words(laid)


def test_svg_is_the_same_every_time_and_of_true_size(ds):
    laid = lay_out_sheet(clearance_sheet(ds, PIVOTING))
    first = compact_svg(clearances(laid))
    assert first == compact_svg(clearances(laid))
    root = ElementTree.fromstring(first)
    assert float(root.get("width").removesuffix("pt")) == pytest.approx(420 * 72 / 25.4, abs=0.01)
    assert float(root.get("height").removesuffix("pt")) == pytest.approx(297 * 72 / 25.4, abs=0.01)


def draw_sheet(*arguments):
    return CliRunner().invoke(cli, ["clearances", *(str(a) for a in arguments)])


@pytest.fixture(scope="module")
def folder(ds, tmp_path_factory):
    kept = tmp_path_factory.mktemp("kept")
    crossaxle.save(ds, kept)
    return kept


@pytest.mark.parametrize("ending", ["svg", "dxf", "pdf", "png"])
def test_command_draws_the_recommended_candidate(ds, folder, tmp_path, ending):
    out = tmp_path / f"sheet.{ending}"
    done = draw_sheet(folder, "--out", out)
    assert done.exit_code == 0, done.output
    assert done.output.splitlines()[0] == f"wrote {out}: {chosen_candidate(ds).name}"
    starts = {"svg": b"<svg", "dxf": b"  0\n", "pdf": b"%PDF", "png": b"\x89PNG"}
    assert out.read_bytes().startswith(starts[ending])


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--out", "sheet.dwg"), "allowed are names that end in .svg, .dxf, .pdf or .png"),
        (("--out", "sheet.svg", "--candidate", "mount=welded"), 'found "welded"'),
        (("--out", "sheet.svg", "--course", "Moon"), '--course: found "Moon"'),
    ],
)
def test_bad_options_are_refused(folder, options, message):
    done = draw_sheet(folder, *options)
    assert done.exit_code == 2
    assert message in done.output


def test_dxf_without_ezdxf_says_how_to_get_it(folder, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "ezdxf.filemanagement", None)
    done = draw_sheet(folder, "--out", tmp_path / "sheet.dxf", "--candidate", "mount=rigid")
    assert done.exit_code == 2
    assert "pip install 'crossaxle[drawing]'" in done.output
    assert not (tmp_path / "sheet.dxf").exists()


def test_no_result_no_sheet(ds):
    failed = ds.assign(sample_status=ds["sample_status"] * 0 + 2)
    with pytest.raises(InputError, match="no sample gave a result"):
        clearance_sheet(failed, candidates(failed)[0].index)


def test_without_a_named_course_the_worst_one_is_drawn(ds):
    """Two courses, the second with half the movement and then with twice as much: the worse is found either way."""
    one = ds.isel(course=[0])
    built = one["gap_static"]
    for factor, worst in ((0.5, 0), (2.0, 1)):
        other = one.assign(gap_minimum=built - factor * (built - one["gap_minimum"])).assign_coords(
            course=["other"]
        )
        both = xr.concat([one, other], "course", data_vars="minimal", coords="minimal", compat="override")
        both["gap_minimum"] = xr.concat([one["gap_minimum"], other["gap_minimum"]], "course")
        assert worst_course(both, 0) == worst
