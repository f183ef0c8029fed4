"""Rare events of a real vehicle on real ground against brute force on independent stretches, and the command."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from crossaxle.studies.cli.main import cli
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.rare.random_stretch import _Chances, _Kept
from crossaxle.studies.rare.rare_events import RareEvents
from crossaxle.studies.rare.rare_findings import FINDINGS, read_findings
from crossaxle.studies.rare.rare_view import rare_table
from crossaxle.studies.run.dataset import read_results, results, write_results
from crossaxle.studies.run.sampling import RESULTS
from tests.studies.brute_force import ITEM, OUTPUT, experiment, worst_of_stretches

KILOMETRES = 20_000


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return experiment(tmp_path_factory.mktemp("rare"))


@pytest.mark.slow
def test_once_in_a_thousand_kilometres_as_brute_force_counts(made):
    """The gap that 20 of 2000 stretches of 10 km fall below: 1e-3 per km with a standard error of 22 %.

    The estimate must hold it within its own interval, widened by two such errors, and agree to a factor of 2.
    """
    worst = worst_of_stretches(made, KILOMETRES)
    level = float(np.sort(worst)[19])
    truth = -np.log1p(-0.01) / 10
    found = RareEvents(made, 0).rate(OUTPUT, ITEM, level, repeats=6, seed=2).per_metre.times(1e3)
    print(
        f"per km: counted {truth:.2e} in {KILOMETRES} km, found {found.value:.2e} ({found.low:.1e} to {found.high:.1e})"
    )
    assert found.low / 1.45 <= truth <= found.high * 1.45
    assert truth / 2 < found.value < truth * 2


def test_moves_keep_the_ground_alike(made):
    """After ten large moves roughness still has variance 1, and no move at size 0 changes the score."""
    problem = RareEvents(made, 0, stretch=60.0).problem("frame_twist_maximum", "")
    random = np.random.default_rng(3)
    state = problem.draw(random)
    assert problem.score(problem.move(state, 0.0, random)) == problem.score(state)
    for _ in range(10):
        state = problem.move(state, 0.9, random)
    normals = np.concatenate(list(state.values()))
    assert normals.std() == pytest.approx(1.0, abs=0.1)


def test_an_unknown_output_is_named_with_those_there_are(made):
    with pytest.raises(
        ValueError, match=r"gap_minimum door is not recorded; recorded are: .*gap_minimum cab roof"
    ):
        RareEvents(made, 0).problem("gap_minimum", "door")


@pytest.fixture(scope="module")
def folder(made, tmp_path_factory):
    """A results folder of four samples."""
    rows, histograms = zip(*(made.run(k) for k in range(4)), strict=True)
    counts = np.zeros((20, *histograms[0].shape))
    counts[:4] = histograms
    place = tmp_path_factory.mktemp("results")
    write_results(results(made, np.array(rows), counts), place / RESULTS)
    return place


def ask(folder, *options):
    return CliRunner().invoke(cli, ["rare", str(folder), *options])


def test_the_command_keeps_what_it_finds_beside_the_results(folder):
    """A gap of 40 mm (met on most kilometres) is found in one step; the same question asked again is kept once."""
    for _ in range(2):
        told = ask(folder, "--output", f"{OUTPUT}:{ITEM}", "--level", "40 mm", "--repeats", "3", "--json")
        assert told.exit_code == 0, told.output
    answer = json.loads(told.stdout)[0]
    assert answer["per_km_interval"][0] <= answer["per_km"] <= answer["per_km_interval"][1]
    dataset = read_results(folder / RESULTS)
    kept = read_findings(dataset, folder)
    assert len(kept) == 1 and kept[0].per_metre * 1e3 == pytest.approx(answer["per_km"])
    table = rare_table(dataset, kept, 1e7, 0)
    assert "cab roof to alcove, falls to 40" in table.rows[0][0].text
    # Findings belong to their results: others of the same name show none.
    assert read_findings(dataset.assign_attrs(identity="another"), folder) == []


@pytest.mark.parametrize(
    "options, words",
    [
        (
            ["--output", "gap_minimum", "--level", "0 mm"],
            "has several items; name one, e.g. 'gap_minimum:cab roof",
        ),
        (["--output", "gap_least:door", "--level", "0 mm"], '--output: found "gap_least"'),
        (["--output", f"{OUTPUT}:{ITEM}", "--level", "5 kN"], "--level 5 kN"),
        (["--output", f"{OUTPUT}:{ITEM}", "--level", "5"], "bare number"),
        (["--output", f"{OUTPUT}:{ITEM}", "--level", "nan mm"], "nan mm"),
        (["--output", "tip_margin_minimum", "--level", "nan"], "allowed is a finite number"),
        (["--output", "tip_margin_minimum", "--level", "inf"], "allowed is a finite number"),
    ],
)
def test_wrong_questions_are_refused_with_a_reason(folder, options, words):
    told = ask(folder, *options)
    assert told.exit_code == 2 and words in told.stderr


def test_a_damaged_file_of_findings_is_told(folder, tmp_path):
    (tmp_path / FINDINGS).write_text("{")
    with pytest.raises(InputError, match="run `crossaxle rare` again"):
        read_findings(read_results(folder / RESULTS), tmp_path)


def test_a_state_lays_ground_like_any_other(made):
    """Spread of the height on 300 states against 300 samples: its mean within three standard errors, and its own
    spread, which the ditches make.
    """
    events = RareEvents(made, 0)
    stretch, random = events.ground, np.random.default_rng(4)
    heights = np.array([stretch.lay(stretch.draw(random)).heights.std() for _ in range(300)])
    other = np.array([made.ground(made.courses[0], k).heights.std() for k in range(300)])
    error = np.hypot(heights.std(), other.std()) / np.sqrt(300)
    assert abs(heights.mean() - other.mean()) < 3 * error
    assert heights.std() == pytest.approx(other.std(), rel=0.25)


def test_chances_follow_their_distributions():
    """Numbers made from normals: Poisson counts and even numbers against their moments, 20,000 drawings."""
    random = np.random.default_rng(5)
    counts, shares, places = [], [], []
    for _ in range(20_000):
        chances = _Chances(_Kept({}, (0, 0, 1, 0), random))
        counts.append(chances.poisson(2.5))
        shares.append(chances.random(1)[0])
        places.append(chances.integers(10))
    assert np.mean(counts) == pytest.approx(2.5, abs=0.05) and np.var(counts) == pytest.approx(2.5, abs=0.12)
    assert np.mean(shares) == pytest.approx(0.5, abs=0.01) and np.var(shares) == pytest.approx(
        1 / 12, abs=0.003
    )
    assert set(places) == set(range(10))
