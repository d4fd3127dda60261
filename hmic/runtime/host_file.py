"""One file that holds all that a run needs: HOST_FILE.md says how."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, NoReturn

from hmic.diagnostics import DesignError, Finding, error
from hmic.language import design_bounds
from hmic.model import actions, channels
from hmic.model.asked import AskedSource
from hmic.model.channels import MOST_STEPS, Channel
from hmic.model.dbc_bits import Place
from hmic.model.dbc_places import MOST_BITS
from hmic.model.design import (
    ByClock,
    BySignal,
    Design,
    FieldSteps,
    OutputDefinition,
    Panel,
    SignalDefinition,
    ThemeChoice,
    ThemeDefinition,
)
from hmic.model.memories import LONGEST
from hmic.model.terms import Memory
from hmic.model.units import Unit, convertible
from hmic.model.values import ORDERS
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.plain_data import LEFT_OUT, MOST_ELEMENTS, RULES, SHARED, Shelf, Wrong, form, shape
from hmic.runtime.tables import ReceivedMessage, SentMessage

MARK = b"host "
VERSION = 1
LARGEST = 64_000_000
"""Bytes; larger than the pack of any display with all its tables."""
_HEAD = re.compile(rb"host ([0-9]{1,4}) ([0-9a-f]{8}) ([0-9]{1,8}) ([0-9a-f]{64})\n")
"""Version, shape of the tables, their bytes, and the SHA-256 of all that follows."""


@dataclass(frozen=True)
class Host:
    """All that a run needs: the design as it is bound, the messages that it takes and sends, the pack that
    the display must hold."""

    bound: BoundDesign
    received: tuple[ReceivedMessage, ...]
    sent: tuple[SentMessage, ...]
    pack: bytes


@dataclass(frozen=True)
class _Design:
    """Of a design what its run needs; ``buses`` by name."""

    name: str
    panel: Panel
    start: str
    signals: tuple[SignalDefinition, ...]
    outputs: tuple[OutputDefinition, ...]
    memories: tuple[Memory, ...]
    themes: tuple[ThemeDefinition, ...]
    choose: ThemeChoice | None
    order: tuple[str, ...]
    buses: tuple[str, ...]
    on: Mapping[str, str]


@dataclass(frozen=True)
class _Tables:
    """What a host file holds beside the pack."""

    design: _Design
    channels: tuple[Channel, ...]
    screens: tuple[BoundScreen, ...]
    received: tuple[ReceivedMessage, ...]
    sent: tuple[SentMessage, ...]


SHARED.append(channels.Lettering)
LEFT_OUT.update(
    {
        (SignalDefinition, "formula"): None,
        (ThemeDefinition, "roles"): {},
        (ThemeDefinition, "ramps"): {},
    }
)


def run_needs(design: Design) -> Design:
    """A design without what only its pictures, its checks and its editor need: a run from a folder goes by
    the same as one from a host file."""
    return _design(_of_design(design))


def write(host: Host) -> bytes:
    """The file's bytes, alike for alike designs."""
    bound = host.bound
    tables = _Tables(_of_design(bound.design), bound.channels, bound.screens, host.received, host.sent)
    shelf = Shelf()
    whole = form(_Tables).write(tables, shelf)
    rows = {"closures": shelf.closures, "shared": shelf.rows, "tables": whole}
    text = json.dumps(rows, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode() + b"\n"
    rest = text + host.pack
    head = f"host {VERSION} {shape(_Tables)} {len(text)} {hashlib.sha256(rest).hexdigest()}\n"
    return head.encode() + rest


def is_host(head: bytes) -> bool:
    """Whether a file that begins so is a host file."""
    return head.startswith(MARK)


def read(data: bytes, name: str) -> Host:
    """The host that a file holds. Raises DesignError: R780 to R782."""
    head = _HEAD.match(data)
    if head is None:
        _refuse("R780", f"'{name}' is no host file", "write one with hmic bind DESIGN -o FILE")
    rest = data[head.end() :]
    if (int(head[1]), head[2].decode()) != (VERSION, shape(_Tables)):
        text = f"the host file '{name}' was written by another version of hmic"
        _refuse("R781", text, "write it anew with this one: hmic bind DESIGN -o FILE")
    if hashlib.sha256(rest).hexdigest() != head[4].decode():
        _refuse("R782", f"the host file '{name}' is damaged: its bytes do not fit its checksum", _AGAIN)
    size = int(head[3])
    try:
        tables = _read(rest[:size])
        bound = replace(_bound(tables, rest[size:]), file=name)
    except Wrong as fault:
        place = f" at {fault.place}" if fault.place else ""
        _refuse("R782", f"the host file '{name}' is damaged{place}: {fault.reason}", _AGAIN)
    return Host(bound, tables.received, tables.sent, rest[size:])


_AGAIN = "copy it again, or write it anew: hmic bind DESIGN -o FILE"


def _refuse(code: str, message: str, remedy: str) -> NoReturn:
    found: Finding = error(code, message, None, remedy)
    raise DesignError([found])


def _read(text: bytes) -> _Tables:
    try:
        rows: Any = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise Wrong("its tables are no JSON") from None
    if not isinstance(rows, dict) or list(rows) != ["closures", "shared", "tables"]:
        raise Wrong("its tables are other ones")
    shelf = Shelf()
    try:
        shelf.read(rows["closures"], rows["shared"])
        tables: _Tables = form(_Tables).read(rows["tables"], shelf)
    except RecursionError:
        raise Wrong("its values lie too deep in each other") from None
    return tables


def _no_number(_: str) -> NoReturn:
    raise ValueError


def _bound(tables: _Tables, pack: bytes) -> BoundDesign:
    """Raises Wrong where the tables do not fit each other."""
    count = len(tables.channels)
    for number, screen in enumerate(tables.screens):
        numbers = [*screen.channels, *screen.calm, *screen.prompt]
        fits = all(0 <= each < count for each in numbers) and len(set(screen.channels)) == len(
            screen.channels
        )
        moving = screen.moving is None or len(screen.moving) == len(screen.channels)
        if not fits or not moving:
            raise Wrong(f"the channels of screen {number} are not those of the design")
    design, themes = tables.design, len(tables.design.themes)
    if not tables.screens or not themes or not all(0 <= each < themes for each in _chosen(design.choose)):
        raise Wrong("it has no screen, no theme, or chooses one that it has not")
    names = [each.name for each in design.signals]
    if len(set(names)) < len(names) or any(each.name not in names for each in design.outputs):
        raise Wrong("its signals are not told apart, or an output has none")
    return BoundDesign(_design(design), tables.channels, tables.screens, hashlib.sha256(pack).digest()[:8])


def _chosen(choose: ThemeChoice | None) -> list[int]:
    if choose is None:
        return []
    return [theme for _, theme in (choose.levels if isinstance(choose, BySignal) else choose.times)]


def _of_design(design: Design) -> _Design:
    plain = {name: replace(each, formula=None) for name, each in design.signals.items()}
    return _Design(
        design.name,
        design.panel,
        design.start,
        tuple(plain.values()),
        tuple(replace(each, signal=replace(each.signal, formula=None)) for each in design.outputs.values()),
        tuple(design.memories.values()),
        tuple(replace(each, roles={}, ramps={}) for each in design.themes),
        design.choose,
        design.order,
        tuple(design.buses),
        dict(design.on),
    )


def _design(needs: _Design) -> Design:
    return Design(
        root=Path(),
        name=needs.name,
        panel=needs.panel,
        fonts={},
        start=needs.start,
        buses={name: Path() for name in needs.buses},
        signals={each.name: each for each in needs.signals},
        outputs={each.name: each for each in needs.outputs},
        themes=needs.themes,
        screens={},
        parts={},
        order=needs.order,
        sources={},
        choose=needs.choose,
        memories={each.name: each for each in needs.memories},
        on=needs.on,
    )


# What makes sense ---------------------------------------------------------------------------------

_LONGEST_MS = 1000 * LONGEST
_MOST_BYTES = design_bounds.MOST_BYTES


def _steps(steps: Any) -> bool:
    return bool(0 <= steps.count <= MOST_STEPS)


def _rising(numbers: Any) -> bool:
    return all(a < b for a, b in pairwise(numbers))


def _points(xs: Any, ys: Any) -> bool:
    return len(xs) == len(ys) >= 2 and _rising(xs) and all(map(math.isfinite, (*xs, *ys)))


def _lettering(of: channels.Lettering) -> bool:
    fits = len(of.letters) == len(of.advances) >= 2 and all(each >= 0 for each in of.advances)
    return fits and 1 <= of.most <= MOST_STEPS


def _channel(channel: Channel) -> bool:
    if isinstance(channel.steps, channels.FirstTrue | channels.RingHead):
        fits = True
    else:
        fits = channel.value is not None
    times = 0 <= channel.peak <= LONGEST and 0 <= channel.glide <= LONGEST
    return fits and times and 0 <= channel.turn <= MOST_STEPS and 0 <= channel.urgency <= 255


def _ring(ring: Any) -> bool:
    return bool(1 <= ring.slots <= MOST_STEPS and 0.01 <= ring.period <= LONGEST)


def _place(place: Place) -> bool:
    length = place.length in (16, 32, 64) if place.real else 1 <= place.length <= MOST_BITS
    return length and 0 <= place.start <= 8 * _MOST_BYTES


def _signal(signal: SignalDefinition) -> bool:
    count = signal.count is None or 1 <= signal.count <= MOST_ELEMENTS
    return count and 0 <= signal.stale_after <= _LONGEST_MS


def _asked(asked: AskedSource) -> bool:
    return 0 <= asked.number <= 0xFFFF and 0 <= asked.service <= 0xBF and 10 <= asked.every <= _LONGEST_MS


def _panel(panel: Panel) -> bool:
    sides = all(1 <= each <= design_bounds.MOST_PICTURE for each in (panel.width, panel.height))
    return sides and panel.width_mm > 0 and panel.height_mm > 0 and 1 <= panel.baud <= 100_000_000


RULES.update(
    {
        "between": lambda given: _points(*given),
        "compared": lambda given: given[0] in ORDERS,
        "converted": lambda given: convertible(*given),
        "hand": lambda given: given[0] > 0 and given[1] > 0,
        "scaled": lambda given: math.isfinite(given[0]),
        "read": lambda given: given[1] is None or 1 <= given[1] <= MOST_ELEMENTS,
        "gathered": lambda given: len(given[0]) <= MOST_ELEMENTS,
        Unit: lambda unit: unit.factor > 0 and len(unit.dimension) == 7,
        channels.Scaled: lambda steps: _steps(steps) or steps.count < 1 << 40,
        channels.Places: lambda steps: steps.count <= MOST_STEPS,
        channels.Bands: lambda steps: (
            _steps(steps) and _rising(steps.limits) and all(0 <= each < steps.count for each in steps.order)
        ),
        channels.Listed: _steps,
        channels.FirstTrue: lambda steps: not steps.ranks or len(steps.ranks) == len(steps.conditions),
        channels.Lettering: _lettering,
        channels.Spelt: lambda spelt: _steps(spelt) and 0 <= spelt.place < spelt.lettering.most,
        channels.RingHead: _ring,
        channels.Kept: lambda kept: _ring(kept) and 0 <= kept.slot < kept.slots,
        Channel: _channel,
        Memory: lambda memory: 0 <= memory.seconds <= LONGEST,
        Place: _place,
        SignalDefinition: _signal,
        AskedSource: _asked,
        Panel: _panel,
        FieldSteps: lambda steps: steps.step > 0 and 1 <= steps.count <= 1 << 64,
        OutputDefinition: lambda output: 0 <= output.every <= _LONGEST_MS,
        ThemeDefinition: lambda theme: 0 <= theme.brightness <= 100,
        BySignal: lambda by: bool(by.levels) and by.wait >= 0 and by.keep >= 0,
        ByClock: lambda by: bool(by.times),
        actions.ZoneAction: lambda zone: 0 <= zone.held_ms <= _LONGEST_MS,
        SentMessage: lambda message: 0 <= message.size <= 64,
    }
)
