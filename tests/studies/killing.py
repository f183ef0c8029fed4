"""Kill runs of a short study at random moments, resume each, and compare the results bit for bit.

The tests run it with 100 kills; for 1,000 and another seed::

    python -m tests.studies.killing 1000 2

A kill is a SIGKILL to the main process or to one of its workers: at any moment of a run, or as soon as a file is being
written. Most runs are forked from this process, which has loaded and compiled everything, because starting takes longer
than all the rest, and leave the charts out for the same reason; one in `BY_COMMAND` is the command as a user starts it,
charts and all.
"""

import contextlib
import io
import os
import random
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections import Counter
from pathlib import Path

from tqdm import tqdm

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

import crossaxle.studies.report.report  # noqa: E402
from crossaxle.studies.cli.main_job import Options, run_study  # noqa: E402
from crossaxle.studies.cli.terminal import Terminal  # noqa: E402
from crossaxle.studies.run.sampling import PARTS, RESULTS  # noqa: E402
from crossaxle.studies.study.example import write_example  # noqa: E402

SAMPLES = {"samples": 80}
MOST_KILLS_OF_ONE_STUDY = 6
BY_COMMAND = 25
"""One run of so many is the command as a user starts it."""
LONGEST = 900.0


class Killer:
    """Runs one study again and again, killing it on the way."""

    def __init__(self, home: Path, chance: random.Random) -> None:
        self.home, self.chance = home, chance
        self.said = home / "said"
        """What the last run has printed."""
        self.count: Counter[str] = Counter()
        write_example(home)
        self.study = home / "study.toml"
        text = self.study.read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m"]')
        self.study.write_text(text.replace('sample_length = "1 km"', 'sample_length = "500 m"'))
        crossaxle.studies.report.report.write_report = lambda dataset, folder: [folder / "report.html"]
        # In this process, so that forked runs have at once what it loads and compiles.
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            assert run_study(str(self.study), home / "undisturbed", SAMPLES, Options(workers=1)) == 0
        self.expected = (home / "undisturbed" / RESULTS).read_bytes()
        self.forks_length = self._length(self.fork, home / "forked")
        self.commands_length = self._length(self.command, home / "by command")
        for folder in ("forked", "by command"):
            assert (home / folder / RESULTS).read_bytes() == self.expected, folder

    def _length(self, start, folder: Path) -> float:  # type: ignore[no-untyped-def]
        before = time.perf_counter()
        self.wait(start(folder, 2))
        return time.perf_counter() - before

    def command(self, folder: Path, workers: int) -> int:
        """Start the command, going on with what a folder holds; return its process id."""
        command = [sys.executable, "-m", "crossaxle", "run", str(self.study)]
        command += [
            "--out",
            str(folder),
            "--workers",
            f"{workers}",
            "--samples",
            f"{SAMPLES['samples']}",
            "--resume",
        ]
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        said = [
            (os.POSIX_SPAWN_OPEN, stream, self.said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            for stream in (1, 2)
        ]
        return os.posix_spawn(sys.executable, command, environment, file_actions=said)

    def fork(self, folder: Path, workers: int) -> int:
        """Fork a run that goes on with what a folder holds; return its process id."""
        pid = os.fork()
        if pid:
            return pid
        said = os.open(self.said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(said, 1)
        os.dup2(said, 2)
        # The lock of progress bars is one for all forks: a run killed while it held it would stop every later one.
        tqdm.set_lock(threading.RLock())
        status = 99
        try:
            options = Options(workers=workers, resume=True)
            status = run_study(str(self.study), folder, SAMPLES, options, Terminal())
        except BaseException:
            traceback.print_exc()
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)

    def wait(self, pid: int) -> None:
        """Wait for a run that must complete."""
        try:
            assert ended(pid, LONGEST), "a run does not end"
        except AssertionError:
            sys.stderr.write(self.said.read_text(errors="replace"))
            raise

    def one_study(self, kills: int) -> int:
        """Kill runs of one study at most so many times, then let it complete; return the number of kills."""
        folder, done = self.home / f"run{self.count['results']}", 0
        while done < min(kills, MOST_KILLS_OF_ONE_STUDY):
            if not self.one_run(folder):
                break
            done += 1
        else:
            self.wait(self.fork(folder, self.chance.choice((1, 2))))
        assert (folder / RESULTS).read_bytes() == self.expected, "other results than the undisturbed"
        left = [path.name for path in folder.rglob(".*.tmp")]
        assert not left, f"left behind: {left}"
        self.count["results"] += 1
        return done

    def one_run(self, folder: Path) -> bool:
        """Start a run and kill it or a worker of it; False if it ended before."""
        by_command = self.chance.random() < 1 / BY_COMMAND
        start, length = (self.command, self.commands_length) if by_command else (self.fork, self.forks_length)
        pid = start(folder, self.chance.choice((1, 2, 2)))
        if not self._reached(pid, folder, length):
            return False
        workers = children(pid)
        self.count["by command"] += by_command
        if workers and self.chance.random() < 0.6:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.chance.choice(workers), signal.SIGKILL)
            self.count["worker"] += 1
            self.wait(pid)
            return True
        self.count["with a file half written"] += bool(list(folder.rglob(".*.tmp")))
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        self.count["main"] += 1
        self.count["with parts"] += any((folder / PARTS).glob("*.part"))
        self.count["with results"] += (folder / RESULTS).exists()
        assert not alive(workers, 20.0), "workers outlived a killed main process"
        if (folder / RESULTS).exists():
            assert (folder / RESULTS).read_bytes() == self.expected, "wrong results under the final name"
        return True

    def _reached(self, pid: int, folder: Path, length: float) -> bool:
        """Wait for a moment of a run; False if it ended before."""
        kind = self.chance.choice(("any", "writing", "workers", "workers"))
        limit = time.perf_counter() + 0.8 * length * self.chance.random()
        if kind == "any":
            return not ended(pid, limit - time.perf_counter())
        while not ended(pid, 0.0):
            late = time.perf_counter() > limit
            if kind == "writing" and late and list(folder.rglob(".*.tmp")):
                return True
            if kind == "workers" and children(pid):
                return not ended(pid, 0.1 * self.chance.random())
            time.sleep(0.002)
        return False


