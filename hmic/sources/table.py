"""Logs written as tables: a header names the columns, and each row is a frame.

What the header leaves open is told by the rows where they can tell it, and said: the base of identifiers
and bytes, the unit of times. Where they cannot, the table is refused: a wrong base is a wrong number.
"""

from __future__ import annotations

import base64
import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hmic.sources.frame import EXTENDED, STANDARD, Row
from hmic.sources.text import NO_TIMES, TextLog, Untimed, clock_seconds

_TIME = frozenset(("time", "timestamp", "timestampepoch", "timeoffset", "abstime", "unixtime", "timescale"))
_IDENTIFIER = frozenset(
    ("id", "canid", "arbitrationid", "arbid", "identifier", "canidentifier", "messageid", "msgid", "frameid")
)
_LENGTH = ("datalength", "len", "length", "dlc", "datalengthcode", "datalen", "dl")
_DATA = frozenset(("data", "databytes", "payload", "datafield", "framedata", "msgdata", "candata"))
_BYTE = re.compile(r"(?:d|b|byte|data|databyte|payload)(\d{1,2})$")
_WIDTH = frozenset(
    ("extended", "ext", "ide", "isextended", "isextendedid", "extendedid", "idtype", "frameformat", "xtd")
)
_NOT_DATA = frozenset(("rtr", "remote", "error", "isremoteframe", "iserrorframe", "frametype"))
_CHANNEL = frozenset(("bus", "channel", "ch", "buschannel", "interface", "can", "canchannel"))
_SEPARATORS: tuple[tuple[str, str], ...] = (
    (",", "comma"),
    (";", "semicolon"),
    ("\t", "tab"),
    ("  ", "blanks"),
)
_HEADER_WITHIN = 60
"""Lines of a file within which the header of a table stands."""
_FASTEST = 20_000.0
"""Frames a second that no bus carries more of: one without bytes takes 47 bits of 1 Mbit/s (ISO 11898-1)."""
_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
_SAID_UNITS = {"s": "s", "sec": "s", "seconds": "s", "ms": "ms", "msec": "ms", "us": "us", "ns": "ns"}
_YES = frozenset(("1", "true", "yes", "x", "ext", "extended", "29", "eff"))
_NO = frozenset(("0", "false", "no", "s", "std", "standard", "11", "sff"))


class TableRefused(Exception):
    """A table whose frames cannot be told for sure: what is, and what to do."""

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.remedy = remedy


@dataclass(frozen=True)
class Columns:
    """Where the parts of a frame stand in a row, and what the header says of them: ``base`` 16 or 10 of
    the identifier, ``unit`` of the times. ``first`` is the first of the columns of single bytes."""

    separator: str
    width: int
    identifier: int
    time: int | None = None
    length: int | None = None
    data: int | None = None
    first: int | None = None
    extended: int | None = None
    not_data: tuple[int, ...] = ()
    channel: int | None = None
    base: int | None = None
    unit: str | None = None


def table_log(head: Sequence[str]) -> TextLog | None:
    """How a table that begins with these lines is read; None where no line is a header that names an
    identifier and bytes. Raises TableRefused."""
    for at, line in enumerate(head[:_HEADER_WITHIN]):
        for separator, _ in _SEPARATORS:
            columns = columns_of(line, separator)
            if columns is not None:
                rows = [cells_of(each, columns) for each in head[at + 1 :] if each.strip()]
                return _table(columns, line, [row for row in rows if len(row) > columns.identifier])
    return None


def columns_of(header: str, separator: str) -> Columns | None:
    """The columns that a header names; None if it is none."""
    said = [_name(cell) for cell in _split(header, separator)]
    names = [name for name, _ in said]
    if len(names) < 2:
        return None
    identifier = _first(names, _IDENTIFIER)
    data = _first(names, _DATA)
    numbers = [(at, int(found[1])) for at, name in enumerate(names) if (found := _BYTE.match(name))]
    first = numbers[0][0] if numbers and numbers[0][1] in (0, 1) else None
    if identifier is None or (data is None and first is None):
        return None
    time = _first(names, _TIME)
    length = next((names.index(name) for name in _LENGTH if name in names), None)
    spoken = said[identifier][1]
    base = 16 if "hex" in spoken or "hex" in names[identifier] else 10 if "dec" in spoken else None
    return Columns(
        separator,
        len(names),
        identifier,
        time,
        length,
        None if first is not None else data,
        first,
        _first(names, _WIDTH),
        tuple(at for at, name in enumerate(names) if name in _NOT_DATA),
        _first(names, _CHANNEL),
        base,
        _SAID_UNITS.get(said[time][1]) if time is not None else None,
    )


