"""Parts, resuming and faults: whatever happens on the way, the results are the undisturbed ones or there are none."""

import hashlib
import os
import signal
import threading
import time
import zlib
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from crossaxle.studies.base import storage
from crossaxle.studies.base.workers import WorkersLostError
from crossaxle.studies.cli.main_job import STOPPED, Options, run_study
from crossaxle.studies.cli.terminal import Terminal
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run import parts
from crossaxle.studies.run.batch import run_batch, study_texts
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.pool import Range, in_process, in_processes
from crossaxle.studies.run.sampling import PARTS, RESULTS, combine, kept_parts, missing_ranges, run
from crossaxle.studies.study.study import load

pytestmark = pytest.mark.unix

SAMPLES = 6


def short(path: Path, **settings: object) -> Experiment:
    return Experiment(load(path, {"samples": SAMPLES, "sample_length": "50 m", **settings}))


@pytest.fixture(scope="module")
def experiment(study: Path) -> Experiment:
    return short(study)


@pytest.fixture(scope="module")
def undisturbed(experiment: Experiment, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("undisturbed")
    run(experiment, folder, [(0, SAMPLES)], in_process, lambda done: None)
    combine(experiment, folder)
    return (folder / RESULTS).read_bytes()


def finish(experiment: Experiment, folder: Path) -> bytes:
    """Go on with what is in a folder, as --resume does."""
    ranges = missing_ranges(experiment, kept_parts(experiment, folder).ranges, 1)
    run(experiment, folder, ranges, in_process, lambda done: None)
    combine(experiment, folder)
    return (folder / RESULTS).read_bytes()


def test_batch_sizes_do_not_matter(experiment: Experiment, undisturbed: bytes, tmp_path: Path) -> None:
    run(experiment, tmp_path, [(3, 6), (0, 1), (1, 3)], in_process, lambda done: None)
    combine(experiment, tmp_path)
    assert (tmp_path / RESULTS).read_bytes() == undisturbed


def test_missing_ranges_fill_the_holes(experiment: Experiment) -> None:
    found = missing_ranges(experiment, [(1, 2), (4, 5)], 1)
    samples = sorted(k for start, stop in found for k in range(start, stop))
    assert samples == [0, 2, 3, 5]


def test_resume_uses_what_is_there(experiment: Experiment, undisturbed: bytes, tmp_path: Path) -> None:
    run(experiment, tmp_path, [(2, 4)], in_process, lambda done: None)
    assert kept_parts(experiment, tmp_path).ranges == ((2, 4),)
    assert finish(experiment, tmp_path) == undisturbed


@pytest.mark.parametrize("settings", [{"seed": 99}, {"spacing": "10 cm"}, {"sample_length": "60 m"}])
def test_parts_of_another_study_are_refused(
    study: Path, experiment: Experiment, undisturbed: bytes, tmp_path: Path, settings: dict[str, object]
) -> None:
    run(short(study, **settings), tmp_path, [(0, 2), (2, SAMPLES)], in_process, lambda done: None)
    kept = kept_parts(experiment, tmp_path)
    assert kept.ranges == kept.damaged == ()
    assert all("belongs to another study, seed or version" in text for text in kept.foreign)
    before = {path: path.read_bytes() for path in parts.part_files(tmp_path / PARTS)}
    own = {"samples": SAMPLES, "sample_length": "50 m"}
    with pytest.raises(InputError, match=r"2 such parts.*--overwrite"):
        run_study(str(study), tmp_path, own, Options(workers=1, resume=True))
    assert {path: path.read_bytes() for path in parts.part_files(tmp_path / PARTS)} == before
    assert finish(experiment, tmp_path) == undisturbed


def test_every_region_of_a_part_is_guarded(experiment: Experiment, tmp_path: Path) -> None:
    run(experiment, tmp_path, [(0, 1)], in_process, lambda done: None)
    (path,) = parts.part_files(tmp_path / PARTS)
    whole = path.read_bytes()
    for place in np.linspace(0, len(whole) - 1, 200).astype(int).tolist():
        for broken in (
            whole[:place],
            whole[:place] + bytes([whole[place] ^ 1 << place % 8]) + whole[place + 1 :],
        ):
            path.write_bytes(broken)
            kept = kept_parts(experiment, tmp_path)
            assert kept.ranges == ()
            assert "is damaged; its samples are run again" in kept.damaged[0]
    path.write_bytes(whole)
    assert kept_parts(experiment, tmp_path).ranges == ((0, 1),)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{}\n",
        b"[1]\n",
        b"\xff\n",
        b'{"identity": "ours"}\n' + zlib.compress(b""),
        b'{"identity": "ours", "start": 0, "stop": 1, "rows": [1, 1, 1, 9], "folds": [0], "histograms": [0]}\nnumbers',
        b'{"identity": "ours", "start": 0, "stop": 9, "rows": [1], "folds": [0], "histograms": [0]}\n'
        + zlib.compress(bytes(8)),
        b'{"identity": "ours", "start": -1, "stop": 0, "rows": [1], "folds": [0], "histograms": [0]}\n'
        + zlib.compress(bytes(8)),
    ],
)
def test_a_true_checksum_does_not_make_a_part(body: bytes) -> None:
    content = parts.MAGIC + hashlib.sha256(body).hexdigest().encode() + b"\n" + body
    with pytest.raises(parts.PartError, match="is damaged"):
        parts.unpack(content, "ours")


