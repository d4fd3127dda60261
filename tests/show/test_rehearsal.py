"""A rehearsal: a log through the real runtime to a display, hands on its glass, faults on its parts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from hmic.model.actions import SetOutput
from hmic.paint.operations import LIVE, STALE
from hmic.show.rehearsal import opened
from tests.tools.pages import LAYOUTS, compiled

LOG = str(LAYOUTS / "dunlin" / "logs" / "ten_minutes.blf")


class Bench:
    """A rehearsal with its clock."""

    def __init__(self, given: list[str]) -> None:
        self.now = 100.0
        self.run = opened(compiled("dunlin"), given, self.now)
        self.pass_time(0.5)

    def pass_time(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            self.now += 0.01
            self.run.turn(self.now)

    @property
    def seen(self) -> dict[str, Any]:
        return self.run.seen(self.now)

    @property
    def told(self) -> list[str]:
        return [text for _, text in self.seen["told"]]

    def raw(self) -> list[int]:
        """Of the channels of the screen in sight."""
        seen = self.seen
        channels = self.run.compiled.arranged.drawing.screens[seen["screen"]].channels
        return [seen["raw"][channel] for channel in channels]


@pytest.fixture
def over_log() -> Iterator[Bench]:
    bench = Bench([LOG])
    yield bench
    bench.run.close()


@pytest.fixture
def by_hand() -> Iterator[Bench]:
    bench = Bench([])
    yield bench
    bench.run.close()


def test_each_moment_is_what_a_trace_of_the_log_has(over_log: Bench) -> None:
    """Forwards and backwards, on the glass of the display, as it stands and played on."""
    replay = over_log.run.replay
    assert replay is not None
    for at in (12.3, 31.0, 4.05, 31.5):
        over_log.run.seek(at, over_log.now)
        over_log.pass_time(0.6)
        seen, then = over_log.seen, replay.at(at)
        assert seen["at"] == pytest.approx(at) and seen["screen"] == then.sightings[-1].screen
        assert seen["theme"] == then.theme
        channels = over_log.run.compiled.arranged.drawing.screens[seen["screen"]].channels
        assert over_log.raw() == [then.raw[channel] for channel in channels], at
    over_log.run.play(4.0, over_log.now)
    over_log.pass_time(1.0)
    assert over_log.seen["at"] == pytest.approx(35.5, abs=0.1)
    assert over_log.seen["bytes"] > 0 and 0 < over_log.seen["percent"] < 20
    over_log.run.play(0.0, over_log.now)
    before = over_log.seen["at"]
    over_log.pass_time(1.5)
    assert over_log.seen["at"] == before and min(over_log.raw()) >= STALE


def test_the_next_change_is_one(over_log: Bench) -> None:
    replay = over_log.run.replay
    assert replay is not None
    change = over_log.run.next_change(over_log.now)
    assert change is not None and change.what
    second = over_log.run.next_change(over_log.now)
    assert second is not None and second.at > change.at
    name = "vehicle.gear"
    for _ in range(10):
        if name in second.what:
            break
        second = over_log.run.next_change(over_log.now)
        assert second is not None
    values = [replay.state(at)[0].vehicle.table.lookup(name) for at in (second.at - 0.11, second.at)]
    assert values[0] != values[1]


def test_a_fault_of_each_part(by_hand: Bench) -> None:
    """A dead value never looks live, and all comes back."""
    by_hand.pass_time(0.5)
    live = by_hand.raw()
    assert min(live) >= LIVE
    by_hand.run.pull(True)
    by_hand.pass_time(3.0)
    assert set(by_hand.raw()) == {STALE} and by_hand.seen["link"] != "up"
    by_hand.run.pull(False)
    by_hand.pass_time(2.0)
    assert by_hand.raw() == live and by_hand.seen["link"] == "up"
    by_hand.run.power(False)
    by_hand.pass_time(2.0)
    assert not by_hand.seen["powered"] and "raw" not in by_hand.seen
    by_hand.run.power(True)
    assert max(by_hand.raw()) < LIVE
    by_hand.pass_time(2.0)
    assert by_hand.raw() == live
    by_hand.run.freeze(True)
    by_hand.pass_time(12.0)
    assert STALE in by_hand.raw() and by_hand.seen["link"] == "up"
    by_hand.run.freeze(False)
    by_hand.pass_time(1.5)
    assert by_hand.raw() == live


def touched(bench: Bench, output: str) -> None:
    """A finger on the first control of an output that is on the screen in sight."""
    arranged = bench.run.compiled.arranged
    number = bench.seen["screen"]
    zones = zip(arranged.drawing.screens[number].zones, arranged.screens[number].zones, strict=True)
    named = ((zone.box, does.action) for zone, does in zones if isinstance(does.action, SetOutput))
    box = next(box for box, action in named if action.name == output)
    middle = box.left + box.width // 2, box.top + box.height // 2
    bench.run.press(*middle, bench.now)
    bench.pass_time(0.15)
    bench.run.release(*middle, bench.now)
    bench.pass_time(0.5)


def test_a_touch_goes_through_the_session_and_comes_back(by_hand: Bench) -> None:
    """Asked of a stand-in that follows, of one that does not, and where it is not allowed."""
    names = [screen.name for screen in by_hand.run.compiled.arranged.screens]
    by_hand.run.set({"vehicle.speed": "0", "charge.plugged": "on", "charge.limit": "100"})
    by_hand.run.go(names.index("charging"), by_hand.now)
    by_hand.pass_time(1.0)
    before = by_hand.raw()
    touched(by_hand, "charge.limit")
    assert any(text.startswith("asked for charge.limit") for text in by_hand.told), by_hand.told
    by_hand.pass_time(1.0)
    assert any(text.startswith("done: charge.limit") for text in by_hand.told), by_hand.told
    assert by_hand.raw() != before
    by_hand.run.set({"vehicle.speed": "0", "charge.plugged": "on", "charge.limit": "100"})
    by_hand.run.follows = False
    by_hand.pass_time(2.0)
    touched(by_hand, "charge.limit")
    by_hand.pass_time(6.0)
    assert "did not follow" in by_hand.told[-1], by_hand.told
    by_hand.run.set({"vehicle.speed": "50", "charge.plugged": "on"})
    by_hand.pass_time(2.0)
    touched(by_hand, "charge.limit")
    assert by_hand.told[-1].startswith("refused: charge.limit: not allowed"), by_hand.told


def test_values_by_hand_outlast_those_of_a_log(over_log: Bench) -> None:
    """In doubt is in doubt though the log says it on."""
    over_log.run.set({"vehicle.speed": "stale"})
    over_log.run.play(1.0, over_log.now)
    over_log.pass_time(2.0)
    stale = over_log.raw()
    over_log.run.set({"vehicle.speed": "77"})
    over_log.pass_time(1.0)
    by_hand = over_log.raw()
    over_log.run.set({})
    over_log.pass_time(1.0)
    logged = over_log.raw()
    assert any(a < LIVE <= c < b for a, b, c in zip(stale, by_hand, logged, strict=True))
