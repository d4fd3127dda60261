"""Both sessions on a bad line: what the driver sees is true, recent, and soon right again."""

from __future__ import annotations

from random import Random

import pytest

from hmic.wire.events import Outcome, Progress, Silent, Surveyed, Transferred
from tests.wire.bad_line import CLEAN, SCREENS, Bench, Faults
from tests.wire.sound_packs import pack_of

pytestmark = pytest.mark.usefixtures("either_session")

ROUGH = {
    "bits": Faults(bit_errors=1e-3),
    "loss": Faults(loss=0.05),
    "twice": Faults(twice=0.1),
    "insertion": Faults(insertion=0.05),
    "stalls": Faults(stall=0.01),
    "all": Faults(1e-3, 0.03, 0.05, 0.03, 0.005),
}


def live(bench: Bench, seconds: float, restarts: bool = False) -> None:
    end = bench.now + seconds
    while bench.now < end:
        bench.step()
        chance = bench.dice.random()
        if chance < 0.1:
            bench.change_values()
        elif chance < 0.105:
            bench.change_screen(bench.dice.choice(list(SCREENS)))
        elif chance < 0.11:
            bench.theme = 1 - bench.theme
            bench.show()
        elif chance < 0.14:
            bench.finger()
        elif restarts and chance < 0.142:
            bench.start_host()
        elif restarts and chance < 0.144:
            bench.start_display()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ROUGH)
def test_right_within_two_seconds_after_any_fault(kind: str, seed: int) -> None:
    bench = Bench(seed)
    bench.down.faults = bench.up.faults = ROUGH[kind]
    live(bench, 8)
    bench.down.faults = bench.up.faults = CLEAN
    bench.now = max(bench.now, bench.down.free, bench.up.free)
    bench.run(1.7)
    bench.change_values()
    bench.run(0.2)
    assert bench.right()
    assert bench.wrong == []
    bench.run(3)
    assert bench.touches_told == bench.touches_made


@pytest.mark.parametrize("seed", range(6))
def test_right_within_two_seconds_after_restarts(seed: int) -> None:
    bench = Bench(seed)
    bench.down.faults = bench.up.faults = ROUGH["all"]
    live(bench, 8, restarts=True)
    bench.down.faults = bench.up.faults = CLEAN
    bench.now = max(bench.now, bench.down.free, bench.up.free)
    (bench.start_host, bench.start_display)[seed % 2]()
    bench.run(1.9)
    assert bench.right()
    assert bench.wrong == []
    assert bench.touches_told == sorted(set(bench.touches_told))


def test_a_clean_line_shows_within_a_tenth_of_a_second() -> None:
    bench = Bench(1)
    bench.run(0.1)
    assert bench.right()


def test_a_silent_host_makes_every_value_stale() -> None:
    bench = Bench(2)
    bench.change_screen(1)
    bench.run(1)
    assert bench.right()
    for _ in range(250):
        bench.now += 0.005
        events = bench.display.receive(b"", bench.now)
        bench.display_events += events
    assert Silent() in bench.display_events
    assert bench.display_events[-1].raw == (1,) * SCREENS[1]  # type: ignore[attr-defined]
    bench.run(1)
    assert bench.right()


def test_nothing_changed_costs_nothing_but_beats() -> None:
    bench = Bench(3)
    bench.change_screen(2)
    bench.run(1)
    before = bench.host.statistics
    for _ in range(100):
        bench.send()
        bench.run(0.1)
    after = bench.host.statistics
    assert after.value_frames == before.value_frames
    assert after.bytes - before.bytes <= 41 * 13


def test_a_theme_change_keeps_the_values() -> None:
    bench = Bench(4)
    bench.change_screen(1)
    bench.run(1)
    frames = bench.host.statistics.value_frames
    bench.display_events.clear()
    bench.theme = 1
    bench.show()
    bench.run(1)
    assert bench.shown is not None and bench.shown.theme == 1
    assert bench.host.statistics.value_frames == frames
    assert bench.right()


def test_a_lost_frame_is_asked_for_at_once() -> None:
    bench = Bench(5)
    bench.change_screen(1)
    bench.run(1)
    bench.raw[3] += 1
    bench.send()
    bench.host.outgoing(bench.now)  # into nowhere
    bench.raw[4] += 1
    bench.send()
    bench.display_events.clear()
    bench.run(0.06)
    assert bench.right()
    assert bench.host.statistics.resumed == 1
    assert not any(1 in event.raw for event in bench.display_events if hasattr(event, "raw"))
    assert bench.wrong == []


