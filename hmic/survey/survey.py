"""The door of the room: recordings and descriptions in, facts out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from hmic.sources.frame import Row
from hmic.survey.describe import Descriptions
from hmic.survey.facts import CounterFound, Explained, MessageSeen, Period, StandardKind, Survey
from hmic.survey.fields import middle
from hmic.survey.gather import Gathered, Gathering, Key
from hmic.survey.smooth import Known, known_fields, smooth_fields
from hmic.survey.standards import is_j1939, standard_of

Recording = tuple[str, Iterable[Row], str, bool]
"""A recording: its name, its frames, the bus that it is of (empty: as its frames say), whether it has
times."""


def survey(recordings: Sequence[Recording], descriptions: Descriptions) -> Survey:
    """What the recordings hold, and which description explains it. Needs memory for 200,000 frames and
    what is known of each identifier, however long they are. Raises what reading them does."""
    gathering = Gathering(descriptions.begin)
    timed = True
    for _, rows, bus, has_times in recordings:
        gathering.take(rows, bus)
        timed = timed and has_times
    messages = _messages(gathering, descriptions)
    return Survey(
        tuple(name for name, *_ in recordings),
        gathering.frames,
        gathering.seconds,
        timed,
        messages,
        _explained(messages, descriptions),
    )


def _messages(gathering: Gathering, descriptions: Descriptions) -> tuple[MessageSeen, ...]:
    import numpy as np

    of_bus: dict[str, list[int]] = {}
    for bus, identifier, extended in gathering.of:
        if extended:
            of_bus.setdefault(bus, []).append(identifier)
    j1939 = {bus: is_j1939(identifiers) for bus, identifiers in of_bus.items()}
    seen = {key: _seen(gathered, descriptions, j1939) for key, gathered in gathering.of.items()}
    traces = [
        (message.name, field.name, field.trace)
        for message in seen.values()
        for field in message.fields
        if not field.states
    ]
    known = known_fields(np, traces)
    return tuple(_with_smooth(np, seen[key], gathering.of[key], known) for key in sorted(seen, key=_order))


def _order(key: Key) -> tuple[str, bool, int]:
    return key[0], key[2], key[1]


def _seen(gathered: Gathered, descriptions: Descriptions, j1939: dict[str, bool]) -> MessageSeen:
    bus, identifier, extended = gathered.key
    described = descriptions.of(identifier, extended, bus=bus)
    frames = [frame for _, frame in gathered.kept]
    return MessageSeen(
        bus,
        identifier,
        extended,
        described.message.name if described else "",
        described.file if described else "",
        gathered.count,
        gathered.first,
        gathered.last,
        _period(gathered),
        tuple(sorted(gathered.lengths.items())),
        gathered.moving(),
        gathered.guards.counters(),
        gathered.guards.checksums(),
        tuple(field.seen() for field in gathered.explained if field.count),
        (),
        gathered.turns.seen() if gathered.turns is not None else None,
        standard_of(identifier, extended, frames, j1939.get(bus, False)),
    )


def _period(gathered: Gathered) -> Period:
    low, high = middle(gathered.gaps, 0.05), middle(gathered.gaps, 0.95)
    return Period(middle(gathered.gaps, 0.5), (high - low) / 2, gathered.longest)


def _with_smooth(np: Any, message: MessageSeen, gathered: Gathered, known: Sequence[Known]) -> MessageSeen:
    """An identifier without a description also has what moves smoothly in it."""
    from dataclasses import replace

    if message.name or (message.standard is not None and message.standard.kind == StandardKind.DIAGNOSTICS):
        return message
    taken = {found.byte for found in message.checksums}
    for counter in message.counters:
        taken |= _bytes_of(counter)
    return replace(message, smooth=smooth_fields(np, gathered.kept, taken, known))


def _bytes_of(counter: CounterFound) -> set[int]:
    return set(range(counter.start // 8, (counter.start + counter.length - 1) // 8 + 1))


def _explained(messages: Sequence[MessageSeen], descriptions: Descriptions) -> tuple[Explained, ...]:
    result = []
    for file in descriptions.files:
        mine = [message for message in messages if message.file == file]
        names = {message.name for message in mine}
        all_of_it = [each.message.name for each in descriptions.messages if each.file == file]
        silent = tuple(name for name in all_of_it if name not in names)
        result.append(Explained(file, len(mine), sum(message.count for message in mine), silent))
    return tuple(result)
