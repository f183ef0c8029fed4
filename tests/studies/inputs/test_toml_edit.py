"""One number changes; everything else stays byte for byte, or nothing is done."""

import tomllib

import pytest

from crossaxle.studies.inputs.toml_edit import with_number

FILE = """# a truck
name = "one"

[frame]   # the ladder
kind = "welded channels"
joint_factor = 1.0    # as built
[frame.cross_member.first]
joint_factor = 5
[axle]
joint_factor = 7
"""


def test_a_value_is_replaced_and_its_comment_kept():
    edited = with_number(FILE, "frame", "joint_factor", 0.25, "not used")
    assert edited == FILE.replace("joint_factor = 1.0    # as built", "joint_factor = 0.25    # as built")


def test_a_missing_value_is_put_under_the_header():
    edited = with_number(FILE, "frame", "stiffness_factor", 0.25, "fitted")
    assert edited == FILE.replace("# the ladder\n", "# the ladder\nstiffness_factor = 0.25  # fitted\n")


def test_line_ends_and_a_header_at_the_very_end_are_kept():
    assert with_number("a = 1\r\n[frame]", "frame", "k", 2.0) == "a = 1\r\n[frame]\r\nk = 2.0\r\n"


def test_text_that_only_looks_like_a_header_is_refused_rather_than_broken():
    text = 'note = """\n[frame]\n"""\n[frame]\nkind = "x"\n'
    with pytest.raises(ValueError, match=r"write it there by hand: k = 2\.0"):
        with_number(text, "frame", "k", 2.0)
    with pytest.raises(ValueError, match="by hand"):
        with_number('note = """\n[frame]\n"""\n', "frame", "k", 2.0)
    hidden = '[frame]\nnote = """\nk = 1\n"""\n'
    with pytest.raises(ValueError, match="by hand"):
        with_number(hidden, "frame", "k", 2.0)


@pytest.mark.parametrize("text", ["frame = { k = 1 }\n", "frame.k = 1\n", "[other]\nk = 1\n"])
def test_layouts_without_a_header_are_refused(text):
    tomllib.loads(text)
    with pytest.raises(ValueError, match="no place of its own"):
        with_number(text, "frame", "k", 2.0)
