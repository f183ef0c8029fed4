"""One run at a time in a results folder: a lock of the operating system, gone with the process that held it."""

import errno
import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from crossaxle.studies.base.storage import not_written
from crossaxle.studies.inputs.reader import InputError

LOCK = ".lock"
"""Name of the lock's file in a results folder: empty, left there, and without meaning once the run is gone."""

_NO_LOCKS_HERE = {errno.ENOLCK, errno.ENOTSUP, errno.EINVAL}
_held: set[int] = set()
"""Descriptors of the locks that this process holds."""


def _leave_to_parent() -> None:
    """Close in a forked worker what it has of its parent's locks, so that they go with the parent."""
    for file in _held:
        os.close(file)
    _held.clear()


os.register_at_fork(after_in_child=_leave_to_parent)


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Make a folder if need be and keep other runs out of it, where its file system knows locks.

    Raises
    ------
    InputError
        If another run is at work there, or the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise InputError(f"{folder}: {not_written(error, 'with --out')}") from None
    _held.add(file)
    try:
        _lock(file, folder)
        yield
    finally:
        if file in _held:
            _held.remove(file)
            os.close(file)


def _lock(file: int, folder: Path) -> None:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise InputError(
            f"{folder}: another run is at work there; wait for it or stop it, or choose another folder with --out"
        ) from None
    except OSError as error:
        if error.errno not in _NO_LOCKS_HERE:
            raise InputError(f"{folder}: cannot be locked: {error.strerror}") from None
