"""Logs written as lines of text: candump in both its forms, ASC, TRC, CRTD, and lines that name their parts.

Each form is told by its content. A parser takes one line and gives its frame, None for a line that holds
no data frame by the rules of its form (a remark, a remote frame, an error), or raises ``ValueError`` for
one that cannot be what the form says.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from hmic.sources.frame import EXTENDED, LENGTHS, STANDARD, Row

Parse = Callable[[str], Row | None]

APART = 0.001
"""Seconds between the frames of a log without times."""
LIKELY = 10
"""Frames in the first lines of a file that make it a log, whatever else stands there."""


@dataclass(frozen=True)
class TextLog:
    """How the lines of a log are read. ``open_points`` are sentences on what the log does not say, and how
    it was taken."""

    form: str
    parse: Parse
    open_points: tuple[str, ...] = ()


def text_log(head: Sequence[str]) -> TextLog | None:
    """How a text that begins with these lines is read; None where too few of them hold frames. ``head``
    is read again by the parser that comes back: it starts at the first line."""
    said = _form_said(head)
    if said is not None:
        return said(head)
    best: Callable[[Sequence[str]], TextLog] | None = None
    most = 0
    for form in (_candump, _screen, _trc, _asc, _crtd, _tab_trace, _named):
        frames, bad = _counts(form(head).parse, head)
        if frames > most and (frames >= LIKELY or frames >= bad):
            best, most = form, frames
    return None if best is None else best(head)


def _form_said(head: Sequence[str]) -> Callable[[Sequence[str]], TextLog] | None:
    """The form that the first lines name."""
    for line in head:
        if line.startswith(";$FILEVERSION"):
            return _trc
        if _ASC_BASE.match(line):
            return _asc
    return None


def _counts(parse: Parse, lines: Sequence[str]) -> tuple[int, int]:
    """Frames, and lines that are no part of such a log."""
    frames = bad = 0
    for line in lines:
        try:
            frames += parse(line) is not None
        except (ValueError, IndexError):
            bad += 1
    return frames, bad


def _identified(text: str, extended: bool) -> int:
    identifier = int(text, 16)
    if identifier > (EXTENDED if extended else STANDARD):
        raise ValueError("no identifier is as high")
    return identifier


class Untimed:
    """Times for a log that has none."""

    def __init__(self) -> None:
        self._count = 0

    def __call__(self) -> float:
        self._count += 1
        return (self._count - 1) * APART


NO_TIMES = f"it has no times: its frames are taken as {APART * 1000:g} ms apart, so periods mean nothing"
DELTAS = "its times are taken as counted from line to line"

# candump -l -----------------------------------------------------------------------------------

_CANDUMP = re.compile(
    r"\s*(?:\(\s*(-?[0-9]+\.?[0-9]*)\)\s+)?(\S+)\s+([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(?:#[0-9A-Fa-f])?"
    r"((?:[0-9A-Fa-f]{2})*)(?:_[0-9A-Fa-f])?(?:\s.*)?$"
)
_CANDUMP_NOT_DATA = re.compile(r"\s*(?:\([^)]*\)\s+)?\S+\s+[0-9A-Fa-f]{3,8}#R[0-9A-Fa-f]?\b|\s*(?:#.*)?$")
_ERROR_FRAME = 0x20000000


def _candump(head: Sequence[str]) -> TextLog:
    """``(1436509052.249713) can0 1F334455#1122334455667788``, as ``candump -l`` writes (can-utils)."""
    timed = any(found[1] for line in head if (found := _CANDUMP.match(line)))
    untimed = Untimed()
    match = _CANDUMP.match

    def parse(line: str) -> Row | None:
        found = match(line)
        if found is None:
            if _CANDUMP_NOT_DATA.match(line):
                return None
            raise ValueError("it is no line of candump")
        stamp, channel, identifier, data = found.groups()
        extended = len(identifier) == 8
        number = int(identifier, 16)
        if number > (EXTENDED if extended else STANDARD):
            if extended and number & _ERROR_FRAME:
                return None
            raise ValueError("no identifier is as high")
        if timed and stamp is None:
            raise ValueError("it has no time")
        return float(stamp) if timed else untimed(), number, extended, bytes.fromhex(data), channel

    return TextLog("candump log", parse, () if timed else (NO_TIMES,))


