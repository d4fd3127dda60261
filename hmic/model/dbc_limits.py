"""Sizes in a description of messages, looked at before a library makes room for them.

A few letters can ask for any amount of memory or time: a length, a range of pages or of identifiers. So
the text is gone through once, in the tokens of its form, and refused at the first that is beyond
``bounds``. What is no size, or in no order, is left to the library.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from xml.parsers import expat

from hmic.diagnostics import Finding, Span, error
from hmic.language.design_bounds import (
    MOST_BYTES,
    MOST_FIELDS,
    MOST_MESSAGES,
    MOST_NESTED,
    MOST_PAGED,
    MOST_SENDERS,
)

_BITS = 8 * MOST_BYTES
_DIGITS = 18
"""Of a number that is counted; one with more is beyond every limit."""
_HUGE: int = 10**_DIGITS


@dataclass(frozen=True)
class _Size:
    """An amount of something, and where in the text it stands."""

    what: str
    amount: int
    most: int
    start: int
    end: int


def beyond(text: str, form: str) -> _Size | None:
    """The first size in a description that is beyond its limit. ``form`` is dbc, kcd, arxml or sym."""
    sizes = {"kcd": _xml, "arxml": _xml, "sym": _sym}.get(form, _dbc)
    return next((size for size in sizes(text) if size.amount > size.most), None)


def refusal(size: _Size, text: str, file: str) -> Finding:
    """What to say of a size beyond its limit."""
    line = text.count("\n", 0, size.start) + 1
    column = size.start - text.rfind("\n", 0, size.start)
    span = Span(file, line, column, line, column + max(1, size.end - size.start))
    message = f"{size.what}: more than {size.most} are not read" if size.most else f"{size.what} is not read"
    return error("M218", message, span, "correct it, or take out what the design does not use")


def _number(text: str, base: int = 10) -> int:
    """A whole number; 0 for what is none, or is negative."""
    try:
        return max(0, int(text, base)) if len(text) <= _DIGITS else _HUGE
    except ValueError:
        return 0


def _between(what: str, amount: int, most: int, first: re.Match[str], last: re.Match[str]) -> _Size:
    return _Size(what, amount, most, first.start(), last.end())


# DBC --------------------------------------------------------------------------------------------

_TOKEN = re.compile(r'"(?:\\"|[^"])*?"|//[^\n]*|[-+]?\d+\.?\d*(?:[eE][+-]?\d+)?|\w+|[:|@;]')
_STATEMENTS = frozenset(("BO_", "SG_", "SG_MUL_VAL_", "VAL_", "BO_TX_BU_", "CM_", "BA_"))
_HEAD = 7
"""Tokens of a statement that are looked at together."""


@dataclass
class _Message:
    """``marks``: the names of its multiplexed fields, each with its ``M``, ``m3`` or ``m3M``."""

    number: int
    place: re.Match[str]
    fields: int = 0
    marks: list[tuple[str, str]] = field(default_factory=list)


class _Dbc:
    """A DBC file on the way through its tokens."""

    def __init__(self) -> None:
        self.messages: list[_Message] = []
        self.fields = self.pages = self.senders = 0
        self.ranges: defaultdict[int, dict[str, dict[str, int]]] = defaultdict(dict)
        """By message, what selects, and field: on how many pages it stands."""
        self.choices: defaultdict[tuple[int, str], int] = defaultdict(int)

    def declared(self, said: Sequence[re.Match[str]]) -> Iterator[_Size]:
        """What the beginning of a statement says with its last token."""
        last = said[-1]
        match [token.group() for token in said]:
            case ["BO_", number, _, ":", length]:
                self.messages.append(_Message(_number(number), said[0]))
                yield _between("messages", len(self.messages), MOST_MESSAGES, said[0], said[2])
                yield _between("bytes of a message", _number(length), MOST_BYTES, last, last)
            case ["SG_", name, *mark, ":", start, "|", length] if len(mark) < 2 and self.messages:
                message = self.messages[-1]
                message.fields += 1
                self.fields += 1
                message.marks += [(name, word) for word in mark]
                yield _between("fields of a message", message.fields, MOST_FIELDS, said[0], said[1])
                yield _between("fields", self.fields, MOST_PAGED, said[0], said[1])
                yield _between("bits before a field", _number(start), _BITS, said[-3], said[-3])
                yield _between("bits of a field", _number(length), _BITS, last, last)

    def listed(
        self, head: Sequence[re.Match[str]], before: re.Match[str], last: re.Match[str]
    ) -> Iterator[_Size]:
        """What one more token of a list in a statement says."""
        word = last.group()
        match head[0].group():
            case "SG_MUL_VAL_" if len(head) > 4 and word[0] == "-":
                number, name, above = (token.group() for token in head[1:4])
                below = self.ranges[_number(number)].setdefault(above, {})
                extent = max(0, _number(word[1:]) - _number(before.group()) + 1)
                self.pages += extent
                below[name] = below.get(name, 0) + extent
                yield _between("pages of fields", self.pages, MOST_PAGED, before, last)
            case "VAL_" if len(head) > 3 and word[0] == '"':
                self.choices[_number(head[1].group()), head[2].group()] += 1
            case "BO_TX_BU_" if len(head) > 3:
                self.senders += 1
                yield _between("senders of messages", self.senders, MOST_SENDERS, last, last)

    def on_pages(self) -> Iterator[_Size]:
        """At the end: the fields on all pages."""
        fields = self.fields
        for message in self.messages:
            ranges = self.ranges.get(message.number, {})
            chosen = {name: self.choices.get((message.number, name), 0) for name, _ in message.marks}
            count, depth = _paged(message.marks, ranges, chosen)
            fields += count
            at = message.place
            yield _between("multiplexers in multiplexers", depth, MOST_NESTED, at, at)
            yield _between("fields, each counted on all its pages", fields, MOST_PAGED, at, at)


def _dbc(text: str) -> Iterator[_Size]:
    file = _Dbc()
    head: list[re.Match[str]] = []
    before = None
    for token in _TOKEN.finditer(text):
        word = token.group()
        if word in _STATEMENTS:
            head = [token] if word not in ("CM_", "BA_") else []
        elif word == ";":
            head = []
        elif head and not word.startswith("//"):
            if len(head) < _HEAD:
                head.append(token)
                yield from file.declared(head)
            if before is not None:
                yield from file.listed(head, before, token)
        before = token
    yield from file.on_pages()


def _paged(
    marks: Sequence[tuple[str, str]], ranges: Mapping[str, Mapping[str, int]], chosen: Mapping[str, int]
) -> tuple[int, int]:
    """The multiplexed fields of a message, each counted on every page that it stands on, and how deep
    they select each other. On each page of a field that selects stand those that it selects."""
    selecting = [name for name, mark in marks if mark.endswith("M")]
    above = {name: selector for selector, names in ranges.items() for name in names}
    below: defaultdict[str, list[tuple[str, int]]] = defaultdict(list)
    for name, _ in marks:
        if len(selecting) != 1:
            selector = above.get(name, "")
            below[selector].append((name, ranges[selector][name] if selector else 1))
        elif name in selecting:
            below[""].append((name, 1))
        else:
            below[selecting[0]].append((name, 1 + ranges.get(selecting[0], {}).get(name, 0)))
    known: dict[str, tuple[int, int]] = {}

    def counted(name: str, depth: int) -> tuple[int, int]:
        if name in known or depth > MOST_NESTED + 1:
            return known.get(name, (0, 1))
        total, deepest = chosen.get(name, 0), 0
        for other, extent in below.get(name, ()):
            count, deep = counted(other, depth + 1)
            total, deepest = total + extent * (1 + count), max(deepest, deep)
        known[name] = total, deepest + (name in below)
        return known[name]

    total, deepest = counted("", 0)
    return total, deepest - 1


# SYM --------------------------------------------------------------------------------------------

_HIDDEN = re.compile(r'"(?:\\"|[^"])*?"|//[^\n]*')
_SYM = re.compile(
    r"\[(?P<name>[^\]]*)"
    r"|ID\s*=\s*(?P<first>\w+)h(?:\s*-\s*(?P<last>\w+)h)?"
    r"|(?P<kind>Sig|Var|Len|Mux)\s*=(?=(?P<numbers>[^=/\[{]*))"
)
_WHOLE = re.compile(r"(?<![\w.])\d+(?![\w.])")
_LONG = re.compile(r"\d[0-9A-F]{40,}")
"""The library goes through a number once for each of its digits."""


def _sym(text: str) -> Iterator[_Size]:
    # Blanks keep every place.
    bare = _HIDDEN.sub(lambda found: re.sub(r"[^\n]", " ", found.group()), text)
    for found in _LONG.finditer(bare):
        yield _between("digits of a number", len(found.group()), 40, found, found)
    # Sections of one name are pages of one message, which stands once for each identifier.
    messages: defaultdict[str, int] = defaultdict(int)
    fields: defaultdict[str, int] = defaultdict(int)
    name, sections, identifiers, amount = "", 0, 0, 0
    for found in _SYM.finditer(bare):
        if found["name"] is not None:
            name = text[found.start("name") : found.end("name")]
            sections += 1
            yield _between("messages", sections, MOST_MESSAGES, found, found)
        elif found["first"]:
            extent = 1
            if found["last"]:
                extent += max(0, _number(found["last"], 16) - _number(found["first"], 16))
            identifiers, amount = identifiers + extent, amount + extent * fields[name]
            messages[name] += extent
            yield _between("messages, one an identifier", identifiers, MOST_MESSAGES, found, found)
        else:
            if found["kind"] in ("Sig", "Var"):
                fields[name], amount = fields[name] + 1, amount + messages[name]
            # The third number of a Mux is the page.
            for number in list(_WHOLE.finditer(found["numbers"]))[:2]:
                start, end = (found.start("numbers") + at for at in number.span())
                yield _Size("bits or bytes", _number(number.group()), _BITS, start, end)
        yield _between("fields, one an identifier and page", amount, MOST_MESSAGES, found, found)


# KCD and ARXML ----------------------------------------------------------------------------------


class _Beyond(Exception):
    """Carries a size out of the XML parser."""

    def __init__(self, size: _Size) -> None:
        super().__init__(size.what)
        self.size = size


def _xml(text: str) -> Iterator[_Size]:
    try:
        reader = _Xml(text)
        reader.parser.Parse(reader.data, True)
    except expat.ExpatError:
        # What is no XML is told by the library's reader.
        return
    except _Beyond as beyond:
        yield beyond.size


class _Xml:
    """An XML file on the way through its elements."""

    def __init__(self, text: str) -> None:
        self.data = text.encode("utf-8", errors="replace")
        self.messages = self.fields = 0
        self.said: list[str] = []
        self.parser = parser = expat.ParserCreate("utf-8")
        parser.StartElementHandler, parser.EndElementHandler = self.start, self.end
        parser.CharacterDataHandler = self.said.append
        parser.EntityDeclHandler = self.entity

    def see(self, what: str, amount: int, most: int) -> None:
        """Raises ``_Beyond``."""
        if amount > most:
            at = len(self.data[: max(0, self.parser.CurrentByteIndex)].decode("utf-8", errors="replace"))
            raise _Beyond(_Size(what, amount, most, at, at + 1))

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """Of a KCD these attributes are sizes."""
        self.said.clear()
        kind = name.rpartition(":")[2]
        if kind in ("Message", "CAN-FRAME"):
            self.messages, self.fields = self.messages + 1, 0
        self.fields += kind == "Signal"
        self.see("messages", self.messages, MOST_MESSAGES)
        self.see("fields of a message", self.fields, MOST_FIELDS)
        for key in ("length", "offset"):
            self.see("bits or bytes", _number(attributes.get(key, "").strip()), _BITS)

    def end(self, name: str) -> None:
        """Of an ARXML these elements are sizes."""
        if name.endswith(("LENGTH", "POSITION")):
            self.see("bits or bytes", _number("".join(self.said).strip()), _BITS)

    def entity(self, name: str, *_: object) -> None:
        """Texts that stand for each other can grow without end."""
        self.see(f"a text that stands for another, '{name}',", 1, 0)