def _name(cell: str) -> tuple[str, str]:
    """A column's name in small letters without blanks, and what stands in brackets behind it."""
    text = cell.strip().strip('"').lstrip("\ufeff").lower()
    found = re.match(r"(.*?)[\s_]*[(\[]([^)\]]*)[)\]]?$", text)
    name, said = (found[1], found[2]) if found else (text, "")
    name = re.sub(r"[^a-z0-9]", "", name)
    for ending, means in (("hex", "hex"), ("hexadecimal", "hex"), ("dec", "dec"), ("decimal", "dec")):
        if name.endswith(ending) and name != ending and not said:
            return name.removesuffix(ending), means
    for ending in ("ms", "us", "ns"):
        if name in (f"time{ending}", f"timestamp{ending}", f"timeoffset{ending}"):
            return name.removesuffix(ending), ending
    return name, said.strip()


def _first(names: Sequence[str], wanted: frozenset[str]) -> int | None:
    return next((at for at, name in enumerate(names) if name in wanted), None)


def _split(line: str, separator: str) -> list[str]:
    if separator == "  ":
        return re.split(r"\s{2,}|\t", line.strip())
    if '"' in line:
        return next(csv.reader([line], delimiter=separator), [])
    return line.rstrip("\r\n").split(separator)


def cells_of(line: str, columns: Columns) -> list[str]:
    """The cells of a row."""
    return [cell.strip(" \t\0") for cell in _split(line, columns.separator)]


def _table(columns: Columns, header: str, rows: Sequence[Sequence[str]]) -> TextLog:
    points: list[str] = []
    identified = _identifiers(columns, [row[columns.identifier] for row in rows], points)
    data = _data(columns, header, rows)
    timed = _times(columns, rows, points)

    # A row that ends before what it must have is cut; where a length is said, its bytes are counted.
    bytes_at = columns.length if columns.length is not None else columns.data or columns.first
    last = max(columns.identifier, columns.time or 0, bytes_at or 0)

    def parse(line: str) -> Row | None:
        if not line.strip() or line.lstrip().startswith("#") or line.strip() == header.strip():
            return None
        cells = cells_of(line, columns)
        if len(cells) <= last:
            raise ValueError(f"it has {len(cells)} cells, the header {columns.width}")
        if any(_is_no_data(_cell(cells, at).lower()) for at in columns.not_data):
            return None
        number = identified(cells[columns.identifier])
        extended = _extended(_cell(cells, columns.extended).lower(), number)
        payload = data(cells)
        said = _cell(cells, columns.length)
        if said:
            if int(said, 0) > len(payload):
                raise ValueError(f"it says {said} bytes and has {len(payload)}")
            payload = payload[: int(said, 0)]
        return timed(cells), number, extended, payload, _cell(cells, columns.channel) or None

    name = dict(_SEPARATORS)[columns.separator]
    return TextLog(f"table parted by {name}", parse, tuple(points))


def _cell(cells: Sequence[str], at: int | None) -> str:
    return cells[at] if at is not None and at < len(cells) else ""


def _is_no_data(text: str) -> bool:
    return text in _YES or "remote" in text or "error" in text


def _extended(said: str, number: int) -> bool:
    if not 0 <= number <= EXTENDED:
        raise ValueError("no identifier is as high")
    word = said.split()[0] if said else ""
    if word in _NO and number > STANDARD:
        raise ValueError("it says 11 bits, and the identifier has more")
    return word in _YES or number > STANDARD


def _identifiers(columns: Columns, cells: Sequence[str], points: list[str]) -> Callable[[str], int]:
    plain = [cell.removesuffix("h").removesuffix("x") for cell in cells if cell]
    lettered = any(re.search("[a-fA-FxX]", cell) for cell in plain)
    padded = bool(plain) and all(re.fullmatch(r"0\d+|\d{8}", cell) for cell in plain)
    if columns.base is not None:
        base = columns.base
    elif lettered or padded:
        base = 16
    elif len(set(plain)) >= 5:
        base = 10
        points.append(
            "it does not say the base of its identifiers: taken as decimal, since none has a letter"
        )
    else:
        raise TableRefused(
            "its header does not say whether identifiers are hexadecimal, and its rows do not tell",
            "name the column 'id (hex)' or 'id (dec)'",
        )

    def identified(cell: str) -> int:
        text = cell.removesuffix("h").removesuffix("x") if base == 16 else cell
        return int(text, base)

    return identified


