"""Every state that a host and a display can get into together while a line loses, keeps and delivers
frames as it likes: the sessions themselves, explored. Nothing of a session is replaced but its intervals,
which are made a few ticks long, silence, which would end a session and hide what does not heal, and how much
the line takes."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import pytest

from hmic.paint.operations import LIVE
from hmic.wire import (
    cobs,
    display_session,
    frames,
    host_greeting,
    host_scene,
    host_session,
    host_values,
    messages,
    sent,
)
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts
from hmic.wire.host_session import HostSession
from hmic.wire.host_values import HostValues
from hmic.wire.messages import Kind
from hmic.wire.outbox import Outbox
from tests.tools.changed import replace
from tests.wire.bad_line import MemoryStore

TICK = 1.0
NEVER = 1e9
INSTANT, FRAME_A_TICK = 1e30, 1e9
"""Bytes a tick: a frame adds nothing to a time, or enough that the next value frame waits for a tick."""
INTERVALS = {
    host_session: {"LIFE_EVERY": 2 * TICK},
    host_greeting: {"DISPLAY_SILENT_AFTER": NEVER},
    host_scene: {"SHOW_AGAIN": 2 * TICK},
    host_values: {"UNDER_WAY_LIMIT": 4 * TICK},
    display_session: {
        "ASK_EVERY": TICK, "DOUBT_AFTER": TICK, "HOST_SILENT_AFTER": NEVER, "BEAT_EVERY": NEVER,
        "BROKEN_OFF": NEVER,
    },
    sent: {"RETURN_AFTER": TICK, "TELL_AGAIN": TICK},
}  # fmt: skip

HOST_PARTS = ("_greeting", "_rate", "_scene", "_values", "_transfer")
DISPLAY_PARTS = ("_held", "_machine", "_proof")
Action = tuple[str, int]


@dataclass(frozen=True)
class Flying:
    """A frame on its way: its bytes; its value number, if it has one, and what else tells it apart; the
    ticks since it left."""

    data: bytes
    number: int
    name: tuple[object, ...]
    age: int = 0


class Noting(Outbox):
    """Notes the number of each frame that a host sends and the values after it."""

    def __init__(self, rate: float, values: HostValues) -> None:
        super().__init__(rate)
        self.values = values
        self.noted: list[tuple[int, tuple[object, ...]]] = []

    def put(self, body: bytes, seal: int) -> None:
        sent = self.values.sent
        plain = body[:1] in (bytes((Kind.RESUME,)), bytes((Kind.SHOW,)))
        self.noted.append((sent.number, (body[:1] if plain else body, sent.values, sent.late)))
        super().put(body, seal)


@dataclass
class Joint:
    """Both ends and what is between them. ``slowest``: ticks that a frame may be under way. ``moved`` and
    ``proved``: when each value moved, and when the display last took a proof of what it holds."""

    host: HostSession
    display: DisplaySession
    slowest: int
    moved: tuple[float, ...]
    now: float = TICK
    proved: float = TICK
    ways: tuple[list[Flying], list[Flying]] = field(default_factory=lambda: ([], []))

    @property
    def values(self) -> HostValues:
        """The host's."""
        return self.host._values

    def actions(self, room: int) -> Iterator[Action]:
        """What may happen next: a frame arrives or is lost, a value moves, time passes. Time waits for the
        slowest frame, a value for ``room`` on the line."""
        for way in (0, 1):
            if self.ways[way]:
                yield "arrives", way
                yield "is lost", way
        if max(map(len, self.ways)) <= room:
            if len(self.ways[0]) < room:
                yield from (("moves", at) for at in range(len(self.values.target or ())))
            if max((way[0].age for way in self.ways if way), default=-1) < self.slowest:
                yield "passes", 0

    def after(self, action: Action) -> Joint:
        """The state that an action leads to."""
        made = self._copy()
        kind, which = action
        if kind == "arrives":
            data = made.ways[which].pop(0).data
            before = made.display._last_taken, made.display._heard_at
            (made.display, made.host)[which].receive(data, made.now)
            if before != (made.display._last_taken, made.display._heard_at):
                made.proved = made.now
        elif kind == "is lost":
            made.ways[which].pop(0)
        elif kind == "moves":
            target = list(made.values.target or ())
            target[which] = 11 - target[which]
            made.host.update(target, made.now)
            made.moved = tuple(made.now if at == which else then for at, then in enumerate(made.moved))
        else:
            made.now += TICK
            for way in made.ways:
                way[:] = [replace(flying, age=flying.age + 1) for flying in way]
        made.settle()
        return made

    def settle(self) -> None:
        """Both say what they have to say."""
        self.display.receive(b"", self.now)
        self.host.receive(b"", self.now)
        noted = Noting(self.host._line.rate, self.values)
        noted.free_at = self.host._line.free_at
        self.host._line = noted
        said = frames.FrameDecoder().receive(self.host.outgoing(self.now))
        for frame, (number, name) in zip(said, noted.noted, strict=True):
            self.ways[0].append(Flying(encoded(frame), number, name))
        for frame in frames.FrameDecoder().receive(self.display.outgoing(self.now)):
            told = messages.decode(frame.body)
            number = told.number if isinstance(told, messages.Want) else 0
            self.ways[1].append(Flying(encoded(frame), number, (type(told).__name__,)))

    def sound(self) -> bool:
        """Whether the display holds what the host thinks it holds after that number. Where it does not, a
        frame passed a check of 16 bits by chance: the one thing that is not explored."""
        kept = self.values.sent._kept.get(self.display._held.number)
        same = self.display._scene != self.host._scene.number or kept is None
        return same or (kept is not None and list(kept.values) == self.display._held.values)

    def asking(self) -> bool:
        """Whether the display is on the way to doubt."""
        return self.display.asking

    def untrue(self) -> Iterator[float]:
        """Of each value that looks live and is not true any more: for how long it was not when it was last
        proved."""
        shown = zip(self.display._told or (), self.values.target or (), self.moved, strict=True)
        return (self.proved - moved for value, true, moved in shown if value >= LIVE and value != true)

    def key(self) -> tuple[object, ...]:
        """What decides all that can come: numbers by their order and whether they are neighbours, times by
        how long ago."""
        host, display, values, now = self.host, self.display, self.values, self.now
        shown = host._scene
        flying = [each.number for way in self.ways for each in way]
        # A host that went back forgets it once nothing earlier can be told any more.
        wanted = [display._held.number, *(each.number for each in self.ways[1])]
        back = values._back_to, values._resumed_as
        if min(wanted) >= back[1]:
            back = values.sent.number, values.sent.number
        named = {values.sent.number, display._held.number, *back, *flying}
        place, places, last = 0, {}, None
        for number in sorted(named):
            place += 0 if last is None else min(2, number - last)
            places[number], last = place, number

        def since(at: float, most: float) -> float:
            return max(-most, min(most, at - now))

        late = sent.LATE_AFTER + TICK if sent.LATE_AFTER < NEVER else 0.0
        most = late and late + (self.slowest + 1) * TICK

        def ages(behind: Mapping[int, float]) -> tuple[tuple[int, float], ...]:
            return tuple((at, since(then, late)) for at, then in behind.items())

        kept = {
            number: (held.values, held.late, held.cursor, since(held.at, late), ages(held.behind))
            for number, held in values.sent._kept.items()
        }
        untrue = tuple(
            shown != true and (since(then, most), max(0.0, min(most, self.proved - then)))
            for shown, true, then in zip(
                display._held.values, values.target or (), self.moved, strict=True
            )
        )
        waits = max(0.0, since(values._under_way_until, NEVER)) if back[0] < back[1] else 0
        return (
            values.sent.values, values.target, tuple(map(kept.get, sorted(named))),
            ages(values.sent.behind), values.sent._crowded, host._line.free_at > now, untrue,
            bool(values.sent.late) and since(values.sent.tell_at, late), display._held.late,
            values.going_back, places[back[0]], places[back[1]], values._under_way,
            waits, since(host._life_at, 3),
            shown.due, shown.fresh, shown.number - display._scene, since(shown._shown_at, 3),
            places[values.sent.number], places[display._held.number], tuple(display._held.values),
            self.asking() and since(display._asking_since, 2), since(display._asked_at, 2),
            tuple(tuple((places[each.number], each.name, each.age) for each in way) for way in self.ways),
        )  # fmt: skip

    def _copy(self) -> Joint:
        host, display = copy.copy(self.host), copy.copy(self.display)
        for end in (host, display):
            end._decoder = copy.copy(end._decoder)
            end._decoder._held = bytearray()
        for end, parts in ((host, HOST_PARTS), (display, DISPLAY_PARTS)):
            for part in parts:
                setattr(end, part, copy.copy(getattr(end, part)))
        for part in (host._greeting, host._rate, host._scene, host._values, host._transfer):
            part._machine = copy.copy(part._machine)
        host._values.sent = copy.copy(host._values.sent)
        host._values.sent._kept = dict(host._values.sent._kept)
        ways = [*self.ways[0]], [*self.ways[1]]
        return Joint(host, display, self.slowest, self.moved, self.now, self.proved, ways)


