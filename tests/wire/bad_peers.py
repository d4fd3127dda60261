"""Feeds a display and a host random and mutated frames, most with a right check, and looks at them.

Shared by the test and ``python -m tests.bench peers``.
"""

from __future__ import annotations

import gc
import sys
from collections import Counter
from random import Random

from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import Outcome, Phase, Shown, Transferred, Values
from hmic.wire.host_session import HostSession
from hmic.wire.messages import Kind
from tests.wire.bad_line import SCREENS, Bench
from tests.wire.sound_packs import pack_of

HOST_KINDS = [kind for kind in Kind if kind < 0x40]
DISPLAY_KINDS = [kind for kind in Kind if kind > 0x40]
ROUND = 200
MOST_OUT = 6000
STATE_LIMIT = 3_000_000


def body(dice: Random, kinds: list[Kind], seen: list[bytes]) -> bytes:
    """A message body: made up, or a true one with some bytes changed, cut, doubled or joined."""
    if not seen or dice.random() < 0.4:
        kind = dice.choice(kinds)
        return bytes((kind,)) + dice.randbytes(dice.choice((0, 1, 2, 3, 5, 8, 13, 40, 120, 400)))
    out = bytearray(dice.choice(seen))
    for _ in range(dice.randrange(4)):
        at = dice.randrange(len(out)) if out else 0
        if not out:
            break
        match dice.randrange(5):
            case 0:
                out[at] ^= 1 << dice.randrange(8)
            case 1:
                out[at] = dice.choice((0, 1, 0x7F, 0x80, 0xFF))
            case 2:
                out[at : at + dice.randrange(3)] = dice.randbytes(dice.randrange(3))
            case 3:
                del out[max(1, at) :]
            case _:
                out += dice.choice(seen)[1:]
    return bytes(out[: frames.MAX_BODY]) or b"\0"


def line(dice: Random, kinds: list[Kind], seen: list[bytes], seal: int | None) -> bytes:
    """One frame on the line, its check right more often than not; or noise."""
    if dice.random() < 0.1:
        return dice.randbytes(dice.randrange(1, 600)) + b"\0"
    chosen = body(dice, kinds, seen)
    right = START if chosen[0] in (Kind.GREET, Kind.ANSWER, Kind.ALONE) else seal
    if right is None or dice.random() < 0.2:
        right = dice.getrandbits(16)
    return frames.encode(chosen, right)


def changes(dice: Random, display: DisplaySession) -> bytes:
    """A value frame whose seal is right, whatever it says."""
    held = display._held
    number = held.number + dice.choice((1, 1, 5))
    chosen = dice.choice(
        (
            updates.PULSE,
            bytes((0x80 | dice.getrandbits(7),)) + dice.randbytes(dice.randrange(30)),
            bytes((Kind.FILL, dice.choice((0, 0x80, dice.randrange(256)))))
            + dice.randbytes(dice.randrange(30)),
            messages.encode(
                messages.Resume(number & 0xFFFFFFFF, dice.choice((0, 1, held.count, held.count + 1)))
            ),
        )
    )
    number = held.number if chosen == updates.PULSE else number
    seal = held.seal(display._seal or 0, display._scene, number & 0xFFFFFFFF)
    return frames.encode(chosen, seal)


def seen_bodies(bench: Bench) -> tuple[list[bytes], list[bytes]]:
    """True messages in both directions, to be mutated."""
    down, up = [], []
    facts = bench.facts()
    pack = bytes(range(256)) * 30
    for message in (
        messages.Greet(messages.VERSION, 3, 4),
        messages.Show(2, 9, True, 2, 0, 80, 120),
        messages.Resume(10, 2),
        messages.HostBeat(),
        messages.Heard(3),
        messages.Offer(1, len(pack), bytes(32), fresh=False),
        messages.Offer(1, len(pack), bytes(32)),
        messages.Block(1, 1, 0, pack[:128]),
        messages.Squeezed(1, 2, 2, 4, b"\x00a\x80\x00\x80\x00"),
        messages.Copy(1, 3, 6, 2, 64),
        messages.Compare(1, 0),
        messages.Finish(1),
        messages.Drop(1),
    ):
        down.append(messages.encode(message))
    for answer in (
        messages.Answer(messages.VERSION, 3, 4, facts),
        messages.DisplayBeat(1, 9, 0),
        messages.Touch(0, 2, 4, Phase.PRESS, 512, 300, 1),
        messages.Want(1, 9),
        messages.Alone(),
        messages.Need(1, 1, False, 0, (2, 1)),
        messages.Result(1, Outcome.DIFFERS),
        messages.Hashes(1, 5000, 0, (bytes(6),) * 5),
    ):
        up.append(messages.encode(answer))
    return down, up


