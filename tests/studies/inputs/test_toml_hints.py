"""Usual slips in TOML: each is refused with its line, what is wrong in plain words, and what to write."""

import pytest

from crossaxle.studies.inputs.reader import InputError, document

SLIPS = [
    ('wheelbase = "4.4 m', "line 3", "a text has no closing quote"),
    ("name = 'clinic", "line 3", "a text has no closing quote"),
    ("wheelbase = \"4.4 m'", "line 3", "a text has no closing quote"),
    ('wheelbase "4.4 m"', "line 3", "there is no = between key and value"),
    ('wheelbase: "4.4 m"', "line 3", "write = instead of :"),
    ("cab roof = 3", "line 3", "stands in quotes"),
    ("überhang = 3", "line 3", "stands in quotes"),
    ("wheelbase = 4.4 m", "line 3", "texts and quantities stand in quotes"),
    ("vehicle = vehicle.toml", "line 3", "texts and quantities stand in quotes"),
    ("share = 10 %", "line 3", "texts and quantities stand in quotes"),
    ("wheelbase = 4,4", "line 3", "the number has a comma; write a point"),
    ("wheelbase = “4.4 m”", "line 3", "the quotes are curly"),
    ("wheelbase =", "line 3", "there is no value behind the ="),
    ("wheelbase = # to be found", "line 3", "there is no value behind the ="),
    ("bare = True", "line 3", "write true or false, in small letters"),
    ("seed = 01", "line 3", "a number begins with 0"),
    ("fill = .5", "line 3", "no digit before its point"),
    ('vehicle = "C:\\Users\\me\\vehicle.toml"', "line 3", "write / instead"),
    ('vehicle = "C:\\trucks\\clinic.toml"', "line 3", "write / instead"),
    ("seed = 1 // the same ground", "line 3", "a remark begins with #"),
    ("// the same ground", "line 3", "a remark begins with #"),
    ("seed = 1 samples = 2", "line 3", "something follows the value"),
    ('seed = 1 "x"', "line 3", "write one key on each line"),
    ("first = 1", "line 3", "first stands in the file twice"),
    ("[frame]\na = 1\n[frame]", "line 5", "[frame] stands in the file twice"),
    ("[frame", "line 3", "a heading has no closing ]"),
    ("[gap.cab back]", "line 3", "a name with blanks without quotes"),
    ("[[limits]", "line 3", "a heading has no closing ]]"),
    ("[frame] kind = 1", "line 3", "something follows the heading"),
    ('mount = ["rigid" "sprung"]', "line 3", "a comma between two entries"),
    ('mount = ["rigid", "sprung"\nseed = 1', "line 4", "here or above, a list lacks its closing ]"),
    ("tyre = { size = 1 pressure = 2 }", "line 3", "a comma between two entries"),
    ("tyre = { size = 1,\n pressure = 2 }", "line 3", "stands on one line"),
    ("seed = " + "9" * 5000, "", "is not valid TOML"),
]


@pytest.mark.parametrize("line_ending", ["\n", "\r\n"])
@pytest.mark.parametrize(("slip", "where", "why"), SLIPS, ids=[slip[:40] for slip, *_ in SLIPS])
def test_slip(slip: str, where: str, why: str, line_ending: str) -> None:
    text = f"# a file\nfirst = 2\n{slip}\n".replace("\n", line_ending)
    with pytest.raises(InputError) as caught:
        document("my.toml", text)
    (message,) = caught.value.messages
    assert message.startswith(f"my.toml: {where}")
    assert "is not valid TOML: " in message
    assert why in message
    assert len(message) < 400


def test_the_line_itself_is_shown_and_a_long_one_cut_short() -> None:
    with pytest.raises(InputError, match=r'; found wheelbase "4\.4 m"$'):
        document("my.toml", 'a = 1\nwheelbase "4.4 m"')
    with pytest.raises(InputError, match=r"; found x{80}\.\.\.$"):
        document("my.toml", "x" * 1000)
