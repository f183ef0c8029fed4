"""Independent jobs on all cores of this machine, in forked processes that share what is loaded."""

import gc
import multiprocessing
import os
import sys
import warnings
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from studies.worker_process import begin

R = TypeVar("R")
Job = Callable[[], R]

_jobs: Sequence[Job[Any]] = ()


def in_parallel(jobs: Sequence[Job[R]], meanwhile: Callable[[], Any] | None = None) -> list[R]:
    """Do jobs and return what they give, in order.

    Where the system cannot fork safely, or has one core, they are done here one after the other; so they are if a
    process dies.

    Parameters
    ----------
    jobs : sequence of functions without arguments
        What they return must be possible to pickle; the jobs themselves need not.
    meanwhile : function, optional
        Called here while the others work.
    """
    cores = os.cpu_count() or 1
    if sys.platform != "linux" or cores < 2 or len(jobs) < 2:
        if meanwhile is not None:
            meanwhile()
        return [job() for job in jobs]
    context = multiprocessing.get_context("fork")
    with (
        ProcessPoolExecutor(min(cores, len(jobs)), context, _begin, (jobs,)) as pool,
        warnings.catch_warnings(),
    ):
        # Forking beside other threads is warned of; the jobs take no lock that such a thread could hold.
        warnings.simplefilter("ignore", DeprecationWarning)
        futures = [pool.submit(_do, k) for k in range(len(jobs))]
        if meanwhile is not None:
            meanwhile()
        try:
            return [future.result() for future in futures]
        except BrokenProcessPool:
            pass
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return [job() for job in jobs]


def _begin(jobs: Sequence[Job[Any]]) -> None:
    """Keep the jobs, inherited and not copied."""
    global _jobs
    _jobs = jobs
    gc.freeze()  # what is inherited stays: searching it for garbage takes a fifth of a chart's time
    begin()


def _do(number: int) -> Any:
    return _jobs[number]()
