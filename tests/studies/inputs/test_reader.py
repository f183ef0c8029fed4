"""The reader of input files: what it accepts, and what it says of everything else."""

import os
import re
import time
from pathlib import Path
from typing import Annotated, Literal

import pytest
from annotated_types import Gt
from pydantic import BaseModel, ConfigDict, Field

from crossaxle.studies.inputs.members import members
from crossaxle.studies.inputs.missing_keys import missing
from crossaxle.studies.inputs.reader import (
    InputError,
    assignment,
    document,
    key_parts,
    open_document,
    read,
    validate,
)
from crossaxle.studies.study.study_file import StudyFile
from crossaxle.terrain.course import CourseFile
from crossaxle.vehicles.file import VehicleFile
from crossaxle.vehicles.quantity import quantity


class Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Solid(Strict):
    kind: Literal["solid"]
    stiffness: Annotated[float, Gt(0), quantity("N/m")]


class Hung(Strict):
    kind: Literal["hung"]
    stop: Annotated[float, Gt(0), quantity("rad")]


class Shelf(Strict):
    depth: Annotated[float, Gt(0), quantity("m")] = 0.3
    places: tuple[Annotated[float, quantity("m")], ...] = ()


class Store(Strict):
    name: str
    length: Annotated[float, Gt(0), quantity("m")]
    count: int = 2
    mount: Annotated[Solid | Hung, Field(discriminator="kind")]
    shelf: dict[str, Shelf] = {}
    first: Shelf = Shelf()
    label: str | list[str] = ""


GOOD = """
name = "store"
length = "4.5 m"
[mount]
kind = "solid"
stiffness = "20 kN/mm"
[shelf."upper left"]
depth = "400 mm"
places = ["1 m", "1.5 m"]
"""


def complaints(text: str, changes: dict[str, object] | None = None) -> list[str]:
    with pytest.raises(InputError) as error:
        validate(document("store.toml", text), Store, changes)
    return list(error.value.messages)


def test_good_file(tmp_path: Path) -> None:
    (tmp_path / "store.toml").write_text(GOOD)
    store = read(tmp_path / "store.toml", Store)
    assert store.length == 4.5
    assert store.mount.model_dump() == {"kind": "solid", "stiffness": 20e6}
    assert store.shelf["upper left"].places == (1.0, 1.5)


def test_all_complaints_at_once_with_paths_as_in_the_file() -> None:
    bad = GOOD.replace('name = "store"', 'nome = "store"\ncount = 1.5\nlabel = 3').replace("20 kN", "-20 kN")
    bad = bad.replace('"400 mm"', "0.4").replace('"1.5 m"', '"1.5 kg"')
    assert set(complaints(bad)) == {
        'store.toml: name: is missing; write a text in quotes, as in name = "..."',
        'store.toml: nome: is not a known key; did you mean "name"?',
        "store.toml: count: found 1.5; allowed is a whole number",
        "store.toml: label: found 3; allowed is a text in quotes, or a list in brackets []",
        'store.toml: mount.stiffness: found "-20 kN/mm"; allowed is above 0 N/m',
        'store.toml: shelf."upper left".depth: 0.4 is a bare number; write a length with its unit, '
        'e.g. "4.5 m" (units: m, cm, mm, km)',
        'store.toml: shelf."upper left".places[2]: "1.5 kg" is a mass; a length is needed, e.g. "4.5 m"',
    }


def test_a_number_in_quotes() -> None:
    assert complaints(f'count = "2"\n{GOOD}') == [
        'store.toml: count: found "2"; allowed is a whole number, without quotes'
    ]


def test_kind_of_a_union() -> None:
    assert complaints(GOOD.replace('"solid"', '"sollid"')) == [
        'store.toml: mount.kind: found "sollid"; allowed is "solid", "hung"; did you mean "solid"?'
    ]
    assert complaints(GOOD.replace('kind = "solid"\n', "")) == [
        'store.toml: mount.kind: is missing; write one of "solid", "hung"'
    ]
    assert set(complaints(GOOD.replace('"solid"', '"hung"'))) == {
        'store.toml: mount.stop: is missing; write an angle with its unit, e.g. "3 deg" (units: deg, rad, mrad)',
        "store.toml: mount.stiffness: is not a known key; known here: kind, stop",
    }


def test_overrides() -> None:
    source = document("store.toml", GOOD)
    changed = validate(
        source, Store, {"length": "5 m", 'shelf."upper left".depth': "0.5 m", "first.depth": "200 mm"}
    )
    assert (changed.length, changed.shelf["upper left"].depth, changed.first.depth) == (5.0, 0.5, 0.2)
    assert validate(source, Store).length == 4.5


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("lenght", 'lenght: is not a known key; did you mean "length"?'),
        ('shelf."uper left".depth', 'shelf."uper left": is not a known key; did you mean "upper left"?'),
        ("first.dept", 'first.dept: is not a known key; did you mean "depth"?'),
        ("length.x", 'length.x: is not a known key; length holds "4.5 m"'),
        ("a b", '"a b" is not a dotted key'),
        ("", '"" is not a dotted key'),
        ("a = 1\nb", "is not a dotted key"),
    ],
)
def test_override_of_an_unknown_key(key: str, said: str) -> None:
    (message,) = complaints(GOOD, {key: "1 m"})
    assert said in message


