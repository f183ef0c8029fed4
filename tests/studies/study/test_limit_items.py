"""Limits on items that no candidate has are refused before anything is driven, in one message each."""

from pathlib import Path

import pytest
from click.testing import CliRunner

import crossaxle
from crossaxle.studies.cli.main import cli
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.limit_items import check_limit_items
from crossaxle.studies.study.study import load

WHEELS = '"front left", "front right", "rear left", "rear right"'


def with_limit(study: Path, what: str, item: str, value: str) -> Path:
    path = study.with_name("limited.toml")
    limit = f'\n[[limits]]\nwhat = "{what}"\nitem = "{item}"\n{value}\n'
    path.write_text(study.read_text() + limit)
    return path


@pytest.mark.parametrize(
    "what, value, allowed",
    [
        ("mount force", 'at_most = "90 kN"', '"pivot"'),
        ("stop share", 'at_most = "90 %"', 'allowed is one of "pivot"'),
        ("unload events", 'at_most = "1 1/km"', f"allowed is one of {WHEELS}"),
        ("distance to crack", 'at_least = "10 km"', 'allowed is one of "water front", "water rear"'),
        ("lean", 'at_most = "9 deg"', '"lean" is of the whole truck: leave item out'),
        ("body torque", 'at_most = "9 kN*m"', '"body torque" is of the whole truck: leave item out'),
    ],
)
def test_an_item_that_is_not_there_is_refused_with_those_that_are(study, what, value, allowed):
    path = with_limit(study, what, "nowhere", value)
    with pytest.raises(InputError) as refused:
        check_limit_items(Experiment(load(path)))
    (message,) = refused.value.messages
    assert message.startswith(f'{path}: limits[1].item: found "nowhere"; ')
    assert allowed in message


def test_an_item_of_an_output_that_no_candidate_has_is_refused(study):
    path = with_limit(study, "pivot angle", "pivot", 'at_most = "9 deg"')
    path.write_text(path.read_text().replace('"pivoting"]', '"sprung"]'))
    with pytest.raises(InputError, match='no candidate has "pivot angle": leave this limit out'):
        check_limit_items(Experiment(load(path)))


def test_what_one_candidate_has_is_enough(study):
    """Only the pivoting mount has a pivot."""
    check_limit_items(Experiment(load(with_limit(study, "pivot angle", "pivot", 'at_most = "9 deg"'))))


@pytest.mark.parametrize("command", ["check", "run"])
def test_commands_refuse_it_and_write_nothing(study, tmp_path, command):
    path = with_limit(study, "gap", "cab to moon", 'at_least = "1 mm"')
    out = tmp_path / "results"
    done = CliRunner().invoke(cli, [command, str(path), *(["--out", str(out)] if command == "run" else [])])
    assert done.exit_code == 2
    assert 'found "cab to moon"' in done.output and "cab back to body" in done.output
    assert not out.exists()


def test_notebooks_refuse_it(study):
    path = with_limit(study, "gap", "cab to moon", 'at_least = "1 mm"')
    with pytest.raises(InputError, match="cab to moon"):
        crossaxle.run(crossaxle.load(path, samples=1, sample_length="20 m"))
