"""What can be used of a DBC file of which a library cannot read all.

A statement that cannot be read is left out, told with its line and the reason; so is one that belongs to
nothing. What would change the meaning of a field that stays (the kind of its number, its page) takes the
field with it. Lines keep their numbers.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from hmic.model.dbc_lines import dbc_slip

EFFORT = 4_000_000
"""Letters that are read anew, in all, to find what is wrong; a file of 4 MB is read twice."""
FLAG_29 = 0x80000000
"""What a DBC adds to an identifier of 29 bits."""
_HIGHEST_11, _HIGHEST_29 = 0x7FF, 0x1FFFFFFF
_NO_MESSAGE = "VECTOR__INDEPENDENT_SIG_MSG"
"""The message that holds fields without one, by the convention of the format."""
_KEYWORD = re.compile(r"\s*(SG_|BO_|[A-Z][A-Z_]*_|VERSION|FILTER)(?=[\s:]|$)")
_MESSAGE = re.compile(r"\s*BO_\s+(\d+)\s+(\w+)")
_FIELD = re.compile(r"\s*SG_\s+(\w+)")
_TURN = re.compile(r"\s*SG_\s+\w+\s+(M|m\d+M?)\s*:")
_MESSAGE_NAME = re.compile(r"\s*BO_\s+\S+\s+([^\s:]+)")
_FIELD_NAME = re.compile(r"\s*SG_\s+([^\s:]+)")
_BELONGS = re.compile(r"\s*(VAL_|SIG_VALTYPE_|SG_MUL_VAL_|SIG_GROUP_)\s+(\d+)\s+(\w+)?")
_CHANGES_MEANING = ("SIG_VALTYPE_", "SG_MUL_VAL_")
_LONGEST = 200
"""Lines of one statement; a string that goes on for longer was never closed."""


@dataclass(frozen=True)
class Slip:
    """A place (counted from 1) that was not read as it stands: what is wrong, and what to do.
    ``message`` and ``fields`` are what was left out, as far as that has names; with ``kept`` nothing was."""

    line: int
    column: int
    what: str
    remedy: str
    message: str = ""
    fields: tuple[str, ...] = ()
    kept: bool = False


class Unreadable(Exception):
    """Nothing can be used: the reason in words, and the place where one is known."""

    def __init__(self, reason: str, line: int | None = None, column: int = 1) -> None:
        super().__init__(reason)
        self.reason, self.line, self.column = reason, line, column


def read_mended(text: str, load: Callable[[str], Any]) -> tuple[Any, tuple[Slip, ...]]:
    """What ``load`` makes of a text, or of the most of it that it can read, and what was left out. Raises
    Unreadable."""
    mending = _Mending(text)
    mending.identifiers()
    mending.pages()
    try:
        return load(mending.text), mending.told()
    except Exception:
        # Whatever it was: what is known to go wrong is looked for, then the library says where.
        mending.statements()
    effort = 0
    while True:
        try:
            return load(mending.text), mending.told()
        except Exception as fault:
            effort += len(text) + 1000
            line, column = _place(fault)
            if line is None or effort > EFFORT or not mending.leave_out(line, column):
                raise Unreadable(reason_of(fault), line, column) from None


def _place(fault: Exception) -> tuple[int | None, int]:
    """Where the library's own parser stopped."""
    inner = getattr(fault, "e_dbc", None) or fault
    line, column = getattr(inner, "line", None), getattr(inner, "column", 1)
    return (line, column) if isinstance(line, int) else (None, 1)


def reason_of(fault: Exception) -> str:
    """Why a library refused a file, without its own names."""
    kinds = ("e_dbc", "e_kcd", "e_sym", "e_arxml")
    inner = next((each for kind in kinds if (each := getattr(fault, kind, None)) is not None), fault)
    if type(inner).__module__.partition(".")[0] == "builtins" and not isinstance(inner, ValueError):
        # A slip of the reader, such as an attribute of None, says nothing of the file.
        return "something in it is not as the reader expects"
    return " ".join(str(inner).split()).rstrip(".") or "it is not as the reader expects"


