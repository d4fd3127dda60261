"""The messages: one dataclass each, to bytes and back.

``decode`` is total: any bytes give a message or None, and only the bytes that ``encode`` would give
are read. Numbers are varints unless PROTOCOL.md says otherwise. Value frames with small changes are
in ``updates.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from hmic.wire import varint
from hmic.wire.events import DisplayFacts, Outcome, Phase
from hmic.wire.likeness import HASH
from hmic.wire.sizes import LEAST_BODY, MAX_BODY

VERSION = 1

MAX_RUNS = 24
"""Runs in one Need; more are told in later ones."""

BRIGHTNESS_LIMIT = 100


class Kind(IntEnum):
    """The first byte of a body. 0x80 and above is a Change; for that and Fill see ``updates.py``."""

    GREET = 0x01
    SHOW = 0x02
    RESUME = 0x03
    HOST_BEAT = 0x04
    HEARD = 0x05
    RATE = 0x06
    TURN = 0x07
    FILL = 0x08
    OFFER = 0x10
    BLOCK = 0x11
    FINISH = 0x12
    DROP = 0x13
    COMPARE = 0x18
    SQUEEZED = 0x19
    COPY = 0x1A
    CONTINUE = 0x1B
    ANSWER = 0x41
    DISPLAY_BEAT = 0x42
    TOUCH = 0x43
    WANT = 0x44
    ALONE = 0x45
    RATED = 0x46
    OVER = 0x47
    NEED = 0x50
    RESULT = 0x52
    HASHES = 0x58


@dataclass(frozen=True)
class Greet:
    """Host opens session ``session`` (16 bits, next one each time)."""

    version: int
    host: int
    session: int


@dataclass(frozen=True)
class Show:
    """Scene ``scene`` begins. ``fresh``: every value is 0 from here, else values stay as they are."""

    scene: int
    number: int
    fresh: bool
    screen: int
    theme: int
    brightness: int
    count: int


@dataclass(frozen=True)
class Resume:
    """What the display holds was sent so; go on from it as from value frame ``number``. The last ``late``
    positions of the list are no longer true."""

    number: int
    late: int


@dataclass(frozen=True)
class HostBeat:
    """The host lives, and has nothing to show yet."""


@dataclass(frozen=True)
class Heard:
    """All touches below ``number`` have arrived."""

    number: int


@dataclass(frozen=True)
class Rate:
    """Go on at ``baud`` once this is answered."""

    baud: int


@dataclass(frozen=True)
class Turn:
    """Two wires: the display may speak now."""


@dataclass(frozen=True)
class Offer:
    """A pack is to be sent: its size in bytes and its SHA-256. If not ``fresh`` it is taken only where units
    of it are held already; else nothing changes."""

    transfer: int
    size: int
    digest: bytes
    fresh: bool = True


@dataclass(frozen=True)
class Block:
    """Units from ``unit`` on; ``serial`` counts the blocks as sent, modulo 256."""

    transfer: int
    serial: int
    unit: int
    data: bytes


@dataclass(frozen=True)
class Finish:
    """All is sent: check it, use it."""

    transfer: int


@dataclass(frozen=True)
class Drop:
    """The transfer is given up."""

    transfer: int


@dataclass(frozen=True)
class Compare:
    """Tell the hashes of the pack in use, from piece ``first`` on."""

    transfer: int
    first: int


@dataclass(frozen=True)
class Squeezed:
    """Units like a Block's, ``count`` of them, in the packed form of ``squeeze.py``."""

    transfer: int
    serial: int
    unit: int
    count: int
    data: bytes


@dataclass(frozen=True)
class Copy:
    """Units like a Block's, ``count`` of them, from place ``source`` of the pack in use."""

    transfer: int
    serial: int
    unit: int
    count: int
    source: int


@dataclass(frozen=True)
class Hashes:
    """Hashes of the pack in use, of ``size`` bytes, from piece ``first`` on; see ``likeness.py``."""

    transfer: int
    size: int
    first: int
    hashes: tuple[bytes, ...]


@dataclass(frozen=True)
class Answer:
    """A display's reply to Greet, with the greeting's nonce and session given back. ``lost`` counts touches
    that it took and gave up unheard, as far as no host has been told."""

    version: int
    host: int
    session: int
    facts: DisplayFacts | None
    lost: int = 0


@dataclass(frozen=True)
class DisplayBeat:
    """The display lives; the last value frame it took and the frames it dropped (16 bits, wraps)."""

    scene: int
    number: int
    dropped: int


@dataclass(frozen=True)
class Touch:
    """Touch ``number``; ``zone`` None outside all zones; ``age`` in hundredths of a second, 0..255."""

    number: int
    screen: int
    zone: int | None
    phase: Phase
    x: int
    y: int
    age: int


@dataclass(frozen=True)
class Want:
    """What came does not follow. The display holds the values of ``scene`` after value frame ``number``."""

    scene: int
    number: int


