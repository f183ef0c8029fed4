"""What the documents tell a reader to type works: every command runs here, or is known to run elsewhere."""

import shlex
from importlib.util import find_spec

import click
import pytest

from crossaxle.studies.cli.main import cli
from tests.checks import README, named, number, quoted, table
from tests.documents import PAGES, ROOT, commands, follow, inline_commands, is_own

SMALL = ("--samples", "1", "--workers", "1")

RUN_ELSEWHERE = {
    "python3 -m venv .venv": ".ci/run, as README's second block",
    ".venv/bin/pip install --quiet .": ".ci/run, from a wheel",
    ".venv/bin/pip install --quiet -e '.[test]'": ".ci/run, as README's second block",
    ".venv/bin/pip install -e '.[dev]'": ".ci/run",
    ".venv/bin/pre-commit install": "needs a repository of its own; .ci/run runs the hooks' commands",
    ".venv/bin/python -m pytest -n auto -m 'not slow'": "part of README's second block",
    "python -m build": ".ci/run",
    "python -m crossaxle": "tests/test_house.py",
    ".venv/bin/python -m pytest -n auto": ".ci/run, as README's second block",
    "python -m pytest tests/reference": "part of the former",
    "dask scheduler --port 8786": "tests/studies/run/test_cluster.py starts scheduler and workers of its own",
    "dask worker tcp://HOST:8786 --nworkers 8 --nthreads 1": "the same",
}

READINGS = """height,under,measured,value,uncertainty,direction
150 mm,front right and rear left,twist front axle to rear axle,-2.6 deg,0.1 deg,raising
"""


def test_readmes_blocks_from_install_to_own_truck(tmp_path, monkeypatch):
    """The example and the newcomer's path, in one folder in the order of the text, with a reading filled in.

    The report is written once, by the last command; other tests look at what `run` writes.
    """
    listed = commands(README.read_text(encoding="utf-8"))
    assert sum(map(is_own, listed)) == 11
    written = next(k for k, command in enumerate(listed) if "my-study" in command)
    with monkeypatch.context() as without:
        without.setattr(
            "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
        )
        follow(listed[: written + 1], tmp_path, *SMALL)
        (tmp_path / "my-study" / "readings.csv").write_text(READINGS)
        follow(listed[written + 1 : -1], tmp_path, *SMALL)
    assert listed[-1] == ["crossaxle", "report", "results"]
    follow(listed[-1:], tmp_path)
    made = "out/results.nc", "sheet.html", "my-study/measured.toml", "ground.png", "results/report.html"
    assert all((tmp_path / name).stat().st_size > 1000 for name in made)


@pytest.mark.parametrize(
    "page", [page for page in PAGES if page != README], ids=lambda page: page.parent.name
)
def test_other_pages_have_no_blocks_of_the_programs_commands(page):
    """README and the worked studies are where a reader is told to follow a sequence; both are followed in tests."""
    assert not any(map(is_own, commands(page.read_text(encoding="utf-8"))))


def test_every_other_command_is_known():
    """Commands of other programs run elsewhere; modules exist; crossaxle in running text has such options."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        for command in [c for c in commands(text) if not is_own(c)] + inline_commands(text):
            line = shlex.join(command)
            if is_own(command):
                assert _exists(command), f"{page}: {line}"
            elif line.startswith("python -m tests."):
                assert find_spec(command[2]), f"{page}: {line}"
            else:
                assert line in RUN_ELSEWHERE, f"{page}: no test runs: {line}"


def _exists(command: list[str]) -> bool:
    """Whether the program has such a command with such options; COMMAND stands for any."""
    if len(command) == 1:
        return True
    name, options = command[1], {word.split("=")[0] for word in command[2:] if word.startswith("--")}
    known = cli.commands.values() if name == "COMMAND" else filter(None, [cli.commands.get(name)])
    names = {o for one in known for p in one.params if isinstance(p, click.Option) for o in p.opts} | {
        "--help"
    }
    return bool(known) and options <= names


def test_ci_takes_the_test_command_from_readmes_second_block():
    blocks = README.read_text(encoding="utf-8").split("```sh\n")[1:]
    lines = [block.split("```")[0].splitlines() for block in blocks]
    assert [len(block) for block in lines] == [1, 1]
    assert all(block[0].startswith("python3 -m venv .venv && ") for block in lines)
    assert lines[1][0].endswith(" && .venv/bin/python -m pytest -n auto")
    assert "block==2" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_readmes_table_of_checks_has_a_row_for_every_check_and_no_other():
    """That no row says less than was measured is asserted where it is measured."""
    assert set(table(README.read_text(encoding="utf-8"))) == named()


@pytest.mark.parametrize("unit", ["", "cycles"])
def test_quoted_differences_are_rounded_up(unit):
    for difference in (0.0, 3.3e-16, 4.1e-10, 9.99e-7):
        says = quoted(difference, unit)
        assert says == "none" or says.startswith("below 1e-")
        assert difference <= number(says) <= max(1e-12, 101 * difference)
    for difference in (2.345e-5, 0.00151, 0.0499, 0.0995, 0.37, 1.0, 2.71):
        assert difference <= number(quoted(difference, unit)) <= 1.12 * difference
