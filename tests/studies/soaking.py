"""Run short studies one after the other in one process, and see that memory and open files stay flat.

The tests run it for the better part of a minute; for an hour::

    python -m tests.studies.soaking 60

Every round runs a study in a folder of its own, in this process or with workers, extends it, is refused twice, and now
and then reports. Memory is the resident set of this process; the first fifth of the rounds, in which libraries load
and caches fill, is not looked at.
"""

import contextlib
import ctypes
import gc
import io
import os
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
sys.path.insert(0, str(Path(__file__).parents[2]))

from crossaxle.studies.cli.main_job import Options, run_study  # noqa: E402
from crossaxle.studies.inputs.reader import InputError  # noqa: E402
from crossaxle.studies.report.report import write_report  # noqa: E402
from crossaxle.studies.run.dataset import read_results  # noqa: E402
from crossaxle.studies.run.sampling import RESULTS  # noqa: E402
from crossaxle.studies.study.example import write_example  # noqa: E402

LEAST_ROUNDS = 20
REPORT_EVERY = 10
MOST_GROWTH = 0.03
"""Growth of memory over the run that is taken for scatter, as a share."""


def state() -> tuple[float, int, int]:
    """Resident memory of this process [MB], its open files and its threads.

    What waits to be collected, or to be handed back to the system, comes and goes over tens of rounds and is no growth.
    """
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    files = len(os.listdir("/proc/self/fd"))  # noqa: PTH208
    return pages * os.sysconf("SC_PAGESIZE") / 1e6, files, threading.active_count()


def one_round(study: Path, folder: Path, number: int) -> None:
    """Run, extend, be refused and, now and then, report."""
    settings = {"samples": 3, "sample_length": "100 m", "seed": number}
    workers = 1 + number % 2
    assert run_study(str(study), folder, settings, Options(workers=workers)) == 0
    assert run_study(str(study), folder, {**settings, "samples": 5}, Options(workers=1, resume=True)) == 0
    for wrong in ({**settings, "seed": -1}, settings):
        with contextlib.suppress(InputError):
            run_study(str(study), folder, wrong, Options(workers=1))
            raise AssertionError("a run that should be refused was not")
    if number % REPORT_EVERY == 0:
        write_report(read_results(folder / RESULTS), folder)


def main(minutes: float) -> None:
    """Run rounds for so long, at least `LEAST_ROUNDS`; print what was measured and fail if it grew."""
    import crossaxle.studies.report.report

    crossaxle.studies.report.report.write_report = lambda dataset, folder: [folder / "report.html"]
    found, started = [], time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        write_example(home)
        study = home / "study.toml"
        study.write_text(study.read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m"]'))
        while len(found) < LEAST_ROUNDS or time.perf_counter() - started < 60.0 * minutes:
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                one_round(study, home / f"{len(found)}", len(found))
            found.append(state())
    settled = found[max(REPORT_EVERY + 1, len(found) // 5) :]
    third = len(settled) // 3
    memory = [megabytes for megabytes, _, _ in settled]
    before, after = statistics.median(memory[:third]), statistics.median(memory[-third:])
    files = sorted({count for _, count, _ in settled})
    threads = sorted({count for _, _, count in settled})
    print(
        f"{len(found)} rounds in {time.perf_counter() - started:.0f} s: memory {before:.1f} MB in the first third, "
        f"{after:.1f} MB in the last; open files {files}; threads {threads}"
    )
    assert after < before * (1 + MOST_GROWTH), "memory grows"
    assert files[-1] <= settled[0][1], "open files grow"
    assert threads[-1] <= settled[0][2], "threads grow"


if __name__ == "__main__":
    main(*map(float, sys.argv[1:] or ["1"]))
