"""The player's end of the line against the software display's: the same bytes in, the same bytes out."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, STALE, Drawing
from hmic.wire import frames, messages, varint
from hmic.wire.crc import START
from hmic.wire.events import Disconnected
from hmic.wire.frames import FrameDecoder
from hmic.wire.host_session import HostSession
from hmic.wire.messages import Kind
from hmic.wire.received import ReceivedValues
from hmic.wire.updates import encode_fill
from tests.display.test_display_line import two_screens
from tests.pack.test_pack_operations import ALL, drawing
from tests.tools.player_display import PlayerDisplay
from tests.wire.bad_peers import HOST_KINDS, body, seen_bodies

STEP = 0.01


class Twins:
    """One of each, told the same; every byte they say and every value they show must be alike."""

    def __init__(self, shown: Drawing, fastest: int = 0) -> None:
        self.drawing: Drawing | None = shown
        glass = Glass(shown.width, shown.height, shown.depth)
        kinds: tuple[Any, ...] = (Display, PlayerDisplay)
        self.both = [kind(MemoryFlash(1 << 18), glass, 77, fastest) for kind in kinds]
        assert all(each.install(write(shown)) for each in self.both)
        self.now, self.steps = 0.0, 0

    def step(self, data: bytes) -> bytes:
        self.steps += 1
        # A little more than its share each time: where sums of floats just miss a moment, whole
        # milliseconds do not.
        self.now = self.steps * (STEP + 1e-9)
        said = []
        for each in self.both:
            each.receive(data, self.now)
            said.append(each.outgoing(self.now))
        one, other = (list(map(told, FrameDecoder().receive(out))) for out in said)
        assert one == other
        assert self.seen(0) == self.seen(1)
        assert self.both[0].take_rate() == self.both[1].take_rate()
        assert self.both[0].identity == self.both[1].identity
        return said[0]

    def seen(self, which: int) -> tuple[object, ...]:
        """Screen, theme, brightness and the values that can be seen: those that the screen lists."""
        moment = self.both[which].moment(self.now)
        raw = moment.raw
        if raw and self.drawing is not None and len(raw) == len(self.drawing.channels):
            raw = tuple(raw[channel] for channel in self.drawing.screens[moment.screen].channels)
        if not self.both[1].shows:
            # Never seen or stale: before the first Show the two need not agree.
            raw = tuple(value or STALE for value in raw)
        return moment.screen, moment.theme, self.both[which].brightness, raw

    def touch(self, chance: random.Random) -> None:
        if chance.random() < 0.02:
            x, y = chance.randrange(40), chance.randrange(20)
            name = chance.choice(("press", "release"))
            assert len({getattr(each, name)(x, y, self.now) for each in self.both}) == 1


def told(frame: frames.Frame) -> object:
    """A frame; of Hashes how many there are is each display's own choice."""
    if frame.kind == Kind.HASHES:
        found = messages.decode(frame.body)
        assert isinstance(found, messages.Hashes)
        return (found.transfer, found.size, found.first, found.hashes[:19])
    return frame


def spoilt(chance: random.Random, data: bytes, errors: float) -> bytes:
    out = bytearray(data)
    for at in range(len(out)):
        if chance.random() < errors:
            out[at] ^= 1 << chance.randrange(8)
    return bytes(byte for byte in out if chance.random() > errors / 4)


@pytest.mark.parametrize("seed", range(6))
def test_a_host_on_a_spoilt_line_hears_and_sees_the_same(seed: int) -> None:
    chance = random.Random(seed)
    shown = two_screens()
    twins, host = Twins(shown, 230400 if seed % 2 else 0), HostSession(5 + seed, 11520.0)
    errors = (0.0, 0.0005, 0.003)[seed % 3]
    back = b""
    pack = write(drawing(*ALL))
    values, shows = [0, 0], False
    for turn in range(1500):
        if any(isinstance(e, Disconnected) for e in host.receive(spoilt(chance, back, errors), twins.now)):
            shows = False
        if turn % 200 == 50:
            host.show(chance.randrange(2), chance.randrange(2), chance.randrange(101), 2)
            values, shows = [0, 0], True
        if turn % 7 == 0 and shows:
            values[chance.randrange(2)] = chance.randrange(3 + LIVE)
            host.update(values, twins.now)
        if turn == 900:
            host.transfer(write(shown) if seed % 2 else pack)
        said = b"" if turn % 500 > 350 and seed == 4 else host.outgoing(twins.now)
        twins.touch(chance)
        back = twins.step(spoilt(chance, said, errors))


