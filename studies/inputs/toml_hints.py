"""Why a text is no TOML, in plain words: the line, what is wrong in it, and what to write instead.

The parser of the standard library says where it stopped and what it expected there; that, with the line itself, tells
the usual slips apart.
"""

import re

LONGEST_LINE = 80
"""Characters of the faulty line that are shown."""

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_TWICE = "stands in the file twice; keep one of the two"
_QUOTED = 'texts and quantities stand in quotes, as in wheelbase = "4.4 m"'
_NAMES = 'a name with other signs than a to z, digits, - and _ stands in quotes, as in "cab back"'
_REMARK = "a remark begins with #"


def not_toml(text: str, error: ValueError) -> str:
    """Write what makes a text no TOML: ``line 3: is not valid TOML: WHY; found LINE``."""
    said = str(error)
    place = _PLACE.search(said)
    if place is None:
        return f"is not valid TOML: {said}"
    reason = said[: place.start()]
    lines = text.replace("\r\n", "\n").split("\n")
    if lines[-1] == "" and len(lines) > 1:
        lines.pop()
    number = min(int(place[1] or len(lines)), len(lines))
    line = lines[number - 1].strip()
    rest = lines[number - 1][int(place[2]) - 1 :] if place[2] else ""
    shown = line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE]}..."
    return f"line {number}: is not valid TOML: {_why(reason, line, rest)}" + (
        f"; found {shown}" if shown else ""
    )


def _why(reason: str, line: str, rest: str) -> str:
    if any(quote in line for quote in "“”„‘’"):
        return 'the quotes are curly; write straight ones ""'
    match reason.split(" ")[0], reason:
        case _, "Illegal character '\\n'" | "Unterminated string" | 'Expected "\'"':
            return "a text has no closing quote"
        case _, "Expected '=' after a key in a key/value pair":
            return _no_equals(line, rest)
        case _, "Expected newline or end of document after a statement":
            return _something_follows(line, rest)
        case _, "Invalid value":
            return _no_value(rest)
        case _, "Cannot overwrite a value":
            return f"{line.partition('=')[0].strip()} {_TWICE}"
        case "Cannot", _:
            return f"{line.partition('=')[0].strip()} {_TWICE}, with all keys under it"
        case _, "Expected ']' at the end of a table declaration":
            return 'a heading has no closing ], or a name with blanks without quotes; write e.g. [gap."cab back"]'
        case _, "Expected ']]' at the end of an array declaration":
            return "a heading has no closing ]], as in [[limits]]"
        case _, "Unclosed array":
            return "here or above, a list lacks its closing ] or a comma between two entries"
        case _, "Unclosed inline table":
            return (
                "a table in braces lacks its closing } or a comma between two entries; it stands on one line"
            )
        case "Invalid" | "Unescaped", _ if "\\" in line:
            return "a backslash in a text; write / instead, or put the text in single quotes ''"
        case _, "Invalid initial character for a key part" if "{" in line and "}" not in line:
            return "a table in braces stands on one line, its closing } too"
        case _, "Invalid statement" | "Invalid initial character for a key part":
            return f"a line is KEY = VALUE or a heading as [frame]; {_REMARK}; {_NAMES}"
    return reason


def _no_equals(line: str, rest: str) -> str:
    if rest.lstrip().startswith(":"):
        return "write = instead of :"
    if "=" in line:
        return _NAMES
    return "there is no = between key and value, as in seed = 1"


def _something_follows(line: str, rest: str) -> str:
    follows = rest.lstrip()
    if line.startswith("["):
        return f"something follows the heading; {_REMARK}"
    if follows.startswith(("//", "/*", ";", "--")):
        return f"something follows the value; {_REMARK}"
    if re.match(r",\s*\d", follows):
        return f'the number has a comma; write a point, as in "4.5 m"; {_QUOTED}'
    if re.search(r"=\s*[+-]?0$", line[: len(line) - len(rest.rstrip())]):
        return "a number begins with 0; leave that out"
    if follows[:1].isalpha() or follows.startswith(("%", "°")):
        return f"something follows the value; {_QUOTED}; {_REMARK}"
    return f"something follows the value; write one key on each line; {_REMARK}"


def _no_value(rest: str) -> str:
    if not rest.strip() or rest.lstrip().startswith("#"):
        return "there is no value behind the ="
    if re.match(r"(?i)(true|false|yes|no|on|off)\b", rest):
        return "write true or false, in small letters and without quotes"
    if rest.startswith("."):
        return "a number has no digit before its point; write 0.5"
    return _QUOTED
