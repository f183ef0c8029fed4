"""Independent jobs on all cores of this machine, in forked processes that share what is loaded."""

import os
from collections.abc import Callable, Sequence
from typing import TypeVar

from crossaxle.studies.base.workers import can_fork, share_out

R = TypeVar("R")


def in_parallel(jobs: Sequence[Callable[[], R]]) -> list[R]:
    """Do jobs and return what they give, in order.

    Where the system cannot fork safely, or has one core, they are done here one after the other.

    Parameters
    ----------
    jobs : sequence of functions without arguments
        What they return must be possible to pickle; the jobs themselves need not.

    Raises
    ------
    WorkersLostError
        If processes die over the same job again and again.
    Exception
        What a job raised.
    """
    cores = os.cpu_count() or 1
    if not can_fork() or cores < 2 or len(jobs) < 2:
        return [job() for job in jobs]
    done = dict(share_out(lambda number: jobs[number](), [(number,) for number in range(len(jobs))], cores))
    return [done[number] for number in range(len(jobs))]