# candump on a screen --------------------------------------------------------------------------

_SCREEN = re.compile(
    r"\s*(?:\(\s*([^)]*?)\s*\)\s+)?(?:([^\s(<\[]+)\s+)?(?:[RT]X\s+\S\s+\S\s+)?"
    r"(?:<0x([0-9A-Fa-f]+)>|([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8}))\s+\[([0-9]{1,2})\](.*)$"
)


def _screen(head: Sequence[str]) -> TextLog:
    """``(1436509052.249713)  can0  123   [2]  11 22   '.."'``, as candump shows frames: time and letters
    are there or not, and old versions write the identifier as ``<0x123>``."""
    stamps = [found[1] for line in head if (found := _SCREEN.match(line)) and found[1] is not None]
    deltas = _from_line_to_line(stamps)
    untimed = Untimed()
    before = 0.0

    def parse(line: str) -> Row | None:
        nonlocal before
        found = _SCREEN.match(line)
        if found is None:
            if not line.strip() or line.lstrip().startswith("#"):
                return None
            raise ValueError("it is no line of candump")
        stamp, channel, old, identifier, length, rest = found.groups()
        at = _moment(stamp) if stamps else untimed()
        if deltas:
            before = at = before + at
        said = rest.split("'")[0].split("`")[0].split()
        if said and not re.fullmatch(r"[0-9A-Fa-f]{2}", said[0]):
            # A remote request, or an error frame.
            return None
        extended = len(identifier) == 8 if identifier is not None else int(old, 16) > STANDARD
        number = int(identifier or old, 16)
        if number > (EXTENDED if extended else STANDARD):
            if number & _ERROR_FRAME:
                return None
            raise ValueError("no identifier is as high")
        count = int(length)
        if len(said) < count:
            raise ValueError(f"it says {count} bytes and has {len(said)}")
        return at, number, extended, bytes.fromhex("".join(said[:count])), channel

    points = () if stamps else (NO_TIMES,)
    return TextLog("candump screen text", parse, (DELTAS,) if deltas else points)


def _from_line_to_line(stamps: Sequence[str]) -> bool:
    """Whether stamps look like differences: many of them run backwards."""
    times = []
    for stamp in stamps:
        try:
            times.append(float(stamp))
        except ValueError:
            return False
    back = sum(after < before for before, after in pairwise(times))
    return len(times) >= LIKELY and 5 * back > len(times)


def _moment(text: str | None) -> float:
    """Seconds of a stamp: a number, or a date with a time of day."""
    if text is None:
        raise ValueError("it has no time")
    try:
        return float(text)
    except ValueError:
        return clock_seconds(text)


_CLOCK = re.compile(
    r"(?:(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})[T\s-]+)?(\d{1,2}):(\d{2}):(\d{2})(?:[.,:](\d{1,9}))?"
    r"(?::\d+\.\d+)?\s*(?:Z|[+-]\d\d:?\d\d)?$"
)


def clock_seconds(text: str) -> float:
    """Seconds of ``17:18:39.303``, with or without a date before it. Raises ValueError."""
    found = _CLOCK.match(text.strip())
    if found is None:
        raise ValueError(f"'{text.strip()[:30]}' is no time")
    year, month, day, hour, minute, second, part = found.groups()
    seconds = int(hour) * 3600 + int(minute) * 60 + int(second) + float(f"0.{part or 0}")
    days = (date(int(year), int(month), int(day)) - date(1970, 1, 1)).days if year else 0
    return days * 86400.0 + seconds


# TRC ------------------------------------------------------------------------------------------

_TRC_COLUMNS = {"1.0": "NOILD", "1.1": "NOTILD", "1.2": "NOBTILD", "1.3": "NOBTIRLD"}
_TRC_2 = {"2.0": "N,O,T,I,d,l,D", "2.1": "N,O,T,B,I,d,R,L,D"}
_TRC_DATA = frozenset(("Rx", "Tx", "DT", "FD", "FB", "FE", "BI"))