def _data(columns: Columns, header: str, rows: Sequence[Sequence[str]]) -> Callable[[Sequence[str]], bytes]:
    if columns.data is None:
        return _byte_cells(columns, rows)
    at = columns.data
    if re.match(r"timestamp,arbitration_id,extended,remote,error,dlc,data\s*$", header):
        # The CSV form of python-can.
        return lambda cells: base64.b64decode(cells[at], validate=True)
    parts = [part for row in rows if at < len(row) for part in _parts(row[at])]
    base = 16 if all(len(part) % 2 == 0 for part in parts) else _base_of(parts)

    def data(cells: Sequence[str]) -> bytes:
        split = _parts(_cell(cells, at))
        if base == 16:
            return bytes.fromhex("".join(part if len(part) % 2 == 0 else "0" + part for part in split))
        return bytes(int(part) for part in split)

    return data


def _parts(cell: str) -> list[str]:
    """The numbers of a cell of bytes, without what stands between and around them."""
    return [part for part in re.split(r"[\s,;:\-\[\]|_]+", re.sub("0[xX]", "", cell)) if part]


def _byte_cells(columns: Columns, rows: Sequence[Sequence[str]]) -> Callable[[Sequence[str]], bytes]:
    first = columns.first
    assert first is not None
    base = _base_of([cell.removeprefix("0x") for row in rows for cell in row[first : first + 8] if cell])

    def data(cells: Sequence[str]) -> bytes:
        found = bytearray()
        for cell in cells[first:]:
            if not cell or not cell[0].isalnum() or len(cell) > 4:
                break
            found.append(int(cell, base))
            if len(found) == 64:
                break
        return bytes(found)

    return data


def _base_of(cells: Sequence[str]) -> int:
    """The base of single bytes. Raises TableRefused where they do not tell."""
    if any(re.search("[a-fA-F]", cell) for cell in cells):
        return 16
    if any(len(cell) > 2 for cell in cells):
        return 10
    if any(len(cell) == 2 and cell[0] == "0" for cell in cells) or all(len(cell) == 1 for cell in cells):
        return 16
    raise TableRefused(
        "its bytes may be hexadecimal or decimal: none of its first rows tells",
        "write bytes with two digits each, such as 0A",
    )


def _times(
    columns: Columns, rows: Sequence[Sequence[str]], points: list[str]
) -> Callable[[Sequence[str]], float]:
    at = columns.time
    if at is None:
        untimed = Untimed()
        points.append(NO_TIMES)
        return lambda cells: untimed()
    column = at
    texts = [row[at] for row in rows if at < len(row) and row[at]]
    if texts and all(":" in text for text in texts[:20]):
        return lambda cells: clock_seconds(cells[column])
    if columns.unit is not None:
        factor = _UNITS[columns.unit]
    else:
        unit, sure = _unit(texts)
        factor = _UNITS[unit]
        if not sure:
            points.append(f"it does not say the unit of its times: taken as {unit.replace('us', 'µs')}")
    return lambda cells: _number(cells[column]) * factor


def _number(text: str) -> float:
    return float(text.replace(",", ".") if re.fullmatch(r"-?\d+,\d+", text) else text)


def _unit(texts: Sequence[str]) -> tuple[str, bool]:
    """The unit of times that name none, and whether that is sure. Times since 1970 have as many digits as
    they have; else it is the finest in which a bus can carry as many frames. A number with a point is of
    seconds, if it can be."""
    values = []
    for text in texts:
        try:
            values.append(_number(text))
        except ValueError:
            continue
    if not values:
        return "s", True
    middle = sorted(abs(value) for value in values)[len(values) // 2]
    for unit in ("ms", "us", "ns"):
        # Whole seconds since 1970 could as well be milliseconds since the start of a device.
        if 1e9 <= middle * _UNITS[unit] < 4e9:
            return unit, True
    span = abs(values[-1] - values[0]) or 1.0
    if any("." in text or "," in text for text in texts):
        return ("s", True) if len(values) / span <= _FASTEST else ("ms", False)
    for unit in ("us", "ms", "s"):
        if len(values) / (span * _UNITS[unit]) <= _FASTEST:
            return unit, False
    return "s", False
