"""Disks full, read-only or losing files: a clear message, nothing wrong in the results, and resuming is exact."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest

from crossaxle.studies.cli.main_job import Options, run_study
from crossaxle.studies.cli.terminal import Terminal
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run.parts import part_files
from crossaxle.studies.run.pool import Range, in_process
from crossaxle.studies.run.sampling import PARTS, RESULTS

ROOT = Path(__file__).parents[3]
SETTINGS = {"samples": 8, "sample_length": "50 m"}

resource = pytest.importorskip("resource", reason="limits on file sizes are those of Unix")
pytestmark = [pytest.mark.unix, pytest.mark.usefixtures("no_report")]


@pytest.fixture(scope="module")
def undisturbed(study: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("undisturbed")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
        )
        assert go(study, folder) == 0
    return (folder / RESULTS).read_bytes()


def go(study: Path, folder: Path, **options: bool) -> int:
    return run_study(str(study), folder, SETTINGS, Options(workers=1, **options), Terminal())


@contextmanager
def mounted(folder: Path, size: int) -> Iterator[None]:
    """A file system of so many bytes in a folder; the test is skipped where none may be mounted."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    if not shutil.which("mount") or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("mounting is not permitted here; the limit on file size is tested in its place")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def remount(folder: Path, option: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{option}", str(folder)], check=True)


def test_full_disk(
    study: Path, undisturbed: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """There is no room at all, then a little more each time, until there is room for everything."""
    refused = 0
    with mounted(tmp_path, 1 << 24):
        out = tmp_path / "out"
        for kilobytes in [0, 8, 40, 120, 400, 2000]:
            filler = tmp_path / "filler"
            _fill(filler, kilobytes * 1024)
            try:
                status = go(study, out, resume=True)
                said = capsys.readouterr().err
            except InputError as error:
                status, said = 2, str(error)
            if status:
                refused += 1
                assert "No space left on device" in said
                assert status == 2 or "what is done is kept; go on with: crossaxle run" in said
                assert "Traceback" not in said
                assert not (out / RESULTS).exists()
            filler.unlink(missing_ok=True)
            assert not list(out.rglob(".*.tmp"))
            if not status:
                break
        assert go(study, out, resume=True) == 0
        assert (out / RESULTS).read_bytes() == undisturbed
    print(f"\ndisk full {refused} times, each with a clear message; results identical afterwards")
    assert refused >= 2


def _fill(filler: Path, leave: int) -> None:
    """Fill a disk but for so many bytes."""
    filler.unlink(missing_ok=True)
    free = shutil.disk_usage(filler.parent).free
    filler.write_bytes(b"x" * max(0, free - leave))


def test_limit_on_file_size(study: Path, undisturbed: bytes, tmp_path: Path) -> None:
    """The operating system refuses to let files grow beyond a limit, in a process of its own."""
    code = (
        "import resource, signal, sys; from crossaxle.studies.cli.main import main\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "import crossaxle.studies.cli.main_job, crossaxle.studies.report.report\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (2000, resource.RLIM_INFINITY)); main()"
    )
    study_file = tmp_path / "study.toml"
    for path in study.parent.glob("*.toml"):
        shutil.copy(path, tmp_path)
    study_file.write_text(
        study_file.read_text().replace('"1 km"', '"50 m"').replace("samples = 200", "samples = 8")
    )
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-c", code, "run", str(study_file), "--out", str(out), "--workers", "1"],
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "File too large; what is done is kept; go on with: crossaxle run" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (out / RESULTS).exists()
    assert not list(out.rglob(".*.tmp"))
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
    assert run_study(str(study_file), out, {}, Options(workers=1, resume=True), Terminal()) == 0
    assert (out / RESULTS).exists()


def test_read_only_folder(study: Path, undisturbed: bytes, tmp_path: Path) -> None:
    with mounted(tmp_path, 1 << 24):
        remount(tmp_path, "ro")
        for folder in (tmp_path, tmp_path / "out"):
            with pytest.raises(InputError, match="cannot be written: Read-only file system"):
                go(study, folder)
        remount(tmp_path, "rw")
        assert go(study, tmp_path) == 0
        remount(tmp_path, "ro")
        with pytest.raises(InputError, match="cannot be written: Read-only file system"):
            go(study, tmp_path, resume=True)
        assert (tmp_path / RESULTS).read_bytes() == undisturbed


def test_folder_that_becomes_read_only(
    study: Path,
    undisturbed: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    parts = tmp_path / PARTS
    if not shutil.which("mount"):
        pytest.skip("there is no mount here")

    def freeze() -> None:
        if subprocess.run(["mount", "--bind", str(parts), str(parts)], check=False).returncode:
            pytest.skip("mounting is not permitted here")
        subprocess.run(["mount", "-o", "remount,bind,ro", str(parts)], check=True)

    try:
        with monkeypatch.context() as patch:
            _at_second_batch(patch, freeze)
            assert go(study, tmp_path) == 1
        assert "Read-only file system; what is done is kept; go on with" in capsys.readouterr().err
        assert len(part_files(parts)) == 1
    finally:
        subprocess.run(["umount", "-l", str(parts)], check=False, capture_output=True)
    assert go(study, tmp_path, resume=True) == 0
    assert (tmp_path / RESULTS).read_bytes() == undisturbed


@pytest.mark.parametrize("what", ["the first part", "the parts", "everything"])
def test_files_removed_underneath(
    study: Path,
    undisturbed: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    what: str,
) -> None:
    out = tmp_path / "out"

    def remove() -> None:
        if what == "the first part":
            part_files(out / PARTS)[0].unlink()
        else:
            shutil.rmtree(out / PARTS if what == "the parts" else out)

    with monkeypatch.context() as patch:
        _at_second_batch(patch, remove)
        assert go(study, out) == 1
    said = capsys.readouterr().err
    assert "missing or damaged" in said or "No such file or directory" in said
    assert "what is done is kept; go on with: crossaxle run" in said
    assert not (out / RESULTS).exists()
    assert go(study, out, resume=True) == 0
    assert (out / RESULTS).read_bytes() == undisturbed


def _at_second_batch(patch: pytest.MonkeyPatch, do) -> None:  # type: ignore[no-untyped-def]
    """Let something happen after the first part is written and before the second is."""

    def batches(texts: str, ranges: Sequence[Range]) -> Iterator[tuple[Range, bytes]]:
        for k, done in enumerate(in_process(texts, ranges)):
            if k == 1:
                do()
            yield done

    patch.setattr("crossaxle.studies.cli.main_job.in_process", batches)
