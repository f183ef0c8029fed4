"""Batches on an existing dask.distributed cluster, for studies that are too large for one machine.

Workers get the study's texts and sample numbers, nothing else, and share no folder: parts come back as bytes to
the client, which keeps them. The scheduler gives the batches of lost workers to others; its own state is not needed
to go on, because every part that came back lies on the client's disk.
"""

import logging
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from crossaxle.studies.base.workers import WorkersLostError
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.batch import run_batch
from crossaxle.studies.run.pool import Range, RunBatches
from crossaxle.studies.run.versions import versions

if TYPE_CHECKING:
    from distributed import Client

CONNECTING = 10.0
"""A scheduler that does not answer for so long is given up [s]."""

LOOK_EVERY = 2.0
"""So often the number of workers is looked at [s]."""

AHEAD = 4
"""Batches handed to the scheduler at any time, per thread of the workers."""


class OtherVersionsError(Exception):
    """A worker would compute with other versions than the client: its results might differ in the last bits."""


def on_cluster(address: str, say: Callable[[str], None]) -> RunBatches:
    """Make a runner on an existing cluster; batches come back as they finish.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://10.0.0.1:8786``.
    say : callable
        Told how many workers there are, whenever that changes.

    Raises
    ------
    InputError
        If dask.distributed is not installed here.
    WorkersLostError
        When run: if the scheduler cannot be reached or is lost, or a worker cannot run a batch.
    """
    if find_spec("distributed") is None:
        raise InputError(
            '--scheduler: needs dask.distributed, which is not installed; install crossaxle with its extra "cluster"'
        )

    def run(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
        from distributed import Client

        # Its messages about lost connections repeat, with tracebacks, what is said here in one line.
        for name in ("distributed", "distributed.client", "distributed.core"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            client = Client(address, timeout=CONNECTING, set_as_default=False)  # type: ignore[no-untyped-call]
        except (OSError, ValueError, TypeError) as error:
            raise WorkersLostError(f"no scheduler answers at {address}: {_first_line(error)}") from None
        try:
            yield from _batches(client, address, texts, ranges, say)
        finally:
            # A lost scheduler does not answer the farewell either.
            with suppress(Exception):
                client.close(timeout=LOOK_EVERY)  # type: ignore[no-untyped-call]

    return run


def _batches(
    client: "Client", address: str, texts: str, ranges: Sequence[Range], say: Callable[[str], None]
) -> Iterator[tuple[Range, bytes]]:
    """Hand out batches, a few ahead of the workers, and yield what comes back."""
    from distributed import wait

    left, running, seen = list(reversed(ranges)), dict[Any, Range](), -1
    try:
        # As a task, the texts are sent once to each worker, and made again if the worker that held them is lost.
        held = client.submit(str, texts, pure=False)
        while left or running:
            threads = client.nthreads()  # type: ignore[no-untyped-call]
            if len(threads) != seen:
                seen = len(threads)
                say(f"cluster at {address}: {seen or 'no'} workers{'' if seen else ' yet; waiting for one'}")
            while left and len(running) < AHEAD * max(1, sum(threads.values())):
                start, stop = left.pop()
                task = client.submit(batch_on_worker, held, versions(), start, stop, pure=False)
                running[task] = start, stop
            with client.as_current(), suppress(TimeoutError):
                wait(list(running), timeout=LOOK_EVERY, return_when="FIRST_COMPLETED")  # type: ignore[no-untyped-call]
            for future in [future for future in running if future.done()]:
                if future.status == "error":
                    raise WorkersLostError(f"cluster at {address}: {_explained(future.exception())}")
                content = future.result()
                yield running.pop(future), content
    except (CancelledError, OSError, TimeoutError):
        raise WorkersLostError(f"the scheduler at {address} was lost") from None


def batch_on_worker(texts: str, expected: str, start: int, stop: int) -> bytes:
    """Run a batch as `crossaxle.studies.run.batch.run_batch` does, if this worker computes as the client does.

    Raises
    ------
    OtherVersionsError
        If it has other versions.
    """
    if versions() != expected:
        raise OtherVersionsError(f"a worker has {versions()}; the client has {expected}")
    return run_batch(texts, start, stop)


def _explained(error: Exception) -> str:
    from distributed.scheduler import KilledWorker

    if isinstance(error, KilledWorker):
        return "a batch was given up after several workers died with it (out of memory, or killed)"
    if isinstance(error, OtherVersionsError):
        return f"{error}; install the same versions on both"
    if isinstance(error, ImportError):
        return f"a worker cannot import what it needs ({error}); install crossaxle[cluster] there"
    return f"{type(error).__name__}: {_first_line(error)}"


def _first_line(error: Exception) -> str:
    return next(iter(str(error).splitlines()), "") or type(error).__name__
