"""What results depend on: versions as one line, and a digest that tells one study's results from another's."""

import hashlib
import json
import platform
from importlib.metadata import PackageNotFoundError, version

from crossaxle.studies.study.study import Study

_WITHOUT_EFFECT = {
    *("title", "note", "revision", "author", "checked_by"),
    *("samples", "vehicle", "courses", "limits", "implied_limits", "clearance_allowance", "life", "risk"),
}
"""Keys of the study file that do not change a sample's result; the content of vehicle and courses counts instead."""


def versions() -> str:
    """Name this program, Python, the libraries that compute, and the kind of machine, with their versions."""
    parts = [f"{name} {_version(name)}" for name in ("crossaxle", "numpy", "scipy", "numba")]
    return ", ".join([*parts, f"Python {platform.python_version()}", platform.machine()])


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "(not installed)"


def identity(study: Study) -> str:
    """Digest of all that a sample's result depends on: contents of the study's files, seed, versions.

    Comments, the number of samples, and what the results are judged by do not matter.
    """
    content = [
        study.file.model_dump_json(exclude=_WITHOUT_EFFECT),
        study.vehicle.table,
        [course.table for course in study.courses],
        [[name, hashlib.sha256(file).hexdigest()] for files in study.surveys for name, file in files.items()],
        versions(),
    ]
    return hashlib.sha256(json.dumps(content, default=str).encode()).hexdigest()
