"""The recipes of DEVELOPERS.md: their files and names exist, and an output and a chart added as they say turn up."""

import re

import pytest
from matplotlib.figure import Figure

import crossaxle
import crossaxle.vehicles.assemble
from crossaxle.studies.base import quantities
from crossaxle.studies.charts import catalogue
from crossaxle.studies.report import report_content
from crossaxle.studies.run.dataset import read_results
from crossaxle.studies.study.example import write_example
from crossaxle.vehicles.structure import Output
from tests.documents import ROOT, follow

RECIPES = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Recipes")[1].split("\n## ")[0]


@pytest.mark.parametrize("recipe", re.findall(r"^- \*\*(.*?)(?=^- \*\*|\Z)", RECIPES, flags=re.S | re.M))
def test_files_and_names_of_a_recipe_exist(recipe):
    """What is quoted is a file or folder, a name that stands in one of the files quoted with it, or a command."""
    quoted = [
        word for word in re.findall(r"`([^`]+)`", recipe) if "SOURCE" not in word and " -m " not in word
    ]
    places = [ROOT / word for word in quoted if "/" in word]
    assert all(place.exists() for place in places)
    text = "\n".join(place.read_text(encoding="utf-8") for place in places if place.is_file())
    for word in quoted:
        name = word.split("(")[0].split(".")[-1]
        if name.isidentifier() and "/" not in word and text:
            assert re.search(rf"\b{name}\b", text), f"{word} is in none of the files"


def test_an_output_and_a_chart_added_as_the_recipes_say_turn_up(tmp_path, monkeypatch):
    """Angle between body and the first axle's rails, named in the table; and a chart, entered in the catalogue."""
    added, listed = crossaxle.vehicles.assemble.add_lean_outputs, catalogue.catalogue

    def with_one_more(equations, k):
        added(equations, k)
        between = k.roll("body", k.centre("body")) - k.frame_roll(float(k.axle_stations[0]))
        equations.output(Output("body_to_rails", "", "rad"), between)

    def and_a_chart(ds, course=0):
        one_more = catalogue.ChartEntry("one_more", "frame", lambda width: Figure((width, 2)))
        return [*listed(ds, course), one_more]

    monkeypatch.setattr(crossaxle.vehicles.assemble, "add_lean_outputs", with_one_more)
    named = quantities.Quantity("", "angle between body and rails at the first axle", "rad")
    monkeypatch.setitem(quantities.QUANTITIES, "body_to_rails", named)
    assert report_content.catalogue is listed  # what the report draws
    monkeypatch.setattr(catalogue, "catalogue", and_a_chart)
    monkeypatch.setattr(
        "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
    )

    write_example(tmp_path)
    # Another wheelbase than in other tests, so that nothing kept from them is taken for this truck.
    study = (tmp_path / "study.toml").read_text().replace('"3.8 m", "4.4 m", "5.0 m"', '"4.37 m"')
    (tmp_path / "study.toml").write_text(study.replace('"1 km"', '"100 m"'))
    run = ["crossaxle", "run", "study.toml", "--out", "results", "--samples", "2", "--workers", "1"]
    follow([run], tmp_path)

    dataset = read_results(tmp_path / "results" / "results.nc")
    angle = dataset["body_to_rails_maximum"]
    assert angle.attrs["units"] == "rad" and angle.dims == dataset["frame_twist_maximum"].dims
    # A rigid mount lets the body turn against the rails less than a pivoting one does.
    largest = angle.max(["sample", "course", "wheelbase"])
    assert float(largest.sel(mount="rigid")) < float(largest.sel(mount="pivoting"))
    assert "one_more" in crossaxle.charts(dataset)
