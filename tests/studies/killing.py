"""Kill runs of a short study at random moments, resume each, and compare the results bit for bit.

Run by the tests with 100 kills; for 1,000::

    python tests/studies/killing.py --kills 1000

Every run is a process of its own that is killed with SIGKILL: the main process at any moment between its start and its
end, or one of its worker processes. Runs are forked from this process, which has loaded and compiled everything, and
their workers from them, because starting Python takes longer than all the rest; the charts are left out for the
same reason. What is killed is otherwise what `crossaxle run` does, `--resume` included.
"""

import argparse
import contextlib
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
sys.path.insert(0, str(Path(__file__).parents[2]))

import xarray as xr  # noqa: E402

import studies.pool  # noqa: E402
import studies.report  # noqa: E402
from studies.example import write_example  # noqa: E402
from studies.main_job import Options, run_study  # noqa: E402
from studies.run import RESULTS  # noqa: E402

SETTINGS = {"samples": 10, "sample_length": "200 m"}
MOST_KILLS_OF_ONE_STUDY = 8


def start(study: Path, folder: Path, workers: int) -> int:
    """Fork a run that goes on with what the folder holds; return its process id."""
    pid = os.fork()
    if pid:
        return pid
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    status = 99
    with contextlib.suppress(BaseException):
        status = run_study(str(study), folder, SETTINGS, Options(workers=workers, resume=True))
    os._exit(status)


def children(pid: int) -> list[int]:
    """Living processes whose parent is `pid`."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, parent = path.read_text().rsplit(")", 1)[1].split()[:2]
            if int(parent) == pid and state != "Z":
                found.append(int(path.parent.name))
    return found


def ended(pid: int, within: float) -> int | None:
    """Exit status of a run that ends within so many seconds, else None."""
    limit = time.perf_counter() + within
    while True:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        if time.perf_counter() > limit:
            return None
        time.sleep(0.001)


def alive(pids: list[int]) -> list[int]:
    """Those that still run (not those that have ended and wait to be reaped)."""
    found = []
    for pid in pids:
        with contextlib.suppress(OSError):
            if Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z":
                found.append(pid)
    return found


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    real = multiprocessing.get_context
    studies.pool.multiprocessing.get_context = lambda method: real("fork")
    studies.report.write_report = lambda dataset, folder: [folder / "report.html"]

    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        write_example(home)
        study = home / "study.toml"
        study.write_text(study.read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m"]'))
        assert run_study(str(study), home / "undisturbed", SETTINGS, Options(workers=1)) == 0
        before = time.perf_counter()
        run_study(str(study), home / "again", SETTINGS, Options(workers=1))
        duration = time.perf_counter() - before
        expected = xr.load_dataset(home / "undisturbed" / RESULTS)

        started = time.perf_counter()
        main_kills = worker_kills = survived = finished = with_parts = orphans = 0
        while main_kills + worker_kills < options.kills:
            folder, of_this = home / f"run{finished}", 0
            while True:
                workers = chance.choice((1, 2))
                pid = start(study, folder, workers)
                status = None
                if of_this < MOST_KILLS_OF_ONE_STUDY and main_kills + worker_kills < options.kills:
                    # Squared, because most of so short a run goes into its end, putting the results together.
                    status = ended(pid, 1.1 * duration * chance.random() ** 2)
                    if status is None:
                        of_this += 1
                        helpers = children(pid)
                        if helpers and chance.random() < 0.5:
                            with contextlib.suppress(ProcessLookupError):
                                os.kill(chance.choice(helpers), signal.SIGKILL)
                            worker_kills += 1
                            status = ended(pid, 120.0)
                            assert status == 0, f"a run whose worker was killed ended with status {status}"
                            survived += 1
                        else:
                            os.kill(pid, signal.SIGKILL)
                            os.waitpid(pid, 0)
                            main_kills += 1
                            with_parts += any(folder.glob("parts/*.part"))
                            limit = time.perf_counter() + 20.0
                            while alive(helpers) and time.perf_counter() < limit:
                                time.sleep(0.01)
                            orphans += len(alive(helpers))
                            if (folder / RESULTS).exists():
                                xr.testing.assert_identical(xr.load_dataset(folder / RESULTS), expected)
                            continue
                if status is None:
                    status = ended(pid, 120.0)
                assert status == 0, f"an undisturbed resume ended with status {status}"
                break
            xr.testing.assert_identical(xr.load_dataset(folder / RESULTS), expected)
            left = [path.name for path in folder.rglob(".*.tmp")]
            assert not left, f"left behind: {left}"
            finished += 1
        assert orphans == 0, f"{orphans} workers outlived a killed main process"
        print(
            f"{main_kills} kills of the main process ({with_parts} with parts on the disk) and {worker_kills} of "
            f"worker processes (all {survived} runs went on), all resumed: {finished} results, each identical to the "
            f"undisturbed; no worker left behind; {time.perf_counter() - started:.0f} s"
        )


if __name__ == "__main__":
    main()
