"""The house: one package is installed, the checkout runs, names mean one thing, what is imported is declared."""

import ast
import importlib
import re
import subprocess
import sys
import tomllib
from collections import Counter
from graphlib import TopologicalSorter
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import crossaxle
from tests.documents import ROOT

ROOMS = ("terrain", "vehicles", "sim", "studies")
FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
STUDY_ROOMS = sorted(path.parent for path in (ROOT / "studies").glob("*/__init__.py"))
MOST_FILES = 17
"""Modules of one folder of studies, its first sentence included."""


def module_name(path: Path) -> str:
    """Name under which a file of the repository is imported."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    parts = parts[2:] if parts[:2] == ("studies", "crossaxle") else parts
    return ".".join(["crossaxle", *(part for part in parts if part != "__init__")])


def test_every_folder_of_modules_is_installed() -> None:
    listed = PROJECT["tool"]["setuptools"]["packages"]
    folders = {module_name(path / "__init__.py") for path in {f.parent for f in FILES}}
    assert set(listed) == folders - {"crossaxle.studies.examples"}
    assert len(listed) == len(set(listed))


def test_the_checkout_is_what_runs() -> None:
    assert Path(crossaxle.__file__) == ROOT / "studies" / "crossaxle" / "__init__.py"
    for name in ("terrain.course", "vehicles.file", "sim.kernel", "studies.run.experiment"):
        module = importlib.import_module(f"crossaxle.{name}")
        assert Path(str(module.__file__)) == ROOT / f"{name.replace('.', '/')}.py"


def test_files_named_like_rooms_beside_a_script_do_not_matter(tmp_path: Path) -> None:
    for name in ("sim.py", "terrain.py", "vehicles.py"):
        (tmp_path / name).write_text("raise SystemExit('the wrong file')\n", encoding="utf-8")
    (tmp_path / "studies").mkdir()
    (tmp_path / "studies" / "__init__.py").write_text(
        "raise SystemExit('the wrong folder')\n", encoding="utf-8"
    )
    (tmp_path / "mine.py").write_text(
        "import crossaxle\n"
        "crossaxle.example('study')\n"
        "study = crossaxle.load('study/study.toml', samples=1, sample_length='20 m')\n"
        "print(crossaxle.run(study).sizes['sample'])\n",
        encoding="utf-8",
    )
    done = subprocess.run([sys.executable, "mine.py"], cwd=tmp_path, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "1\n"), done.stderr


def test_the_package_is_the_command() -> None:
    done = subprocess.run([sys.executable, "-m", "crossaxle", "--help"], capture_output=True, text=True)
    assert done.returncode == 0
    assert "crossaxle example DIR" in done.stdout


def test_every_module_can_be_imported_alone_first() -> None:
    """No module depends on which other was imported before it; sampled, since each takes a process."""
    picked = [module_name(path) for path in FILES if path.stem in ("__init__", "course_chart", "bookkeeping")]
    for name in picked:
        if name != "crossaxle.studies.examples":
            done = subprocess.run([sys.executable, "-c", f"import {name}"], capture_output=True, text=True)
            assert done.returncode == 0, f"{name}: {done.stderr}"


def test_no_two_public_classes_share_a_name() -> None:
    classes = Counter(
        node.name
        for path in FILES
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert [name for name, count in classes.items() if count > 1] == []


def test_array_types_are_defined_once() -> None:
    defining = [
        path.relative_to(ROOT).as_posix()
        for path in FILES
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.Assign) and ast.unparse(node.value).startswith("NDArray[")
    ]
    assert set(defining) == {"studies/crossaxle/arrays.py"}


@pytest.mark.parametrize(
    "room", sorted(p.parent for p in (ROOT / "studies").glob("*/__init__.py")), ids=lambda p: p.name
)
def test_a_room_says_what_may_live_in_it_and_stays_small(room: Path) -> None:
    said = ast.get_docstring(ast.parse((room / "__init__.py").read_text(encoding="utf-8")))
    assert said and said.endswith(".")
    assert len(list(room.glob("*.py"))) <= MOST_FILES


def test_modules_import_each_other_in_no_circle() -> None:
    """Late imports inside functions count too."""
    known = {module_name(path) for path in FILES}
    wanted: dict[str, set[str]] = {}
    for path in FILES:
        found = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        wanted[module_name(path)] = found & known
    list(TopologicalSorter(wanted).static_order())  # CycleError names the circle


def test_what_is_imported_is_declared() -> None:
    """Of other people's packages; optional ones are imported where they are needed and belong to an extra."""
    project = PROJECT["project"]
    extras = [text for name in ("cluster", "drawing") for text in project["optional-dependencies"][name]]
    declared = {canonicalize_name(Requirement(text).name) for text in [*project["dependencies"], *extras]}
    provided = packages_distributions()
    missing = set()
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            else:
                continue
            for top in {name.split(".")[0] for name in names}:
                if top not in sys.stdlib_module_names and top != "crossaxle":
                    from_one = {canonicalize_name(one) for one in provided.get(top, [top])}
                    missing |= {top} if not from_one & declared else set()
    assert missing == set()


@pytest.mark.parametrize("page", sorted(ROOT.glob("*/README.md")), ids=lambda page: page.parent.name)
def test_files_that_a_rooms_page_names_exist(page: Path) -> None:
    named = re.findall(r"`([a-z_/]+\.(?:py|toml|png))`", page.read_text(encoding="utf-8"))
    assert [name for name in named if not ((page.parent / name).exists() or (ROOT / name).exists())] == []
