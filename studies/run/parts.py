"""Part files: what a batch of samples gave, kept whole so that a stopped run can go on.

A part is one file: a line of magic, a SHA-256 of all that follows, a header (JSON, one line: what the part belongs
to and which samples it holds), and the compressed numbers. A part that is damaged, or of another study, is
never read as data.
"""

import hashlib
import json
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from crossaxle.arrays import Array, Integers
from crossaxle.studies.base.storage import write_whole

MAGIC = b"crossaxle part 1\n"
_DIGEST = 64


@dataclass(frozen=True)
class Part:
    """Results of samples `start` to `stop` (exclusive).

    Attributes
    ----------
    identity : str
        Of the study, seed and versions that made it.
    start, stop : int
    rows : (samples, candidates, courses, columns)
    folds : tuple of int
        Folds that the samples belong to.
    histograms : (folds, candidates, courses, bins)
    """

    identity: str
    start: int
    stop: int
    rows: Array
    folds: tuple[int, ...]
    histograms: Integers


class PartError(Exception):
    """Says why a file is not a part of this study."""


class ForeignPartError(PartError):
    """A sound part, but of another study, seed or version."""


def pack(part: Part) -> bytes:
    """Serialise a part."""
    header = {
        "identity": part.identity,
        "start": part.start,
        "stop": part.stop,
        "rows": part.rows.shape,
        "folds": part.folds,
        "histograms": part.histograms.shape,
    }
    numbers = part.rows.astype("<f8").tobytes() + part.histograms.astype("<i8").tobytes()
    body = json.dumps(header).encode() + b"\n" + zlib.compress(numbers, 1)
    return MAGIC + hashlib.sha256(body).hexdigest().encode() + b"\n" + body


def unpack(content: bytes, identity: str) -> Part:
    """Read a part; raise PartError if it is damaged, ForeignPartError if not of `identity`."""
    start = len(MAGIC) + _DIGEST + 1
    digest, body = content[len(MAGIC) : start], content[start:]
    if content[: len(MAGIC)] != MAGIC or digest != hashlib.sha256(body).hexdigest().encode() + b"\n":
        raise PartError("is damaged")
    line, _, packed = body.partition(b"\n")
    try:
        header = json.loads(line)
        if header["identity"] != identity:
            raise ForeignPartError("belongs to another study, seed or version")
        numbers = zlib.decompress(packed)
        n_rows = int(np.prod(header["rows"]))
        part = Part(
            identity,
            header["start"],
            header["stop"],
            np.frombuffer(numbers, "<f8", n_rows).reshape(header["rows"]),
            tuple(header["folds"]),
            np.frombuffer(numbers, "<i8", offset=8 * n_rows).reshape(header["histograms"]),
        )
    except (ValueError, TypeError, KeyError, zlib.error):
        raise PartError("is damaged") from None
    if not 0 <= part.start < part.stop == part.start + len(part.rows):
        raise PartError("is damaged")
    return part


def part_path(folder: Path, start: int, stop: int) -> Path:
    """Path of a part file."""
    return folder / f"samples_{start:09d}_{stop:09d}.part"


def save(folder: Path, content: bytes, start: int, stop: int) -> None:
    """Write a serialised part; raise OSError if the disk does not take it."""
    write_whole(part_path(folder, start, stop), content)


def load(path: Path, identity: str) -> Part:
    """Read a part file; raise PartError if it cannot be used."""
    try:
        return unpack(path.read_bytes(), identity)
    except OSError as error:
        raise PartError(f"cannot be read: {error.strerror}") from None


def part_files(folder: Path) -> list[Path]:
    """List the part files of a folder in the order of their samples."""
    return sorted(folder.glob("samples_*.part"))
