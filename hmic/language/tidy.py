"""Layout files in one style: the same sentences, their spaces, commas and line breaks set in order.

Numbers, brackets and the builder's own line breaks stay as written. Comments stay where they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from hmic.diagnostics import Finding, Span
from hmic.language.grammar import Node, Slip, Start, read_sentence, start_of
from hmic.language.lines import BLANK, INDENT, Line, read_lines
from hmic.language.parser import parse

WIDTH = 100
"""Columns; a longer sentence goes on in lines below its first."""

_CELL = 8
"""Least width of a cell of the plan, so that small plans look alike."""
_AREA = 9
"""Least width from an area's name to what stands in it: 4 + 'in ' + 9 is a multiple of 4."""
_LONG_AREA = 18
"""A longer name does not push the others to the right."""

_RUNS_ON = frozenset(
    (
        "format",
        "scale",
        "options",
        "over",
        "hands",
        "arc",
        "growing",
        "zones",
        "rounded",
        "named",
        "at",
        "way",
        "pictogram",
    )
)
"""Phrases that read on from the subject without a comma: ``reading x as ...``, ``bar x from ...``."""
_WITH_PHRASES = frozenset(
    ("widget", "pictured", "screens", "trace", "joint", "pipe", "touch", "phrase_line", "surface")
)
_VALUES = frozenset(
    ("bare", "group", "signal", "call", "inverse", "negative", "convert", "arithmetic", "compare", "either",
     "both", "end")
)  # fmt: skip
_COLLECTS = frozenset(("each",))


@dataclass(frozen=True)
class _Phrase:
    """A phrase's text, and whether it follows what is before it without a comma."""

    text: str
    runs_on: bool


@dataclass(frozen=True)
class _Sentence:
    """A sentence cut where it may be broken; ``least`` phrases have to stand on its first line.
    What is broken off stands below the line, or ``beside`` it when it is a line of phrases itself."""

    head: str
    phrases: tuple[_Phrase, ...] = ()
    least: int = 0
    beside: bool = False


@dataclass(frozen=True)
class _Item:
    """A line of the file to be: blank (no level), a comment or a sentence with its broken lines."""

    level: int | None
    lines: tuple[str, ...] = ()
    is_comment: bool = False


def tidy(text: str, file: str) -> tuple[str, list[Finding]]:
    """The file's text in the one style, with ``\\n`` line ends; tidying it again changes nothing.

    A text with findings comes back as it is, with them: what cannot be read cannot be set in order.
    """
    layout, findings = parse(text, file)
    if findings:
        return text, findings
    top, _ = read_lines(text, file)
    sentences: dict[int, tuple[int, _Sentence]] = {}
    for line in top:
        _collect(line, Start.TOP, 0, sentences)
    result = _written(_items(text, top, sentences))
    again, slips = parse(result, file)
    # Only a limit (a sentence's length, the deepest level) can stand between; then nothing is changed.
    return (result if not slips and alike(layout, again) else text), []


def alike(left: object, right: object) -> bool:
    """Whether two syntax trees mean the same: equal but for the places they were read from."""
    if isinstance(left, Span) and isinstance(right, Span):
        return True
    if isinstance(left, tuple) and isinstance(right, tuple):
        return len(left) == len(right) and all(map(alike, left, right))
    if is_dataclass(left) and type(left) is type(right):
        names = [item.name for item in fields(left) if item.compare]
        return all(alike(getattr(left, name), getattr(right, name)) for name in names)
    return left == right


# -- from lines to sentences


def _collect(line: Line, rule: Start, level: int, sentences: dict[int, tuple[int, _Sentence]]) -> None:
    node = read_sentence(rule, line.text)
    assert not isinstance(node, Slip), "the file has been parsed without findings"
    kind = str(node.data)
    if kind == "plan":
        _collect_plan(line, level, sentences)
        return
    sentences[line.number] = (level, _sentence(node, line.text))
    if kind in ("screen", "part"):
        _align_areas(line, level + 1, sentences)
        return
    for child in line.children:
        _collect(child, _rule_below(node, kind, child), level + 1, sentences)


def _rule_below(node: Node, kind: str, child: Line) -> Start:
    held = node
    if kind in ("area", Start.CONTENT):
        inner = [item for item in node.children if hasattr(item, "data")]
        if not inner:
            return Start.CONTENT
        held = inner[0]
    if str(held.data) in _COLLECTS:
        return Start.CONTENT
    return Start.TRACE if child.first_word() == "trace" else Start.PHRASE