def encoded(frame: frames.Frame) -> bytes:
    """The bytes of a frame that was cut out of a stream."""
    return cobs.encode_reduced(frame.body + frame.check.to_bytes(2, "little")) + b"\0"


def together(
    count: int,
    slowest: int,
    under_way: float,
    patch: pytest.MonkeyPatch,
    late: float = NEVER,
    slow: bool = False,
) -> Joint:
    """Both ends after a clean start: all values shown, nothing under way. A value is late after so much time.
    On a ``slow`` line a tick takes one change of one value, and all but the first value are less urgent."""
    for module, values in INTERVALS.items():
        for name, value in values.items():
            patch.setattr(module, name, value)
    patch.setattr(sent, "LATE_AFTER", late)
    if slow:
        patch.setattr(sent, "URGENT", 1)
    host = HostSession(3, FRAME_A_TICK if slow else INSTANT)
    host._values._under_way = under_way
    host.show(0, 0, 80, count)
    host.update([5] * count, TICK)
    display = DisplaySession(DisplayFacts(7, 9, 9, 1, None, 99, 9, 1), MemoryStore())
    joint = Joint(host, display, slowest, (0.0,) * count)
    joint.settle()
    while joint.ways[0] or joint.ways[1]:
        joint = joint.after(("arrives", 0 if joint.ways[0] else 1))
    assert display is not joint.display and joint.display._held.values == [5] * count
    if slow:
        patch.setattr(host_session, "VALUE_LEAD", 0.0)
        patch.setattr(host_session, "value_room", lambda *_: 1)
        patch.setattr(host_values, "LEAST_ROOM", 1)
        joint.values._room = 1
        joint = joint.after(("passes", 0))
    return joint


