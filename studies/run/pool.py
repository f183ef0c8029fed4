"""Where batches are run on this machine: in this process or in worker processes.

Both give the same bits: a batch depends on nothing but the study's texts and its sample numbers.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from crossaxle.studies.base.workers import share_out
from crossaxle.studies.run.batch import run_batch

Range = tuple[int, int]
RunBatches = Callable[[str, Sequence[Range]], Iterator[tuple[Range, bytes]]]


class _Task(Protocol):
    def __call__(self, texts: str, start: int, stop: int) -> bytes: ...


def in_process(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
    """Run batches one after the other in this process."""
    for start, stop in ranges:
        yield (start, stop), run_batch(texts, start, stop)


def in_processes(workers: int, task: _Task = run_batch) -> RunBatches:
    """Make a runner with worker processes on this machine; batches come back as they finish.

    A batch whose worker died is given to a new one; the runner raises WorkersLostError if that happens to one batch
    again and again.
    """

    def run(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
        for number, content in share_out(task, [(texts, start, stop) for start, stop in ranges], workers):
            yield ranges[number], content

    return run