def _collect_plan(line: Line, level: int, sentences: dict[int, tuple[int, _Sentence]]) -> None:
    sentences[line.number] = (level, _Sentence("plan"))
    rows = [re.split(rf"[{BLANK}]+", child.text.strip(BLANK)) for child in line.children]
    wanted = max((len(cell) for row in rows for cell in row[:-1]), default=0) + 2
    width = max(_CELL, wanted)
    count = max(map(len, rows), default=0)
    widths = [width] * count
    if (level + 1) * INDENT + width * count > WIDTH:
        widths = [max((len(row[at]) for row in rows if at < len(row)), default=0) + 2 for at in range(count)]
    for child, row in zip(line.children, rows, strict=True):
        drawn = "".join(f"{cell:<{size}}" for cell, size in zip(row, widths, strict=False)).rstrip()
        sentences[child.number] = (level + 1, _Sentence(drawn))


def _align_areas(head: Line, level: int, sentences: dict[int, tuple[int, _Sentence]]) -> None:
    """The lines of a screen or part; what stands in its areas begins in one column."""
    filled: dict[int, tuple[str, str]] = {}
    for line in head.children:
        _collect(line, Start.BODY, level, sentences)
        own = sentences[line.number][1].head
        words = own.split(" ", 2)
        if words[0] == "in" and len(words) == 3 and words[2] not in ("across", "down", "freely"):
            filled[line.number] = (words[1], words[2])
    names = [len(name) for name, _ in filled.values() if len(name) <= _LONG_AREA]
    width = max((_AREA, *(size + 2 for size in names)))
    for number, (name, rest) in filled.items():
        was = sentences[number][1]
        aligned = f"in {name:<{max(width, len(name) + 2)}}{rest}"
        sentences[number] = (level, _Sentence(aligned, was.phrases, was.least))


# -- from a tree to the sentence's text


def _sentence(node: Node, text: str) -> _Sentence:
    """The head and the phrases of a sentence, each with its spaces in order."""
    holder = node
    kind = str(node.data)
    if kind in ("area", Start.CONTENT):
        inner = [item for item in node.children if hasattr(item, "data")]
        holder = inner[0] if inner else node
    atoms = list(_atoms(node, text))
    phrases = []
    if str(holder.data) in _WITH_PHRASES:
        phrases = [item for item in holder.children if hasattr(item, "data")]
        phrases = [item for item in phrases if str(item.data) not in _VALUES]
    starts = [start_of(item) for item in phrases]
    ends = [*starts[1:], len(text)] if starts else []
    head = _spaced([atom for atom in atoms if not starts or atom.place < starts[0]])
    found: list[_Phrase] = []
    for at, (item, start, end) in enumerate(zip(phrases, starts, ends, strict=True)):
        own = _spaced([atom for atom in atoms if start <= atom.place < end])
        if at > 0 and str(item.data) == "at" and str(phrases[at - 1].data) == "named":
            found[-1] = _Phrase(f"{found[-1].text} {own}", found[-1].runs_on)
            continue
        runs_on = kind == "touch" or (str(holder.data) != "pipe" and str(item.data) in _RUNS_ON)
        found.append(_Phrase(own, at == 0 and runs_on))
    if not head:
        return _Sentence(found[0].text, tuple(found[1:]), beside=True)
    # A line below takes no screen of a row.
    least = sum(str(item.data) == "way" for item in phrases)
    return _Sentence(head, tuple(found), max(least, kind == "touch"))


@dataclass(frozen=True)
class _Atom:
    """A word, value or sign of a sentence; the flags say which space beside it goes."""

    place: int
    text: str
    tight_before: bool = False
    tight_after: bool = False


def _atoms(node: Node, text: str) -> Iterator[_Atom]:
    tokens: list[Any] = []
    calls: set[int] = set()
    unary: set[int] = set()
    for tree in node.iter_subtrees():
        tokens.extend(child for child in tree.children if not hasattr(child, "data"))
        if str(tree.data) == "call":
            calls.add(tree.children[0].end_pos)
        elif str(tree.data) == "negative":
            unary.add(tree.children[0].start_pos)
    # Equal sentences share one tree, and a tree may hold one token in two places.
    places = {token.start_pos: token for token in tokens}
    done = 0
    for start in sorted(places):
        token = places[start]
        yield from _signs(text, done, start, calls)
        done = token.end_pos
        numbered = re.match(r"[0-9]", text[done:].lstrip(BLANK)) if start in unary else None
        # '- 3' is minus and a number, '-3' is one number: the same value, but not the same tree.
        yield _Atom(start, _token(token), tight_after=start in unary and numbered is None)
    yield from _signs(text, done, len(text), calls)


