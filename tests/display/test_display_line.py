"""The display fed by bytes alone: it shows what the host means, and doubts what it must."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.link.memory import Faults, MemoryLine
from hmic.pack.reader import read
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.paint.operations import (
    LIVE,
    STALE,
    UNSEEN,
    Box,
    Drawing,
    Fill,
    Ink,
    Mask,
    Moment,
    ScreenDrawing,
    Theme,
    Zone,
)
from hmic.paint.painter import Painter
from hmic.wire.events import HostEvent, Outcome, Phase, Touched, Transferred
from hmic.wire.host_session import HostSession
from tests.tools.changed import replace
from tests.tools.drawings import drawings, moments

TICK = 0.01
SOFTWARE = Display
pytestmark = pytest.mark.usefixtures("either_display")
NIBBLE = bytes(value & 15 for value in range(256))


class Bench:
    """A host and a display on a line in memory, with one clock."""

    def __init__(self, display: Display, faults: Faults | None = None) -> None:
        self.display = display
        self.host = HostSession(7)
        self.line = MemoryLine(faults or Faults(), faults or Faults(), seed=5)
        self.events: list[HostEvent] = []
        self.host_speaks = True
        self._unsent = {"host": b"", "display": b""}

    @property
    def now(self) -> float:
        return self.line.now

    def run(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            self.line.advance(self.now + TICK)
            if self.host_speaks:
                self.events += self.host.receive(self.line.near.read(), self.now)
                self._unsent["host"] += self.host.outgoing(self.now)
                taken = self.line.near.write(self._unsent["host"])
                self._unsent["host"] = self._unsent["host"][taken:]
            self.display.receive(self.line.far.read(), self.now)
            self._unsent["display"] += self.display.outgoing(self.now)
            taken = self.line.far.write(self._unsent["display"])
            self._unsent["display"] = self._unsent["display"][taken:]

    def show(self, drawing: Drawing, moment: Moment) -> None:
        screen = drawing.screens[moment.screen]
        self.host.show(moment.screen, moment.theme, 70, len(screen.channels))
        self.host.update([moment.raw[channel] for channel in screen.channels], self.now)


def display_for(drawing: Drawing) -> Display:
    return Display(MemoryFlash(), Glass(drawing.width, drawing.height, drawing.depth), 99)


def reachable(drawing: Drawing, moment: Moment, clock: int) -> Moment:
    """The moment as a display can know it: channels of other screens were never seen."""
    listed = drawing.screens[moment.screen].channels
    raw = tuple(value if number in listed else UNSEEN for number, value in enumerate(moment.raw))
    return replace(moment, raw=raw, clock=clock)


def two_screens() -> Drawing:
    theme = Theme("day", tuple((number, 0, 0) for number in range(12)), 80)
    night = Theme("night", tuple((0, number, 0) for number in range(12)), 20)
    first = ScreenDrawing(
        "first",
        (Fill(Box(0, 0, 10, 10), Ink(2, 0)), Fill(Box(10, 0, 10, 10), Ink(2, 1))),
        (1, 0),
        (Zone(Box(0, 0, 40, 20)), Zone(Box(0, 0, 10, 10)), Zone(Box(0, 0, 10, 10))),
    )
    second = ScreenDrawing("second", (Fill(Box(0, 0, 10, 10), Ink(2, 2)),), (2, 0), ())
    return Drawing(40, 20, 24, (theme, night), (), (), (), (5, 6, 7), (first, second), 0)


@settings(max_examples=25, suppress_health_check=list(HealthCheck), derandomize=True)
@given(st.data())
def test_fed_by_bytes_it_shows_the_same_frame(data: st.DataObject) -> None:
    drawing = data.draw(drawings())
    painter = Painter(drawing)
    display = display_for(drawing)
    assert display.install(write(drawing))
    bench = Bench(display)
    bench.run(0.3)
    for _ in range(4):
        moment = data.draw(moments(drawing))
        bench.show(drawing, moment)
        bench.run(0.3)
        meant = reachable(drawing, moment, int(bench.now * 1000))
        assert display.moment(bench.now) == meant
        assert display.image(bench.now).tobytes() == painter.paint(meant).tobytes()


def test_pushed_over_the_line_and_shown_at_once() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    bench = Bench(display, Faults(rate=11520.0, latency=0.002))
    blank = display.image(0.0)
    assert blank.size == (40, 20) and display.identity is None
    bench.run(0.5)
    bench.host.transfer(write(drawing))
    bench.run(2.0)
    assert Transferred(Outcome.ACTIVATED) in bench.events
    assert display.identity is not None
    assert display.image(bench.now).tobytes() != blank.tobytes()
    bench.show(drawing, Moment(0, 1, (LIVE + 1, LIVE + 2, 0)))
    bench.run(0.5)
    assert display.moment(bench.now).raw == (LIVE + 1, LIVE + 2, UNSEEN)
    assert display.moment(bench.now).theme == 1 and display.brightness == 70


def test_power_lost_in_a_push_costs_only_what_was_under_way() -> None:
    drawing = two_screens()
    larger = replace(drawing, masks=(Mask(200, 200, random.Random(9).randbytes(40000).translate(NIBBLE)),))
    flash = MemoryFlash()
    display = Display(flash, Glass(40, 20, 24), 1)
    assert display.install(write(drawing))
    kept = display.identity
    pack = write(larger)
    bench = Bench(display, Faults(rate=11520.0))
    bench.run(0.3)
    bench.host.transfer(pack)
    bench.run(1.2)
    again = Display(flash, Glass(40, 20, 24), 2)
    assert again.identity == kept
    bench.display = again
    before = bench.line.near.carried
    bench.run(4.0)
    assert Transferred(Outcome.ACTIVATED) in bench.events
    assert again.identity == identity(pack) == Display(flash, Glass(40, 20, 24), 3).identity
    # 1.2 s at 11520 bytes a second were on their way; most of that is not sent again.
    assert bench.line.near.carried - before < len(pack) - 8000


def test_a_pack_for_another_panel_is_refused_over_the_line() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    assert display.install(write(drawing))
    kept = display.identity
    bench = Bench(display)
    bench.run(0.3)
    for other in (replace(drawing, width=41), replace(drawing, depth=16)):
        pack = write(other)
        bench.events.clear()
        bench.host.transfer(pack)
        bench.run(1.0)
        assert Transferred(Outcome.NOT_ACTIVATED) in bench.events
        if Display is SOFTWARE:
            assert display.refusal is not None and "the pack is for a panel of" in display.refusal
    bench.events.clear()
    bench.host.transfer(random.Random(1).randbytes(1000))
    bench.run(1.0)
    assert Transferred(Outcome.NOT_ACTIVATED) in bench.events
    if Display is SOFTWARE:
        assert display.refusal == "this is not a screen pack"
    assert display.identity == kept


def test_silence_of_the_host_makes_every_value_stale() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    display.install(write(drawing))
    bench = Bench(display)
    bench.run(0.3)
    bench.show(drawing, Moment(0, 0, (LIVE, LIVE + 3, 0)))
    bench.run(0.5)
    assert display.moment(bench.now).raw == (LIVE, LIVE + 3, UNSEEN)
    alive = display.image(bench.now)
    bench.host_speaks = False
    bench.run(1.5)
    assert set(display.moment(bench.now).raw) == {STALE}
    stale = display.image(bench.now)
    assert stale.tobytes() != alive.tobytes()
    bench.host_speaks = True
    bench.run(2.0)
    assert display.image(bench.now).tobytes() == alive.tobytes()


def test_another_screen_starts_with_no_value_of_the_old_one() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    display.install(write(drawing))
    bench = Bench(display)
    bench.run(0.3)
    bench.show(drawing, Moment(0, 0, (LIVE, LIVE + 3, 0)))
    bench.run(0.3)
    bench.host.show(1, 0, 70, 2)
    bench.run(0.3)
    assert display.moment(bench.now).screen == 1
    assert display.moment(bench.now).raw[0] < LIVE and display.moment(bench.now).raw[1] == UNSEEN


def test_values_for_a_list_of_another_length_are_never_live() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    display.install(write(drawing))
    bench = Bench(display)
    bench.run(0.3)
    for screen, theme, values in ((0, 0, [LIVE] * 3), (0, 9, [LIVE]), (0, 0, [])):
        bench.host.show(screen, theme, 70, len(values))
        bench.host.update(values, bench.now)
        bench.run(0.3)
        assert all(value < LIVE for value in display.moment(bench.now).raw)
        assert display.image(bench.now).size == (40, 20)


def test_touches_tell_the_smallest_zone() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    display.install(write(drawing))
    bench = Bench(display)
    bench.run(0.3)
    bench.show(drawing, Moment(0, 0, (LIVE, LIVE, 0)))
    bench.run(0.3)
    display.release(1, 1, bench.now)
    display.press(9, 9, bench.now)
    display.release(10, 9, bench.now)
    display.press(40, 20, bench.now)
    bench.run(0.5)
    touches = [event for event in bench.events if isinstance(event, Touched)]
    told = [(touch.zone, touch.phase, touch.x, touch.y) for touch in touches]
    assert told == [
        (1, Phase.PRESS, 9, 9),
        (0, Phase.RELEASE, 10, 9),
        (None, Phase.PRESS, 40, 20),
    ]


def test_power_up_shows_the_start_screen_with_nothing_seen() -> None:
    drawing = replace(two_screens(), start=1)
    flash = MemoryFlash()
    glass = Glass(40, 20, 24)
    assert Display(flash, glass, 1).install(write(drawing))
    display = Display(flash, glass, 2)
    assert display.moment(0.0) == Moment(1, 0, (UNSEEN,) * 3, 0)
    expected = Painter(read(write(drawing))).paint(Moment(1, 0, (UNSEEN,) * 3, 0))
    assert display.image(0.0).tobytes() == expected.tobytes()
    other = Display(flash, Glass(50, 20, 24), 3)
    assert other.identity is None
    if Display is SOFTWARE:
        assert other.refusal is not None


def test_random_bytes_never_raise_nor_make_a_value_live() -> None:
    drawing = two_screens()
    display = display_for(drawing)
    display.install(write(drawing))
    chance = random.Random(3)
    for turn in range(300):
        display.receive(chance.randbytes(chance.randrange(300)), turn / 100)
        display.outgoing(turn / 100)
        assert all(value < LIVE for value in display.moment(turn / 100).raw)
    assert display.image(3.0).size == (40, 20)
