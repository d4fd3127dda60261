"""A log or record sought in: wherever one comes from, a moment is as if read from the start."""

from __future__ import annotations

import itertools
import tracemalloc
from collections.abc import Iterator, Sequence
from unittest import mock

import hypothesis.strategies as st
from hypothesis import given, settings
from runtime_builders import bound, flagged, scaled, signal, value_of

from hmic.model.channels import Channel, Kept, RingHead, Scaled
from hmic.model.design import BySignal
from hmic.model.terms import Memory
from hmic.model.values import Doubt
from hmic.runtime import seeking
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Arrival, Decoder, Reading
from hmic.runtime.record_lines import Clock
from hmic.runtime.recording import Entry, Showing
from hmic.runtime.retrace import Moment
from hmic.runtime.seeking import SeekableReplay
from hmic.sources.frame import Frame
from tests.tools.changed import replace

A, FAULT = value_of("a"), value_of("fault", "flag")
MEMORIES = [
    Memory("integral(a)", "integral", A, reset=FAULT),
    Memory("smooth(a)", "smooth", A, seconds=2.0),
    Memory("average(a)", "average", A, seconds=3.0),
    Memory("rate(a)", "rate", A, seconds=0.4),
    Memory("hysteresis(a)", "hysteresis", A, on=60.0, off=40.0),
    Memory("hold(fault)", "hold", FAULT, seconds=5.0),
    Memory("debounce(fault)", "debounce", FAULT, seconds=1.5),
]


def car() -> BoundDesign:
    """With everything that remembers: memories, a chart, a peak, a screen that rises, a theme by light."""
    signals = [
        signal("a", stale_after=700),
        signal("fault", kind="flag", unit=None, stale_after=3000),
        signal("gear", kind="word", unit=None, words={0: "P", 1: "D"}, stale_after=0),
        signal("cells", count=3, stale_after=2000),
    ]
    channels = [
        scaled("a"),
        flagged("fault"),
        Channel(None, RingHead(4, 1.0)),
        *(Channel(A, Scaled(0.0, 1.0, 101), kept=Kept(4, 1.0, slot)) for slot in range(4)),
        Channel(A, Scaled(0.0, 1.0, 101), peak=2.0),
        Channel(value_of("clock.time"), Scaled(0.0, 1.0, 1440)),
        *(flagged(each.name) if each.kind in FLAGS else scaled(each.name) for each in MEMORIES),
    ]
    causes = (FAULT, value_of("debounce(fault)", "flag"))
    screens = [BoundScreen("first", (0,)), BoundScreen("stop", (1,), rises=causes)]
    made = bound(signals, channels, screens)
    themes = (made.design.themes[0], replace(made.design.themes[0], name="night"))
    choose = BySignal("a", ((0.0, 1), (50.0, 0)), 0.2, 2000, 4000)
    memories = {each.name: each for each in MEMORIES}
    return replace(made, design=replace(made.design, themes=themes, choose=choose, memories=memories))


FLAGS = ("hysteresis", "hold", "debounce")
CAR = car()
VALUES = {
    "a": st.floats(-10, 110) | st.sampled_from(Doubt),
    "fault": st.booleans() | st.sampled_from(Doubt),
    "gear": st.sampled_from(["P", "D"]),
}


class OneBus(Decoder):
    """Each frame brings `a`, but where its counter stands still; after a second channel all is refused."""

    def __init__(self) -> None:
        super().__init__({})
        self._channels: set[str | None] = set()
        self._last = -1

    def readings(self, frame: Frame) -> tuple[Reading, ...]:
        self._channels.add(frame.channel)
        stands, self._last = frame.identifier == self._last, frame.identifier
        return () if stands or len(self._channels) > 1 else (Reading("a", None, float(frame.data[0])),)

    def refused(self, at: float) -> tuple[Arrival, ...]:
        return (Arrival(at, (Reading("a", None, Doubt.STALE),)),) if len(self._channels) > 1 else ()


@st.composite
def entries(draw: st.DrawFn) -> list[Entry]:
    """Rising times but for some that come late, with silences of every length."""
    now, found = 0.0, list[Entry]()
    for _ in range(draw(st.integers(0, 25))):
        if draw(st.integers(0, 7)) == 0:
            # Without a gap for longer than any memory looks back.
            steps = draw(st.lists(st.floats(0, 100), min_size=10, max_size=20))
            found += [Arrival(now + at * 0.3, (Reading("a", None, step),)) for at, step in enumerate(steps)]
            now += 0.3 * len(steps)
        now += draw(st.sampled_from([0.0, 0.1, 0.3, 1.0, 2.5, 7.0, 700.0]) | st.floats(0, 3))
        at = max(0.0, now - draw(st.sampled_from([0.0, 0.0, 0.0, 0.4, 5.0])))
        found.append(draw(entry(at)))
    return found


