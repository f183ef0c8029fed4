"""Fixtures for the studies tests: the maker of made-up results."""

import importlib.util
from pathlib import Path

import pytest

_SPEC = importlib.util.spec_from_file_location("synthetic_results", Path(__file__).parent / "synthetic.py")
_MODULE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MODULE)


@pytest.fixture(scope="session")
def synthetic():
    """Return the function that makes a results Dataset."""
    return _MODULE.dataset
