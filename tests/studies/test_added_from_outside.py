"""A mount, an obstacle and an output are added to a copy of the package, each as its recipe says, and found everywhere.

Results, tables, charts, limits, the clearance sheet, the ground's words and chart: nothing else is told of them.
"""

import json
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import xarray as xr

from tests.documents import ROOT

pytestmark = pytest.mark.slow

SADDLE = '''
class SaddleMount(MountBase):
    """A pair on the rails in the middle, pivots before and behind it whose stops differ."""

    kind: Literal["saddle"]
    middle: PositionText
    bow: PositionText
    stern: PositionText

    def supports(self) -> list[Support]:
        """List the pivots with the pair between them."""
        return [
            Support("bow", self.bow, self.stiffness, Pivot(0.12, 2e6, 0.3)),
            Support("middle", self.middle, self.stiffness),
            Support("stern", self.stern, self.stiffness, Pivot(0.2, 2e6, 0.3)),
        ]


'''
LOG = '''
@njit(cache=True, nogil=True)
def _half_round(x: float, y: float, row: Array) -> float:
    u = past(x, y, row) / row[WIDTH]
    return row[HEIGHT] * math.sqrt(1.0 - 4.0 * u * u) * on_its_side(y, row) if abs(u) < 0.5 else 0.0


class Log(_Across):
    """A tree across the way."""

    shape: ClassVar[Shape] = Shape(_half_round, _trough_reach)
    kind: Literal["log"] = "log"
    diameter: PositiveLength

    def _fill(self, rows: Array, rng: np.random.Generator) -> None:
        rows[:, WIDTH] = self.diameter.draw(rng, len(rows))
        rows[:, HEIGHT] = 0.5 * rows[:, WIDTH]
        self._lay_across(rows, rng)

    @property
    def extent(self) -> float:
        """Typical diameter [m]."""
        return self.diameter.middle


'''
OUTPUT = """    between = k.roll("body", k.centre("body")) - k.frame_roll(float(k.axle_stations[0]))
    equations.output(Output("body_to_rails", "", "rad"), between)
"""
QUANTITY = """    "body_to_rails": Quantity(
        "", "angle between body and rails", "rad", worst="either", bins=(-0.3, 0.3, 0.01)
    ),
"""
COURSE = """
name = "Timber haul"
[sections.track]
share = "100 %"
roughness = { iso_class = "D", waviness = 2.0, band_from = "0.05 cycle/m", band_to = "2 cycle/m" }
[[sections.track.obstacles]]
kind = "log"
rate = "400 1/km"
diameter = "0.3 m"
"""
LIMITS = """
[[limits]]
what = "body to rails"
at_most = "0.001 deg"
[[limits]]
what = "mount force"
item = "stern"
at_least = "-500 kN"
"""