def entry(at: float) -> st.SearchStrategy[Entry]:
    readings = [
        st.builds(Reading, st.just(name), st.just(None), values) for name, values in VALUES.items()
    ] + [st.builds(Reading, st.just("cells"), st.integers(0, 2), VALUES["a"])]
    channel = st.sampled_from(["can0"] * 9 + ["can1"])
    data = st.binary(min_size=1, max_size=1).map(lambda data: bytes([data[0] % 101]))
    return st.one_of(
        st.builds(Arrival, st.just(at), st.lists(st.one_of(readings), max_size=3).map(tuple)),
        st.builds(Frame, st.just(at), st.integers(1, 2), st.just(False), data, channel),
        st.builds(Clock, st.just(at), st.floats(0, 1439)),
        st.builds(
            Showing, st.just(at), st.sampled_from(["first", "stop"]), st.just("day"),
            st.tuples(st.integers(0, 9)), st.booleans(), st.just("ab"),
        ),
    )  # fmt: skip


def from_the_start(found: Sequence[Entry], time: float) -> Moment:
    """Read once, up to that moment, with nothing behind it."""
    came = itertools.accumulate((each.at for each in found), max)
    until = [each for each, at in zip(found, came, strict=True) if at <= time]
    return SeekableReplay(CAR, until, OneBus()).at(time)


@settings(max_examples=40)
@given(entries(), st.lists(st.floats(0, 60) | st.floats(0, 3000), min_size=1, max_size=5), st.integers(2, 9))
def test_a_moment_sought_is_as_if_read_from_the_start(
    found: list[Entry], times: list[float], most: int
) -> None:
    with mock.patch.multiple(seeking, KEPT=most, SPACING=0.5, IN_MEMORY=500):
        replay = SeekableReplay(CAR, found, OneBus())
        for time in times:
            assert replay.at(time) == from_the_start(found, time)


def test_what_is_of_no_use_changes_nothing() -> None:
    """A theme follows a light that stays, and one in doubt, whether or not anything else comes meanwhile."""
    seen = [(0.0, 80.0), (1.0, 20.0), (1.5, 20.0), (2.0, 20.0), (2.6, 20.0)]
    quiet = [Arrival(at, (Reading("a", None, light),)) for at, light in seen]
    others = [Arrival(2.0 + at / 10, (Reading("gear", None, "P"),)) for at in range(100)]
    busy = sorted([*quiet, *others], key=lambda each: each.at)
    times = (2.9, 3.1, 7.2, 7.4)
    plain = replace(CAR, design=replace(CAR.design, memories={}))
    runs = [SeekableReplay(plain, each, OneBus()) for each in (quiet, busy)]
    asked = [[run.at(time).theme for time in times] for run in runs]
    assert asked[0] == asked[1]
    assert asked[0] == [0, 1, 1, 0]


def test_reading_out_tells_the_end_and_decodes_only_for_a_first_reading() -> None:
    frames = [Frame(at / 10, at % 2, False, b"\1", "can0") for at in range(50)]
    decoder = OneBus()
    replay = SeekableReplay(CAR, frames, decoder)
    replay.at(0.5)
    with mock.patch.object(decoder, "readings", side_effect=AssertionError):
        replay.read_out()
    assert (replay.frames, replay.last) == (50, 4.9)
    replay = SeekableReplay(CAR, [*frames, Clock(7.0, 3.0)], Decoder({}))
    replay.at(0.5)
    replay.read_out()
    assert (replay.frames, replay.last) == (50, 7.0)


def drive(count: int) -> Iterator[Entry]:
    return (Arrival(at / 10, (Reading("a", None, at % 97 + 0.5),)) for at in range(count))


def test_a_long_log_takes_no_more_memory_than_a_short_one() -> None:
    def most(count: int) -> int:
        tracemalloc.start()
        try:
            replay = SeekableReplay(CAR, drive(count), OneBus())
            for share in (1.0, 0.2, 0.7):
                replay.at(count / 10 * share)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    with mock.patch.multiple(seeking, KEPT=4, IN_MEMORY=2000):
        most(600)
        assert most(3000) < 1.3 * most(600)
