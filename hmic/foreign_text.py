"""Text that others wrote (layouts, descriptions, file names, lines from a bus), shown on a terminal.

A control character in it could move the cursor, rename the window or hide a line; a bidirectional control
turns what is read round; an invisible letter makes two names look alike. Each is shown as ``\\u001b``, which
inside a JSON string says the same, so that one rendering serves text and JSON.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from typing import Any
from unicodedata import category

# Control, format, lone surrogate, line and paragraph separator.
_HIDDEN = frozenset(("Cc", "Cf", "Cs", "Zl", "Zp"))
# The rest of Unicode's Default_Ignorable_Code_Point: fillers, joiners and selectors that are letters or
# marks by category and yet show nothing.
_IGNORABLE = (
    range(0x034F, 0x0350),
    range(0x115F, 0x1161),
    range(0x17B4, 0x17B6),
    range(0x180B, 0x1810),
    range(0x2060, 0x2070),
    range(0x3164, 0x3165),
    range(0xFE00, 0xFE10),
    range(0xFFA0, 0xFFA1),
    range(0xFFF0, 0xFFF9),
    range(0xE0000, 0xE1000),
)


def visible(text: str, kept: str = "\t") -> str:
    """A text of one line with what has no look of its own written out; the characters ``kept`` stay."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(char if char in kept or not _is_hidden(char) else _written(char) for char in text)


def in_html(text: str) -> str:
    """A foreign text for a page: what has no look of its own written out, marks of HTML as entities."""
    return escape(visible(text, kept="\n\t"))


def _is_hidden(char: str) -> bool:
    if char.isprintable() and char.isascii():
        return False
    return category(char) in _HIDDEN or any(ord(char) in some for some in _IGNORABLE)


def _written(char: str) -> str:
    """As JSON escapes it."""
    units = char.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


class VisibleOutput:
    """A text stream that shows what is foreign, and writes out what its character set lacks. The rest is
    as the stream ``below``, through which alone what draws on a terminal may write its own controls."""

    def __init__(self, below: Any) -> None:
        self.below = below

    def write(self, text: str) -> int:
        """Writes lines of text."""
        self.below.write(encodable(visible(text, kept="\n\t"), self.below))
        return len(text)

    def writelines(self, lines: Any) -> None:
        """Writes each."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.below, name)


def encodable(text: str, stream: Any) -> str:
    """A text with what the stream's character set lacks written out."""
    code = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(code)
    except UnicodeEncodeError:
        return "".join(char if _holds(code, char) else _written(char) for char in text)
    return text


def _holds(code: str, char: str) -> bool:
    try:
        char.encode(code)
    except UnicodeEncodeError:
        return False
    return True


def drawn_on(stream: Any) -> Any:
    """The stream itself, for what draws: a line that is written over, a table, a bar. Whatever text is
    foreign in that must go through ``visible`` first."""
    return stream.below if isinstance(stream, VisibleOutput) else stream


@contextmanager
def visible_output() -> Iterator[None]:
    """Standard output and standard error show what is foreign."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (each and VisibleOutput(drawn_on(each)) for each in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before