def test_dotted_keys() -> None:
    assert key_parts('gap."cab back to body".clearance') == ["gap", "cab back to body", "clearance"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("wheelbase=4.4 m", ("wheelbase", "4.4 m")),
        ('wheelbase="4.4 m"', ("wheelbase", "4.4 m")),
        ("count = 3", ("count", 3)),
        ("fill=0.5", ("fill", 0.5)),
        ("mount=rigid", ("mount", "rigid")),
        ('at=["1 m"]', ("at", ["1 m"])),
    ],
)
def test_assignments(text: str, found: tuple[str, object]) -> None:
    assert assignment(text) == found


def test_assignment_without_value() -> None:
    with pytest.raises(InputError, match="write KEY=VALUE"):
        assignment("wheelbase")


def test_unreadable_files(tmp_path: Path) -> None:
    (tmp_path / "binary.toml").write_bytes(bytes(range(256)))
    (tmp_path / "large.toml").write_text("#" * 300_000)
    (tmp_path / "broken.toml").write_text('a = 1\nb = "')
    (tmp_path / "empty").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    for name, said in [
        ("none.toml", "cannot be read: No such file or directory; in "),
        ("brokn.toml", f'did you mean "{tmp_path / "broken.toml"}"?'),
        ("nowhere/none.toml", f"there is no folder {tmp_path / 'nowhere'}"),
        ("empty/none.toml", "`crossaxle example DIR` writes files to start from"),
        (".", "is a folder; a file is needed; in "),
        ("binary.toml", "is not a text in UTF-8; save it from a text editor, with UTF-8 as its encoding"),
        ("large.toml", "has 300000 bytes; at most 200000 are allowed"),
        ("broken.toml", "broken.toml: line 2: is not valid TOML: a text has no closing quote; found b ="),
        ("pipe.toml", "is not an ordinary file"),
        ("nul\0.toml", "cannot be read"),
    ]:
        with pytest.raises(InputError) as error:
            open_document(tmp_path / name)
        assert said in str(error.value)
        assert str(error.value).count("\n") == 0


@pytest.mark.parametrize(
    "text",
    [
        "[" * 190_000,
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "{a = " * 5000 + "1" + "}" * 5000,
        "a." * 90_000 + "a = 1",
        "\n".join(f"b{i}." + ".".join("a" * 200) + " = 1" for i in range(400)),
        "a = " + "9" * 10_000,
        "a = 1" + "_1" * 90_000,
        'a = "' + "\\" * 100_000,
    ],
)
def test_hostile_text_is_refused_quickly(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(InputError):
        validate(document("hostile.toml", text), Store)
    assert time.perf_counter() - start < 10.0


@pytest.mark.parametrize("value", ["inf", "nan", "-inf", "2026-01-01", "12:00:00", "[1, [2]]", "{a = 1}"])
def test_odd_values_are_complained_about(value: str) -> None:
    (message,) = complaints(GOOD.replace('length = "4.5 m"', f"length = {value}"))
    assert message.startswith("store.toml: length: ")


def test_many_complaints_are_cut_short() -> None:
    many = "\n".join(f"key{i} = 1" for i in range(50)) + GOOD
    found = complaints(many)
    assert len(found) == 21
    assert found[-1] == "store.toml: and 30 more complaints"


def test_a_missing_key_says_what_to_write() -> None:
    said = complaints("count = 1")
    assert set(said) == {
        'store.toml: name: is missing; write a text in quotes, as in name = "..."',
        'store.toml: length: is missing; write a length with its unit, e.g. "4.5 m" (units: m, cm, mm, km)',
        "store.toml: mount: is missing; write a table [mount] with kind ...",
    }


@pytest.mark.parametrize("model", [StudyFile, VehicleFile, CourseFile])
def test_every_key_that_a_file_needs_says_what_to_write_without_it(model: type[BaseModel]) -> None:
    """Of all tables of the three kinds of file: an example, the texts allowed, or a table to write."""
    waiting, seen = [members(model)], set()
    while waiting:
        place = waiting.pop()
        waiting += [members(entry) for entry in place.entries]
        for each in set(place.models) - seen:
            seen.add(each)
            for name, field in each.model_fields.items():
                waiting.append(members(field.annotation))
                if field.is_required():
                    said = missing((each,), name, name)
                    assert re.match("is missing; write .{3}", said), f"{each.__name__}: {name}: {said}"
                    assert "None" not in said


@pytest.mark.parametrize("text", ["", "# nothing but a remark\n"])
def test_a_file_that_holds_nothing(text: str) -> None:
    assert complaints(text) == [
        "store.toml: holds no keys; `crossaxle example DIR` writes files to start from"
    ]
