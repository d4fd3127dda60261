"""The tables of a document in Markdown, for tests that hold them against the code."""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """``title`` is what stands in bold or as a heading last before it, in small letters."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables(text: str) -> list[Table]:
    """All of them, in order."""
    found = []
    for match in re.finditer(r"^(\|.*\|)\n\|[-|]+\|\n((?:\|.*\|\n)+)", text, re.MULTILINE):
        titles = re.findall(r"^#+ (.*)$|^\*\*(\w[^*]*)\*\*", text[: match.start()], re.MULTILINE)
        title = next((heading or bold for heading, bold in reversed(titles)), "")
        rows = tuple(_cells(line) for line in match[2].splitlines())
        found.append(Table(title.lower(), _cells(match[1]), rows))
    return found


def _cells(line: str) -> tuple[str, ...]:
    return tuple(cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line)[1:-1])
