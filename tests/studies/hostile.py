"""A hand-made set of files that must be refused: each is the name of the file it stands for, a word, and its bytes."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

from crossaxle.studies.study.example import example_texts

Files = Iterator[tuple[str, str, bytes]]


def hostile_files() -> Files:
    """Files in place of study.toml, vehicle.toml or course.toml of the example, none of which is valid."""
    whole = example_texts()
    for name in whole:
        yield from _of_any_kind(name, whole[name])
    for name, changes in _CHANGES.items():
        for old, new in changes:
            assert old in whole[name], old
            yield name, f"{old} -> {new[:60]}", whole[name].replace(old, new, 1).encode()


def _of_any_kind(name: str, text: str) -> Files:
    """What no file of any kind may be."""
    lines = text.splitlines()
    first = next(line for line in lines if "=" in line)
    valid = text.encode()
    yield name, "empty", b""
    yield name, "blank lines only", b"\n" * 1000
    yield name, "comment only", b"# nothing"
    yield name, "binary", bytes(range(256)) * 40
    yield name, "zero bytes", bytes(5000)
    yield name, "another file format", b"\x89HDF\r\n\x1a\n" + bytes(500)
    yield name, "invalid UTF-8 at the end", valid + b"# \xff\xfe"
    yield name, "overlong UTF-8", valid + b"# \xc0\xaf"
    yield name, "UTF-16", text.encode("utf-16")
    yield name, "cut in the middle of a text", valid[: valid.rindex(b'"')]
    yield name, "repeated key", f"{first}\n{text}".encode()
    yield name, "repeated table", valid + b"\n[a]\n[a]\n"
    yield name, "deep list", b"x = " + b"[" * 5000 + b"]" * 5000 + b"\n" + valid
    yield name, "deep tables", b"x = " + b"{a = " * 300 + b"1" + b"}" * 300 + b"\n" + valid
    yield name, "deep dotted key", b".".join([b"a"] * 3000) + b" = 1\n" + valid
    yield name, "long list", b"x = [" + b"1," * 50_000 + b"]\n" + valid
    yield name, "long number", b"x = " + b"9" * 10_000 + b"\n" + valid
    yield name, "many keys", b"\n".join(b"k%d = 1" % k for k in range(5000)) + b"\n" + valid
    yield name, "too large", valid + b"\n# " + b"x" * 300_000
    yield name, "many long keys", b"\n".join(b"k%d = 1" % (k + 10**500) for k in range(50)) + b"\n" + valid
    yield name, "key of controls", b'"\\u001b[31m\\u0000" = 1\n' + valid
    yield name, "key of markup", b'"<script>alert(1)</script>" = 1\n' + valid
    yield name, "key with a path", b'"../../etc/passwd" = 1\n' + valid
    yield name, "date for a number", b"x = 1979-05-27T07:32:00Z\n" + valid
    yield name, "JSON", b'{"wheelbase": "4.4 m"}'
    yield name, "YAML", b"wheelbase: 4.4 m\n"
    yield name, "code", b"import os; os.system('touch pwned')\n"


def _values(key: str, old: str, *new: str) -> list[tuple[str, str]]:
    return [(f"{key} = {old}", f"{key} = {value}") for value in new]


_LENGTHS = (
    '"nan m"', '"inf m"', '"-inf m"', '"1e999 m"', '"1e300 m"', '"-4.4 m"', '"0 m"', '"4.4"', "4.4", '"4.4 kg"',
    '"4.4 N/mm"', '"4,4 m"', '"4.4 meters per second"', '"4.4 m m"', '"m"', '""', '"four metres"', "nan", "inf", "true",
    "[]", "{}", '["4.4 m"]', '"4.4 m; rm -rf /"', '"0x10 m"', '"1e-30 m"', '"9e99 m"',
)  # fmt: skip

# fmt: off
_CHANGES: dict[str, list[tuple[str, str]]] = {
    "vehicle.toml": [
        *_values("wheelbase", '"4.4 m"', *_LENGTHS),
        ("wheelbase =", "wheelbas ="),
        ("wheelbase =", "Wheelbase ="),
        ("wheelbase =", "wheel-base ="),
        ("wheelbase =", "wheelbase.x ="),
        ('mount = "pivoting"', 'mount = "../../mount"'),
        ('mount = "pivoting"', "mount = 3"),
        ("[frame]", "[frme]"),
        ("[body]", "[[body]]"),
        ("[cab]", "[cab.cab]"),
    ],
    "course.toml": [
        ("share =", "shear ="),
        ("band_to =", "bandto ="),
        ("[sections", "[section"),
        ("band_from =", 'band_from = "1 kg"\nband_frm ='),
        *_values("band_from", '"0.04 cycle/m"', '"1e-12 cycle/m"', '"0 cycle/m"'),
    ],
    "study.toml": [
        *_values("sample_length", '"1 km"', *(value for value in _LENGTHS if value not in ('"4.4 m"',))),
        *_values(
            "samples", "200", "0", "-1", "1.5", '"200"', "10**3", "99999999999999999999", "nan", "true",
            "[200]",
        ),
        *_values("seed", "1", "-1", "1.0", '"x"', "9223372036854775808", "[]", "inf"),
        *_values(
            "vehicle", '"vehicle.toml"', '""', '"/etc/passwd"', '"../../../etc/passwd"', '"/dev/zero"',
            '"/dev/tty"', '"."', '"library:"', '"library:../clinic"', '"library:none"',
            '"http://example.org/x.toml"', '"~/x.toml"', '"\\u0000"', '"study.toml"', '"course.toml"',
            '"-"', "1", "[]", '"' + "a/" * 140 + '"', '"file:///etc/passwd"',
        ),
        *_values(
            "courses", '["course.toml"]', "[]", '"course.toml"', '["course.toml", "course.toml"]',
            '["vehicle.toml"]', '["/etc/hostname"]', "[1]", "[[]]", '["library:none"]',
        ),
        *_values(
            "mount", '["rigid", "pivoting"]', '["rigid", "rigid"]', '["none"]', "[]", '"rigid"',
            '[["rigid"]]', "[{}]", "[1, 2]", '["<script>alert(1)</script>"]',
        ),
        *_values(
            "wheelbase", '["3.8 m", "4.4 m", "5.0 m"]', '["3.8 m", "4.4 kg"]', "[3.8, 4.4]", '["nan m"]',
            '["0.1 m"]', '["3.8 m", "3800 mm"]', '["1e9 m"]',
        ),
        ("wheelbase =", "weelbase ="),
        ("wheelbase =", '"a/b" ='),
        ("unload_below =", "unload_bellow ="),
        ('unload_below = "10 %"', 'unload_below = "50 %"'),
        ("[thresholds]", "[[thresholds]]"),
    ],
}
# fmt: on


def unreadable_places() -> dict[str, Callable[[Path], None]]:
    """What may stand in place of a file and is none: makers by name, given the path."""
    return {
        "a folder": Path.mkdir,
        "a pipe nobody writes to": os.mkfifo,
        "a link to itself": lambda path: path.symlink_to(path),
        "a link to nothing": lambda path: path.symlink_to(f"{path}.none"),
        "a link to an endless device": lambda path: path.symlink_to("/dev/zero"),
        "nothing": lambda path: None,
    }
