"""Use from a notebook: the examples of the docstrings, the guide's and the script's run; results are the command's."""

import doctest
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import crossaxle
from crossaxle.studies.analysis.outcomes import headline
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import in_process
from crossaxle.studies.run.sampling import RESULTS, combine, run
from crossaxle.studies.study.study import load

ROOT = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study")
    crossaxle.example(folder)
    return folder / "study.toml"


@pytest.fixture(scope="module")
def ds(study):
    return crossaxle.run(crossaxle.load(study, samples=4, sample_length="50 m", seed=5))


def test_examples_of_the_docstrings_run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = doctest.testmod(crossaxle, extraglobs={"crossaxle": crossaxle})
    assert found.attempted > 15
    assert found.failed == 0


def test_script_runs_and_says_what_it_found(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    script = (ROOT / "examples" / "two_mounts.py").read_text()
    short = script.replace("samples=40", 'samples=4, sample_length="50 m"')
    assert short != script
    exec(compile(short, "two_mounts.py", "exec"), {"__name__": "__main__"})
    told = capsys.readouterr().out
    assert re.search(r"Wheel-unload events: [+-]\S+ per km \(\S+ to \S+\)", told)
    assert (tmp_path / "two-mounts" / "unload_events.png").read_bytes()[:4] == b"\x89PNG"


def test_the_guides_example_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    assert len(blocks) == 1
    short = blocks[0].replace("samples=40", 'samples=4, sample_length="50 m"')
    assert short != blocks[0]
    exec(compile(short, "README.md", "exec"), {})


def test_results_are_the_commands_to_the_bit(study, ds, tmp_path):
    experiment = Experiment(load(study, {"samples": 4, "sample_length": "50 m", "seed": 5}))
    run(experiment, tmp_path, [(2, 4), (0, 2)], in_process, lambda done: None)
    combine(experiment, tmp_path)
    xr.testing.assert_identical(ds, crossaxle.open_results(tmp_path))
    saved = crossaxle.save(ds, tmp_path / "again")
    assert saved.read_bytes() == (tmp_path / RESULTS).read_bytes()


def test_comparing_the_other_way_round_turns_the_signs(ds):
    pair = "wheelbase=4.4 m, mount=rigid", "wheelbase=4.4 m, mount=pivoting"
    there, back = crossaxle.compare(ds, *pair), crossaxle.compare(ds, *reversed(pair))
    np.testing.assert_allclose(there.difference, -back.difference, rtol=1e-12)
    np.testing.assert_allclose(there.difference_low, -back.difference_high, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(there.chance_less + back.chance_less, 1.0, rtol=1e-9)
    assert there.first == back.second == "wheelbase 4.4 m, rigid mount"


def test_difference_is_that_of_the_two_candidates_own_numbers(ds):
    names = crossaxle.candidates(ds)
    a, b = names.index("wheelbase 4.4 m, rigid mount"), names.index("wheelbase 4.4 m, pivoting mount")
    found = crossaxle.compare(ds, "wheelbase=4.4 m, mount=rigid", "wheelbase=4.4 m, mount=pivoting")
    own = {o.key: o.estimate.value[a] - o.estimate.value[b] for o in headline(ds)}
    np.testing.assert_allclose(found.difference, [own[str(key)] for key in found.outcome.values], rtol=1e-9)


def test_a_candidate_with_itself_is_no_different(ds):
    found = crossaxle.compare(ds, "wheelbase=5 m, mount=rigid", "mount=rigid, wheelbase=5 m")
    assert (found.difference == 0).all()
    assert (found.chance_less == 0.5).all()


def test_every_chart_can_be_drawn(ds):
    names = crossaxle.charts(ds)
    assert "unload_events" in names and len(names) == len(set(names))
    assert crossaxle.plot(ds, "body_torque", width=4.6).get_figwidth() == 4.6


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda ds: crossaxle.compare(ds, "mount=rigid", "mount=pivoting"),
            '"mount=rigid" fits 3 candidates',
        ),
        (lambda ds: crossaxle.compare(ds, "mount=welded", "mount=rigid"), 'found "welded"'),
        (
            lambda ds: crossaxle.plot(ds, "unload_event"),
            'chart: found "unload_event"; allowed: unload_events',
        ),
        (lambda ds: crossaxle.charts(ds, "Moon"), '--course: found "Moon"'),
        (lambda ds: crossaxle.open_results("nowhere"), "there is no such results file"),
    ],
)
def test_bad_input_is_told_as_on_the_command_line(ds, call, message):
    with pytest.raises(InputError, match=re.escape(message)):
        call(ds)


def test_importing_it_loads_nothing_heavy():
    heavy = "[m for m in ('xarray', 'matplotlib', 'numba') if m in sys.modules]"
    asked = f"import sys; import crossaxle; print({heavy})"
    told = subprocess.run(
        [sys.executable, "-c", asked], cwd=ROOT.parent, capture_output=True, text=True, check=True
    )
    assert told.stdout.strip() == "[]"
