"""Worker processes: whatever happens to one of them, every job is done, or it is said that it cannot be."""

import multiprocessing
import os
import signal
import threading
import time
from functools import partial

import pytest

from crossaxle.studies.base.parallel_jobs import in_parallel
from crossaxle.studies.base.workers import WorkersLostError, share_out

pytestmark = pytest.mark.unix

LARGE = 10_000_000
"""Bytes, far more than a pipe holds: whoever sends them waits for the reader."""


def heavy(number: int) -> bytes:
    return bytes([number]) * LARGE


def fail(number: int) -> None:
    raise ValueError("no chart") if number else OddError()


class OddError(Exception):
    """One that cannot be pickled, whatever a library taught the pickler about exceptions."""

    def __init__(self) -> None:
        super().__init__("no chart")
        self.held = threading.Lock()


def test_jobs_come_back_in_order_and_elsewhere():
    found = in_parallel([partial(lambda k: (k, os.getpid()), k) for k in range(7)])
    assert [k for k, _ in found] == list(range(7))
    assert os.getpid() not in {pid for _, pid in found}


def test_errors_come_back():
    with pytest.raises(ValueError, match="no chart"):
        list(share_out(fail, [(1,)], 2))
    with pytest.raises(RuntimeError, match="OddError: no chart"):  # one that cannot be sent
        list(share_out(fail, [(0,)], 2))
    assert not multiprocessing.active_children()


def test_killed_while_handing_over():
    """Both others are in the middle of a message when they are killed; their jobs are done again."""
    found = {}
    for number, content in share_out(heavy, [(k,) for k in range(6)], 3):
        if not found:
            time.sleep(0.2)  # until the others wait for the reader
            for child in multiprocessing.active_children():
                os.kill(child.pid, signal.SIGKILL)
        found[number] = content
    assert found == {k: heavy(k) for k in range(6)}
    assert not multiprocessing.active_children()


def test_workers_end_with_the_iteration():
    for _ in share_out(heavy, [(k,) for k in range(6)], 3):
        break
    assert not multiprocessing.active_children()


def test_a_job_that_kills_is_given_up():
    with pytest.raises(WorkersLostError, match="died 4 times over the same job"):
        list(share_out(lambda: os.kill(os.getpid(), signal.SIGKILL), [()], 1))
    assert not multiprocessing.active_children()
