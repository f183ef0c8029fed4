"""One batch of samples, as a worker process does it: study texts in, a serialised part out."""

import json
import threading
from typing import Any

import numpy as np

from crossaxle.studies.run import parts
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.row_layout import FOLDS
from crossaxle.studies.run.versions import identity
from crossaxle.studies.study.study import from_attributes

_made = threading.local()


def run_batch(texts: str, start: int, stop: int) -> bytes:
    """Run samples `start` to `stop` (exclusive) of the study that `texts` (`study_texts`) holds.

    Returns
    -------
    bytes
        A part, see `crossaxle.studies.run.parts`.
    """
    experiment = _experiment(texts)
    folds = tuple(sorted({sample % FOLDS for sample in range(start, stop)}))
    rows, histograms = [], dict[int, Any]()
    for sample in range(start, stop):
        row, histogram = experiment.run(sample)
        rows.append(row)
        histograms[sample % FOLDS] = histograms.get(sample % FOLDS, 0) + histogram
    together = np.stack([histograms[fold] for fold in folds])
    name = identity(experiment.study)
    return parts.pack(parts.Part(name, start, stop, np.stack(rows), folds, together))


def remember(texts: str, experiment: Experiment) -> None:
    """Run batches of these texts with an experiment that is there already, here and in processes forked from here."""
    _made.experiment, _made.texts = experiment, texts


def study_texts(attributes: dict[str, Any]) -> str:
    """Write a study's attributes as the one text that a worker gets."""
    return json.dumps(attributes)


def _experiment(texts: str) -> Experiment:
    """Make the experiment once per thread; a worker keeps the last one."""
    if getattr(_made, "texts", None) != texts:
        remember(texts, Experiment(from_attributes(json.loads(texts))))
    made: Experiment = _made.experiment
    return made
