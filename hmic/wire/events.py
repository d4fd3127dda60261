"""What the sessions tell, what they are told, and the store a display offers for a new pack."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Protocol


class Phase(IntEnum):
    """What a finger does."""

    PRESS = 0
    RELEASE = 1
    SLIDE = 2
    HOLD = 3


class Outcome(IntEnum):
    """How a transfer ended. The first four are on the wire."""

    ACTIVATED = 0
    REFUSED = 1
    DIFFERS = 2
    NOT_ACTIVATED = 3
    UNCHANGED = 16
    CANCELLED = 17


@dataclass(frozen=True)
class DisplayFacts:
    """What a display is. ``nonce`` (32 bits) is new at every start. Panel in pixels and bits a
    pixel; ``identity`` (8 bytes) of the pack in use or None; capacities in bytes of pack and number
    of channels; ``max_body`` the longest frame body it takes (128..512); ``window`` the units of a
    pack it can take in before it reports; ``fastest`` the highest rate in Bd that it can agree to, 0 if
    it keeps the one it has."""

    nonce: int
    width: int
    height: int
    depth: int
    identity: bytes | None
    pack_capacity: int
    channel_capacity: int
    screen_count: int
    max_body: int = 512
    window: int = 256
    fastest: int = 0


class StoreDoor(Protocol):
    """Where a display keeps the pack that is arriving. The session checks every bound first."""

    def begin(self, size: int, identity: bytes) -> bool:
        """Make room. The identity of the transfer that was broken off resumes it, any other
        discards what it left (eight zero bytes only discard). False when it cannot be held."""

    def arriving(self, size: int, identity: bytes) -> bool:
        """Whether ``begin`` would resume the transfer of this pack."""

    def have(self) -> bytes:
        """Which units are in the store: unit ``i`` is bit ``i % 8`` (least first) of byte ``i // 8``.
        Missing bytes count as zero."""

    def write(self, offset: int, data: bytes) -> None:
        """Keep ``data`` at ``offset``, a multiple of ``UNIT``; whole units but for the pack's end."""

    def hash(self) -> bytes:
        """SHA-256 of the pack as read back from the store."""

    def activate(self) -> bool:
        """Make it the pack in use, whole or not at all."""

    def size_in_use(self) -> int:
        """Bytes of the pack in use, 0 when there is none."""

    def read_in_use(self, offset: int, length: int) -> bytes:
        """Bytes of the pack in use."""


@dataclass(frozen=True)
class Connected:
    """A session stands. ``facts`` as the display answered."""

    facts: DisplayFacts


@dataclass(frozen=True)
class Disconnected:
    """The display fell silent or started anew; the session is being made again."""


@dataclass(frozen=True)
class Mismatched:
    """The display speaks another version of the protocol."""

    version: int


@dataclass(frozen=True)
class Touched:
    """A touch, told once and in order. ``screen`` is what the finger saw, ``zone`` None when outside
    every zone, ``x`` and ``y`` in pixels, ``age`` seconds from finger to line (2.55 for longer)."""

    screen: int
    zone: int | None
    phase: Phase
    x: int
    y: int
    age: float


@dataclass(frozen=True)
class TouchesLost:
    """The display took so many touches and gave them up before a host had heard them."""

    count: int


@dataclass(frozen=True)
class Progress:
    """Bytes of the pack that the display reports as stored."""

    done: int
    size: int


@dataclass(frozen=True)
class Surveyed:
    """What will be sent is known: of ``size`` bytes the display copies ``reused`` from the pack it has, and
    holds ``arrived`` others from a transfer broken off (told once more where only then they are known).
    ``travels`` is what the rest comes to when squeezed, without framing, in a dry push; else None."""

    size: int
    reused: int
    travels: int | None
    arrived: int = 0


@dataclass(frozen=True)
class RateChanged:
    """From now on the line runs at ``baud``: set the port to it before the next call of ``outgoing``."""

    baud: int


@dataclass(frozen=True)
class Transferred:
    """The transfer ended."""

    outcome: Outcome


HostEvent = (
    Connected
    | Disconnected
    | Mismatched
    | Touched
    | TouchesLost
    | Progress
    | RateChanged
    | Surveyed
    | Transferred
)


@dataclass(frozen=True)
class Shown:
    """The host chose screen, theme and backlight (percent). The screen's list has ``channel_count``."""

    screen: int
    theme: int
    brightness: int
    channel_count: int

    def same_screen(self, other: Shown) -> bool:
        """Whether both have one list of values."""
        return (self.screen, self.channel_count) == (other.screen, other.channel_count)


@dataclass(frozen=True)
class Values:
    """Raw values to show now, by position in the list of the screen in sight."""

    raw: tuple[int, ...]


@dataclass(frozen=True)
class Silent:
    """The host fell silent. A ``Values`` of nothing but stale follows if a screen was in sight."""


@dataclass(frozen=True)
class Stored:
    """Every byte of a pack is in the store and its hash was read back right."""

    identity: bytes


@dataclass(frozen=True)
class Activated:
    """The store's pack is the one in use: load it, then call ``repack``."""

    identity: bytes


DisplayEvent = Shown | Values | Silent | Stored | Activated
