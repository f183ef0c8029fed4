"""One run at a time in a results folder: a lock of the operating system, gone with the process that held it."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from crossaxle.studies.base.storage import not_written
from crossaxle.studies.inputs.reader import InputError

LOCK = ".lock"
"""Name of the lock's file in a results folder; without meaning once the run is gone."""

_NO_LOCKS_HERE = {errno.ENOLCK, errno.ENOTSUP, errno.EINVAL, errno.ENOSYS}


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Make a folder if need be and keep other runs out of it, where its file system knows locks.

    Raises
    ------
    InputError
        If another run is at work there, or the folder cannot be written.
    """
    lock = FileLock(folder / LOCK, timeout=0)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock.acquire()
    except Timeout:
        raise InputError(
            f"{folder}: another run is at work there; wait for it or stop it, or choose another folder with --out"
        ) from None
    except OSError as error:
        if error.errno not in _NO_LOCKS_HERE:
            raise InputError(f"{folder}: {not_written(error, 'with --out')}") from None
    try:
        yield
    finally:
        lock.release()
