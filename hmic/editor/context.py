"""Where in a layout file a place is: its sentence, what may follow there, and what is in reach."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from hmic.language.grammar import Slip, Start, read_sentence
from hmic.language.lines import BLANK, Line, read_lines
from hmic.language.vocabulary import CONTENTS

_NOTHING = "\x1a"
"""A sign that no sentence can have: where it stands, the grammar tells what could."""
_WORD = re.compile(r"[^\W\d][\w.]*")


@dataclass(frozen=True)
class Context:
    """A place in a file. ``before`` is the sentence up to the word being written, ``word`` what is
    written of it; ``allowed`` are the grammar's terminals that may stand there. ``screen`` is the text
    of the line that opens the screen or part, ``plan`` the rows of its plan, ``names`` the parameters
    and counters in reach."""

    before: str
    word: str
    allowed: frozenset[str]
    rules: tuple[Start, ...]
    screen: str
    plan: tuple[str, ...]
    names: tuple[str, ...]


def context_at(text: str, line: int, column: int) -> Context:
    """What stands and may stand at a place; ``line`` and ``column`` count from 0."""
    lines = text.split("\n")
    raw = lines[line][:column] if line < len(lines) else ""
    word = re.search(r"[\w.]*$", raw)
    written = word.group() if word else ""
    head = raw[: len(raw) - len(written)]
    # The place must be a line of the tree, so something has to stand there.
    whole = [*lines[:line], f"{head}{written or 'x'}", *lines[line + 1 :]]
    top, _ = read_lines("\n".join(whole), "")
    path = _path(top, line + 1)
    rules = _rules([item.text for item in path])
    before = head.lstrip(" \t")
    allowed = frozenset[str]().union(*(_allowed(rule, before) for rule in rules))
    opening = path[0] if path else None
    return Context(
        before,
        written,
        allowed,
        rules,
        opening.text if opening else "",
        _plan(opening) if opening else (),
        _names(path),
    )


def word_at(text: str, line: int, column: int) -> tuple[str, int, int] | None:
    """The word, signal or quantity at a place, with its start and end in the line."""
    lines = text.split("\n")
    if line >= len(lines):
        return None
    pattern = r"-?[0-9]+(?:\.[0-9]+)?[ \u00a0\u202f]*(?:arcmin|mm|px)\b|[^\W\d]\w*(?:\.\w+)*"
    for found in re.finditer(pattern, lines[line]):
        if found.start() <= column <= found.end():
            return found.group(), found.start(), found.end()
    return None


def _path(lines: Sequence[Line], number: int) -> list[Line]:
    """The lines from a top line down to the one with a number."""
    for line in lines:
        if line.number == number:
            return [line]
        deeper = _path(line.children, number)
        if deeper:
            return [line, *deeper]
    return []


def _rules(texts: Sequence[str]) -> tuple[Start, ...]:
    """The grammar's rules for the last of a chain of lines, each below the one before."""
    if len(texts) < 2:
        return (Start.TOP,)
    if len(texts) == 2:
        return (Start.BODY,)
    above = texts[-2].split()
    first = above[0] if above else ""
    if first == "plan":
        return (Start.PLAN,)
    if first == "in" and len(texts) == 3:
        rest = above[2:]
        if not rest or rest[0] in ("across", "down", "freely"):
            return (Start.CONTENT,)
        first = rest[0]
    if first == "each":
        return (Start.CONTENT,)
    if first == "chart":
        return (Start.TRACE, Start.PHRASE)
    return (Start.PHRASE,) if first in (*CONTENTS, "touch", "trace") else (Start.CONTENT,)


def _allowed(rule: Start, before: str) -> frozenset[str]:
    slip = read_sentence(rule, before + _NOTHING)
    if isinstance(slip, Slip) and slip.place >= len(before.rstrip(BLANK)):
        return slip.allowed
    # An earlier phrase is wrong: what follows the last comma can still be helped with.
    _, comma, last = before.rpartition(",")
    slip = read_sentence(Start.PHRASE, last + _NOTHING) if comma else None
    if isinstance(slip, Slip) and slip.place >= len(last.rstrip(BLANK)):
        return slip.allowed
    return frozenset()


def _plan(opening: Line) -> tuple[str, ...]:
    """The names in the plan of a screen or part, in the order drawn."""
    rows = [row.text for line in opening.children if line.text == "plan" for row in line.children]
    names = [name for row in rows for name in row.split() if _WORD.fullmatch(name)]
    return tuple(dict.fromkeys(names))


def _names(path: Sequence[Line]) -> tuple[str, ...]:
    found: list[str] = []
    for line in path[:-1]:
        opened = re.match(r"part\s+\w+\s*\((.*)\)", line.text)
        if opened:
            found += [piece.split()[0] for piece in opened.group(1).split(",") if piece.split()]
        counter = re.search(r"\beach\s+([^\W\d]\w*)", line.text)
        if counter:
            found.append(counter.group(1))
    return tuple(found)
