"""Files put in place whole: written beside their name, forced to the disk, then renamed."""

import errno
import os
import sys
import time
from contextlib import suppress
from pathlib import Path

LONGEST_WRITE = 3600.0
"""A file that was last written to so long ago is not being written any more [s]; asked where processes cannot be."""


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that its name never shows half of it.

    Raises
    ------
    OSError
        If the disk does not take it; the file is then as it was before. Its ``filename`` is the path.
    """
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        _write(temporary, content)
        temporary.replace(path)
    except BaseException as error:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        if isinstance(error, OSError):
            error.filename, error.filename2 = str(path), None  # the name that the reader knows
        raise
    _force_folder(path.parent)


def not_written(error: OSError, elsewhere: str = "") -> str:
    """Say why a file, or a folder that was to be made, could not be written, and what to do.

    Parameters
    ----------
    error : OSError
    elsewhere : str
        How another folder is named, e.g. ``with --out``; empty for a file.

    Returns
    -------
    str
        Such as ``cannot be written: Read-only file system; choose another place with --out``.
    """
    another = f"choose another folder {elsewhere}" if elsewhere else "choose another place"
    remedy = {
        errno.ENOSPC: "make room on the disk",
        errno.EEXIST: f"a file is in the way; {another}",
        errno.ENOTDIR: f"a file is in the way; {another}",
        errno.EISDIR: "it is a folder; name a file",
        errno.ENOENT: another if elsewhere else f"make its folder first, or {another}",
        errno.EACCES: f"allow writing there, or {another}",
    }
    if hasattr(errno, "EDQUOT"):
        remedy[errno.EDQUOT] = "make room within the quota"
    return f"cannot be written: {error.strerror or error}; {remedy.get(error.errno or 0, another)}"


def clear_unfinished(folder: Path) -> None:
    """Remove what killed processes left half written in a folder; what a living one writes is left alone.

    Raises
    ------
    OSError
        If a file cannot be removed.
    """
    for path in folder.glob(".*.tmp"):
        writer = path.name.split(".")[-2]
        if writer.isdecimal() and not _is_being_written(path, int(writer)):
            path.unlink(missing_ok=True)


def _is_being_written(path: Path, process: int) -> bool:
    if process == os.getpid():
        return False
    if sys.platform == "win32":  # asking for a process there would end it
        return time.time() - path.stat().st_mtime < LONGEST_WRITE
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _force_folder(folder: Path) -> None:
    """Force a folder's list of names to the disk, where the system lets a folder be opened."""
    if sys.platform == "win32":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _write(path: Path, content: bytes) -> None:
    """Write a file and force it to the disk."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
