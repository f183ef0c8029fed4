"""`crossaxle run` from study file to report: folder, cost, progress and messages, all said to a listener."""

import math
import os
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from crossaxle.sim.codes import GOOD, MEANING
from crossaxle.studies.base.workers import WorkersLostError
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.estimate import announcement, estimate
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.limit_items import check_limit_items
from crossaxle.studies.run.lock import alone_in
from crossaxle.studies.run.parts import PartError
from crossaxle.studies.run.pool import RunBatches, in_process, in_processes
from crossaxle.studies.run.results_folder import make_ready, refuse_other_results, refuse_results
from crossaxle.studies.run.sampling import RESULTS, combine, kept_parts, missing_ranges, run
from crossaxle.studies.study.study import load

if TYPE_CHECKING:
    import xarray as xr

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


class Listener(Protocol):
    """Who hears what a run says."""

    def say(self, text: str) -> None: ...  # noqa: D102
    def result(self, text: str) -> None: ...  # noqa: D102
    def progress(self, total: int, done: int) -> AbstractContextManager[Callable[[int], None]]: ...  # noqa: D102


class Silent:
    """Hears and shows nothing."""

    def say(self, text: str) -> None:
        """Ignore a message."""

    def result(self, text: str) -> None:
        """Ignore where a result lies."""

    @contextmanager
    def progress(self, total: int, done: int) -> Iterator[Callable[[int], None]]:
        """Ignore the number of samples of every batch."""
        yield lambda samples: None


