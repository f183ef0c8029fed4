"""The main job as a user starts it, watched from outside.

Six wheelbases, two mounts, samples of 1 km at 5 cm on the shipped severe course; all outputs.
"""

import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from crossaxle.studies.run.batch import remember, study_texts
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import in_process, in_processes
from crossaxle.studies.study.example import write_example
from crossaxle.studies.study.study import load
from tests.benchmarks.scene import best

COMMAND = [sys.executable, "-m", "crossaxle"]
ROOT = Path(__file__).parents[2]
LOOK_EVERY = 0.02


def write_study(folder: Path, wheelbases: int = 6) -> Path:
    """Write the study; with fewer wheelbases it has fewer candidates, two for each."""
    write_example(folder)
    chosen = ", ".join(f'"{3.8 + 0.2 * i:.1f} m"' for i in range(wheelbases))
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('"3.8 m", "4.4 m", "5.0 m"', chosen))
    return path


@dataclass(frozen=True)
class Watched:
    """What was seen: seconds from the start of the command, and largest resident memory of any process [bytes]."""

    progress: float
    results: float
    report: float
    memory: float


def watch(study: Path, samples: int, workers: int = 2, report: bool = False) -> Watched:
    """Run a study; unless its report is wanted, end the run when the results are there."""
    out = study.parent / f"out_{samples}_{workers}"
    shutil.rmtree(out, ignore_errors=True)
    command = [*COMMAND, "run", str(study), "--out", str(out), "--samples", str(samples)]
    command += ["--workers", str(workers)]
    log = study.parent / "log"
    with log.open("wb") as file:
        start = time.perf_counter()
        process = subprocess.Popen(command, cwd=ROOT, stdout=file, stderr=file)
        progress, results, memory = 0.0, 0.0, 0.0
        while process.poll() is None:
            now = time.perf_counter() - start
            if not progress and re.search(rb" [1-9]\d*/\d+ \[", log.read_bytes()):
                progress = now
            if not results:
                memory = max(memory, *map(_peak, [process.pid, *_children(process.pid)]))
                if (out / "results.nc").exists():
                    results = now
                    if not report:
                        process.send_signal(signal.SIGINT)
            time.sleep(LOOK_EVERY)
    end = time.perf_counter() - start
    if not results:
        raise RuntimeError(f"the run ended without results: {log.read_text()}")
    return Watched(progress or results, results, end - results, memory)


def _children(pid: int) -> list[int]:
    with suppress(OSError):
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    return []


def _peak(pid: int) -> float:
    with suppress(OSError):
        found = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
        return 1024.0 * int(found[1]) if found else 0.0
    return 0.0


def help_start() -> float:
    """Seconds that `--help` takes."""
    return best(lambda: subprocess.run([*COMMAND, "--help"], cwd=ROOT, capture_output=True, check=True), 5)


def chain(study: Path) -> tuple[Experiment, str]:
    """The experiment of a study, ready to be sampled, and its texts."""
    experiment = Experiment(load(str(study), {}))
    experiment.make_ready(experiment.courses[0])
    texts = study_texts(experiment.study.attributes())
    remember(texts, experiment)
    return experiment, texts


def sampling_times(study: Path, samples: int = 160, repeats: int = 3) -> tuple[float, float, float]:
    """Seconds for some samples with one process and with two, workers' start included; solutions."""
    experiment, texts = chain(study)
    ranges = [(k, k + samples // 16) for k in range(0, samples, samples // 16)]
    one = best(lambda: list(in_process(texts, ranges)), repeats)
    two = best(lambda: list(in_processes(2)(texts, ranges)), repeats)
    return one, two, float(samples * experiment.n_positions * len(experiment.candidates))