def ended(pid: int, within: float) -> bool:
    """Whether a run, which must end well, ends within so many seconds."""
    limit = time.perf_counter() + within
    while True:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            assert status == 0, f"a run ended with status {os.waitstatus_to_exitcode(status)}"
            return True
        if time.perf_counter() >= limit:
            return False
        time.sleep(0.001)


def children(pid: int) -> list[int]:
    """Living processes whose parent is `pid`."""
    return [number for number, (state, parent) in _processes().items() if parent == pid and state != "Z"]


def alive(pids: list[int], within: float) -> list[int]:
    """Those that still run after so many seconds."""
    limit = time.perf_counter() + within
    while True:
        now = _processes()
        left = [pid for pid in pids if pid in now and now[pid][0] != "Z"]
        if not left or time.perf_counter() > limit:
            return left
        time.sleep(0.01)


def _processes() -> dict[int, tuple[str, int]]:
    """State and parent of every process."""
    found = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, parent = path.read_text().rsplit(")", 1)[1].split()[:2]
            found[int(path.parent.name)] = state, int(parent)
    return found


def main(kills: int = 100, seed: int = 1) -> None:
    """Kill so many times and print what happened."""
    with tempfile.TemporaryDirectory() as home:
        killer, done, started = Killer(Path(home), random.Random(seed)), 0, time.perf_counter()
        while done < kills:
            done += killer.one_study(kills - done)
            print(f"{done} of {kills} kills", file=sys.stderr)
    count = killer.count
    print(
        f"{done} kills: {count['main']} of the main process ({count['with parts']} with parts on the disk, "
        f"{count['with results']} with results, {count['with a file half written']} with a file half written), "
        f"{count['worker']} of workers; {count['by command']} of runs by command; all resumed: {count['results']} "
        f"results, {count['results']} identical to the undisturbed; {time.perf_counter() - started:.0f} s"
    )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
