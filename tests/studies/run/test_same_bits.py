"""Same study, same bits: across runs, worker counts, batch sizes, resuming and extending; large studies ask first."""

import random
from itertools import pairwise
from pathlib import Path

import pytest

from crossaxle.studies.cli.main_job import Options, run_study
from crossaxle.studies.inputs.reader import InputError
from crossaxle.studies.run import estimate
from crossaxle.studies.run import sampling as run
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.parts import part_files
from crossaxle.studies.run.pool import in_process, in_processes
from crossaxle.studies.study.study import load

SAMPLES = 12
SETTINGS = {"samples": SAMPLES, "sample_length": "50 m"}

pytestmark = pytest.mark.usefixtures("no_report")


@pytest.fixture(scope="module")
def experiment(study: Path) -> Experiment:
    return Experiment(load(study, SETTINGS))


@pytest.fixture(scope="module")
def expected(experiment: Experiment, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return batches(experiment, [(0, SAMPLES)], tmp_path_factory.mktemp("expected"))


def batches(experiment: Experiment, ranges: list[tuple[int, int]], folder: Path, workers: int = 1) -> bytes:
    """Run batches of one's own choice and read the results file."""
    runner = in_process if workers == 1 else in_processes(workers)
    run.run(experiment, folder, ranges, runner, lambda done: None)
    run.combine(experiment, folder)
    return (folder / run.RESULTS).read_bytes()


def test_rerun(experiment: Experiment, expected: bytes, tmp_path: Path) -> None:
    again = Experiment(load(experiment.study.source.name, SETTINGS))
    assert batches(again, [(0, SAMPLES)], tmp_path) == expected


@pytest.mark.slow
def test_numbers_of_workers(study: Path, expected: bytes, tmp_path: Path) -> None:
    counts = (1, 2, 4, 8)
    for workers in counts:
        folder = tmp_path / f"{workers}"
        assert run_study(str(study), folder, SETTINGS, Options(workers=workers)) == 0
        assert (folder / run.RESULTS).read_bytes() == expected
    print(f"\n{', '.join(map(str, counts))} workers: the same {len(expected)} bytes")


@pytest.mark.parametrize("seed", range(6))
def test_batch_sizes_and_orders(experiment: Experiment, expected: bytes, tmp_path: Path, seed: int) -> None:
    """Cut anywhere, run in any order, now and then in worker processes."""
    chance = random.Random(seed)
    cuts = sorted({0, SAMPLES, *chance.sample(range(SAMPLES), chance.randint(1, SAMPLES - 1))})
    ranges = list(pairwise(cuts))
    chance.shuffle(ranges)
    assert batches(experiment, ranges, tmp_path, workers=1 + seed % 2) == expected


def test_extending_in_steps(study: Path, expected: bytes, tmp_path: Path) -> None:
    """Parts of every step are kept as they are."""
    seen: dict[Path, bytes] = {}
    for samples in (1, 5, 6, SAMPLES):
        assert run_study(str(study), tmp_path, {**SETTINGS, "samples": samples}, Options(2, resume=True)) == 0
        now = {path: path.read_bytes() for path in part_files(tmp_path / run.PARTS)}
        assert seen.items() <= now.items()
        seen = now
    assert (tmp_path / run.RESULTS).read_bytes() == expected


def test_fewer_samples_keep_the_parts_of_all(study: Path, expected: bytes, tmp_path: Path) -> None:
    """A study that is looked at with fewer samples in between goes on to the same results."""
    for samples in (SAMPLES, 5, SAMPLES):
        assert run_study(str(study), tmp_path, {**SETTINGS, "samples": samples}, Options(1, resume=True)) == 0
    assert (tmp_path / run.RESULTS).read_bytes() == expected


def test_large_studies_start_only_if_that_is_wanted(
    study: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("LONGEST_TIME", "MOST_MEMORY"):
        with monkeypatch.context() as patch:
            patch.setattr(estimate, name, 1e-6)
            with pytest.raises(
                InputError, match=r"this study is very large: .* km .* positions, about .*--yes-large"
            ):
                run_study(str(study), tmp_path / name, SETTINGS, Options(workers=1))
            assert not (tmp_path / name).exists()
            assert run_study(str(study), tmp_path / name, SETTINGS, Options(workers=1, yes_large=True)) == 0


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"samples": 10**8}, "days"),
        ({"sample_length": "1000 km", "spacing": "1 mm", "samples": 1}, "00 MB"),
        ({"samples": 10**8, "sample_length": "10 m", "spacing": "1 m"}, "00 MB"),
    ],
)
def test_absurd_studies_say_so_before_they_start(
    study: Path, tmp_path: Path, settings: dict[str, object], said: str
) -> None:
    with pytest.raises(InputError, match="this study is very large") as refused:
        run_study(str(study), tmp_path / "out", settings, Options(workers=1))
    assert said in str(refused.value)
    assert not (tmp_path / "out").exists()
