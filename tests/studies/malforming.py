"""Break vehicle, course and study files in every way, and see that each is refused in one clear message.

The tests run it with 2,000 files; for 10,000 changed files and another seed::

    python -m tests.studies.malforming 10000 2

A file goes through the commands that read it, in this process: `check` or `ground`, and `run` as part of a study,
stopped where it would begin to write. Either it is refused with exit status 2 and one message, or the change left it
valid. No traceback, nothing written, no wait beyond `LONGEST` seconds; and what `check` refuses, `run` refuses.
"""

import os
import random
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from unittest.mock import patch

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
sys.path.insert(0, str(Path(__file__).parents[2]))

from click.testing import CliRunner, Result  # noqa: E402

from crossaxle.studies.cli import main_job  # noqa: E402
from crossaxle.studies.cli.main import cli  # noqa: E402
from crossaxle.studies.inputs.reader import document  # noqa: E402
from crossaxle.studies.study import library  # noqa: E402
from crossaxle.studies.study.example import example_texts  # noqa: E402
from tests.studies.hostile import hostile_files, unreadable_places  # noqa: E402
from tests.studies.mutations import changed, scrambled  # noqa: E402

LONGEST = 30.0
LONGEST_MESSAGE = 10_000


class StartedError(Exception):
    """A run would have begun to write."""


def originals() -> list[tuple[str, str]]:
    """All shipped files: the role in which the example takes them, and the text."""
    study = (
        resources.files("crossaxle.studies").joinpath("examples", "study.toml").read_text(encoding="utf-8")
    )
    found = [("study.toml", study)]
    for kind in ("vehicle", "course"):
        found += [(f"{kind}.toml", library.text(kind, name)) for name in library.names(kind)]
    return found


def mutated_files(number: int, seed: int) -> Iterator[tuple[str, str, bytes]]:
    """Shipped files with something changed: a role, what was changed, and the bytes."""
    chance = random.Random(seed)
    shipped = [(role, text, document(role, text).table) for role, text in originals()]
    for _ in range(number):
        role, text, table = chance.choice(shipped)
        content, told = scrambled(text, chance) if chance.random() < 0.2 else changed(table, chance)
        yield role, told, content.encode("utf-8", "surrogatepass")


class Reader:
    """Reads broken files as the commands do and notes what is wrong with their answers."""

    def __init__(self, home: Path) -> None:
        self.home, self.whole = home, example_texts()
        # A vehicle or course is run without a sweep, which would put other values in the place of broken ones.
        (home / "plain.toml").write_text(
            'title = "plain"\nvehicle = "vehicle.toml"\ncourses = ["course.toml"]\nsamples = 2\n'
        )
        self.faults: list[str] = []
        self.count: Counter[str] = Counter()
        self.longest = 0.0
        for role in self.whole:
            self.restore(role)

    def restore(self, role: str) -> None:
        """Put the valid file back."""
        path = self.home / role
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            path.unlink()
        elif path.is_dir():
            path.rmdir()
        path.write_text(self.whole[role])

    def try_bytes(self, role: str, told: str, content: bytes, must_fail: bool = False) -> None:
        """Put bytes in a file's place, read them, and put the valid file back."""
        (self.home / role).write_bytes(content)
        self.read(role, told, must_fail)
        self.restore(role)

    def read(self, role: str, told: str, must_fail: bool) -> None:
        """Give what stands in a file's place to the commands that read it."""
        before = self._names()
        view = "ground" if role == "course.toml" else "check"
        refused = self._refused(told, view, str(self.home / role))
        study = self.home / ("study.toml" if role == "study.toml" else "plain.toml")
        ran = self._refused(told, "run", str(study), "--out", str(self.home / "out"))
        if refused and not ran:
            self.faults.append(f"{role}: {told}: {view} refuses it, run does not")
        if must_fail and not ran:
            self.faults.append(f"{role}: {told}: is not refused")
        if self._names() != before:
            self.faults.append(f"{role}: {told}: something was written: {self._names() ^ before}")
        self.count[f"{role} {'refused' if refused or ran else 'still valid'}"] += 1

    def _names(self) -> set[str]:
        return {str(path.relative_to(self.home)) for path in self.home.rglob("*")}

    def _refused(self, told: str, *command: str) -> bool:
        at = time.perf_counter()
        with patch.object(main_job, "alone_in", side_effect=StartedError):
            result = CliRunner().invoke(cli, command)
        took = time.perf_counter() - at
        self.longest = max(self.longest, took)
        if took > LONGEST:
            self.faults.append(f"{told}: {command[0]} took {took:.0f} s")
        self.faults += [f"{told}: {command[0]}: {fault}" for fault in _faults(result)]
        return result.exit_code == 2


def _faults(result: Result) -> Iterator[str]:
    """What is wrong with the answer to a file that may be bad."""
    said = result.stderr.strip()
    if isinstance(result.exception, StartedError):
        return
    if result.exc_info and not isinstance(result.exception, SystemExit | None):
        yield "".join(traceback.format_exception(*result.exc_info))[-1500:]
    elif result.exit_code not in (0, 2):
        yield f"exit status {result.exit_code}: {said[:300]}"
    if result.exit_code == 2:
        message = [line for line in said.splitlines() if line.startswith("crossaxle: ")]
        if len(message) != 1 or len(said) > LONGEST_MESSAGE or result.stdout:
            yield f"message of {len(said)} characters: {said[:300]!r}"
        if not all(character.isprintable() or character == "\n" for character in said):
            yield f"control characters in {said[:300]!r}"
    if "Traceback" in said:
        yield said[:300]


def main(number: int, seed: int) -> int:
    """Read so many files, print what happened, and return the number of faults."""
    warnings.simplefilter("error", RuntimeWarning)
    started, made_by_hand = time.perf_counter(), 0
    with tempfile.TemporaryDirectory() as name:
        reader = Reader(Path(name))
        for role in reader.whole:
            reader.read(role, "as shipped", must_fail=False)
        # this compiled what has to be compiled, however long it took
        reader.longest, reader.faults = 0.0, [one for one in reader.faults if " took " not in one]
        assert reader.count.total() == reader.count["course.toml still valid"] * 3, reader.count
        for role, told, content in hostile_files():
            reader.try_bytes(role, told, content, must_fail=True)
            made_by_hand += 1
        for role in reader.whole:
            for told, make in unreadable_places().items():
                (reader.home / role).unlink()
                make(reader.home / role)
                reader.read(role, told, must_fail=True)
                reader.restore(role)
                made_by_hand += 1
        for role, told, content in mutated_files(number - made_by_hand, seed):
            reader.try_bytes(role, told, content)
    for fault in reader.faults:
        print(fault)
    counted = ", ".join(f"{number} {what}" for what, number in sorted(reader.count.items()))
    print(
        f"{number} files ({made_by_hand} of them made by hand): {counted}; {len(reader.faults)} faults; longest "
        f"{reader.longest:.1f} s; {time.perf_counter() - started:.0f} s"
    )
    return len(reader.faults)


if __name__ == "__main__":
    arguments = [int(argument) for argument in sys.argv[1:]]
    sys.exit(1 if main(*(arguments or [2000]), *([] if len(arguments) > 1 else [1])) else 0)
