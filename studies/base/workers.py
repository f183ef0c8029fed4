"""Worker processes on this machine, each with a pipe of its own to this process.

A worker may be killed at any moment, also while it hands over what it has made. Workers that share a queue, as in the
standard library's pools, then wait for ever: for the lock that the dead one held, or for the rest of its message. A
pipe of one's own ends with its worker, and the job goes to another.
"""

import contextlib
import gc
import multiprocessing
import os
import pickle
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from multiprocessing import connection
from multiprocessing.connection import Connection
from typing import Any, TypeVar, cast

R = TypeVar("R")

MOST_DEATHS = 3
"""A job is given to another worker so often after one died over it."""


class WorkersLostError(Exception):
    """Workers died over the same job again and again, or the cluster went away."""


def can_fork() -> bool:
    """Whether worker processes are forked: on Linux; elsewhere they are started anew and import what they need."""
    return sys.platform == "linux" and hasattr(os, "fork")


def share_out(
    task: Callable[..., R], jobs: Sequence[tuple[Any, ...]], workers: int
) -> Iterator[tuple[int, R]]:
    """Do a task once for every job in worker processes, and give what it returns as it comes.

    The workers end with the iteration, wherever it stops.

    Parameters
    ----------
    task : function
        What it returns must be possible to pickle. On Linux it is inherited, elsewhere pickled too.
    jobs : sequence of tuple
        Arguments of the task, one tuple for each job.
    workers : int
        Number of processes, at the most.

    Yields
    ------
    (number of the job, what the task returned)

    Raises
    ------
    WorkersLostError
        If workers die over one job `MOST_DEATHS` times and once more.
    Exception
        What a task raised.
    """
    waiting, deaths = list(range(len(jobs)))[::-1], [0] * len(jobs)
    busy: dict[Connection, tuple[_Worker, int]] = {}

    def give(worker: _Worker) -> None:
        if waiting:
            number = waiting.pop()
            # one that has just died is found out about where its answer is waited for
            with contextlib.suppress(OSError):
                worker.pipe.send(jobs[number])
            busy[worker.pipe] = worker, number
        else:
            worker.end()

    try:
        for _ in range(min(workers, len(jobs))):
            give(_Worker(task))
        while busy:
            for ready in connection.wait(list(busy)):
                worker, number = busy.pop(cast(Connection, ready))
                try:
                    answer = worker.pipe.recv()
                except (EOFError, OSError):
                    worker.end()
                    waiting.append(number)
                    deaths[number] += 1
                    if deaths[number] > MOST_DEATHS:
                        raise WorkersLostError(
                            f"worker processes died {deaths[number]} times over the same job (out of memory, or killed)"
                        ) from None
                    give(_Worker(task))
                    continue
                give(worker)
                if isinstance(answer, BaseException):
                    raise answer
                yield number, answer[0]
    finally:
        for worker, _ in busy.values():
            worker.end()


class _Worker:
    """A process that does a task for whatever arguments come through its pipe."""

    def __init__(self, task: Callable[..., Any]) -> None:
        # forked workers have at once what is loaded, compiled and made ready here; elsewhere a fork is not safe
        context: Any = multiprocessing.get_context("fork" if can_fork() else "spawn")
        self.pipe, other = context.Pipe()
        self.process = context.Process(target=_work, args=(other, task), daemon=True)
        with warnings.catch_warnings():
            # Forking beside other threads is warned of; no task takes a lock that such a thread could hold.
            warnings.simplefilter("ignore", DeprecationWarning)
            self.process.start()
        other.close()

    def end(self) -> None:
        """End the process at once: it holds nothing that anybody needs."""
        self.process.kill()
        self.process.join()
        self.pipe.close()


def _work(pipe: Connection, task: Callable[..., Any]) -> None:
    """Do a task again and again, as a worker; leave Ctrl-C to the main process and never outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow_parent, daemon=True).start()
    gc.freeze()  # what is inherited stays: searching it for garbage takes a fifth of a chart's time
    while True:
        arguments = pipe.recv()
        try:
            answer: Any = (task(*arguments),)
        except Exception as error:
            answer = error if _can_be_sent(error) else RuntimeError(f"{type(error).__name__}: {error}")
        pipe.send(answer)


def _can_be_sent(error: Exception) -> bool:
    with contextlib.suppress(Exception):
        return isinstance(pickle.loads(pickle.dumps(error)), type(error))
    return False


def _follow_parent() -> None:
    """End this worker when the main process is gone, which nobody else would tell it if that was killed."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
