"""A sentence in pieces, each named as the grammar's terminals are.

What a piece is depends on what may stand in its place: a word of the language is a name where only a name
may stand, so an area may be called "text" and a screen "chart".
"""

from __future__ import annotations

import re
from collections.abc import Container

from hmic.language.lines import BLANK

_SETS = {
    "KIND": """
        label reading words clock bar level cells button switch choice stepper slider dial chart list
        picture
    """,
    "PICTURED": "lamp symbol shape",
    "SCREENS": "screens",
    "FLOW": "across down freely",
    "SIDE": "left right up down",
    "DIRECTION": "upward downward rightward leftward",
    "ALIGNMENT": "left centre right",
    "FLASHING": "flashing",
    "OUTWARD": "outward",
    "SWITCHED": "on off",
    "COMPARE": "is",
}
"""Words of which any may stand in one place. Every other word of the language has a terminal of its own."""

_OWN = """
    above acknowledged acknowledges across aligned allowed also and arc as at behind below beside by
    called centred colour columns comes confirmed corner difference down each edge ends every figures filled
    fine flowing from gap gives glides goes growing hands held hidden in joint margin marked marks mean means
    named needle not of off on or otherwise over part peak pictogram pipe plan ramp refused round rows screen
    segments sets shaded shaped showing shown sized soft steps surface sweep swipe target text through to
    toggles touch trace turned under up use way when while with within without zone zones
    decimals font spaced unit
"""

_TERMINALS: dict[str, list[str]] = {word: [f"_{word.upper()}"] for word in _OWN.split()}
for _name, _words in _SETS.items():
    for _word in _words.split():
        _TERMINALS.setdefault(_word, []).append(_name)

_SIGNS = {
    ",": "_COMMA",
    "(": "_OPEN",
    ")": "_CLOSE",
    "[": "_INDEX",
    "]": "_INDEX_END",
    "+": "PLUS",
    "-": "MINUS",
    "*": "TIMES",
    "/": "TIMES",
}

_NO_UNIT = """
    and or not is in of to from by on off as at across down rows when while with within over every above
    below
"""
_AFTER_NUMBER = """
    text called marks peak filled colour flashing means upward downward rightward leftward shaped
    difference goes sets toggles steps allowed held confirmed refused acknowledges sized named flowing
    turned showing marked aligned shown corner edge shaded soft otherwise behind sweep figures fine needle
    centred also target without segments zone beside glides
    font spaced unit decimals
"""


def _unit(words: str) -> str:
    """Letters with %, ‰, °, powers, joined by · or /; none of these words of the language. A signal after a
    stroke is a division."""
    letters = r"(?:[^\W\d_]|[%‰°])+(?:\^?[0-9])?"
    return rf"(?!(?:{'|'.join(words.split())})(?![\w.])){letters}(?:[·⋅/]{letters})*(?![\w.\[])"


_WORD = re.compile(r"[^\W\d]\w*(?![\w.])")
_BLANKS = re.compile(f"[{BLANK}]*")
_LONGER = {
    "in": ("_IN_STEPS_OF", re.compile(rf"in[{BLANK}]+steps[{BLANK}]+of(?![\w.])")),
    "is": ("COMPARE", re.compile(rf"is[{BLANK}]+not(?![\w.])")),
}
_PATTERNS = {
    "COMPARE": re.compile("<=|>=|<|>"),
    "SIGNAL": re.compile(r"[^\W\d]\w*(?:\.[^\W\d]\w*)+(?![\w.])"),
    "QUANTITY": re.compile(
        rf"-?[0-9]+(?:\.[0-9]+)?(?![0-9])(?:[{BLANK}]*{_unit(_NO_UNIT + _AFTER_NUMBER)})?"
    ),
    "STRING": re.compile(r'"(?:[^"\\]|\\["\\n])*"'),
    "UNIT": re.compile(_unit(_NO_UNIT)),
    "NAME": _WORD,
    "EMPTY": re.compile(r"\.(?![\w.])"),
}


def start_after(text: str, place: int) -> int:
    """Where the next piece starts, or the sentence ends."""
    found = _BLANKS.match(text, place)
    return place if found is None else found.end()


def piece_at(text: str, place: int, allowed: Container[str]) -> tuple[str, int] | None:
    """The terminal of the piece that starts at a place, one of the ``allowed``, and where the piece ends.
    None where no such piece starts."""
    word = _WORD.match(text, place)
    if word is not None:
        own = word.group()
        name, longer = _LONGER.get(own, ("", _WORD))
        if name in allowed and (whole := longer.match(text, place)) is not None:
            return name, whole.end()
        for terminal in _TERMINALS.get(own, ()):
            if terminal in allowed:
                return terminal, word.end()
    for terminal, pattern in _PATTERNS.items():
        if terminal in allowed and (found := pattern.match(text, place)) is not None:
            return terminal, found.end()
    sign = _SIGNS.get(text[place : place + 1], "")
    return (sign, place + 1) if sign in allowed else None


TERMINALS = frozenset(
    (*_SIGNS.values(), *_PATTERNS, *(name for names in _TERMINALS.values() for name in names), "_IN_STEPS_OF")
)
