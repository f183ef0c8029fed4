"""Sizing is consistent with the machine behind it: the truck built as recommended, driven on fresh ground.

A gap's clearance and the spacing of a tank's brackets are sized from 300 km for a risk of 30 % in 10 km (a risk that
can be counted). Trucks built to the lower end, the estimate and the upper end then drive 1000 km of ground with another
seed: 100 lots of 10 km, of which each truck must see as many bad ones as its build stands for.
"""

import numpy as np
import pytest

from crossaxle.studies.analysis.sizing import needs
from crossaxle.studies.analysis.swept_limits import crossings
from crossaxle.studies.run.dataset import results
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.limits import Limit
from crossaxle.studies.study.study import load
from tests.studies.brute_force import COURSE, ITEM

RISK, OVER, LOTS, LOT = 0.3, 10e3, 100, 10
LUCK = 3 * np.sqrt(RISK * (1 - RISK) / LOTS)
"""Three standard errors of the share of bad lots counted."""
STUDY = """
title = "sizing"
vehicle = "vehicle.toml"
courses = ["course.toml"]
samples = 1
seed = {seed}
spacing = "12.5 cm"
[sweep]
mount = ["{mount}"]
{sweep}
"""


def drive(folder, seed, mount, sweep, samples):
    """Results of a study that is made, run and put together here."""
    (folder / "study.toml").write_text(STUDY.format(seed=seed, mount=mount, sweep=sweep))
    made = Experiment(load(folder / "study.toml"))
    rows, histograms = zip(*(made.run(k) for k in range(samples)), strict=True)
    return results(made, np.array(rows), np.zeros((20, *histograms[0].shape), dtype=np.int64))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("sizing")
    write_example(place)
    (place / "course.toml").write_text(COURSE)
    return place


def bad_lots(passed):
    """Share of lots in which a sample passed, for each truck: (trucks, samples) to (trucks,)."""
    return passed.reshape(len(passed), LOTS, LOT).any(axis=2).mean(axis=1)


def built(key, ends, unit="m"):
    """Sweep over what is built."""
    return f"{key} = [{', '.join(repr(f'{end!r} {unit}') for end in ends)}]"


@pytest.mark.slow
def test_clearance_built_as_recommended(folder):
    study = drive(folder, 1, "pivoting", "", 300)
    need = next(n for n in needs(study, RISK, OVER) if n.item == ITEM).needed
    ends = [float(e) for e in (need.low, need.value, need.high)]
    fresh = drive(folder, 2, "pivoting", built(f'gap."{ITEM}".clearance', ends), LOTS * LOT)
    gap = fresh.gap_minimum.sel(gap=ITEM).values.reshape(3, -1)
    least, middle, most = bad_lots(gap <= 0).tolist()
    print(
        f"clearances {np.round(ends, 4)} m: closed in {least}, {middle}, {most} of the lots; {RISK} allowed"
    )
    assert most - LUCK <= RISK <= least + LUCK
    assert most <= middle <= least


@pytest.mark.slow
def test_bracket_spacing_built_as_recommended(folder):
    limit = Limit(what="bracket stress", item="water front", at_most="48 MPa", over=f"{OVER} m", risk=RISK)
    sweep = 'tank.water.spacing = ["0.5 m", "0.8 m", "1.1 m", "1.4 m"]'
    study = drive(folder, 1, "rigid", sweep, 300)
    found = crossings(study, [limit])[0]
    assert found.keeps_below and not found.kept_by_all and not found.kept_by_none
    ends = [float(e) for e in (found.at.low, found.at.value, found.at.high)]
    fresh = drive(folder, 2, "rigid", built("tank.water.spacing", ends), LOTS * LOT)
    stress = fresh.bracket_stress_maximum.sel(bracket="water front").values.reshape(3, -1)
    narrow, middle, wide = bad_lots(stress >= limit.value).tolist()
    print(f"spacings {np.round(ends, 3)} m: passed in {narrow}, {middle}, {wide} of the lots; {RISK} allowed")
    assert narrow - LUCK <= RISK <= wide + LUCK
    assert narrow <= middle <= wide