@dataclass(frozen=True)
class Alone:
    """The display has no session, or hears nothing in it: greet me."""


@dataclass(frozen=True)
class Rated:
    """The rate from the end of this frame on: the one asked for, or 0 for the present one."""

    baud: int


@dataclass(frozen=True)
class Over:
    """Two wires: the display has spoken."""


@dataclass(frozen=True)
class Need:
    """What the store lacks: all units below ``base`` are held; then ``runs`` of units, missing and
    held in turn; after the last run all are missing, or unknown if ``cut``. ``serial`` is that of
    the last block that came, 0 before any."""

    transfer: int
    serial: int
    cut: bool
    base: int
    runs: tuple[int, ...]


@dataclass(frozen=True)
class Result:
    """The display's last word on a transfer."""

    transfer: int
    outcome: Outcome


Message = (
    Greet | Show | Resume | HostBeat | Heard | Rate | Turn
    | Offer | Block | Finish | Drop | Compare | Squeezed | Copy
    | Answer | DisplayBeat | Touch | Want | Alone | Rated | Over | Need | Result | Hashes
)  # fmt: skip


class _Cursor:
    """Reads in order. After something that is not there ``failed`` stays True."""

    def __init__(self, body: bytes) -> None:
        self.body = body
        self.place = 1
        self.failed = False

    @property
    def left(self) -> int:
        return 0 if self.failed else len(self.body) - self.place

    def number(self) -> int:
        read = varint.decode(self.body, self.place)
        if self.failed or read is None:
            self.failed = True
            return 0
        self.place = read[1]
        return read[0]

    def take(self, size: int) -> bytes:
        if self.failed or self.place + size > len(self.body):
            self.failed = True
            return bytes(size)
        self.place += size
        return self.body[self.place - size : self.place]

    def within(self, value: int, least: int, most: int) -> int:
        """The value, or ``least`` where it is not between both."""
        fits = least <= value <= most
        self.failed = self.failed or not fits
        return value if fits else least


@dataclass(frozen=True)
class _Field:
    """How one field is written, and read again."""

    write: Callable[[Any], bytes]
    read: Callable[[_Cursor], Any]


def _number(most: int = varint.LIMIT, least: int = 0) -> _Field:
    return _Field(varint.encode, lambda cursor: cursor.within(cursor.number(), least, most))


def _fixed(size: int, most: int = varint.LIMIT) -> _Field:
    return _Field(
        lambda value: int(value).to_bytes(size, "little"),
        lambda cursor: cursor.within(int.from_bytes(cursor.take(size), "little"), 0, most),
    )


def _as(field: _Field, kind: Callable[[int], Any]) -> _Field:
    return _Field(field.write, lambda cursor: kind(field.read(cursor)))


def _told(value: bool) -> _Field:
    """What the kind tells already."""
    return _Field(lambda _: b"", lambda _: value)


def _read_identity(cursor: _Cursor) -> bytes | None:
    return cursor.take(8) if _U8_FLAG.read(cursor) else None


def _read_data(cursor: _Cursor) -> bytes:
    return cursor.take(cursor.within(cursor.left, 1, MAX_BODY))


def _read_runs(cursor: _Cursor) -> tuple[int, ...]:
    runs: list[int] = []
    while cursor.left and len(runs) < MAX_RUNS:
        runs.append(cursor.number())
    return tuple(runs)