@pytest.mark.parametrize(("errors", "least"), [(0.0, 0.97), (1e-5, 0.92), (1e-4, 0.76)])
def test_a_transfer_arrives(errors: float, least: float) -> None:
    bench = Bench(6)
    bench.change_screen(1)
    bench.run(0.5)
    pack = pack_of(Random(7).randbytes(60_000))
    bench.down.faults = bench.up.faults = Faults(bit_errors=errors)
    bench.host.transfer(pack)
    start = bench.now
    while not any(isinstance(event, Transferred) for event in bench.host_events) and bench.now < start + 30:
        bench.step(0.002)
    assert Transferred(Outcome.ACTIVATED) in bench.host_events
    assert bench.store.active == pack
    assert len(pack) / (bench.now - start) / bench.rate > least - 0.04  # the beats and the finish
    bench.down.faults = bench.up.faults = CLEAN
    bench.run(1.5)
    assert bench.right()


def test_updates_pass_a_transfer() -> None:
    bench = Bench(8)
    bench.change_screen(1)
    bench.run(0.5)
    bench.host.transfer(pack_of(bytes(100_000)))
    worst = 0.0
    for _ in range(60):
        bench.run(0.05)
        bench.change_values()
        asked = bench.now
        while not bench.right() and bench.now < asked + 1:
            bench.step(0.002)
        worst = max(worst, bench.now - asked)
    assert any(isinstance(event, Progress) for event in bench.host_events)
    assert worst < 0.07
    assert bench.wrong == []


@pytest.mark.parametrize("end", ["host", "display", "cancel"])
def test_a_broken_transfer_goes_on_where_it_was(end: str) -> None:
    bench = Bench(9)
    pack = pack_of(Random(1).randbytes(50_000))
    bench.run(0.3)
    bench.host.transfer(pack)
    bench.run(2)
    if end == "host":
        bench.start_host()
        bench.host.transfer(pack)
    elif end == "display":
        bench.start_display()
    else:
        bench.host.cancel_transfer()
        bench.run(0.5)
        bench.host.transfer(pack)
    bench.run(5)
    assert bench.store.active == pack
    assert bench.store.written < len(pack) + 4096
    ended = [event.outcome for event in bench.host_events if isinstance(event, Transferred)]
    assert ended == [Outcome.CANCELLED] * (end == "cancel") + [Outcome.ACTIVATED]


def test_another_pack_takes_the_place_of_the_first() -> None:
    bench = Bench(13)
    bench.run(0.3)
    bench.host.transfer(pack_of(Random(1).randbytes(30_000)))
    bench.run(1)
    pack = pack_of(Random(2).randbytes(10_000))
    bench.host.transfer(pack)
    bench.run(2)
    assert bench.store.active == pack


def test_a_spoilt_remainder_is_discarded_once() -> None:
    bench = Bench(10)
    pack = pack_of(Random(2).randbytes(20_000))
    bench.run(0.3)
    bench.host.transfer(pack)
    bench.run(1)
    bench.store.content[100] ^= 1
    bench.run(5)
    assert bench.store.active == pack


def test_a_pack_too_large_is_refused() -> None:
    bench = Bench(11)
    bench.run(0.3)
    bench.host.transfer(bytes((1 << 21) + 1))
    bench.run(0.5)
    assert Transferred(Outcome.REFUSED) in bench.host_events
    bench.run(1)
    assert bench.right()


def test_the_pack_in_use_is_not_sent_again() -> None:
    bench = Bench(12)
    pack = pack_of(bytes(range(256)) * 20)
    bench.run(0.3)
    bench.host.transfer(pack)
    bench.run(2)
    bench.host_events.clear()
    written = bench.store.written
    bench.host.transfer(pack)
    bench.run(0.2)
    assert bench.host_events == [Transferred(Outcome.UNCHANGED)]
    assert bench.store.written == written


def push(bench: Bench, pack: bytes, seconds: float = 30.0) -> tuple[float, int]:
    """Sends a pack; the seconds and bytes it took, both directions."""
    bench.host_events.clear()
    begun, before = bench.now, bench.down.bytes + bench.up.bytes
    bench.host.transfer(pack)
    while not any(isinstance(event, Transferred) for event in bench.host_events):
        bench.step(0.002)
        assert bench.now < begun + seconds
    assert bench.store.active == pack
    return bench.now - begun, bench.down.bytes + bench.up.bytes - before


def patterned(seed: int, size: int) -> bytes:
    """Content as in a pack: much the same again and again, some new."""
    dice = Random(seed)
    parts = [dice.randbytes(12) for _ in range(40)]
    out = b""
    while len(out) < size:
        out += dice.choice(parts) + bytes(dice.randrange(20))
    return out[:size]


def edit(content: bytes) -> bytes:
    """The same but for one bit near the start."""
    return content[:100] + bytes((content[100] ^ 1,)) + content[101:]


