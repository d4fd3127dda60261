"""Every state that a host and a display can get into together while a line loses, keeps and delivers
frames as it likes: the sessions themselves, explored. Nothing of a session is replaced but its intervals,
which are made a few ticks long, and silence, which would end a session and hide what does not heal."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import pytest

from hmic.wire import cobs, display_session, frames, host_session, messages
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts
from hmic.wire.host_session import HostSession
from hmic.wire.messages import Kind
from tests.wire.bad_line import MemoryStore

TICK = 1.0
NEVER = 1e9
INSTANT = 1e30
"""Bytes a second at which a frame adds nothing to a time."""
INTERVALS = {
    host_session: {
        "LIFE_EVERY": 2 * TICK, "DISPLAY_SILENT_AFTER": NEVER, "SHOW_AGAIN": 2 * TICK,
        "UNDER_WAY_LIMIT": 4 * TICK,
    },
    display_session: {
        "ASK_EVERY": TICK, "DOUBT_AFTER": TICK, "HOST_SILENT_AFTER": NEVER, "BEAT_EVERY": NEVER,
        "BROKEN_OFF": NEVER,
    },
}  # fmt: skip

Action = tuple[str, int]


@dataclass(frozen=True)
class Flying:
    """A frame on its way: its bytes; its value number, if it has one, and what else tells it apart; the
    ticks since it left."""

    data: bytes
    number: int
    name: tuple[object, ...]
    age: int = 0


class Noting(HostSession):
    """A host that notes the number of each frame it sends and the values after it."""

    noted: list[tuple[int, tuple[object, ...]]]

    def _put(self, out: bytearray, body: bytes, seal: int) -> None:
        plain = body[:1] in (bytes((Kind.RESUME,)), bytes((Kind.SHOW,)))
        self.noted.append((self._sent.number, (body[:1] if plain else body, self._sent.values)))
        super()._put(out, body, seal)


@dataclass
class Joint:
    """Both ends and what is between them. ``slowest``: ticks that a frame may be under way."""

    host: Noting
    display: DisplaySession
    slowest: int
    now: float = TICK
    ways: tuple[list[Flying], list[Flying]] = field(default_factory=lambda: ([], []))

    def actions(self, room: int) -> Iterator[Action]:
        """What may happen next: a frame arrives or is lost, a value moves, time passes. Time waits for the
        slowest frame, a value for ``room`` on the line."""
        for way in (0, 1):
            if self.ways[way]:
                yield "arrives", way
                yield "is lost", way
        if max(map(len, self.ways)) <= room:
            if len(self.ways[0]) < room:
                yield from (("moves", at) for at in range(len(self.host._target or ())))
            if max((way[0].age for way in self.ways if way), default=0) < self.slowest:
                yield "passes", 0

    def after(self, action: Action) -> Joint:
        """The state that an action leads to."""
        made = self._copy()
        kind, which = action
        if kind == "arrives":
            data = made.ways[which].pop(0).data
            end = (made.display, made.host)[which]
            end.receive(data, made.now)
        elif kind == "is lost":
            made.ways[which].pop(0)
        elif kind == "moves":
            target = list(made.host._target or ())
            target[which] = 11 - target[which]
            made.host.update(target, made.now)
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
        self.host.noted = []
        said = frames.FrameDecoder().receive(self.host.outgoing(self.now))
        for frame, (number, name) in zip(said, self.host.noted, strict=True):
            self.ways[0].append(Flying(encoded(frame), number, name))
        for frame in frames.FrameDecoder().receive(self.display.outgoing(self.now)):
            told = messages.decode(frame.body)
            number = told.number if isinstance(told, messages.Want) else 0
            self.ways[1].append(Flying(encoded(frame), number, (type(told).__name__,)))

    def sound(self) -> bool:
        """Whether the display holds what the host thinks it holds after that number. Where it does not, a
        frame passed a check of 16 bits by chance: the one thing that is not explored."""
        kept = self.host._sent._kept.get(self.display._held.number)
        same = self.display._scene != self.host._scene or kept is None
        return same or (kept is not None and list(kept.values) == self.display._held.values)

    def asking(self) -> bool:
        """Whether the display is on the way to doubt."""
        return self.display._asking_since is not None

    def key(self) -> tuple[object, ...]:
        """What decides all that can come: numbers by their order and whether they are neighbours, times by
        how long ago."""
        host, display, now = self.host, self.display, self.now
        flying = [each.number for way in self.ways for each in way]
        # A host that went back forgets it once nothing earlier can be told any more.
        wanted = [display._held.number, *(each.number for each in self.ways[1])]
        back = host._gone_back_to, host._resumed_as
        if min(wanted) >= back[1]:
            back = host._sent.number, host._sent.number
        named = {host._sent.number, display._held.number, *back, *flying}
        place, places, last = 0, {}, None
        for number in sorted(named):
            place += 0 if last is None else min(2, number - last)
            places[number], last = place, number

        def since(at: float, most: float) -> float:
            return max(-most, min(most, at - now))

        kept = {number: held.values for number, held in host._sent._kept.items()}
        waits = max(0.0, since(host._under_way_until, NEVER)) if back[0] < back[1] else 0
        return (
            host._sent.values, host._target, tuple(map(kept.get, sorted(named))),
            host._resume_due, places[back[0]], places[back[1]], host._under_way,
            waits, since(host._life_at, 3),
            host._show_due, host._fresh, host._scene - display._scene, since(host._shown_at, 3),
            places[host._sent.number], places[display._held.number], tuple(display._held.values),
            self.asking() and since(display._asking_since or 0.0, 2), since(display._asked_at, 2),
            tuple(tuple((places[each.number], each.name, each.age) for each in way) for way in self.ways),
        )  # fmt: skip

    def _copy(self) -> Joint:
        host, display = copy.copy(self.host), copy.copy(self.display)
        for end in (host, display):
            end._decoder = copy.copy(end._decoder)
            end._decoder._held = bytearray()
        host._counts = dict(host._counts)
        host._sent = copy.copy(host._sent)
        host._sent._kept = dict(host._sent._kept)
        display._held = copy.copy(display._held)
        return Joint(host, display, self.slowest, self.now, ([*self.ways[0]], [*self.ways[1]]))


def encoded(frame: frames.Frame) -> bytes:
    """The bytes of a frame that was cut out of a stream."""
    return cobs.encode_reduced(frame.body + frame.check.to_bytes(2, "little")) + b"\0"


def together(count: int, slowest: int, under_way: float, patch: pytest.MonkeyPatch) -> Joint:
    """Both ends after a clean start: all values shown, nothing under way."""
    for module, values in INTERVALS.items():
        for name, value in values.items():
            patch.setattr(module, name, value)
    host = Noting(3, INSTANT)
    host.noted = []
    host._under_way = under_way
    host.show(0, 0, 80, count)
    host.update([5] * count, TICK)
    display = DisplaySession(DisplayFacts(7, 9, 9, 1, None, 99, 9, 1), MemoryStore())
    joint = Joint(host, display, slowest)
    joint.settle()
    while joint.ways[0] or joint.ways[1]:
        joint = joint.after(("arrives", 0 if joint.ways[0] else 1))
    assert display is not joint.display and joint.display._held.values == [5] * count
    return joint


@dataclass
class Explored:
    """The graph of all states: for each, by what one gets where. ``chance`` counts what was left out
    because a spoilt frame passed its check by chance."""

    states: dict[tuple[object, ...], int]
    ways_on: list[list[tuple[Action, int]]]
    asking: list[bool]
    chance: int


def explore(start: Joint, room: int, most: int) -> Explored:
    """All states that can be reached; fails if there are more than ``most``."""
    found = Explored({start.key(): 0}, [[]], [start.asking()], 0)
    waiting = [(0, start)]
    while waiting:
        number, joint = waiting.pop()
        for action in joint.actions(room):
            then = joint.after(action)
            if not then.sound():
                found.chance += 1
                continue
            key = then.key()
            if key not in found.states:
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
