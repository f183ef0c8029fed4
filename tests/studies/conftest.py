"""Fixtures for the studies tests: made-up results, a small study, and runs without a report."""

import importlib.util
from pathlib import Path

import pytest

from crossaxle.studies.study.example import write_example

_SPEC = importlib.util.spec_from_file_location("synthetic_results", Path(__file__).parent / "synthetic.py")
_MODULE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MODULE)


@pytest.fixture(scope="session")
def synthetic():
    """Return the function that makes a results Dataset."""
    return _MODULE.dataset


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The study file of the example with one wheelbase, two candidates."""
    folder = tmp_path_factory.mktemp("study")
    write_example(folder)
    path = folder / "study.toml"
    path.write_text(path.read_text().replace('["3.8 m", "4.4 m", "5.0 m"]', '["4.4 m"]'))
    return path


@pytest.fixture
def no_report(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the report out, which takes longer than a short run."""
    monkeypatch.setattr(
        "crossaxle.studies.report.report.write_report", lambda dataset, folder: [folder / "report.html"]
    )