def value_frame(chance: random.Random, seal: int, scene: int, number: int, received: ReceivedValues) -> bytes:
    """A value frame that follows on what is held, or nearly; what it says may be no sense."""
    held, after = received.values, number + chance.choice((1, 1, 1, 0, 2))
    tail = chance.randbytes(chance.randrange(12))
    made = chance.choice(
        (
            b"\xff",
            bytes((0x80 | chance.getrandbits(7),)) + tail,
            bytes((Kind.FILL, chance.choice((0, 0x80, 0x88)), chance.randrange(256))) + tail,
            encode_fill(
                held,
                [chance.choice((1, 3, 9, 70, 0xFFFF)) for _ in held],
                0,
                len(held),
                chance.randrange(3),
                limit=99,
            )[0]
            if held
            else b"\xff",
            bytes((Kind.RESUME,)) + varint.encode(after) + chance.choice((b"\0", b"\1", b"\2", b"", tail)),
        )
    )
    return frames.encode(made, received.seal(seal, scene, number if made == b"\xff" else after))


def hostile(twins: Twins, chance: random.Random, true: list[bytes]) -> Iterator[bytes]:
    """Frames that a display could hear from a host gone wrong, most with a right check."""
    player = twins.both[1]
    assert isinstance(player, PlayerDisplay)
    while True:
        held = player.told()
        seal, scene, number = held.seal if held.sealed else None, held.scene, held.number
        kind = chance.random()
        if kind < 0.1:
            yield chance.randbytes(chance.randrange(1, 600)) + b"\0"
        elif kind < 0.15:
            yield frames.encode(messages.encode(messages.Greet(1, chance.randrange(3), chance.randrange(4))))
        elif kind < 0.35 and seal is not None:
            yield value_frame(chance, seal, scene, number, twins.both[0]._session._held)
        elif kind < 0.55 and seal is not None:
            show = messages.Show(
                scene + chance.randrange(3), number, chance.random() < 0.5, chance.randrange(3),
                chance.randrange(3), chance.randrange(101), chance.choice((0, 1, 2, 2, 2, 3)),
            )  # fmt: skip
            yield frames.encode(messages.encode(show), seal)
        else:
            chosen = body(chance, HOST_KINDS, true)
            right = START if chosen[0] == Kind.GREET else seal
            wrong = right is None or chance.random() < 0.1
            yield frames.encode(chosen, chance.getrandbits(16) if wrong else right)


@pytest.mark.parametrize("seed", range(4))
def test_hostile_frames_lead_both_the_same_way(seed: int) -> None:
    from tests.wire.bad_line import Bench

    chance = random.Random(seed)
    twins = Twins(two_screens(), 115200 if seed == 2 else 0)
    true, _ = seen_bodies(Bench(seed))
    # An identity of zeros is that of no pack: the two need not agree on it.
    true = [each.replace(bytes(32), bytes(range(32))) for each in true]
    stream = hostile(twins, chance, true)
    for _ in range(4000):
        twins.touch(chance)
        twins.step(b"".join(next(stream) for _ in range(chance.choice((1, 1, 2, 4)))))


def test_turns_on_two_wires_are_kept() -> None:
    """Nothing is said before the turn; then whole frames for 12 ms of the line at most, then Over."""
    shown = two_screens()
    glass = Glass(shown.width, shown.height, shown.depth)
    player = PlayerDisplay(MemoryFlash(1 << 18), glass, 3, two_wires=True, baud=115200)
    assert player.install(write(shown))
    greet = b"\0" + frames.encode(messages.encode(messages.Greet(1, 9, 1)))
    player.receive(greet, 0.5)
    assert player.call("hmic_display_compose") is not None
    turn = frames.encode(messages.encode(messages.Turn()))
    player.receive(turn, 0.6)
    player.call("hmic_display_compose")
    out = player.said()
    kinds = [frame.kind for frame in FrameDecoder().receive(out)]
    assert kinds[-1] == Kind.OVER and Kind.ANSWER in kinds and kinds.count(Kind.OVER) == 1
    assert len(out) <= 115200 / 10 * 0.012 + 6
    player.call("hmic_display_compose")
    assert player.said() == b""