@dataclass
class Explored:
    """The graph of all states: for each, by what one gets where. ``chance`` counts what was left out
    because a spoilt frame passed its check by chance. ``untrue``: the longest for which a value that looks
    live was not true when it was last proved; ``late``: in how many states some value is told to be late."""

    states: dict[tuple[object, ...], int]
    ways_on: list[list[tuple[Action, int]]]
    asking: list[bool]
    chance: int = 0
    untrue: float = 0.0
    late: int = 0


def explore(start: Joint, room: int, most: int, losses: bool = True) -> Explored:
    """All states that can be reached; fails if there are more than ``most``."""
    found = Explored({start.key(): 0}, [[]], [start.asking()])
    waiting = [(0, start)]
    while waiting:
        number, joint = waiting.pop()
        for action in joint.actions(room):
            if action[0] == "is lost" and not losses:
                continue
            then = joint.after(action)
            if not then.sound():
                found.chance += 1
                continue
            found.untrue = max((found.untrue, *then.untrue()))
            key = then.key()
            if key not in found.states:
                found.late += bool(then.display._held.late)
                found.states[key] = len(found.states)
                found.ways_on.append([])
                found.asking.append(then.asking())
                waiting.append((found.states[key], then))
                assert len(found.states) <= most
            found.ways_on[number].append((action, found.states[key]))
    return found


def endless(found: Explored) -> int:
    """How many states in which the display asks lie on a circle along which time passes and no frame is
    lost: there doubt would live on, or come again and again, though every frame arrives."""
    ways = [[(action, to) for action, to in on if action[0] != "is lost"] for on in found.ways_on]
    part = components([[to for _, to in on] for on in ways])
    timed = {
        part[at]
        for at, on in enumerate(ways)
        for action, to in on
        if action[0] == "passes" and part[at] == part[to]
    }
    return sum(asking and part[at] in timed for at, asking in enumerate(found.asking))


def components(ways: list[list[int]]) -> list[int]:
    """The strongly connected component of each node, by number (Tarjan 1972, without recursion)."""
    order: dict[int, int] = {}
    low: dict[int, int] = {}
    part = [-1] * len(ways)
    held: list[int] = []
    for root in range(len(ways)):
        if root in order:
            continue
        stack = [(root, 0)]
        while stack:
            node, at = stack.pop()
            if at == 0:
                order[node] = low[node] = len(order)
                held.append(node)
            if at < len(ways[node]):
                stack.append((node, at + 1))
                to = ways[node][at]
                if to not in order:
                    stack.append((to, 0))
                elif part[to] < 0:
                    low[node] = min(low[node], order[to])
                continue
            if low[node] == order[node]:
                while True:
                    member = held.pop()
                    part[member] = node
                    if member == node:
                        break
            if stack:
                low[stack[-1][0]] = min(low[stack[-1][0]], low[node])
    return part