def _signs(text: str, start: int, end: int, calls: set[int]) -> Iterator[_Atom]:
    """The language's own words, commas and brackets: the grammar leaves them out of its trees."""
    for found in re.finditer(rf"[,()\[\]]|[^,()\[\]{BLANK}]+", text[start:end]):
        sign, place = found.group(), start + found.start()
        called = sign == "(" and any(text[end_of_name:place].strip(BLANK) == "" and end_of_name <= place
                                     for end_of_name in calls)  # fmt: skip
        yield _Atom(place, sign, sign in ",)][" or called, sign in "([")


def _token(token: Any) -> str:
    text = str(token)
    if token.type == "QUANTITY":
        found = re.match(r"-?[0-9]+(?:\.[0-9]+)?", text)
        number = found.group() if found else text
        return f"{number} {text[len(number) :].strip(BLANK)}".rstrip()
    return text if token.type == "STRING" else " ".join(text.split())


def _spaced(atoms: Sequence[_Atom]) -> str:
    while atoms and atoms[-1].text == ",":
        atoms = atoms[:-1]
    pieces: list[str] = []
    for at, atom in enumerate(atoms):
        if at and not atom.tight_before and not atoms[at - 1].tight_after:
            pieces.append(" ")
        pieces.append(atom.text)
    return "".join(pieces)


# -- from sentences to the file


def _broken(level: int, sentence: _Sentence) -> list[str]:
    """The sentence in lines of at most ``WIDTH`` columns, broken only between phrases."""
    margin = " " * (INDENT * level)
    deeper = margin if sentence.beside else margin + " " * INDENT
    lines = [margin + sentence.head]
    for at, phrase in enumerate(sentence.phrases):
        joined = lines[-1] + (" " if phrase.runs_on else ", ") + phrase.text
        if at < sentence.least or len(joined) <= WIDTH:
            lines[-1] = joined
        else:
            lines.append(deeper + phrase.text)
    return lines


def _items(text: str, top: Sequence[Line], sentences: dict[int, tuple[int, _Sentence]]) -> list[_Item]:
    lines = {line.number: line for line in _all(top)}
    items: list[_Item] = []
    open_depths: list[int] = []
    pending: list[tuple[int, int]] = []
    for number, raw in enumerate(text.split("\n"), 1):
        line = lines.get(number)
        bare = raw.strip(BLANK + "\r\ufeff")
        if line is None:
            if bare:
                depth = len(raw[: len(raw) - len(raw.lstrip(" \t"))].expandtabs(INDENT))
                level = sum(own < depth for own in open_depths)
                pending.append((len(items), level))
            items.append(_Item(0 if bare else None, (bare,), True))
            continue
        level, sentence = sentences[number]
        for at, own in pending:
            items[at] = _Item(max(own, level), items[at].lines, True)
        pending = []
        del open_depths[level:]
        open_depths.append(line.column - 1)
        broken = _broken(level, sentence)
        after = raw[line.column - 1 + len(line.text) :].strip(BLANK + "\r")
        if after:
            broken[0] += f"  {after}"
        items.append(_Item(level, tuple(broken)))
    for at, own in pending:
        items[at] = _Item(own, items[at].lines, True)
    return items


def _all(lines: Sequence[Line]) -> Iterator[Line]:
    for line in lines:
        yield line
        yield from _all(line.children)


def _written(items: Sequence[_Item]) -> str:
    """The text, with one blank line at most between lines, none after an opening line, and one
    before each screen or part and the comments that stand directly above it."""
    kept: list[_Item] = []
    for at, item in enumerate(items):
        if item.level is None:
            following = next((later for later in items[at:] if later.level is not None), None)
            before = kept[-1] if kept else None
            if before is None or before.level is None or following is None:
                continue
            opens = not before.is_comment and (following.level or 0) > before.level
            if not opens:
                kept.append(item)
            continue
        if item.level == 0 and not item.is_comment:
            start = len(kept)
            while start and kept[start - 1].is_comment and kept[start - 1].level == 0:
                start -= 1
            if start and kept[start - 1].level is not None:
                kept.insert(start, _Item(None))
        kept.append(item)
    out: list[str] = []
    for item in kept:
        if item.level is None:
            out.append("")
        elif item.is_comment:
            out.append(" " * (INDENT * item.level) + item.lines[0])
        else:
            out.extend(item.lines)
    return "\n".join(out) + "\n" if out else ""
