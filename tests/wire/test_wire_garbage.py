"""Nothing that comes from the line makes a session raise, grow, or reach outside its bounds."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.wire import frames, messages, updates
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import Connected, Mismatched, Phase
from hmic.wire.host_session import HostSession
from tests.wire.bad_line import Bench


def sealed_garbage(dice: Random, seal: int, low: int, high: int) -> bytes:
    """A frame with a right CRC and a kind of the range, and anything inside."""
    body = bytes((dice.randrange(low, high),)) + dice.randbytes(dice.randrange(40))
    return frames.encode(body, seal)


@pytest.mark.usefixtures("either_session")
def test_a_hundred_thousand_frames_of_garbage() -> None:
    bench = Bench(1)
    bench.run(0.5)
    dice = Random(2)
    seal = bench.display._seal
    assert seal is not None and seal == bench.host._greeting.seal
    for _ in range(500):
        noise = b"".join(dice.randbytes(dice.randrange(1, 24)) + b"\0" for _ in range(80))
        down = noise + b"".join(sealed_garbage(dice, seal, 2, 0x14) for _ in range(20))
        up = noise + b"".join(sealed_garbage(dice, seal, 0x42, 0x53) for _ in range(20))
        bench.now += 0.01
        bench.display.receive(down, bench.now)
        bench.host.receive(up, bench.now)
        bench.display.touch(0, Phase.PRESS, 1, 1, bench.now)
        assert len(bench.display.outgoing(bench.now)) < 4000
        assert len(bench.host.outgoing(bench.now)) < 4000
        assert len(bench.display._touches) <= 32
        assert bench.display._held.count <= 512
        assert len(bench.display._decoder._held) <= frames.MAX_STUFFED
        assert len(bench.store.content) <= 1 << 21
        seal = bench.display._seal or seal
    assert bench.display.dropped > 30_000


@pytest.mark.usefixtures("either_session")
@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.binary(max_size=60), max_size=12))
def test_display_events_do_not_depend_on_the_cuts(noise: list[bytes]) -> None:
    bench = Bench(3)
    greet = frames.encode(messages.encode(messages.Greet(messages.VERSION, 1, 1)))
    first = DisplaySession(bench.facts(), bench.store)
    second = DisplaySession(first.facts, bench.store)
    first.receive(greet, 0.0), second.receive(greet, 0.0)
    seal = first._seal
    assert seal is not None
    show = frames.encode(messages.encode(messages.Show(1, 0, True, 0, 0, 50, 7)), seal)
    fill, _ = updates.encode_fill([0] * 7, (9, 8, 7, 6, 5, 4, 3), 0, 7, 0, limit=99)
    values = frames.encode(fill, updates.value_seal(seal, 1, 1, 0, [0] * 7))
    stream = b"\0".join([*noise, show, values, *noise])
    whole = first.receive(stream, 0.0)
    slow = [event for byte in stream for event in second.receive(bytes((byte,)), 0.0)]
    assert whole[0] == slow[0]
    assert whole[-1] == slow[-1]
    assert first._held.values == second._held.values == [9, 8, 7, 6, 5, 4, 3]
    assert first.dropped == second.dropped
    assert first.outgoing(0.0) == second.outgoing(0.0)


def test_a_host_takes_an_answer_only_to_its_own_greeting() -> None:
    bench = Bench(4)
    host = HostSession(55)
    host.outgoing(0.0)
    for answer in (
        messages.Answer(messages.VERSION, 54, 1, bench.facts()),
        messages.Answer(messages.VERSION, 55, 2, bench.facts()),
    ):
        assert host.receive(frames.encode(messages.encode(answer)), 0.1) == []
    facts = bench.facts()
    answer = messages.Answer(messages.VERSION, 55, 1, facts)
    assert host.receive(frames.encode(messages.encode(answer)), 0.2) == [Connected(facts)]


def test_another_version_is_reported_once() -> None:
    host = HostSession(5)
    host.outgoing(0.0)
    other = frames.encode(bytes((messages.Kind.ANSWER, 7)) + (5).to_bytes(4, "little") + b"\1\0xyz")
    events = [event for turn in range(3) for event in host.receive(other, turn / 10)]
    assert events == [Mismatched(7)]
