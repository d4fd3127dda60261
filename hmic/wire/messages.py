"""The messages: one dataclass each, to bytes and back.

``decode`` is total: any bytes give a message or None, and only the bytes that ``encode`` would give
are read. Numbers are varints unless PROTOCOL.md says otherwise. Value frames with small changes are
in ``updates.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

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


def encode(message: Message) -> bytes:
    """The body of a message. ValueError or OverflowError when a field is out of its range."""
    match message:
        case Greet(version, host, session):
            return bytes((Kind.GREET, version)) + _fixed(host, 4) + _fixed(session, 2)
        case Answer(version, host, session, facts, lost):
            head = bytes((Kind.ANSWER, version)) + _fixed(host, 4) + _fixed(session, 2)
            return head if facts is None else head + _facts(facts) + varint.encode(lost)
        case Show(scene, number, fresh, screen, theme, brightness, count):
            return _body(Kind.SHOW, scene, number, int(fresh), screen, theme, brightness, count)
        case Resume(number, late):
            return _body(Kind.RESUME, number, late)
        case HostBeat():
            return bytes((Kind.HOST_BEAT,))
        case Heard(number):
            return _body(Kind.HEARD, number)
        case Rate(baud):
            return bytes((Kind.RATE,)) + _fixed(baud, 4)
        case Rated(baud):
            return bytes((Kind.RATED,)) + _fixed(baud, 4)
        case Turn():
            return bytes((Kind.TURN,))
        case Over():
            return bytes((Kind.OVER,))
        case Offer(transfer, size, digest, fresh):
            kind = Kind.OFFER if fresh else Kind.CONTINUE
            return bytes((kind, transfer)) + varint.encode(size) + digest
        case Block(transfer, serial, unit, data):
            return bytes((Kind.BLOCK, transfer, serial)) + varint.encode(unit) + data
        case Finish(transfer):
            return bytes((Kind.FINISH, transfer))
        case Drop(transfer):
            return bytes((Kind.DROP, transfer))
        case DisplayBeat(scene, number, dropped):
            return _body(Kind.DISPLAY_BEAT, scene, number) + _fixed(dropped, 2)
        case Touch(number, screen, zone, phase, x, y, age):
            place = 0 if zone is None else zone + 1
            return _body(Kind.TOUCH, number, screen, place, phase, x, y) + _fixed(age, 1)
        case Want(scene, number):
            return _body(Kind.WANT, scene, number)
        case Alone():
            return bytes((Kind.ALONE,))
        case Need(transfer, serial, cut, base, runs):
            head = bytes((Kind.NEED, transfer, serial, int(cut)))
            return head + b"".join(map(varint.encode, (base, *runs)))
        case Result(transfer, outcome):
            return bytes((Kind.RESULT, transfer, outcome))
        case Compare(transfer, first):
            return bytes((Kind.COMPARE, transfer)) + varint.encode(first)
        case Squeezed(transfer, serial, unit, count, data):
            return bytes((Kind.SQUEEZED, transfer, serial, count)) + varint.encode(unit) + data
        case Copy(transfer, serial, unit, count, source):
            head = bytes((Kind.COPY, transfer, serial, count))
            return head + varint.encode(unit) + varint.encode(source)
        case Hashes(transfer, size, first, hashes):
            head = bytes((Kind.HASHES, transfer)) + varint.encode(size) + varint.encode(first)
            return head + b"".join(hashes)


def decode(body: bytes) -> Message | None:
    """The message that ``encode`` turns into exactly ``body``, or None."""
    if not body:
        return None
    cursor = _Cursor(body)
    message = _read(body[0], cursor)
    return message if cursor.ended else None


class _Cursor:
    """Reads fields in order. After a field that is not there ``ended`` stays False."""

    def __init__(self, body: bytes) -> None:
        self.body = body
        self.place = 1
        self.failed = False

    @property
    def ended(self) -> bool:
        return not self.failed and self.place == len(self.body)

    @property
    def more(self) -> bool:
        return not self.failed and self.place < len(self.body)

    def number(self, limit: int = varint.LIMIT) -> int:
        read = varint.decode(self.body, self.place)
        if self.failed or read is None or read[0] > limit:
            self.failed = True
            return 0
        self.place = read[1]
        return read[0]

    def fixed(self, size: int, limit: int = varint.LIMIT) -> int:
        value = int.from_bytes(self.take(size), "little")
        self.failed = self.failed or value > limit
        return value

    def take(self, size: int) -> bytes:
        if self.failed or self.place + size > len(self.body):
            self.failed = True
            return bytes(size)
        self.place += size
        return self.body[self.place - size : self.place]

    def rest(self, least: int, most: int) -> bytes:
        size = len(self.body) - self.place
        if not least <= size <= most:
            self.failed = True
            return b""
        return self.take(size)

    def numbers(self, most: int) -> tuple[int, ...]:
        found: list[int] = []
        while self.more:
            if len(found) == most:
                self.failed = True
                break
            found.append(self.number())
        return tuple(found)


def _read(kind: int, cursor: _Cursor) -> Message | None:
    fixed, number = cursor.fixed, cursor.number
    match kind:
        case Kind.GREET:
            return Greet(fixed(1), fixed(4), fixed(2))
        case Kind.ANSWER:
            return _read_answer(cursor)
        case Kind.SHOW:
            return Show(
                number(),
                number(),
                bool(number(1)),
                number(),
                number(),
                number(BRIGHTNESS_LIMIT),
                number(0xFFFF),
            )
        case Kind.RESUME:
            return Resume(number(), number(0xFFFF))
        case Kind.HOST_BEAT:
            return HostBeat()
        case Kind.HEARD:
            return Heard(number())
        case Kind.DISPLAY_BEAT:
            return DisplayBeat(number(), number(), fixed(2))
        case Kind.TOUCH:
            return _read_touch(cursor)
        case Kind.WANT:
            return Want(number(), number())
        case Kind.ALONE:
            return Alone()
        case Kind.RATE:
            return Rate(fixed(4))
        case Kind.RATED:
            return Rated(fixed(4))
        case Kind.TURN:
            return Turn()
        case Kind.OVER:
            return Over()
        case _:
            return _read_transfer(kind, cursor)


def _read_transfer(kind: int, cursor: _Cursor) -> Message | None:
    fixed, number = cursor.fixed, cursor.number
    match kind:
        case Kind.OFFER | Kind.CONTINUE:
            return Offer(fixed(1), number(), cursor.take(32), kind == Kind.OFFER)
        case Kind.BLOCK:
            return Block(fixed(1), fixed(1), number(), cursor.rest(1, MAX_BODY))
        case Kind.FINISH:
            return Finish(fixed(1))
        case Kind.DROP:
            return Drop(fixed(1))
        case Kind.NEED:
            return Need(fixed(1), fixed(1), bool(fixed(1, 1)), number(), cursor.numbers(MAX_RUNS))
        case Kind.RESULT:
            return _read_result(cursor)
        case Kind.COMPARE:
            return Compare(fixed(1), number())
        case Kind.SQUEEZED:
            transfer, serial, count = fixed(1), fixed(1), fixed(1)
            return Squeezed(transfer, serial, number(), count, cursor.rest(1, MAX_BODY))
        case Kind.COPY:
            transfer, serial, count = fixed(1), fixed(1), fixed(1)
            return Copy(transfer, serial, number(), count, number())
        case Kind.HASHES:
            transfer, size, first = fixed(1), number(), number()
            data = cursor.rest(0, MAX_BODY)
            cursor.failed = cursor.failed or len(data) % HASH != 0
            hashes = tuple(data[at : at + HASH] for at in range(0, len(data), HASH))
            return Hashes(transfer, size, first, hashes)
        case _:
            cursor.failed = True
            return None


def _read_result(cursor: _Cursor) -> Message | None:
    transfer, outcome = cursor.fixed(1), cursor.fixed(1, Outcome.NOT_ACTIVATED)
    return None if cursor.failed else Result(transfer, Outcome(outcome))


def _read_touch(cursor: _Cursor) -> Message | None:
    number, screen, zone = cursor.number(), cursor.number(), cursor.number()
    phase, x, y, age = cursor.number(Phase.HOLD), cursor.number(), cursor.number(), cursor.fixed(1)
    if cursor.failed:
        return None
    return Touch(number, screen, zone - 1 if zone else None, Phase(phase), x, y, age)


def _read_answer(cursor: _Cursor) -> Message | None:
    version, host, session = cursor.fixed(1), cursor.fixed(4), cursor.fixed(2)
    if version != VERSION:
        # The fields after these three may differ in another version.
        cursor.place = len(cursor.body) if not cursor.failed else cursor.place
        return Answer(version, host, session, None)
    nonce = cursor.fixed(4)
    width, height, depth = cursor.number(), cursor.number(), cursor.number()
    held = cursor.fixed(1, 1)
    identity = cursor.take(8) if held else None
    pack, channels, screens = cursor.number(), cursor.number(), cursor.number()
    max_body, window, fastest, lost = (cursor.number() for _ in range(4))
    if not LEAST_BODY <= max_body <= MAX_BODY or window == 0:
        return None
    facts = DisplayFacts(
        nonce, width, height, depth, identity, pack, channels, screens, max_body, window, fastest
    )
    return Answer(version, host, session, facts, lost)


def _facts(facts: DisplayFacts) -> bytes:
    held = b"\0" if facts.identity is None else b"\1" + facts.identity
    return b"".join(
        (
            _fixed(facts.nonce, 4),
            *map(varint.encode, (facts.width, facts.height, facts.depth)),
            held,
            *map(varint.encode, (facts.pack_capacity, facts.channel_capacity, facts.screen_count)),
            *map(varint.encode, (facts.max_body, facts.window, facts.fastest)),
        )
    )


def _body(kind: Kind, *numbers: int) -> bytes:
    return bytes((kind,)) + b"".join(map(varint.encode, numbers))


def _fixed(value: int, size: int) -> bytes:
    return value.to_bytes(size, "little")
