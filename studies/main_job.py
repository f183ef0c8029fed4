"""`crossaxle run` from study file to report: folder, cost, progress, messages."""

import os
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from tqdm import tqdm

from sim.codes import GOOD, MEANING
from studies.aims import aims
from studies.estimate import estimate
from studies.experiment import Experiment
from studies.files import InputError
from studies.parts import PartError
from studies.pool import RunBatches, WorkersLostError, in_process, in_processes
from studies.run import PARTS, RESULTS, combine, kept_parts, missing_ranges, run
from studies.study import load
from studies.verdicts import OPEN, verdicts

STOPPED = 130
"""Exit status after Ctrl-C, as is usual."""


@dataclass(frozen=True)
class Options:
    """How to run, from the command line; the results do not depend on it."""

    workers: int | None = None
    scheduler: str | None = None
    resume: bool = False
    overwrite: bool = False
    yes_large: bool = False
    until_decided: int | None = None


def run_study(path: str, folder: Path, settings: Mapping[str, Any], options: Options) -> int:
    """Run a study, report it, and say where the report lies.

    Returns
    -------
    int
        Exit status: 0, or 1 or 130 if the run stopped and can be resumed.

    Raises
    ------
    InputError
        If the input is bad; nothing has been written then.
    """
    workers = options.workers if options.workers is not None else os.cpu_count() or 1
    if not 1 <= workers <= 1024:
        raise InputError(f"--workers: found {workers}; allowed is 1 to 1024")
    experiment = Experiment(load(path, settings))
    cost = estimate(experiment, workers)
    if cost.absurd and not options.yes_large:
        raise InputError(f"{path}: this study is very large: {cost.text}; --yes-large starts it nevertheless")
    if options.until_decided is not None and not experiment.study.file.limits:
        raise InputError(
            f"{path}: --until-decided: the file states no limits; add [[limits]], or leave the option out"
        )
    _say(f"{experiment.study.file.title}: {len(experiment.candidates)} candidates, {cost.text}")
    _prepare(folder, options)
    resumable = f"go on with: crossaxle run {path} --out {folder} --resume"
    try:
        _run(experiment, folder, workers, options)
        dataset = combine(experiment, folder)
        while options.until_decided and (more := _samples_to_decide(dataset, options.until_decided)):
            experiment = Experiment(load(path, {**settings, "samples": more}))
            _run(experiment, folder, workers, options)
            dataset = combine(experiment, folder)
    except KeyboardInterrupt:
        _say(f"stopped; what is done is kept; {resumable}")
        return STOPPED
    except (WorkersLostError, PartError) as error:
        _say(f"crossaxle: {error}; what is done is kept; {resumable}")
        return 1
    except OSError as error:
        _say(
            f"crossaxle: {error.filename or folder}: {error.strerror or error}; what is done is kept; {resumable}"
        )
        return 1
    return _finish(dataset, folder)


def _samples_to_decide(dataset: xr.Dataset, most: int) -> int:
    """Number of samples to go on to, at most ``most``; 0 if all verdicts stand or that many were driven.

    At least a quarter more than at hand each time, so that no guess leads to endless small steps, and
    at most four times as many, since the guess itself is uncertain.
    """
    done = dataset.sizes["sample"]
    limits = aims(dataset).limits
    judged = [v for course in range(dataset.sizes["course"]) for v in verdicts(dataset, limits, course)]
    still = [v for v in judged if v.status == OPEN]
    if still and done < most:
        wanted = done + min(v.further for v in still)
        goal = int(min(most, max(1.25 * done + 1, min(wanted, 4.0 * done))))
        _say(f"{len(still)} of {len(judged)} verdicts are open after {done} samples; going on to {goal}")
        return goal
    _say(
        f"{len(still)} of {len(judged)} verdicts are open after {done} samples"
        if still
        else "all verdicts stand"
    )
    return 0


def _run(experiment: Experiment, folder: Path, workers: int, options: Options) -> None:
    kept = kept_parts(experiment, folder)
    if kept.foreign:
        raise InputError(
            f"{kept.foreign[0]} ({len(kept.foreign)} such parts); go on with the study as it was, choose another "
            "folder with --out, or throw the parts away with --overwrite"
        )
    for damaged in kept.damaged:
        _say(damaged)
    done = sum(stop - start for start, stop in kept.ranges)
    if done:
        _say(f"{done} samples are there already")
    ranges = missing_ranges(experiment, kept.ranges, workers)
    with tqdm(total=experiment.study.file.samples, initial=done, unit="sample", file=sys.stderr) as bar:
        run(experiment, folder, ranges, _runner(workers, len(ranges), options), _advance(bar))


def _advance(bar: Any) -> Callable[[int], None]:
    return lambda samples: bar.update(samples) and None


def _runner(workers: int, batches: int, options: Options) -> RunBatches:
    if options.scheduler is not None:
        from studies.cluster import on_cluster

        return on_cluster(options.scheduler, _say)
    return in_process if min(workers, batches) <= 1 else in_processes(workers)


def _prepare(folder: Path, options: Options) -> None:
    """Make the folder ready; refuse to touch results that nobody gave up."""
    there = [name for name in (RESULTS, PARTS) if (folder / name).exists()]
    if there and not (options.resume or options.overwrite):
        raise InputError(
            f"{folder}: holds {' and '.join(there)} of an earlier run; --resume goes on with it or adds samples, "
            "--overwrite starts again"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if options.overwrite and not options.resume:
            (folder / RESULTS).unlink(missing_ok=True)
            if (folder / PARTS).is_dir():
                shutil.rmtree(folder / PARTS)
        (folder / PARTS).mkdir(exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be written: {error.strerror}") from None
    if not os.access(folder, os.W_OK) or not os.access(folder / PARTS, os.W_OK):
        raise InputError(f"{folder}: cannot be written; choose another folder with --out")


def _finish(dataset: xr.Dataset, folder: Path) -> int:
    from studies.report import write_report

    codes, counts = np.unique(dataset["sample_status"].values, return_counts=True)
    for code, count in zip(codes.tolist(), counts.tolist(), strict=True):
        if code != GOOD:
            _say(
                f"{count} of {int(counts.sum())} samples (over all candidates) ended otherwise: {MEANING[code]}"
            )
    page, *_ = write_report(dataset, folder)
    print(f"results: {folder / RESULTS}")
    print(f"report:  {page}")
    return 0


def _say(text: str) -> None:
    print(text, file=sys.stderr)
