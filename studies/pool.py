"""Where batches are run on this machine: in this process or in worker processes.

Both give the same bits: a batch depends on nothing but the study's texts and its sample numbers.
"""

import multiprocessing
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Protocol

from studies.batch import run_batch
from studies.worker_process import begin

Range = tuple[int, int]
RunBatches = Callable[[str, Sequence[Range]], Iterator[tuple[Range, bytes]]]

MOST_RESTARTS = 3
"""Worker processes are replaced this often without a batch finished in between."""


class WorkersLostError(Exception):
    """The workers died too often, or the cluster went away."""


class _Task(Protocol):
    def __call__(self, texts: str, start: int, stop: int) -> bytes: ...


def in_process(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
    """Run batches one after the other in this process."""
    for start, stop in ranges:
        yield (start, stop), run_batch(texts, start, stop)


def in_processes(workers: int, task: _Task = run_batch) -> RunBatches:
    """Make a runner with worker processes on this machine; batches come back as they finish.

    A batch whose worker died is given to a new one; the runner raises WorkersLostError if workers die again and again
    without finishing any.
    """

    def run(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
        left, deaths = list(ranges), 0
        while left:
            before = len(left)
            try:
                yield from _with_pool(workers, task, texts, left)
            except BrokenProcessPool:
                deaths = deaths + 1 if len(left) == before else 1
                if deaths > MOST_RESTARTS:
                    raise WorkersLostError(
                        f"worker processes died {deaths} times in a row without finishing a batch "
                        "(out of memory, or killed)"
                    ) from None

    return run


def _with_pool(workers: int, task: _Task, texts: str, left: list[Range]) -> Iterator[tuple[Range, bytes]]:
    """Run what is `left` in a pool of its own, taking finished batches off the list."""
    # forked workers have at once what is loaded, compiled and made ready here; elsewhere a fork is not safe
    context = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
    pool = ProcessPoolExecutor(min(workers, len(left)), mp_context=context, initializer=begin)
    try:
        futures = {pool.submit(task, texts, start, stop): (start, stop) for start, stop in left}
        waiting = set(futures)
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                content = future.result()
                left.remove(futures[future])
                yield futures[future], content
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
