"""2,000 broken vehicle, course and study files: each refused in one message with status 2, or still valid."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from crossaxle.studies.study.example import example_texts

ROOT = Path(__file__).parents[3]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_a_thousand_broken_files(seed: int) -> None:
    """With their own seed each, so that the two together are the 2,000."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.studies.malforming", "1000", str(seed)],
        cwd=ROOT,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    print("\n" + done.stdout.strip().splitlines()[-1])


PROGRAM_CASES = [
    ("study.toml", 'samples = 200', "samples = -1", "samples: found -1; allowed is at least 1"),
    ("study.toml", 'samples = 200', "sampels = 200", 'sampels: is not a known key; did you mean "samples"?'),
    ("study.toml", 'seed = 1', "seed = 1.5", "seed: found 1.5; allowed is a whole number"),
    ("study.toml", '"1 km"', '"1 kg"', '"1 kg" is a mass; a length is needed'),
    ("study.toml", '"vehicle.toml"', '"../../../../etc/passwd"', "passwd: "),
    ("study.toml", '["rigid", "pivoting"]', '["rigid", "<b>"]', 'mount "<b>" is not among the mounts'),
    ("study.toml", "[sweep]", "[sweep", "is not valid TOML"),
    ("vehicle.toml", 'wheelbase = "4.4 m"', 'wheelbase = "nan m"', '"nan m" is not a number with a unit'),
    ("vehicle.toml", 'wheelbase = "4.4 m"', 'wheelbase = "1e999 m"', "is not a finite number"),
    ("vehicle.toml", 'wheelbase = "4.4 m"', "wheelbase = {}", "wheelbase: a table is not a quantity"),
    ("vehicle.toml", "[frame]", "[__class__]", "__class__: is not a known key"),
    ("vehicle.toml", "[frame]", "[frame]\n\x00", "is not valid TOML"),
    ("course.toml", "share =", "shared =", 'shared: is not a known key; did you mean "share"?'),
    ("course.toml", "band_to =", "band_upto =", "band_to: is missing"),
    ("course.toml", "[sections", "x = " + "[" * 900 + "]" * 900 + "\n[sections", "is nested too deeply"),
]  # fmt: skip


def program(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "crossaxle", *map(str, arguments)]
    return subprocess.run(command, env=ENVIRONMENT, capture_output=True, text=True, timeout=120, check=False)


@pytest.mark.slow
@pytest.mark.parametrize(("file", "old", "new", "said"), PROGRAM_CASES)
def test_the_program_refuses(file: str, old: str, new: str, said: str, tmp_path: Path) -> None:
    """As started by a user: `run` with a folder for results, which is then not made."""
    for name, text in example_texts().items():
        assert name != file or old in text
        (tmp_path / name).write_text(text.replace(old, new, 1) if name == file else text)
    done = program("run", tmp_path / "study.toml", "--out", tmp_path / "out")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("crossaxle: ")
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(example_texts())


@pytest.mark.slow
@pytest.mark.parametrize("content", [None, b"", b"\xff\xfe\x00", b"\x00" * 100, b'a = "'])
def test_the_program_refuses_what_is_no_file_of_ours(content: bytes | None, tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.mkdir() if content is None else path.write_bytes(content)
    done = program("run", path, "--out", tmp_path / "out")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"crossaxle: {path}: ")
    assert "Traceback" not in done.stderr
    assert [entry.name for entry in tmp_path.iterdir()] == ["study.toml"]


@pytest.mark.slow
def test_names_from_files_are_text_and_nothing_else(tmp_path: Path) -> None:
    """Markup, paths and templates in names: the report shows them, runs none, and no file lies elsewhere."""
    script, path = "<script>alert(1)</script>", "../../../escaped"
    course = "{name}</text><img src=x onerror=alert(2)> {{{{ 7*7 }}}}"
    tank = f'"tank {script}"'
    changes = {
        "vehicle.toml": [
            ("cab back to body", path),
            ("[tank.water", f'[tank."{script}"'),
            ('"tank water"', tank),
        ],
        "course.toml": [],
        "study.toml": [
            ('title = "', f'title = "{script}'),
            ("samples = 200", "samples = 2"),
            ('"1 km"', '"100 m"'),
            ('"3.8 m", "4.4 m", ', ""),
        ],
    }
    inside = tmp_path / "a" / "b" / "c"
    inside.mkdir(parents=True)
    for name, text in example_texts().items():
        for old, new in changes[name]:
            assert old in text, old
            text = text.replace(old, new)
        if name == "course.toml":
            text = re.sub(
                r'(?m)^name = "(.*?)"', lambda found: f'name = "{course.format(name=path)[:60]}"', text
            )
        (inside / name).write_text(text)
    done = program("run", inside / "study.toml", "--out", inside / "out", "--workers", "1")
    assert done.returncode == 0, done.stderr
    page = (inside / "out" / "report.html").read_text()
    assert "alert(1)" in page
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    made = {str(entry.relative_to(tmp_path)) for entry in tmp_path.rglob("*")}
    assert all(entry.startswith("a/b/c/") for entry in made - {"a", "a/b", "a/b/c"})
    assert not list(tmp_path.rglob("escaped*"))
