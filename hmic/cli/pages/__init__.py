"""A page for each finding code: what it means, an example that has the mistake, and the same put right.

The pages are text files beside this one, one a room. The examples run as tests, so what a page shows is
what hmic says.

    L106
    What the code means, in one or two sentences.

    wrong here
      in here  ‸raeding‸ pack.voltage as "0 V"
    help did you mean 'reading'?

    right
      in here  reading pack.voltage as "0 V"

The lines of an example are indented by two. ``‸`` stands before and after what the finding points at; it
is no part of the example. ``at FILE:LINE:COLUMN`` gives the place where no line can be marked. After
``wrong``, ``right`` (where it differs) and ``with`` (lines that both share) stands what the lines are:

- ``here``: lines of a small screen with one area, ``here``
- ``FILE``: a whole file of the design; ``FILE as latin-1``: in that encoding
- ``FILE more``: lines added at the end of the file; ``FILE swap``: lines in place of the first ones
  with the same key at the same depth
- ``folder``: the names of the files in the design's folder
- ``$``: commands, run where the design's folder ``van`` lies
- ``!``: what a person does and sees, where a device or a fault is needed; ``test`` names the test that
  makes it happen
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

BASE = Path(__file__).with_name("base")
"""The design that the examples change: it is sound."""
MARK = "‸"


Role = StrEnum("Role", "WRONG WITH RIGHT")


@dataclass(frozen=True)
class Block:
    """Lines of an example: ``target`` and ``way`` say what they are (see above); ``line`` is where they start
    in the page file."""

    role: Role
    target: str
    way: str
    text: str
    line: int

    def plain(self) -> str:
        """The lines without marks."""
        return self.text.replace(MARK, "")

    def shown_as(self) -> str:
        """Where the lines stand, for a person; nothing for commands and deeds."""
        if self.target in ("$", "!"):
            return ""
        if self.target == "folder":
            return "the design's folder"
        if self.target == "here":
            return "a screen with an area 'here'"
        return self.target + (f" (saved {self.way})" if self.way.startswith("as ") else "")


@dataclass(frozen=True)
class Page:
    """One code's page. ``help`` is the remedy that the finding has, ``at`` its ``FILE:LINE:COLUMN`` where
    no line of the example can be marked, ``test`` the named test."""

    code: str
    meaning: str
    blocks: tuple[Block, ...]
    help: str | None
    at: str | None
    test: str | None
    file: str
    line: int

    def of(self, role: Role) -> tuple[Block, ...]:
        """The blocks of one role."""
        return tuple(block for block in self.blocks if block.role == role)


def all_pages() -> dict[str, Page]:
    """Every page by its code."""
    folder = Path(__file__).parent
    found: dict[str, Page] = {}
    for path in sorted(folder.glob("*.txt")):
        for page in read_pages(path.read_text(encoding="utf-8"), path.name):
            found.setdefault(page.code, page)
    return found


def every_meaning() -> dict[str, str]:
    """The one-line meaning of every code, from the rooms' tables."""
    import importlib

    found: dict[str, str] = {}
    for path in sorted(Path(__file__).parents[2].glob("*/codes.py")):
        found |= importlib.import_module(f"hmic.{path.parent.name}.codes").CODES
    return dict(sorted(found.items()))


def read_pages(text: str, file: str) -> Iterator[Page]:
    """The pages of one file. A line of another form is a ``ValueError``: the files are ours."""
    lines = text.split("\n")
    starts = [number for number, line in enumerate(lines) if re.fullmatch(r"[A-Z][0-9]{3}", line)]
    for number, line in enumerate(lines[: starts[0] if starts else None], 1):
        if line:
            raise ValueError(f"{file}:{number}: no code stands above this line")
    for start, end in pairwise([*starts, len(lines)]):
        yield _page(lines[start:end], file, start + 1)


def _page(lines: Sequence[str], file: str, first: int) -> Page:
    """One page; ``first`` is the number of its first line, the code."""
    meaning: list[str] = []
    blocks: list[Block] = []
    said: dict[str, str] = {}
    at = 1
    while at < len(lines):
        line = lines[at]
        word, _, rest = line.partition(" ")
        at += 1
        if word in set(Role):
            begin = at
            while at < len(lines) and (lines[at].startswith("  ") or not lines[at]):
                at += 1
            target, _, way = rest.partition(" ")
            if not target:
                wrong = next(block for block in blocks if block.role == Role.WRONG)
                target, way = wrong.target, wrong.way
            blocks.append(Block(Role(word), target, way, _unindented(lines[begin:at]), first + begin))
        elif word in ("help", "at", "test"):
            said[word] = rest
        elif line:
            meaning.append(line)
    asides = said.get("help"), said.get("at"), said.get("test")
    return Page(lines[0], " ".join(meaning), tuple(blocks), *asides, file, first)


def _unindented(lines: Sequence[str]) -> str:
    """The lines of an example without their indentation, nor the empty ones at its end."""
    text = "\n".join(line[2:] for line in lines).rstrip("\n")
    return f"{text}\n" if text else ""
