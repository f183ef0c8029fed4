"""How often an output passes a level, counted on independent ground: the plain way, for as far as it reaches.

``python -m tests.studies.brute_force [KILOMETRES]`` compares it with subset simulation at about 1e-4 per km (300,000 km
by default; some minutes on one core).
"""

import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from crossaxle.sim.sample import SampleRunner
from crossaxle.studies.rare.rare_events import RareEvents
from crossaxle.studies.run.experiment import Experiment, models
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import load
from crossaxle.terrain.tracks import lay_tracks

COURSE = """
name = "one kind of ground, invented"
[sections.track]
share = "100 %"
roughness = { iso_class = "F", waviness = 2.0, band_from = "0.02 cycle/m", band_to = "1 cycle/m" }
side_slope = { mean = "0 deg", deviation = "1.5 deg", length = "80 m" }
[[sections.track.obstacles]]
kind = "ditch"
rate = "2 1/km"
width = { from = "1.0 m", to = "2.0 m" }
depth = { from = "0.1 m", to = "0.3 m" }
angle = { from = "20 deg", to = "50 deg" }
"""
OUTPUT, ITEM = "gap_minimum", "cab roof to alcove"


def experiment(folder: Path) -> Experiment:
    """The example's truck on its pivoting mount, on one kind of ground with ditches across it."""
    write_example(folder)
    (folder / "course.toml").write_text(COURSE)
    study = (folder / "study.toml").read_text()
    study = study.replace('wheelbase = ["3.8 m", "4.4 m", "5.0 m"]\n', "")
    study = study.replace('["rigid", "pivoting"]', '["pivoting"]').replace('"5 cm"', '"14 cm"')
    (folder / "study.toml").write_text(study)
    return Experiment(load(folder / "study.toml"))


def worst_of_stretches(made: Experiment, kilometres: int, each: int = 10, seed: int = 1) -> np.ndarray:
    """Smallest gap in each of independent stretches of ``each`` km [m]."""
    candidate, file = made.candidates[0], made.study.file
    record = next(r for r in made.recorders[0].records if (r.quantity, r.item) == ("gap", ITEM))
    recorder = replace(made.recorders[0], records=(replace(record, bins=None),))
    lead = int(np.ceil(candidate.level_model.wheel_station.max() / file.spacing))
    positions = round(each * 1000 / file.spacing)
    lines = tuple(dict.fromkeys(candidate.lines))
    runner = None
    found = []
    for sample in range(kilometres // each):
        laid = lay_tracks(made.courses[0], lines, file.spacing, positions, lead, seed, sample)
        ground = made.tracks(candidate, laid)
        runner = runner or SampleRunner(models(candidate, ground), recorder)
        found.append(runner.run(ground).minimum[0])
    return np.array(found)


def main(kilometres: int) -> None:
    """Count, estimate, and print both with what the count itself leaves open."""
    with TemporaryDirectory() as folder:
        made = experiment(Path(folder))
        worst = worst_of_stretches(made, kilometres)
        events = max(round(1e-4 * kilometres), 1)
        level = float(np.sort(worst)[events - 1])
        rate = -np.log1p(-events / worst.size) / 10
        found = RareEvents(made, 0).rate(OUTPUT, ITEM, level, seed=2).per_metre.times(1e3)
        print(f"gap below {1e3 * level:.1f} mm, per km:")
        print(
            f"  counted    {rate:.2e}, {events} times in {kilometres} km (standard error {rate / events**0.5:.1e})"
        )
        print(f"  estimated  {found.value:.2e} ({found.low:.2e} to {found.high:.2e})")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300_000)
