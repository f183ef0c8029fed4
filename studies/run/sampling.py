"""The main job: all samples of a study, batch by batch, into part files and then into results.nc."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from crossaxle.studies.run import parts
from crossaxle.studies.run.batch import remember, study_texts
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import Range, RunBatches
from crossaxle.studies.run.row_layout import FOLDS
from crossaxle.studies.run.versions import identity

if TYPE_CHECKING:
    import xarray as xr

LARGEST_BATCH, SMALLEST_BATCH = 20e6, 2e6
"""Positions of all candidates together that make a batch: about a second's work, and a tenth."""

BATCHES_PER_WORKER = 4
"""At least so many batches for every worker, if there are enough samples."""

RESULTS, PARTS = "results.nc", "parts"


@dataclass(frozen=True)
class EarlierParts:
    """Parts of an earlier run.

    Attributes
    ----------
    ranges : tuple of (start, stop)
        Samples that need not be run again.
    damaged, foreign : tuple of str
        Messages about parts that cannot be read, and about sound parts of another study, seed or version.
    """

    ranges: tuple[Range, ...]
    damaged: tuple[str, ...]
    foreign: tuple[str, ...]


def kept_parts(experiment: Experiment, folder: Path) -> EarlierParts:
    """Look through the part files in a results folder for those that this study can go on from."""
    ranges: list[Range] = []
    damaged: list[str] = []
    foreign: list[str] = []
    for path, found in _parts(experiment, folder):
        if isinstance(found, parts.ForeignPartError):
            foreign.append(f"{path} {found}")
        elif isinstance(found, parts.PartError):
            damaged.append(f"{path} {found}; its samples are run again")
        else:
            ranges.append((found.start, found.stop))
    return EarlierParts(tuple(ranges), tuple(damaged), tuple(foreign))


def missing_ranges(experiment: Experiment, kept: Sequence[Range], workers: int) -> list[Range]:
    """Cut the samples that no part holds into batches.

    Small ones first, so that progress shows at once, and towards the end, so that all workers end together.
    """
    samples = experiment.study.file.samples
    per_sample = experiment.n_positions * len(experiment.candidates) * len(experiment.courses)
    most = math.ceil(LARGEST_BATCH / per_sample)
    least = min(math.ceil(SMALLEST_BATCH / per_sample), math.ceil(samples / (workers * BATCHES_PER_WORKER)))
    left = samples - sum(stop - start for start, stop in kept)
    found: list[Range] = []
    reached = 0
    for start, stop in [*kept, (samples, samples)]:
        while reached < start:
            share = left // (2 * workers) if len(found) >= workers else 0
            size = min(max(share, least), most, start - reached)
            found.append((reached, reached + size))
            reached += size
            left -= size
        reached = stop
    return found


def run(
    experiment: Experiment,
    folder: Path,
    ranges: Sequence[Range],
    run_batches: RunBatches,
    progress: Callable[[int], None],
) -> None:
    """Run batches and keep each as a part file as soon as it is done.

    Parameters
    ----------
    experiment : Experiment
    folder : Path
        Results folder; the parts go to a folder in it.
    ranges : sequence of (start, stop)
        From `missing_ranges`.
    run_batches : callable
        From `crossaxle.studies.run.pool`.
    progress : callable
        Told the number of samples of every batch that is done.

    Raises
    ------
    OSError
        If a part cannot be written.
    """
    (folder / PARTS).mkdir(exist_ok=True)
    texts = study_texts(experiment.study.attributes())
    remember(texts, experiment)
    for (start, stop), content in run_batches(texts, ranges):
        parts.save(folder / PARTS, content, start, stop)
        progress(stop - start)


def combine(experiment: Experiment, folder: Path) -> "xr.Dataset":
    """Put the parts together, in the order of the samples, and write results.nc.

    Raises
    ------
    PartError
        If a part is missing or has been damaged since it was written.
    OSError
        If the results cannot be written.
    """
    from crossaxle.studies.run.dataset import results, write_results

    samples = experiment.study.file.samples
    shape = len(experiment.candidates), len(experiment.courses)
    rows = np.full((samples, *shape, experiment.columns.width), np.nan)
    histograms = np.zeros((FOLDS, *shape, experiment.columns.histogram_width), dtype=np.int64)
    reached = 0
    for _, part in _parts(experiment, folder):
        if isinstance(part, parts.PartError):
            continue
        if part.start != reached:
            break
        rows[part.start : part.stop] = part.rows
        histograms[list(part.folds)] += part.histograms
        reached = part.stop
    if reached != samples:
        raise parts.PartError(f"{folder / PARTS}: the part from sample {reached} on is missing or damaged")
    dataset = results(experiment, rows, histograms)
    write_results(dataset, folder / RESULTS)
    return dataset


def _parts(experiment: Experiment, folder: Path) -> Iterator[tuple[Path, parts.Part | parts.PartError]]:
    """Parts of this study in the order of their samples, none twice; an error for each that cannot be used."""
    name, samples, reached = identity(experiment.study), experiment.study.file.samples, 0
    for path in parts.part_files(folder / PARTS):
        try:
            part = parts.load(path, name)
        except parts.PartError as error:
            yield path, error
            continue
        if reached <= part.start and part.stop <= samples:
            reached = part.stop
            yield path, part