_U8, _U16, _U32, _U8_FLAG = _fixed(1), _fixed(2), _fixed(4), _as(_fixed(1, 1), bool)
_NUMBER, _FLAG = _number(), _as(_number(1), bool)
_COUNT = _number(0xFFFF)
_DATA = _Field(bytes, _read_data)
_DIGEST = _Field(bytes, lambda cursor: cursor.take(32))
_IDENTITY = _Field(lambda identity: b"\0" if identity is None else b"\1" + identity, _read_identity)
_ZONE = _Field(
    lambda zone: varint.encode(0 if zone is None else zone + 1),
    lambda cursor: place - 1 if (place := cursor.number()) else None,
)
_RUNS = _Field(lambda runs: b"".join(map(varint.encode, runs)), _read_runs)
_HASHES = _Field(b"".join, lambda cursor: tuple(cursor.take(HASH) for _ in range(-(-cursor.left // HASH))))
_TRANSFER = {"transfer": _U8}
_OFFER = {**_TRANSFER, "size": _NUMBER, "digest": _DIGEST}
_SERIAL = {**_TRANSFER, "serial": _U8}
_MEETING = {"version": _U8, "host": _U32, "session": _U16}

_FACTS = {
    "nonce": _U32, "width": _NUMBER, "height": _NUMBER, "depth": _NUMBER, "identity": _IDENTITY,
    "pack_capacity": _NUMBER, "channel_capacity": _NUMBER, "screen_count": _NUMBER,
    "max_body": _number(MAX_BODY, LEAST_BODY), "window": _number(least=1), "fastest": _NUMBER,
}  # fmt: skip
_LAYOUTS: dict[Kind, tuple[Callable[..., Message], dict[str, _Field]]] = {
    Kind.GREET: (Greet, _MEETING),
    Kind.SHOW: (Show, {
        "scene": _NUMBER, "number": _NUMBER, "fresh": _FLAG, "screen": _NUMBER, "theme": _NUMBER,
        "brightness": _number(BRIGHTNESS_LIMIT), "count": _COUNT,
    }),
    Kind.RESUME: (Resume, {"number": _NUMBER, "late": _COUNT}),
    Kind.HOST_BEAT: (HostBeat, {}),
    Kind.HEARD: (Heard, {"number": _NUMBER}),
    Kind.RATE: (Rate, {"baud": _U32}),
    Kind.TURN: (Turn, {}),
    Kind.OFFER: (Offer, {**_OFFER, "fresh": _told(True)}),
    Kind.BLOCK: (Block, {**_SERIAL, "unit": _NUMBER, "data": _DATA}),
    Kind.FINISH: (Finish, _TRANSFER),
    Kind.DROP: (Drop, _TRANSFER),
    Kind.COMPARE: (Compare, {**_TRANSFER, "first": _NUMBER}),
    Kind.SQUEEZED: (Squeezed, {**_SERIAL, "count": _U8, "unit": _NUMBER, "data": _DATA}),
    Kind.COPY: (Copy, {**_SERIAL, "count": _U8, "unit": _NUMBER, "source": _NUMBER}),
    Kind.CONTINUE: (Offer, {**_OFFER, "fresh": _told(False)}),
    Kind.DISPLAY_BEAT: (DisplayBeat, {"scene": _NUMBER, "number": _NUMBER, "dropped": _U16}),
    Kind.TOUCH: (Touch, {
        "number": _NUMBER, "screen": _NUMBER, "zone": _ZONE, "phase": _as(_number(Phase.HOLD), Phase),
        "x": _NUMBER, "y": _NUMBER, "age": _U8,
    }),
    Kind.WANT: (Want, {"scene": _NUMBER, "number": _NUMBER}),
    Kind.ALONE: (Alone, {}),
    Kind.RATED: (Rated, {"baud": _U32}),
    Kind.OVER: (Over, {}),
    Kind.NEED: (Need, {**_SERIAL, "cut": _U8_FLAG, "base": _NUMBER, "runs": _RUNS}),
    Kind.RESULT: (Result, {**_TRANSFER, "outcome": _as(_fixed(1, Outcome.NOT_ACTIVATED), Outcome)}),
    Kind.HASHES: (Hashes, {**_TRANSFER, "size": _NUMBER, "first": _NUMBER, "hashes": _HASHES}),
}  # fmt: skip
"""The fields of each kind, in order; those of Answer are ``_MEETING``, ``_FACTS`` and ``lost``."""
_KINDS = {layout[0]: kind for kind, layout in _LAYOUTS.items()}


def encode(message: Message) -> bytes:
    """The body of a message. ValueError or OverflowError when a field is out of its range."""
    if isinstance(message, Answer):
        head = bytes((Kind.ANSWER,)) + _written(message, _MEETING)
        if message.facts is None:
            return head
        return head + _written(message.facts, _FACTS) + varint.encode(message.lost)
    kind = _KINDS[type(message)]
    if isinstance(message, Offer):
        kind = Kind.OFFER if message.fresh else Kind.CONTINUE
    return bytes((kind,)) + _written(message, _LAYOUTS[kind][1])


def decode(body: bytes) -> Message | None:
    """The message that ``encode`` turns into exactly ``body``, or None."""
    if not body or body[0] not in (Kind.ANSWER, *_LAYOUTS):
        return None
    cursor = _Cursor(body)
    if body[0] == Kind.ANSWER:
        message = _read_answer(cursor)
    else:
        make, fields = _LAYOUTS[Kind(body[0])]
        message = make(**_read(cursor, fields))
    return None if cursor.failed or cursor.left else message


def _read_answer(cursor: _Cursor) -> Message:
    meeting = _read(cursor, _MEETING)
    if meeting["version"] == VERSION:
        facts = DisplayFacts(**_read(cursor, _FACTS))
        return Answer(**meeting, facts=facts, lost=cursor.number())
    # The fields after these three may differ in another version.
    cursor.take(cursor.left)
    return Answer(**meeting, facts=None)


def _written(holder: object, fields: dict[str, _Field]) -> bytes:
    return b"".join(field.write(getattr(holder, name)) for name, field in fields.items())


def _read(cursor: _Cursor, fields: dict[str, _Field]) -> dict[str, Any]:
    return {name: field.read(cursor) for name, field in fields.items()}