def size_of(thing: object, known: set[int] | None = None, depth: int = 0) -> int:
    """Bytes of an object and what it holds, roughly."""
    known = set() if known is None else known
    if id(thing) in known or depth > 6 or isinstance(thing, type):
        return 0
    known.add(id(thing))
    total = sys.getsizeof(thing)
    parts: list[object] = []
    if isinstance(thing, dict):
        parts = [*thing.keys(), *thing.values()]
    elif isinstance(thing, list | tuple | set | frozenset) or type(thing).__name__ == "deque":
        parts = list(thing)  # type: ignore[call-overload]
    elif hasattr(thing, "__dict__"):
        parts = list(vars(thing).values())
    return total + sum(size_of(part, known, depth + 1) for part in parts)


def fuzzed(count: int, seed: int) -> Counter[str]:
    """Feeds ``count`` frames to each end, in rounds; after some rounds a true session must stand, show
    values and take a pack. What was counted."""
    counts: Counter[str] = Counter()
    bench = Bench(seed)
    dice = Random(seed + 1)
    bench.run(0.5)
    down, up = seen_bodies(bench)
    turn = 0
    while counts["frames for the display"] < count:
        turn += 1
        for _ in range(ROUND):
            bench.now += dice.choice((0.0, 0.0, 0.001, 0.01))
            display, host = bench.display, bench.host
            frame = (
                changes(dice, display) if dice.random() < 0.2 else line(dice, HOST_KINDS, down, display._seal)
            )
            for event in display.receive(frame, bench.now):
                if isinstance(event, Shown):
                    bench.shown = event
                elif isinstance(event, Values):
                    bench.values = event.raw
            host.receive(line(dice, DISPLAY_KINDS, up, host._greeting.seal), bench.now)
            assert len(display.outgoing(bench.now)) <= MOST_OUT
            assert len(host.outgoing(bench.now)) <= MOST_OUT
            display.next_deadline(), host.next_deadline()
            if dice.random() < 0.1:
                display.touch(dice.randrange(9), dice.choice(list(Phase)), 1, 2, bench.now)
            _within_bounds(display, host, bench)
        counts["frames for the display"] += ROUND
        counts["frames for the host"] += ROUND
        if turn % 50 == 1:
            gc.collect()
            held = max(size_of(bench.display, {id(bench.store)}), size_of(bench.host))
            counts["most bytes held by a session"] = max(counts["most bytes held by a session"], held)
            assert held < STATE_LIMIT
            _works_on(bench, counts, dice)
    return counts


def _within_bounds(display: DisplaySession, host: HostSession, bench: Bench) -> None:
    assert len(display._touches) <= 32
    assert display._held.count <= display.facts.channel_capacity
    assert all(0 <= value <= 0xFFFF for value in display._held.values)
    assert len(display._decoder._held) <= frames.MAX_STUFFED
    assert len(host._decoder._held) <= frames.MAX_STUFFED
    assert len(bench.store.content) <= display.facts.pack_capacity


def _works_on(bench: Bench, counts: Counter[str], dice: Random) -> None:
    """True traffic goes on after the garbage: values right within two seconds, and a pack goes through."""
    bench.down.free = bench.up.free = bench.now
    bench.start_host()
    bench.change_screen(dice.choice(list(SCREENS)))
    bench.run(2.0)
    assert bench.right()
    bench.host_events.clear()
    pack = pack_of(dice.randbytes(5000))
    bench.host.transfer(pack)
    bench.run(3.0)
    assert bench.store.active == pack
    assert Transferred(Outcome.ACTIVATED) in bench.host_events
    bench.run(1.0)
    assert bench.right()
    counts["true sessions and pushes after it"] += 1
