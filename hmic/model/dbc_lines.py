"""What is wrong in a line of a DBC file that a library could not read.

The two kinds of lines that people edit by hand, piece by piece, from memory of the format's usual form.
"""

from __future__ import annotations

import re

_NUMBER = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_SIGNAL = (
    (r"SG_\s+", "'SG_' and a blank"),
    (r"[A-Za-z_]\w*\s*", "the name of the signal: letters, digits and '_'"),
    (r"(?:(?:M|m[0-9]*M?)\s*)?:\s*", "':'"),
    (r"[0-9]+\s*", "the first bit, a whole number"),
    (r"\|\s*", "'|'"),
    (r"0*[1-9][0-9]*\s*", "the length in bits, a whole number from 1"),
    (r"@\s*", "'@'"),
    (r"[01]\s*", "the order of the bytes, 0 or 1"),
    (r"[-+]\s*", "the sign, + or -"),
    (r"\(\s*", "'('"),
    (rf"{_NUMBER}\s*", "the factor, a number with a point"),
    (r",\s*", "','"),
    (rf"{_NUMBER}\s*", "the offset, a number with a point"),
    (r"\)\s*", "')'"),
    (r"\[\s*", "'['"),
    (rf"{_NUMBER}\s*", "the least value, a number with a point"),
    (r"\|\s*", "'|'"),
    (rf"{_NUMBER}\s*", "the greatest value, a number with a point"),
    (r"\]\s*", "']'"),
    (r'"[^"]*"\s*', "the unit in double quotes"),
    (r"[A-Za-z_]\w*(?:\s*,\s*[A-Za-z_]\w*)*\s*", "who receives it, such as Vector__XXX"),
)
_MESSAGE = (
    (r"BO_\s+", "'BO_' and a blank"),
    (r"[0-9]+\s+", "the identifier, a whole number"),
    (r"[A-Za-z_]\w*\s*", "the name of the message: letters, digits and '_'"),
    (r":\s*", "':'"),
    (r"[0-9]+\s+", "the length in bytes, a whole number"),
    (r"[A-Za-z_]\w*\s*", "who sends it, such as Vector__XXX"),
)
_FORMS = {
    "SG_": (_SIGNAL, 'SG_ Speed : 0|16@1+ (0.01,0) [0|160] "km/h" Vector__XXX'),
    "BO_": (_MESSAGE, "BO_ 256 Vehicle: 8 Vector__XXX"),
}


def dbc_slip(line: str) -> tuple[int, str, str] | None:
    """Where a message's or signal's line goes wrong (a column from 1), what should stand there, and a
    whole line of its kind. None for a line of another kind, or with nothing wrong."""
    at = len(line) - len(line.lstrip())
    keyword = re.compile("[A-Z_]*").match(line, at)
    pieces, form = _FORMS.get(keyword[0] if keyword else "", ((), ""))
    for pattern, wanted in pieces:
        found = re.compile(pattern).match(line, at)
        if found is None:
            return at + 1, wanted, form
        at = found.end()
    return None