@pytest.fixture(scope="module")
def extended(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package with the three additions, as a folder for the path."""
    copy = tmp_path_factory.mktemp("extended") / "crossaxle"
    shutil.copytree(ROOT / "studies" / "crossaxle", copy)
    for room in ("terrain", "vehicles", "sim", "studies"):
        shutil.copytree(ROOT / room, copy / room)
    for place, before, added in (
        ("vehicles/mount_entries.py", "\ndef _kinds(", SADDLE),
        ("terrain/obstacles.py", "\ndef _kinds(", LOG),
        ("vehicles/outputs.py", "\ndef add_stability_outputs(", OUTPUT + "\n\n"),
        ("studies/base/quantities.py", '    "tip_margin": Quantity(', QUANTITY),
    ):
        text = (copy / place).read_text(encoding="utf-8")
        assert text.count(before) == 1, place
        head, tail = text.split(before)
        head = head.rstrip("\n") + "\n" if place == "vehicles/outputs.py" else head
        (copy / place).write_text(f"{head}{added}{before.lstrip(chr(10))}{tail}", encoding="utf-8")
    return copy.parent


def crossaxle(extended: Path, *arguments: str | Path) -> str:
    environment = {**os.environ, "PYTHONPATH": str(extended)}
    command = [sys.executable, "-m", "crossaxle", *map(str, arguments)]
    done = subprocess.run(command, env=environment, cwd=extended, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def results(extended: Path) -> Path:
    """Results of a small study with all three: the saddle against the rigid mount, over logs."""
    crossaxle(extended, "example", "mine")
    mine = extended / "mine"
    vehicle = (mine / "vehicle.toml").read_text(encoding="utf-8")
    saddle = (
        '[mounts.saddle]\nkind = "saddle"\nbow = "body front + 0.3 m"\nmiddle = "body front + 2 m"\n'
        'stern = "body rear - 0.5 m"\nstiffness = "60 kN/mm"\n\n'
    )
    (mine / "vehicle.toml").write_text(
        vehicle.replace("[mounts.rigid]", f"{saddle}[mounts.rigid]"), encoding="utf-8"
    )
    study = (mine / "study.toml").read_text(encoding="utf-8")
    study = study.replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m"]').replace('"pivoting"]', '"saddle"]')
    (mine / "study.toml").write_text(study + LIMITS, encoding="utf-8")
    (mine / "course.toml").write_text(COURSE, encoding="utf-8")
    length = ["--samples", "30", "--workers", "1"]
    text = (mine / "study.toml").read_text(encoding="utf-8").replace('"1 km"', '"100 m"')
    (mine / "study.toml").write_text(text, encoding="utf-8")
    crossaxle(extended, "run", mine / "study.toml", "--out", "results", *length)
    return extended / "results"


def test_they_are_in_the_results(results: Path) -> None:
    ds = xr.load_dataset(results / "results.nc")
    saddle = ds.sel(mount="saddle").isel(course=0, wheelbase=0)
    assert {"bow", "stern"} <= set(ds["pivot"].values)
    assert float(saddle["pivot_angle_maximum"].sel(pivot="stern").max()) > 0
    assert float(ds["body_to_rails_maximum"].max()) > 0
    assert float(ds["body_to_rails_histogram"].sum()) > 0
    assert ds["body_to_rails_maximum"].attrs["units"] == "rad"


def test_they_are_in_report_charts_tables_and_limits(results: Path) -> None:
    page = (results / "report.html").read_text(encoding="utf-8")
    for words in (
        "saddle mount",
        "Angle between body and rails",
        "body to rails at most",
        "mount force of stern",
    ):
        assert words in page, words
    assert "misses" in page
    assert (results / "charts" / "body_to_rails.svg").is_file()
    tables = "\n".join(path.read_text(encoding="utf-8-sig") for path in (results / "tables").glob("*.csv"))
    assert "stern" in tables and "bow" in tables


def test_the_mount_is_on_the_clearance_sheet(extended: Path, results: Path) -> None:
    crossaxle(extended, "clearances", results, "--candidate", "mount=saddle", "--out", "sheet.dxf")
    sheet = (extended / "sheet.dxf").read_text(encoding="utf-8")
    assert "stern" in sheet and "bow" in sheet


def test_the_output_is_replayed_and_searched_for(extended: Path, results: Path) -> None:
    """The posture found again has the value that the results hold; a level just above it was in no sample."""
    largest = float(xr.load_dataset(results / "results.nc")["body_to_rails_maximum"].max())
    found = json.loads(crossaxle(extended, "replay", results, "--worst", "body_to_rails_maximum", "--json"))
    assert found["unit"] == "rad"
    assert found["stored"] == largest and found["same_to_rounding"]
    words = crossaxle(
        extended, "replay", results, "--worst", "body_to_rails_maximum", "--chart", "posture.svg"
    )
    assert "angle between body and rails" in words
    # Every text of a picture stands in it as a comment beside its outlines.
    assert "angle between body and rails" in (extended / "posture.svg").read_text(encoding="utf-8")
    level = f"{1.02 * largest:.6f} rad"
    asked = ["--output", "body_to_rails_maximum", "--level", level, "--candidate", "mount=saddle"]
    rare = json.loads(crossaxle(extended, "rare", results, *asked, "--repeats", "3", "--json"))
    (event,) = rare
    assert event["unit"] == "rad" and event["ordinary_samples_that_passed"] == 0
    assert 0 <= event["per_km_interval"][0] <= event["per_km"] <= event["per_km_interval"][1]


def test_the_obstacle_has_its_own_shape_in_the_ground(extended: Path) -> None:
    """Ground with logs less the same ground without: half circles of 0.3 m diameter, which overlap seldom.

    Where one log lies the height is sqrt(r^2 - u^2): its mean over the width is pi r / 4, which neither a raised cosine
    (r / 2) nor the waves of a washboard (0) have.
    """
    script = """
import numpy as np
from crossaxle.terrain.distribution import fixed
from crossaxle.terrain.obstacles import KINDS, add_obstacles
(log,) = [kind for kind in KINDS if kind.word() == "log"]
population = log(kind="log", rate=0.01, diameter=fixed(0.3))
rows = population.rows(np.random.default_rng(4), 0.0, 1000.0)
rows = rows[np.concatenate([[True], np.diff(rows[:, 1]) > 1.0])]
heights = np.zeros((2, 200_000), np.float32)
add_obstacles(heights, np.array([1.0, -1.0]), 0.0, 0.005, rows)
print(len(rows), heights.max(), heights.min(), heights[0].sum() * 0.005 / len(rows))
print(population.model_copy(update={"rate": 3.0}).doubts())
"""
    environment = {**os.environ, "PYTHONPATH": str(extended)}
    command = [sys.executable, "-c", script]
    done = subprocess.run(command, env=environment, cwd=extended, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    numbers, doubts = done.stdout.strip().split("\n")
    count, highest, lowest, area = map(float, numbers.split())
    assert count > 3
    assert highest == pytest.approx(0.15, rel=1e-3)  # points lie within 2.5 mm of the top
    assert lowest == 0.0
    assert area == pytest.approx(math.pi * 0.15**2 / 2, rel=5e-3)  # sixty points across, steep at both ends
    assert "3000 times a log per km covers 90 % of the way" in doubts


def test_the_obstacle_is_laid_counted_and_marked(extended: Path, results: Path) -> None:
    """Four hundred a kilometre, counted in the ground laid and named in the chart."""
    found = json.loads(
        crossaxle(extended, "ground", extended / "mine" / "course.toml", "--json", "--chart", "ground.svg")
    )
    assert found["laid"]["obstacles"]["log"] == pytest.approx(8000, rel=0.05)
    assert found["sections"]["track"]["obstacles_per_km"] == {"log": pytest.approx(400)}
    # Every text of a picture stands in it as a comment beside its outlines.
    assert "<!-- log -->" in (extended / "ground.svg").read_text(encoding="utf-8")
    assert "log" in crossaxle(extended, "ground", extended / "mine" / "course.toml")


def test_a_file_that_names_them_wrongly_is_told_all_kinds(extended: Path, results: Path) -> None:
    wrong = (extended / "mine" / "course.toml").read_text(encoding="utf-8").replace('"log"', '"logg"')
    (extended / "wrong.toml").write_text(wrong, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(extended)}
    command = [sys.executable, "-m", "crossaxle", "ground", str(extended / "wrong.toml")]
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    assert done.returncode == 2
    assert "logg" in done.stderr and "'log'" in done.stderr.replace('"', "'")
