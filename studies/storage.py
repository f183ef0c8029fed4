"""Files put in place whole: written beside their name, forced to the disk, then renamed."""

import os
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that its name never shows half of it.

    Raises
    ------
    OSError
        If the disk does not take it; the file is then as it was before.
    """
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        _write(temporary, content)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def clear_unfinished(folder: Path) -> None:
    """Remove what killed processes left half written in a folder; what a living one writes is left alone.

    Raises
    ------
    OSError
        If a file cannot be removed.
    """
    for path in folder.glob(".*.tmp"):
        writer = path.name.split(".")[-2]
        if writer.isdecimal() and not _is_another_living(int(writer)):
            path.unlink(missing_ok=True)


def _is_another_living(process: int) -> bool:
    if process == os.getpid():
        return False
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _write(path: Path, content: bytes) -> None:
    """Write a file and force it to the disk."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