def test_damaged_and_lost_parts_are_made_again(
    experiment: Experiment, undisturbed: bytes, tmp_path: Path
) -> None:
    run(experiment, tmp_path, [(0, 2), (2, 4), (4, 6)], in_process, lambda done: None)
    first, second, third = parts.part_files(tmp_path / PARTS)
    first.write_bytes(first.read_bytes()[:-1])
    second.unlink()
    third.chmod(0)
    with pytest.raises(parts.PartError, match="from sample 0 on is missing or damaged"):
        combine(experiment, tmp_path)
    assert not (tmp_path / RESULTS).exists()
    third.chmod(0o600)
    assert finish(experiment, tmp_path) == undisturbed


@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
def test_every_write_may_fail(
    experiment: Experiment, undisturbed: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """The k-th write, sync or rename fails, for every k until the run succeeds; then resuming is exact."""
    failed = 0
    for k in range(50):
        folder = tmp_path / f"{k}"
        folder.mkdir()
        counted = _Failing(k)
        with monkeypatch.context() as patch:
            counted.install(patch, call)
            try:
                run(experiment, folder, [(0, 2), (2, 6)], in_process, lambda done: None)
                combine(experiment, folder)
            except OSError as error:
                failed += 1
                assert error.strerror == "No space left on device"
                assert not (folder / RESULTS).exists() or (folder / RESULTS).read_bytes() == undisturbed
                assert not [path for path in folder.rglob("*.tmp") if path.name.startswith(".")]
            else:
                break
        assert finish(experiment, folder) == undisturbed
    assert failed == counted.calls
    assert failed >= 3


class _Failing:
    """Counts calls of one step of `crossaxle.studies.base.storage.write_whole` and lets the k-th fail."""

    def __init__(self, k: int) -> None:
        self.k, self.calls = k, 0

    def install(self, patch: pytest.MonkeyPatch, call: str) -> None:
        if call == "fsync":
            patch.setattr(storage.os, "fsync", self._wrapped(os.fsync))
        elif call == "replace":
            patch.setattr(Path, "replace", self._wrapped(Path.replace))
        else:
            patch.setattr(storage, "_write", self._wrapped(storage._write))

    def _wrapped(self, real):  # type: ignore[no-untyped-def]
        def step(*arguments):  # type: ignore[no-untyped-def]
            self.calls += 1
            if self.calls == self.k + 1:
                raise OSError(28, "No space left on device")
            return real(*arguments)

        return step


def test_ctrl_c_keeps_what_is_done(
    study: Path,
    undisturbed: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def interrupted(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
        for k, done in enumerate(in_process(texts, ranges)):
            if k == 2:
                raise KeyboardInterrupt
            yield done

    monkeypatch.setattr(
        "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
    )
    settings = {"samples": SAMPLES, "sample_length": "50 m"}
    with monkeypatch.context() as patch:
        patch.setattr("crossaxle.studies.cli.main_job.in_process", interrupted)
        assert run_study(str(study), tmp_path, settings, Options(workers=1), Terminal()) == STOPPED
    said = capsys.readouterr().err
    assert (
        f"stopped; what is done is kept; go on with: crossaxle run {study} --out {tmp_path} --samples 6"
        in said
    )
    assert said.endswith("--workers 1 --resume\n")
    assert len(parts.part_files(tmp_path / PARTS)) == 2
    with pytest.raises(InputError, match="holds parts of an earlier run"):
        run_study(str(study), tmp_path, settings, Options(workers=1))
    assert run_study(str(study), tmp_path, settings, Options(workers=1, resume=True), Terminal()) == 0
    assert (tmp_path / RESULTS).read_bytes() == undisturbed


def _dying_batch(texts: str, start: int, stop: int, mark: str) -> bytes:
    """Kill the first worker that gets sample 2; run the batch otherwise."""
    if start <= 2 < stop and not os.path.exists(mark):  # noqa: PTH110
        open(mark, "w").close()  # noqa: PTH123
        os.kill(os.getpid(), signal.SIGKILL)
    return run_batch(texts, start, stop)


def _always_dying_batch(texts: str, start: int, stop: int) -> bytes:
    os.kill(os.getpid(), signal.SIGKILL)
    return b""


@pytest.mark.slow
def test_killed_workers_are_replaced(experiment: Experiment, undisturbed: bytes, tmp_path: Path) -> None:
    task = partial(_dying_batch, mark=str(tmp_path / "mark"))
    run(experiment, tmp_path, [(0, 2), (2, 4), (4, 6)], in_processes(2, task), lambda done: None)
    combine(experiment, tmp_path)
    assert (tmp_path / "mark").exists()
    assert (tmp_path / RESULTS).read_bytes() == undisturbed


@pytest.mark.slow
def test_workers_that_always_die_are_given_up(experiment: Experiment, tmp_path: Path) -> None:
    with pytest.raises(WorkersLostError, match="worker processes died 4 times over the same job"):
        run(experiment, tmp_path, [(0, 2)], in_processes(1, _always_dying_batch), lambda done: None)


def test_part_identity_is_checked_before_its_numbers(experiment: Experiment) -> None:
    content = run_batch(study_texts(experiment.study.attributes()), 0, 1)
    with pytest.raises(parts.PartError, match="belongs to another study"):
        parts.unpack(content, "something else")


def test_storage_leaves_the_old_file_if_it_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "file"
    storage.write_whole(path, b"old")
    monkeypatch.setattr(Path, "replace", _Failing(0)._wrapped(Path.replace))
    with pytest.raises(OSError, match="No space"):
        storage.write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_a_reader_never_meets_half_a_file(tmp_path: Path) -> None:
    path = tmp_path / "file"
    old, new = b"a" * 1_000_000, b"b" * 1_000_000
    storage.write_whole(path, old)
    seen: set[bytes] = set()
    stop = threading.Event()

    def look() -> None:
        while not stop.is_set():
            seen.add(path.read_bytes())

    reader = threading.Thread(target=look)
    reader.start()
    for content in [new, old] * 20:
        storage.write_whole(path, content)
    time.sleep(0.01)
    stop.set()
    reader.join()
    assert seen <= {old, new}