def _trc(head: Sequence[str]) -> TextLog:
    """PCAN's trace files of versions 1.0 to 2.1: columns of fixed meaning, times in ms. In the header
    ``;$COLUMNS=`` N is the number, O the time, T the type, B the bus, I the identifier, d the direction, R
    a reserved column, L the length code, l the length, D the bytes."""
    version, columns = "1.0", ""
    for line in head:
        if found := re.match(r";\$FILEVERSION=([0-9.]+)", line):
            version = found[1]
        elif found := re.match(r";\$COLUMNS=([A-Za-z,]+)", line):
            columns = found[1]
    names = columns or _TRC_2.get(version, "")
    order = names.split(",") if names else list(_TRC_COLUMNS.get(version, "NOILD"))
    place = {name: at for at, name in enumerate(order)}
    if not place.keys() >= {"O", "I", "D"} or not place.keys() & {"L", "l"}:
        order = list("NOILD")
        place = {name: at for at, name in enumerate(order)}

    def parse(line: str) -> Row | None:
        if not line.strip() or line.lstrip().startswith(";"):
            return None
        cells = line.split(maxsplit=len(order) - 1)
        if version.startswith("1") and not cells[0].endswith(")"):
            raise ValueError("it is no line of a trace")
        kind = cells[place["T"]] if "T" in place else "DT"
        identifier = cells[place["I"]]
        if kind not in _TRC_DATA or identifier == "FFFFFFFF":
            # A change of the bus's state, an error, a remote frame.
            return None
        rest = cells[place["D"]].split() if len(cells) > place["D"] else []
        if rest and rest[0] == "RTR":
            return None
        count = _trc_length(cells, place, kind)
        if len(rest) < count:
            raise ValueError(f"it says {count} bytes and has {len(rest)}")
        channel = cells[place["B"]] if "B" in place else None
        extended = len(identifier) > 4
        number = _identified(identifier, extended)
        at = float(cells[place["O"]]) / 1000
        return at, number, extended, bytes.fromhex("".join(rest[:count])), channel

    return TextLog(f"TRC {version}", parse)


def _trc_length(cells: Sequence[str], place: dict[str, int], kind: str) -> int:
    if "l" in place:
        return int(cells[place["l"]])
    code = int(cells[place["L"]])
    return LENGTHS[code] if kind in ("FD", "FB", "FE", "BI") else min(code, 8)


# ASC ------------------------------------------------------------------------------------------

_ASC_BASE = re.compile(r"\s*base\s+(hex|dec)\s+timestamps\s+(absolute|relative)", re.I)
_ASC_DATA = re.compile(r"\s[RT]x\s+d\s")


def _asc(head: Sequence[str]) -> TextLog:
    """ASC logs: ``0.015991 1 64 Rx d 8 00 01 ...``, identifiers and bytes by the base that the header
    says, times from its start or from line to line, CAN FD in lines of their own."""
    base, deltas = 16, False
    for line in head:
        if found := _ASC_BASE.match(line):
            base = 16 if found[1].lower() == "hex" else 10
            deltas = found[2].lower() == "relative"
            break
    before = 0.0

    def parse(line: str) -> Row | None:
        nonlocal before
        cells = line.split()
        if len(cells) < 3 or not cells[0][:1].isdigit():
            if _ASC_DATA.search(line):
                raise ValueError("it has no time")
            return None
        at = float(cells[0])
        if deltas:
            before = at = before + at
        if cells[1] == "CANFD":
            return _asc_fd(at, cells, base)
        if not cells[1].isdigit() or len(cells) < 5 or cells[3] not in ("Rx", "Tx", "TxRq"):
            return None
        if cells[4] != "d":
            return None
        number, extended = _asc_identifier(cells[2], base)
        # The length is a digit of base 16 always; a classic frame has 8 bytes at most.
        count = min(int(cells[5], 16), 8)
        return at, number, extended, _bytes(cells[6 : 6 + count], count, base), cells[1]

    return TextLog("ASC", parse)


def _asc_fd(at: float, cells: Sequence[str], base: int) -> Row | None:
    """``time CANFD channel direction identifier [name] BRS ESI code length bytes``."""
    if "ErrorFrame" in cells[:6]:
        return None
    number, extended = _asc_identifier(cells[4], base)
    first = 5 if cells[5] in ("0", "1") and cells[6] in ("0", "1") else 6
    count = int(cells[first + 3])
    code = int(cells[first + 2], 16)
    if count == 0 and code:
        # A remote frame says a length and has no bytes.
        return None
    return at, number, extended, _bytes(cells[first + 4 : first + 4 + count], count, base), cells[2]


