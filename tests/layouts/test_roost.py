"""The second example: another panel, a knob, two languages; on its display as in its preview."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path

import cantools
import pytest
from PIL import ImageChops

from hmic.cli.main import main
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.model.design import ByClock
from hmic.model.expressions import Doubt
from hmic.model.samples import sample_values
from hmic.pack.writer import write
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.runtime import Runtime
from hmic.show.screens import raw_values
from hmic.sources.frame import Frame
from hmic.wire.host_session import HostSession

ROOST = Path(__file__).parents[2] / "layouts" / "roost"
STEP = 0.02


@cache
def roost(language: str | None = None) -> Compiled:
    compiled = compile_design(ROOST, language)
    assert isinstance(compiled, Compiled), compiled
    return compiled


@pytest.mark.parametrize("language", [None, "de"])
def test_nothing_is_found_in_either_language(language, capsys):
    assert main(["check", str(ROOST), "--json", *(["--language", language] if language else [])]) == 0
    assert capsys.readouterr().out.strip() == "[]"


def test_each_language_says_its_own_words():
    texts = {language: texts_of(roost(language)) for language in (None, "de")}
    assert {"Time left", "Shut off", "Today"} <= texts[None] and not {"Heute"} & texts[None]
    assert {"Reicht noch", "Aus", "Heute"} <= texts["de"] and not {"Time left", "Shut off"} & texts["de"]


def texts_of(compiled: Compiled) -> set[str]:
    return {fact.text for screen in compiled.arranged.screens for fact in screen.texts}


class Bench:
    """Runtime and display joined without loss, on a clock that the test moves."""

    def __init__(self) -> None:
        compiled = roost()
        drawing = compiled.arranged.drawing
        self.now = 50.0
        self.display = Display(MemoryFlash(), Glass(drawing.width, drawing.height, drawing.depth), 2)
        assert self.display.install(write(drawing)), self.display.refusal
        self.runtime = Runtime(bind(compiled), 3)
        self.decoder = load_decoder(compiled.design)
        self.messages = cantools.database.load_file(ROOST / "roost.dbc")
        self.begun = self.now

    def to(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            self.now += STEP
            self.runtime.tick(self.now)
            self.display.receive(self.runtime.outgoing(self.now), self.now)
            self.runtime.receive(self.display.outgoing(self.now), self.now)

    def hear(self, name: str, **values: float) -> None:
        message = self.messages.get_message_by_name(name)
        frame = Frame(self.now - self.begun, message.frame_id, False, message.encode(values))
        self.runtime.feed(Arrival(frame.at, self.decoder.readings(frame)), self.now)

    def turn(self, right: bool) -> str:
        self.display.turn(right, self.now)
        self.to(0.3)
        assert self.display.moment(self.now).screen == self.runtime.bound.screens.index(
            next(screen for screen in self.runtime.bound.screens if screen.name == self.runtime.screen)
        )
        return self.runtime.screen


def test_the_knob_turns_through_the_screens_and_stops_at_both_ends():
    bench = Bench()
    bench.to(1.0)
    assert bench.runtime.screen == "battery"
    assert [bench.turn(True) for _ in range(3)] == ["water", "sun", "sun"]
    assert [bench.turn(False) for _ in range(3)] == ["water", "battery", "battery"]


def test_trouble_comes_up_by_itself_and_goes_at_a_turn_or_with_its_cause():
    bench = Bench()
    bench.to(1.0)
    bench.hear("BatteryState", Charge=62.5, Temperature=12, TimeLeft=30, State=2, Fault=0)
    bench.hear("Pump", Running=1, Dry=1)
    bench.to(0.2)
    assert bench.runtime.screen == "trouble"
    assert bench.turn(True) == "battery"
    bench.hear("Pump", Running=1, Dry=0)
    bench.to(0.2)
    bench.hear("Pump", Running=1, Dry=1)
    bench.to(0.2)
    assert bench.runtime.screen == "trouble"
    bench.hear("Pump", Running=0, Dry=0)
    bench.to(0.2)
    assert bench.runtime.screen == "battery"


def test_the_clock_chooses_the_theme_and_its_brightness():
    design = roost().design
    assert isinstance(design.choose, ByClock)
    bench = Bench()
    bench.runtime.set_clock(12 * 60.0, bench.now)
    bench.to(1.0)
    assert (bench.display.moment(bench.now).theme, bench.display.brightness) == (0, 100)
    bench.runtime.set_clock(23 * 60.0, bench.now)
    bench.to(0.3)
    assert (bench.display.moment(bench.now).theme, bench.display.brightness) == (1, 8)


def test_values_from_the_bus_are_on_the_screen_as_the_dbc_library_encodes_them():
    bench = Bench()
    bench.to(1.0)
    bench.hear("BatteryState", Charge=62.5, Temperature=12, TimeLeft=30, State=2, Fault=0)
    bench.hear("BatteryPower", Voltage=12.9, Current=-10)
    bench.to(1.0)
    lookup = bench.runtime.table.lookup
    assert lookup("battery.state") == "In use" and lookup("battery.charge") == 62.5
    assert lookup("battery.power") == pytest.approx(-129.0)
    assert lookup("water.left") is Doubt.UNSEEN
    bench.hear("Tanks", Fresh=50, Waste=20)
    assert lookup("water.left") == pytest.approx(45.0)


@pytest.mark.parametrize("language", [None, "de"])
def test_the_display_shows_the_preview(language):
    compiled, chance = roost(language), random.Random(7)
    drawing, painter = compiled.arranged.drawing, Painter(compiled.arranged.drawing)
    display = Display(MemoryFlash(), Glass(drawing.width, drawing.height, drawing.depth), 2)
    assert display.install(write(drawing)), display.refusal
    host, now = HostSession(1, 1e6), 0.0
    for screen, drawn in enumerate(drawing.screens):
        for theme in range(len(drawing.themes)):
            values = sample_values(compiled.design)
            for name in values:
                if chance.random() < 0.3:
                    values[name] = chance.choice(list(Doubt))
            raw = raw_values(compiled, values)
            host.show(screen, theme, 100, len(drawn.channels))
            host.update([raw[channel] for channel in drawn.channels], now)
            for _ in range(60):
                now += STEP
                display.receive(host.outgoing(now), now)
                host.receive(display.outgoing(now), now)
                if host.facts is not None:
                    host.update([raw[channel] for channel in drawn.channels], now)
            wanted = painter.paint(Moment(screen, theme, raw, int(now * 1000)))
            assert ImageChops.difference(display.image(now), wanted).getbbox() is None