@pytest.mark.parametrize("errors", [0.0, 1e-4])
def test_an_edit_costs_little_and_squeezing_saves(errors: float) -> None:
    bench = Bench(21)
    bench.run(0.3)
    bench.down.faults = bench.up.faults = Faults(bit_errors=errors)
    content = patterned(1, 120_000)
    pack = pack_of(content)
    whole, size = push(bench, pack)
    assert size < 0.81 * len(pack)
    edited = pack_of(edit(content[:40_000] + b"moves the rest" + content[40_000:]))
    written = bench.store.written
    again, small = push(bench, edited)
    assert small < 0.08 * size and again < 0.2 * whole
    assert bench.store.written - written < len(edited) + 8192


def test_a_dry_push_changes_nothing() -> None:
    bench = Bench(22)
    bench.run(0.3)
    content = patterned(2, 50_000)
    pack = pack_of(content)
    push(bench, pack)
    bench.run(1)
    bench.host_events.clear()
    written = bench.store.written, bench.store.identity
    bench.host.transfer(pack_of(edit(content)), dry=True)
    bench.run(1.5)
    survey, end = [event for event in bench.host_events if isinstance(event, Surveyed | Transferred)]
    assert end == Transferred(Outcome.CANCELLED)
    assert isinstance(survey, Surveyed) and survey.size == len(pack)
    assert len(pack) - survey.reused == 1024 and survey.travels is not None and survey.travels < 1024
    assert (bench.store.written, bench.store.identity) == written and bench.store.active == pack


def test_a_dry_push_counts_what_a_push_that_broke_off_has_left() -> None:
    bench = Bench(24)
    bench.run(0.3)
    content = patterned(4, 50_000)
    push(bench, pack_of(content))
    bench.run(1)
    edited = pack_of(edit(content) + patterned(5, 90_000))
    bench.host.transfer(edited)
    bench.run(1.5)
    bench.host.cancel_transfer()
    bench.run(1)
    assert bench.store.active != edited
    looks = []
    for pack in (edited, pack_of(edit(patterned(6, 50_000))), edited):
        bench.host_events.clear()
        bench.host.transfer(pack, dry=True)
        bench.run(6)
        survey, end = [event for event in bench.host_events if isinstance(event, Surveyed | Transferred)]
        assert end == Transferred(Outcome.CANCELLED) and isinstance(survey, Surveyed)
        looks.append(survey)
    first, other, again = looks
    assert first.size == len(edited) and other.arrived == 0
    # The look at another pack has not thrown away what was there.
    assert again == first
    assert first.travels is not None and other.travels is not None
    assert first.arrived > 0 and 0 < first.travels < len(edited) - first.reused - first.arrived
    bytes_before = bench.down.bytes
    bench.host.transfer(edited)
    bench.run(12)
    assert bench.store.active == edited
    # What was told is what was sent: squeezed in other pieces, in frames, with copies and beats.
    assert 0.8 * first.travels < bench.down.bytes - bytes_before < 1.5 * first.travels + 3000


def test_a_display_with_other_content_than_its_hashes_gets_all() -> None:
    bench = Bench(23)
    bench.run(0.3)
    content = patterned(3, 30_000)
    push(bench, pack_of(content))
    bench.run(1)
    edited = pack_of(edit(content))
    bench.host_events.clear()
    bench.host.transfer(edited)
    while not any(isinstance(event, Surveyed) for event in bench.host_events):
        bench.step(0.002)
    # What it copies is no longer what it gave the hashes of.
    bench.store.rot(10_000, 30_000)
    before = bench.down.bytes
    bench.run(10)
    assert Transferred(Outcome.ACTIVATED) in bench.host_events
    assert bench.store.active == edited
    assert bench.down.bytes - before > 10_000


@pytest.mark.parametrize("baud", [9600, 19200, 115200])
@pytest.mark.parametrize("errors", [0.0, 5e-4])
def test_an_edit_costs_little_at_every_rate(baud: int, errors: float) -> None:
    """The replies of Compare are the longest frames: asked again before they can come, or given up too
    soon on a bad line, they would make the whole pack travel."""
    bench = Bench(24, baud / 10)
    bench.run(0.5)
    content = Random(4).randbytes(240_000)
    pack = pack_of(content)
    bench.store.active = pack
    bench.start_display()
    bench.run(3)
    edited = pack_of(edit(content))
    bench.down.faults = bench.up.faults = Faults(bit_errors=errors)
    before = bench.down.bytes
    bench.host.transfer(bytes(edited))
    bench.host_events.clear()
    begun = bench.now
    while not any(isinstance(event, Transferred) for event in bench.host_events) and bench.now < begun + 60:
        bench.step(0.004)
    assert bench.store.active == edited
    assert bench.down.bytes - before < 0.04 * len(pack)
