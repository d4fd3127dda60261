"""What a survey says: the facts of each identifier, as data for a table, JSON, a page, a new design."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from hmic.model.checksums import Method


@dataclass(frozen=True)
class Period:
    """How often a message came: seconds between its frames. ``median`` is within 0.1 %; ``jitter`` is half
    of what the middle 90 % of the gaps span. All 0 for a single frame."""

    median: float
    jitter: float
    longest: float


@dataclass(frozen=True)
class CounterFound:
    """A field of ``length`` bits (``start``: its lowest, counted from the lowest of the first byte) that
    counts up by one with every frame, from ``low`` to ``high`` and again. ``held`` of ``steps`` did, and it
    stood still at ``still`` of them; elsewhere it jumped, as where frames were lost."""

    start: int
    length: int
    low: int
    high: int
    held: int
    steps: int
    still: int


@dataclass(frozen=True)
class ChecksumFound:
    """A byte that guards the others by a method of ``messages:``. It fitted ``held`` of ``frames``."""

    byte: int
    method: Method
    with_identifier: bool
    held: int
    frames: int


@dataclass(frozen=True)
class Sentinel:
    """A raw value that stands for no value: ``label`` as the description says, or empty where only its
    place at the end of what the bits can carry shows it. ``value`` is what it would read as."""

    raw: int
    value: float
    label: str
    count: int


@dataclass(frozen=True)
class FieldSeen:
    """A field of a description in the frames that came. ``low`` and ``high`` are of its physical values
    without the sentinels, None where none came; ``states`` are its raw values with their counts where
    there are few; ``trace`` a few (time, value) of them; ``length`` in bits; ``page`` the values of the
    selecting field with which it comes, as text, or empty."""

    name: str
    unit: str
    count: int
    low: float | None
    high: float | None
    scale: float
    length: int
    states: tuple[tuple[int, str, int], ...]
    sentinels: tuple[Sentinel, ...]
    trace: tuple[tuple[float, float], ...]
    page: str


@dataclass(frozen=True)
class Likeness:
    """A known field that moves as an unknown one does: ``coefficient`` is Pearson's, and the known one is
    about ``scale`` times the raw value plus ``offset``."""

    message: str
    field: str
    coefficient: float
    scale: float
    offset: float


@dataclass(frozen=True)
class SmoothField:
    """A stretch of bits that no description explains and that moves in small steps: first byte, bytes, and
    whether the highest comes first. ``low`` and ``high`` are raw."""

    byte: int
    bytes: int
    big: bool
    low: int
    high: int
    trace: tuple[tuple[float, float], ...]
    like: tuple[Likeness, ...]


@dataclass(frozen=True)
class Turns:
    """The pages of a multiplexed message by the selecting field's raw value, with their counts, and the
    seconds of a round: the longest median of a page's gaps."""

    selector: str
    pages: tuple[tuple[int, int], ...]
    round: float


class StandardKind(StrEnum):
    """Whose rules an identifier follows."""

    J1939 = "J1939"
    DIAGNOSTICS = "diagnostics"


@dataclass(frozen=True)
class Standard:
    """What a standard says of an identifier: J1939's parameter group, or diagnostics. ``name`` in words;
    the numbers only for J1939, ``destination`` None where it goes to all."""

    kind: StandardKind
    name: str
    group: int | None = None
    priority: int | None = None
    source: int | None = None
    destination: int | None = None


@dataclass(frozen=True)
class MessageSeen:
    """Everything of one identifier on one bus. ``name`` and ``file`` are of the description that explains
    it, or empty; ``moving`` the bits that were seen at both values, from the lowest of the first byte."""

    bus: str
    identifier: int
    extended: bool
    name: str
    file: str
    count: int
    first: float
    last: float
    period: Period
    lengths: tuple[tuple[int, int], ...]
    moving: tuple[int, ...]
    counters: tuple[CounterFound, ...]
    checksums: tuple[ChecksumFound, ...]
    fields: tuple[FieldSeen, ...]
    smooth: tuple[SmoothField, ...]
    turns: Turns | None
    standard: Standard | None


@dataclass(frozen=True)
class Explained:
    """How much one description explains: identifiers and frames of those that came, and its own messages
    that never came."""

    file: str
    identifiers: int
    frames: int
    silent: tuple[str, ...]


@dataclass(frozen=True)
class Survey:
    """A whole survey. ``timed`` is false where no source told times: then periods mean nothing."""

    sources: tuple[str, ...]
    frames: int
    seconds: float
    timed: bool
    messages: tuple[MessageSeen, ...]
    descriptions: tuple[Explained, ...]
