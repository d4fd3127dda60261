"""Small designs made by hand, and a display on the other end of a line in memory."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from hmic.diagnostics import Span
from hmic.model.channels import Channel, Listed, Scaled
from hmic.model.design import CanSource, Design, OutputDefinition, Panel, SignalDefinition, ThemeDefinition
from hmic.model.expressions import Doubt, Lookup, Typed, Value
from hmic.model.units import unit
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Reading
from hmic.runtime.from_dbc import received, sent
from hmic.runtime.host_file import Host
from hmic.runtime.obd import Asker
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import Requests
from hmic.sources.frame import Frame
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Shown, Silent, Values
from tests.tools.no_store import NoStore

SPAN = Span("signals.yaml", 1, 1, 1, 2)
PANEL = Panel(1024, 600, 173.5, 101.6, 700.0, 16, 115200, 2 << 20, 64 << 10)
IDENTITY = bytes(range(8))


def signal(name: str, **given: object) -> SignalDefinition:
    """A number from 0 to 100 % that is stale after 500 ms, but for what is given."""
    fields: dict[str, object] = {
        "kind": "number",
        "unit": unit("%"),
        "low": 0.0,
        "high": 100.0,
        "count": None,
        "words": {},
        "source": None,
        "derived": None,
        "stale_after": 500,
        "no_data": None,
        "resolution": None,
        "about": "",
        "span": SPAN,
    }
    source = given.pop("source", None)
    if isinstance(source, str):
        given["source"] = CanSource(*source.split("."))
    elif source is not None:
        given["source"] = source
    return SignalDefinition(name=name, **{**fields, **given})  # type: ignore[arg-type]


def typed(signals: Iterable[str], evaluate: Callable[[Lookup], Value], kind: str = "number") -> Typed:
    """An expression as the model would make it."""
    return Typed(
        kind=kind,
        unit=unit("%") if kind == "number" else None,
        count=None,
        low=-math.inf,
        high=math.inf,
        words=(),
        signals=frozenset(signals),
        evaluate=evaluate,
    )


def value_of(name: str, kind: str = "number") -> Typed:
    """The signal itself."""
    return typed([name], lambda lookup: lookup(name), kind)


def total_of(*names: str) -> Typed:
    """The sum; in doubt when a part is."""

    def evaluate(lookup: Lookup) -> Value:
        values = [lookup(name) for name in names]
        doubts = [value for value in values if isinstance(value, Doubt)]
        return doubts[0] if doubts else float(sum(values))  # type: ignore[arg-type]

    return typed(names, evaluate)


def design(
    signals: Iterable[SignalDefinition],
    dbc: Path | None = None,
    order: tuple[str, ...] = (),
    outputs: Iterable[str] = (),
) -> Design:
    """A design without screens of its own; ``BoundDesign`` brings them. Outputs go to the pipe."""
    theme = ThemeDefinition("day", {}, {}, 400.0, 90, SPAN)
    named: Mapping[str, SignalDefinition] = {definition.name: definition for definition in signals}
    return Design(
        root=Path(),
        name="made",
        panel=PANEL,
        fonts={},
        start="first",
        buses={} if dbc is None else {"": dbc},
        signals=named,
        outputs={
            name: OutputDefinition(name, named[name], "", "", SPAN, named[name].low, named[name].high)
            for name in outputs
        },
        themes=(theme,),
        screens={},
        parts={},
        order=order,
        sources={},
    )


def scaled(name: str, urgency: int = 2, count: int = 101) -> Channel:
    """One step a percent."""
    return Channel(value_of(name), Scaled(0.0, 1.0, count), urgency=urgency)


def flagged(name: str, urgency: int = 2) -> Channel:
    """Step 0 for off, 1 for on."""
    return Channel(value_of(name, "flag"), Listed((False, True)), urgency=urgency)


def bound(
    signals: Iterable[SignalDefinition],
    channels: Iterable[Channel],
    screens: Iterable[BoundScreen],
    order: tuple[str, ...] = (),
    outputs: Iterable[str] = (),
) -> BoundDesign:
    """The compiled design of a pack with ``IDENTITY``."""
    return BoundDesign(design(signals, None, order, outputs), tuple(channels), tuple(screens), IDENTITY)


@dataclass(frozen=True, eq=False)
class Refused:
    """Equal to a refusal of that name which reads so."""

    name: str
    reason: str

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, RequestRefused):
            return NotImplemented
        return (other.name, other.reason) == (self.name, self.reason)

    __hash__ = object.__hash__


def asking(numbers: Iterable[str], flags: Iterable[str] = (), allowed: bool = True) -> Requests:
    """Judges requests for outputs to the pipe: numbers from 0 to 1000, and flags."""
    signals = [signal(name, high=1000.0) for name in numbers]
    signals += [signal(name, kind="flag", unit=None) for name in flags]
    built = design(signals, outputs=[each.name for each in signals])
    return Requests(built, allowed, lambda name: 0)


class Far:
    """The display's session, and what it would have in sight."""

    def __init__(self, identity: bytes | None = IDENTITY, nonce: int = 7, **facts: int) -> None:
        known = {"width": 1024, "height": 600, "depth": 16, "pack_capacity": 1 << 20, **facts}
        self.session = DisplaySession(
            DisplayFacts(nonce=nonce, identity=identity, channel_capacity=1024, screen_count=8, **known),
            NoStore(),
        )
        self.screen: int | None = None
        self.raw: tuple[int, ...] = ()
        self.silent = 0
        self.shown: list[int] = []

    def receive(self, data: bytes, now: float) -> None:
        for event in self.session.receive(data, now):
            if isinstance(event, Shown):
                self.screen = event.screen
                self.shown.append(event.screen)
            elif isinstance(event, Values):
                self.raw = event.raw
            elif isinstance(event, Silent):
                self.silent += 1


class Controlled(Protocol):
    """A controller of a vehicle on a bus: it takes frames, and says what it has to say at a time."""

    def take(self, frame: Frame) -> None: ...

    def turn(self, now: float) -> list[Frame]: ...


def asked_of(
    asker: Asker, units: Sequence[Controlled], seconds: float, begin: float = 0.0
) -> list[tuple[float, Reading]]:
    """An asker and controllers beside each other for a while; what came, and when."""
    came: list[tuple[float, Reading]] = []
    for step in range(int(seconds * 100)):
        now = begin + step / 100
        for frame in asker.outgoing(now):
            for each in units:
                each.take(frame)
        for each in units:
            for frame in each.turn(now):
                came += [(now, reading) for reading in asker.take(frame, now)]
    return came


def host_for(design: Design) -> Host:
    """What a run of a design without screens needs."""
    return Host(BoundDesign(design, (), (), IDENTITY), received(design), sent(design), b"")