def _within_strings(lines: Sequence[str]) -> set[int]:
    """The lines that begin within a string, such as those of a remark. A line of a message or field opens
    none, and a string that is not closed for long was never one."""
    within: set[int] = set()
    opened: int | None = None
    for at, line in enumerate(lines):
        if opened is not None:
            within.add(at)
        elif line.lstrip().startswith(("SG_ ", "BO_ ")):
            continue
        if len(re.findall(r'(?<!\\)"', line)) % 2:
            opened = at if opened is None else None
        if opened is not None and at - opened > _LONGEST:
            within.difference_update(range(opened, at + 1))
            opened = None
    return within


class _Mending:
    """A file's lines, of which some are emptied."""

    def __init__(self, text: str) -> None:
        self._lines = text.split("\n")
        self._slips: list[Slip] = []
        self._blamed: set[int] = set()
        self._within = _within_strings(self._lines)

    @property
    def text(self) -> str:
        return "\n".join(self._lines)

    def told(self) -> tuple[Slip, ...]:
        return tuple(sorted(self._slips, key=lambda slip: (slip.line, slip.column)))

    def identifiers(self) -> None:
        """Identifiers that no frame has. One of more than 11 bits without the mark of 29 can mean one
        thing only; its file is read as if it stood there."""
        marked: dict[str, int] = {}
        for at, line in enumerate(self._lines):
            found = _MESSAGE.match(line)
            if found is None or found[2] == _NO_MESSAGE:
                continue
            number, name = int(found[1]), found[2]
            if _HIGHEST_11 < number <= _HIGHEST_29:
                marked[found[1]] = number + FLAG_29
                what = f"the identifier of '{name}' has more than 11 bits, and the mark of 29 bits lacks"
                what, remedy = f"{what}: taken as one of 29", f"write {number + FLAG_29}"
                self._slips.append(Slip(at + 1, found.start(1) + 1, what, remedy, name, kept=True))
            elif number & ~FLAG_29 > _HIGHEST_29:
                self._tell(at, found.start(1), f"no frame has the identifier of '{name}'", "correct it")
                self._empty_message(at)
        if marked:
            self._mark(marked)

    def _mark(self, marked: dict[str, int]) -> None:
        among = "|".join(sorted(marked, key=len, reverse=True))
        of = re.compile(
            r"(\s*(?:BO_|VAL_|SIG_VALTYPE_|SG_MUL_VAL_|SIG_GROUP_|BO_TX_BU_|CM_\s+(?:BO_|SG_)"
            r'|BA_\s+"[^"]*"\s+(?:BO_|SG_))\s+)(' + among + r")\b"
        )
        for at, line in enumerate(self._lines):
            found = of.match(line)
            if found is not None:
                self._lines[at] = f"{found[1]}{marked[found[2]]}{line[found.end() :]}"

    def statements(self) -> None:
        """Lines of messages and fields that are of no such form, and values of what is not there."""
        for at, line in enumerate(self._lines):
            slip = dbc_slip(line.rstrip("\r"))
            if slip is None or at in self._within:
                continue
            column, wanted, form = slip
            self._tell(
                at, column - 1, f"here should stand {wanted}", f"a line of this kind looks like: {form}"
            )
            if line.lstrip().startswith("BO_"):
                self._empty_message(at)
            else:
                self._lines[at] = ""
        self.pages()
        self._orphans()

    def pages(self) -> None:
        """Fields that come by turns, in a message without a field that selects them: a library would take
        every frame to hold them all."""
        turns: list[int] = []
        selected = False
        for at, line in enumerate([*self._lines, "BO_"]):
            if found := _TURN.match(line):
                selected = selected or found[1].endswith("M")
                turns += [] if found[1] == "M" else [at]
            elif line.lstrip().startswith("BO_"):
                for each in [] if selected else turns:
                    self._tell(each, 0, "no field of its message selects this one", _REMEDY)
                    self._lines[each] = ""
                turns, selected = [], False

    def _orphans(self) -> None:
        """Values given to what is not there; told where that is the file's own slip."""
        known = self._known()
        for at, line in enumerate(self._lines):
            found = _BELONGS.match(line)
            if found is None:
                continue
            fields = known.get(found[2], set())
            if fields is None or found[3] not in fields | ({found[3]} if found[1] == "SIG_GROUP_" else set()):
                if fields is not None and not self._left_out(found[3] or ""):
                    what = f"'{found[3] or found[2]}' is given values, but there is no such field"
                    self._tell(at, found.start(2), what, "take the line out")
                self._empty(at)

    def _left_out(self, name: str) -> bool:
        return any(name == slip.message or name in slip.fields for slip in self._slips)

    def _known(self) -> dict[str, set[str] | None]:
        """The fields of each message by its identifier as written; None for fields without a message."""
        known: dict[str, set[str] | None] = {}
        fields: set[str] = set()
        for line in self._lines:
            if found := _MESSAGE.match(line):
                fields = set()
                if found[2] == _NO_MESSAGE:
                    known[found[1]] = None
                elif (before := known.setdefault(found[1], fields)) is not None:
                    fields = before
            elif found := _FIELD.match(line):
                fields.add(found[1])
        return known

    def leave_out(self, line: int, column: int) -> bool:
        """Leaves out the statement at which a parser stopped; False where that is not possible."""
        at = min(line, len(self._lines)) - 1
        what = "this is not understood"
        start = len(self._lines[at]) - len(self._lines[at].lstrip())
        if column <= start + 1 and self._begins(at) and at not in self._blamed:
            # It stopped before this statement: more likely than not the one before has no end.
            self._blamed.add(at)
            at, column, what = self._written_before(at), 1, "this has no end"
        first = self._first(at)
        if first is None or not self._lines[first].strip() or self._takes_a_meaning(first):
            return False
        self._tell(at, column - 1, what, _REMEDY)
        if _MESSAGE.match(self._lines[first]):
            self._empty_message(first)
        else:
            self._empty(first)
        self.pages()
        self._orphans()
        return True

    def _written_before(self, at: int) -> int:
        """The line before that is not blank."""
        return next((back for back in range(at - 1, -1, -1) if self._lines[back].strip()), at)

    def _takes_a_meaning(self, first: int) -> bool:
        """Whether leaving out this statement would let a field that stays mean something else; where its
        field is known, that is left out with it."""
        line = self._lines[first]
        if not line.lstrip().startswith(_CHANGES_MEANING):
            return False
        found = _BELONGS.match(line)
        if found is None or not found[3]:
            return True
        for at, field in self._fields_of(found[2]):
            if field == found[3]:
                self._tell(at, 0, f"what line {first + 1} says of this field is not understood", _REMEDY)
                self._lines[at] = ""
        return False

    def _fields_of(self, identifier: str) -> list[tuple[int, str]]:
        inside, found = False, []
        for at, line in enumerate(self._lines):
            if message := _MESSAGE.match(line):
                inside = message[1] == identifier
            elif inside and (field := _FIELD.match(line)):
                found.append((at, field[1]))
        return found

    def _first(self, at: int) -> int | None:
        """The first line of the statement that a line is of."""
        return next((back for back in range(at, max(-1, at - _LONGEST), -1) if self._begins(back)), None)

    def _begins(self, at: int) -> bool:
        return at not in self._within and _KEYWORD.match(self._lines[at]) is not None

    def _empty(self, first: int) -> None:
        """Empties a statement, to the next one or a blank line."""
        self._lines[first] = ""
        for at in range(first + 1, min(first + _LONGEST, len(self._lines))):
            if self._begins(at):
                return
            self._lines[at] = ""

    def _empty_message(self, first: int) -> None:
        self._lines[first] = ""
        for at in range(first + 1, len(self._lines)):
            if not self._lines[at].strip():
                continue
            if not _FIELD.match(self._lines[at]) and _KEYWORD.match(self._lines[at]):
                return
            self._lines[at] = ""

    def _tell(self, at: int, column: int, what: str, remedy: str) -> None:
        """Notes what is wrong in a line that still stands, and the names that go with it."""
        message, fields = "", []
        if found := _MESSAGE_NAME.match(self._lines[at]):
            message = found[1]
            for line in self._lines[at + 1 :]:
                if not (field := _FIELD_NAME.match(line)) and line.strip():
                    break
                fields += [field[1]] if field else []
        elif found := _FIELD_NAME.match(self._lines[at]):
            fields = [found[1]]
            above = (_MESSAGE_NAME.match(self._lines[back]) for back in range(at, -1, -1))
            message = next((each[1] for each in above if each is not None), "")
        self._slips.append(Slip(at + 1, column + 1, what, remedy, message, tuple(fields)))


_REMEDY = "correct the line, or take it out"