def _asc_identifier(text: str, base: int) -> tuple[int, bool]:
    extended = text[-1:] in "xX"
    number = int(text[:-1] if extended else text, base)
    if not 0 <= number <= (EXTENDED if extended else STANDARD):
        raise ValueError("no identifier is as high")
    return number, extended


def _bytes(cells: Sequence[str], count: int, base: int) -> bytes:
    if len(cells) < count:
        raise ValueError(f"it says {count} bytes and has {len(cells)}")
    return bytes(int(cell, base) for cell in cells)


# Others ---------------------------------------------------------------------------------------

_CRTD = re.compile(r"\s*([0-9]+\.?[0-9]*)\s+([0-9]*)[RT](11|29)\s+([0-9A-Fa-f]+)((?:\s+[0-9A-Fa-f]{2})*)\s*$")


def _crtd(head: Sequence[str]) -> TextLog:
    """CRTD: ``1632426782.096037 1R11 390 04 00``; bus, direction and width of the identifier in one."""

    def parse(line: str) -> Row | None:
        found = _CRTD.match(line)
        if found is None:
            if re.match(r"\s*(?:[0-9.]+\s+[0-9]*C[A-Z]{2}\b|#|$)", line):
                return None
            raise ValueError("it is no line of CRTD")
        stamp, bus, width, identifier, data = found.groups()
        extended = width == "29"
        return float(stamp), _identified(identifier, extended), extended, bytes.fromhex(data), bus or None

    return TextLog("CRTD", parse)


_TAB_TRACE = re.compile(
    r"\s*([0-9]+),([0-9]{6})\t([0-9]+)\t[0-9A-Fa-f]{8}\t([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})\t([0-9]{1,2})\t"
    r"((?:[0-9A-Fa-f]{2}\s?)*)\s*\t"
)


def _tab_trace(head: Sequence[str]) -> TextLog:
    """Lines parted by tabs after a first one of ``@ TEXT @``: seconds of the minute with a comma, bus,
    flags, identifier, length, bytes (seen in public recordings; no document is known)."""
    minutes, before = 0.0, 0.0

    def parse(line: str) -> Row | None:
        nonlocal minutes, before
        found = _TAB_TRACE.match(line)
        if found is None:
            if not line.strip() or line.startswith(("@", "$")):
                return None
            raise ValueError("it is no line of such a trace")
        whole, part, bus, identifier, length, data = found.groups()
        extended = len(identifier) == 8
        payload = bytes.fromhex(data)
        if len(payload) < int(length):
            raise ValueError(f"it says {length} bytes and has {len(payload)}")
        second = float(f"{whole}.{part}")
        if -60.0 <= second - before < -55.0:
            minutes += 60.0
        before = second
        number = _identified(identifier, extended)
        return minutes + second, number, extended, payload[: int(length)], bus

    return TextLog("tab trace", parse)


_NAMED = re.compile(
    r".*?\bTimestamp:\s*([0-9.]+)\s+ID:\s*([0-9A-Fa-f]+)\s+(?:([SX])?\b[^:]*?\s)?DLC?:\s*([0-9]+)"
    r"((?:\s+[0-9A-Fa-f]{2})*)(?:\s|$)"
)

_NAMED_NOT_DATA = re.compile(r"\bID:\s*[0-9A-Fa-f]+\s.*\s[RE]\s")


def _named(head: Sequence[str]) -> TextLog:
    """``Timestamp: 1479121434.850202  ID: 0350  S Rx  DL: 8  05 28 ...``, as python-can prints frames."""

    def parse(line: str) -> Row | None:
        found = _NAMED.match(line)
        if found is None:
            if line.strip() and not _NAMED_NOT_DATA.search(line):
                raise ValueError("it names no frame")
            return None
        stamp, identifier, width, length, data = found.groups()
        number = int(identifier, 16)
        extended = width == "X" if width else number > STANDARD
        payload = bytes.fromhex(data)
        if len(payload) < int(length):
            raise ValueError(f"it says {length} bytes and has {len(payload)}")
        return float(stamp), _identified(identifier, extended), extended, payload[: int(length)], None

    return TextLog("named parts", parse)