def run_study(
    path: str, folder: Path, settings: Mapping[str, Any], options: Options, listener: Listener | None = None
) -> int:
    """Run a study, report it, and say where the report lies.

    Parameters
    ----------
    path : str
        Study file.
    folder : Path
        Results folder; made if need be.
    settings : mapping
        Keys of the study file that replace its values.
    options : Options
    listener : Listener, optional
        Without one nothing is shown.

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
    heard = listener or Silent()
    study = load(path, settings)
    if words := announcement(len(study.candidates)):
        heard.say(words)
    experiment = Experiment(study)
    check_limit_items(experiment)
    cost = estimate(experiment, workers)
    if cost.absurd and not options.yes_large:
        raise InputError(f"{path}: this study is very large: {cost.text}; --yes-large starts it nevertheless")
    if options.until_decided is not None and not experiment.study.file.limits:
        raise InputError(
            f"{path}: --until-decided: the file states no limits; add [[limits]], or leave the option out"
        )
    heard.say(f"{experiment.study.file.title}: {len(experiment.candidates)} candidates, {cost.text}")
    if not (options.resume or options.overwrite):
        refuse_results(folder)
    for course in experiment.courses:
        experiment.make_ready(course)  # ground that cannot be laid is refused before anything is written
    with alone_in(folder):
        if options.resume:
            refuse_other_results(folder, experiment)
        elif not options.overwrite:
            refuse_results(folder)  # of a run that has ended since
        make_ready(folder, empty=options.overwrite and not options.resume)
        return _kept_whatever_happens(path, folder, settings, options, experiment, workers, heard)


def _kept_whatever_happens(
    path: str,
    folder: Path,
    settings: Mapping[str, Any],
    options: Options,
    experiment: Experiment,
    workers: int,
    heard: Listener,
) -> int:
    """Run and report; if that stops, say why and how to go on."""
    first = experiment.study.file.samples
    try:
        _run(experiment, folder, workers, options, heard)
        dataset = combine(experiment, folder)
        while options.until_decided and (
            more := _samples_to_decide(dataset, options.until_decided, first, heard)
        ):
            experiment = Experiment(load(path, {**settings, "samples": more}))
            _run(experiment, folder, workers, options, heard)
            dataset = combine(experiment, folder)
        _say_failures(dataset, heard)
        # late: its charts take longer to load than the rest to start
        from crossaxle.studies.report.report import write_report

        page, *_ = write_report(dataset, folder)
    except KeyboardInterrupt:
        heard.say(f"stopped; {_how_to_go_on(path, folder, settings, options)}")
        return STOPPED
    except (WorkersLostError, PartError) as error:
        heard.say(f"crossaxle: {error}; {_how_to_go_on(path, folder, settings, options)}")
        return 1
    except OSError as error:
        reason = f"{error.filename or folder}: {error.strerror or error}"
        heard.say(f"crossaxle: {reason}; {_how_to_go_on(path, folder, settings, options)}")
        return 1
    heard.result(f"results: {folder / RESULTS}")
    heard.result(f"report:  {page}")
    return 0


def _how_to_go_on(path: str, folder: Path, settings: Mapping[str, Any], options: Options) -> str:
    """Write the command that goes on with a stopped run."""
    words = ["crossaxle", "run", path, "--out", str(folder)]
    for name, value in (
        *settings.items(),
        ("workers", options.workers),
        ("scheduler", options.scheduler),
        ("until-decided", options.until_decided),
    ):
        words += [f"--{name}", str(value)] if value is not None else []
    words += ["--yes-large"] if options.yes_large else []
    line = subprocess.list2cmdline if sys.platform == "win32" else shlex.join
    return f"what is done is kept; go on with: {line([*words, '--resume'])}"


def _samples_to_decide(dataset: "xr.Dataset", most: int, first: int, heard: Listener) -> int:
    """Number of samples to go on to, at most ``most``; 0 if all verdicts stand or that many were driven.

    At least twice those at hand each time, so that there are few looks from the ``first`` number on and a verdict that
    stands at one of them need not leave much less doubt than one looked at once; at most four times as many, since what
    is estimated is itself uncertain.
    """
    from crossaxle.studies.analysis.verdicts import OPEN, doubt_of_a_look, verdicts
    from crossaxle.studies.study.aims import aims

    done = dataset.sizes["sample"]
    limits = aims(dataset).limits
    doubt = doubt_of_a_look(1 + math.ceil(math.log2(max(most / first, 1.0))))
    judged = [
        v for course in range(dataset.sizes["course"]) for v in verdicts(dataset, limits, course, doubt)
    ]
    still = [v for v in judged if v.status == OPEN]
    if still and done < most:
        wanted = done + min(v.further for v in still)
        goal = int(min(most, max(2.0 * done, min(wanted, 4.0 * done))))
        heard.say(f"{len(still)} of {len(judged)} verdicts are open after {done} samples; going on to {goal}")
        return goal
    heard.say(
        f"{len(still)} of {len(judged)} verdicts are open after {done} samples"
        if still
        else "all verdicts stand"
    )
    return 0


def _run(experiment: Experiment, folder: Path, workers: int, options: Options, heard: Listener) -> None:
    kept = kept_parts(experiment, folder)
    if kept.foreign:
        raise InputError(
            f"{kept.foreign[0]} ({len(kept.foreign)} such parts); go on with the study as it was, choose another "
            "folder with --out, or throw the parts away with --overwrite"
        )
    for damaged in kept.damaged:
        heard.say(damaged)
    done = sum(stop - start for start, stop in kept.ranges)
    if done:
        heard.say(f"{done} samples are there already")
    ranges = missing_ranges(experiment, kept.ranges, workers)
    with heard.progress(experiment.study.file.samples, done) as advance:
        run(experiment, folder, ranges, _runner(workers, len(ranges), options, heard), advance)


def _runner(workers: int, batches: int, options: Options, heard: Listener) -> RunBatches:
    if options.scheduler is not None:
        from crossaxle.studies.run.cluster import on_cluster

        return on_cluster(options.scheduler, heard.say)
    return in_process if min(workers, batches) <= 1 else in_processes(workers)


def _say_failures(dataset: "xr.Dataset", heard: Listener) -> None:
    codes, counts = np.unique(dataset["sample_status"].values, return_counts=True)
    for code, count in zip(codes.tolist(), counts.tolist(), strict=True):
        if code != GOOD:
            heard.say(
                f"{count} of {int(counts.sum())} samples (over all candidates) ended otherwise: {MEANING[code]}"
            )
