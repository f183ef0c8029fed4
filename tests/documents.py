"""Commands as the documents give them: fenced blocks, a command or some joined by && on a line; and running them."""

import contextlib
import re
import shlex
from collections.abc import Sequence
from pathlib import Path

from crossaxle.studies.cli.main import cli

ROOT = Path(__file__).parents[1]
WORKED = ROOT / "studies" / "examples"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(ROOT.glob("[a-z]*/README.md"))]
"""The guide, the developers' guide and the room pages."""

PROGRAMS = ("crossaxle ", "python ", "python3 ", "dask ", "pip ", ".venv/bin/")
"""What a line of a block, or code in running text, starts with if it is a command."""

Command = list[str]


def commands(text: str) -> list[Command]:
    """Return every command of the fenced blocks, split as a shell would."""
    blocks = re.findall(r"^```\w*\n(.*?)^```$", text, flags=re.S | re.M)
    steps = [step for block in blocks for line in block.splitlines() for step in line.split(" && ")]
    return [shlex.split(step, comments=True) for step in steps if step.startswith(PROGRAMS)]


def inline_commands(text: str) -> list[Command]:
    """Return every command in code quotes of the running text."""
    prose = re.sub(r"^```.*?^```$", "", text, flags=re.S | re.M)
    found = (" ".join(code.split()) for code in re.findall(r"`([^`]+)`", prose))
    return [shlex.split(code) for code in found if code.startswith(PROGRAMS)]


def is_own(command: Command) -> bool:
    """Whether a command is the program's."""
    return Path(command[0]).name == "crossaxle"


def follow(listed: Sequence[Command], folder: Path, *extra: str) -> None:
    """Run the program's commands among some in a folder, ``extra`` options added to every ``run``.

    Raises
    ------
    SystemExit
        Where a command ends with another status than 0.
    """
    with contextlib.chdir(folder):
        for _, *arguments in filter(is_own, listed):
            try:
                cli([*arguments, *(extra if arguments[0] == "run" else ())], prog_name="crossaxle")
            except SystemExit as end:
                if end.code:
                    raise SystemExit(f"crossaxle {' '.join(arguments)}: ended with {end.code}") from end


def between(text: str, name: str, content: str) -> str:
    """Put content between the marks ``<!-- name -->`` and ``<!-- end of name -->`` of a page."""
    start, end = f"<!-- {name} -->\n", f"<!-- end of {name} -->"
    head, tail = text.split(start)[0], text.split(end)[1]
    return f"{head}{start}{content.rstrip()}\n{end}{tail}"
