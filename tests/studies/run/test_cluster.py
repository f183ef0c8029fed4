"""A dask cluster of real processes: the same bits as here, workers killed, scheduler lost or never there."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import xarray as xr

from crossaxle.studies.cli.main_job import Options, run_study
from crossaxle.studies.cli.terminal import Terminal
from crossaxle.studies.run import cluster
from crossaxle.studies.run.experiment import Experiment
from crossaxle.studies.run.parts import part_files
from crossaxle.studies.run.pool import in_process
from crossaxle.studies.run.sampling import PARTS, RESULTS, combine, run
from crossaxle.studies.study.study import load

ROOT = Path(__file__).parents[3]
SETTINGS = {"samples": 40, "sample_length": "50 m"}
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "error"}

pytestmark = [
    pytest.mark.unix,
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
    pytest.mark.usefixtures("no_report"),
]


@pytest.fixture(scope="module")
def experiment(study: Path) -> Experiment:
    return Experiment(load(study, SETTINGS))


@pytest.fixture(scope="module")
def local(experiment: Experiment, tmp_path_factory: pytest.TempPathFactory) -> xr.Dataset:
    folder = tmp_path_factory.mktemp("local")
    run(experiment, folder, [(0, SETTINGS["samples"])], in_process, lambda done: None)
    combine(experiment, folder)
    return xr.load_dataset(folder / RESULTS)


def program(*arguments: str, **environment: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", *arguments],
        env={**ENVIRONMENT, **environment},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def worker(address: str, host: str, **environment: str) -> subprocess.Popen[bytes]:
    options = ("--host", host, "--nthreads", "1", "--no-dashboard", "--no-nanny", "--death-timeout", "60")
    return program("distributed.cli.dask_worker", address, *options, **environment)


@contextmanager
def a_cluster(
    *workers: Callable[[str], subprocess.Popen[bytes]],
) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Start a scheduler and workers as processes of their own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    host, port = address.removeprefix("tcp://").split(":")
    options = ("--host", host, "--port", port, "--no-dashboard")
    processes = [program("distributed.cli.dask_scheduler", *options)]
    try:
        processes += [start(address) for start in workers]
        yield address, processes
    finally:
        for process in processes:
            process.kill()
            process.wait()


def at_first_part(folder: Path, do: Callable[[], None], monkeypatch: pytest.MonkeyPatch) -> None:
    """Let something happen as soon as the first part has come back."""
    real = cluster._batches

    def batches(*arguments):  # type: ignore[no-untyped-def]
        for n, found in enumerate(real(*arguments)):
            if n == 0:
                do()
            yield found

    monkeypatch.setattr(cluster, "_batches", batches)


def test_workers_on_two_addresses_give_the_local_bits(
    study: Path, local: xr.Dataset, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One of them sets out with linear algebra on several threads, which by itself could change last bits."""
    from distributed import Client

    many = {"OPENBLAS_NUM_THREADS": "4", "OMP_NUM_THREADS": "4", "MKL_NUM_THREADS": "4"}
    with (
        a_cluster(
            lambda address: worker(address, "127.0.0.1"), lambda address: worker(address, "127.0.0.2", **many)
        ) as (address, _),
        Client(address, timeout=60, set_as_default=False) as client,
    ):
        client.wait_for_workers(2, timeout=120)
        assert run_study(str(study), tmp_path, SETTINGS, Options(scheduler=address), Terminal()) == 0
        ran = client.run(lambda: "crossaxle.studies.run.batch" in sys.modules)
    hosts = sorted(name.split("//")[1].split(":")[0] for name, did in ran.items() if did)
    print(f"\n{len(part_files(tmp_path / PARTS))} parts from workers on {' and '.join(hosts)}")
    assert hosts == ["127.0.0.1", "127.0.0.2"]
    xr.testing.assert_identical(xr.load_dataset(tmp_path / RESULTS), local)
    assert f"cluster at {address}: 2 workers" in capsys.readouterr().err


def test_killed_workers_are_replaced(
    study: Path, local: xr.Dataset, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed import LocalCluster

    killed: list[int] = []
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as local_cluster:

        def kill_all() -> None:
            for nanny in local_cluster.workers.values():
                os.kill(nanny.pid, signal.SIGKILL)
                killed.append(nanny.pid)

        at_first_part(tmp_path, kill_all, monkeypatch)
        options = Options(scheduler=local_cluster.scheduler_address)
        assert run_study(str(study), tmp_path, SETTINGS, options, Terminal()) == 0
    print(f"\n{len(killed)} of 2 workers killed after the first of {len(part_files(tmp_path / PARTS))} parts")
    assert len(killed) == 2
    xr.testing.assert_identical(xr.load_dataset(tmp_path / RESULTS), local)


def test_lost_scheduler_stops_the_run_which_goes_on_elsewhere(
    study: Path,
    local: xr.Dataset,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with a_cluster(lambda address: worker(address, "127.0.0.1")) as (address, processes):
        at_first_part(tmp_path, processes[0].kill, monkeypatch)
        start = time.perf_counter()
        assert run_study(str(study), tmp_path, SETTINGS, Options(scheduler=address), Terminal()) == 1
    said = capsys.readouterr().err
    kept = len(part_files(tmp_path / PARTS))
    print(f"\nstopped {time.perf_counter() - start:.0f} s after the start with {kept} parts kept")
    assert f"{address} was lost; what is done is kept; go on with: crossaxle run" in said
    assert "Traceback" not in said
    assert kept >= 1
    assert run_study(str(study), tmp_path, SETTINGS, Options(workers=1, resume=True), Terminal()) == 0
    xr.testing.assert_identical(xr.load_dataset(tmp_path / RESULTS), local)


@pytest.mark.parametrize(
    "address", ["tcp://127.0.0.1:9", "127.0.0.1:9", "nonsense://x", "tcp://host.invalid:1", ""]
)
def test_wrong_address(
    study: Path,
    tmp_path: Path,
    address: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(cluster, "CONNECTING", 2.0)
    start = time.perf_counter()
    assert run_study(str(study), tmp_path, SETTINGS, Options(scheduler=address), Terminal()) == 1
    said = capsys.readouterr().err
    assert f"no scheduler answers at {address}: " in said
    assert "Traceback" not in said
    assert time.perf_counter() - start < 60.0


def test_worker_with_other_versions_is_refused() -> None:
    with pytest.raises(
        cluster.OtherVersionsError, match=r"a worker has crossaxle .*; the client has another"
    ):
        cluster.batch_on_worker("{}", "another", 0, 1)
