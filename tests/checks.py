"""README's table of outside checks, made by the tests: ``python -m tests.checks`` runs tests/reference and writes it.

Rounding differs between kinds of processor: a bound on it that README already has is raised but never lowered. To
measure such a row afresh, delete it first.

A test calls the fixture ``checked(what, against, difference)`` with the largest difference it measured. Run as a
test it holds the difference against README's row; run from here it is collected instead. Differences are relative
unless a unit is given. They are rounded up, so that what README says is never less than what was measured.
"""

import ast
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.documents import ROOT, between

README = ROOT / "README.md"
REFERENCE = ROOT / "tests" / "reference"
COLLECT = "CROSSAXLE_CHECKS"
"""Environment variable with a folder: measured differences go into files there and nothing is compared."""

ROUNDING = 1e-5
"""Differences below are rounding, other on every kind of processor; they are quoted as a bound.

The largest are those of ladders whose rails bend a million times less than they twist: 3e-6 to 7e-6 with the routines
of four kinds of processor.
"""

LEAST = 1e-12
"""No bound on rounding is quoted below this."""

Row = tuple[str, str]


def quoted(difference: float, unit: str = "") -> str:
    """Write a difference, rounded up: two figures, or a power of ten at least ten times it where it is rounding."""
    if difference == 0 and unit:
        return "none"
    if difference < ROUNDING:
        return f"below 1e{math.ceil(math.log10(max(10 * difference, LEAST)))} {unit}".strip()
    value, suffix = (100 * difference, "%") if not unit else (difference, unit)
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return f"{math.ceil(value / step - 1e-9) * step:.6g} {suffix}"


def number(text: str) -> float:
    """Read back what ``quoted`` wrote."""
    if text == "none":
        return 0.0
    words = text.removeprefix("below ").split()
    return float(words[0]) * (0.01 if words[1:] == ["%"] else 1.0)


def table(text: str) -> dict[Row, str]:
    """Return the rows of README's table of checks: what and against, to the difference."""
    inside = text.split("<!-- checks -->")[1].split("<!-- end of checks -->")[0]
    cells = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in inside.strip().splitlines()[2:]
    ]
    return {(what, against): difference for what, against, difference in cells}


def named() -> set[Row]:
    """Return what and against of every call of ``checked`` in tests/reference; both must be plain texts."""
    found = set()
    for path in sorted(REFERENCE.glob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "checked":
                found.add((ast.literal_eval(node.args[0]), ast.literal_eval(node.args[1])))
    return found


def compare(what: str, against: str, difference: float, unit: str) -> None:
    """Collect a difference, or hold it against README's row.

    Raises
    ------
    AssertionError
        Where README has no such row or quotes less than was measured.
    """
    folder = os.environ.get(COLLECT)
    if folder:
        with tempfile.NamedTemporaryFile("w", dir=folder, delete=False, encoding="utf-8") as file:
            file.write("\n".join((what, against, repr(float(difference)), unit)))
        return
    rows = table(README.read_text(encoding="utf-8"))
    remedy = "`python -m tests.checks` writes README's table"
    assert (what, against) in rows, f"README has no row for {what!r} against {against!r}; {remedy}"
    says = rows[what, against]
    assert difference <= number(says), f"{what}: {difference:.3g} measured, README says {says}; {remedy}"


def main() -> None:
    """Run the reference tests, given options passed on to pytest, and write the table of what they measured."""
    with tempfile.TemporaryDirectory() as folder:
        run = [sys.executable, "-m", "pytest", str(REFERENCE), *sys.argv[1:]]
        subprocess.run(run, cwd=ROOT, env={**os.environ, COLLECT: folder}, check=True)
        worst: dict[Row, tuple[float, str]] = {}
        for path in Path(folder).iterdir():
            what, against, difference, unit = path.read_text(encoding="utf-8").split("\n")
            met = worst.get((what, against), (0.0, unit))
            worst[what, against] = max(met, (float(difference), unit))
    text = README.read_text(encoding="utf-8")
    before = table(text)
    lines = ["| what | against | largest difference |", "| --- | --- | --- |"]
    for row in sorted(worst):
        says = quoted(*worst[row])
        if says.startswith("below"):
            says = max(says, before.get(row, says), key=number)
        lines.append(f"| {row[0]} | {row[1]} | {says} |")
    README.write_text(between(text, "checks", "\n".join(lines)), encoding="utf-8")


if __name__ == "__main__":
    main()
