"""The third example: round glass, lamps that are there only while they have something to say, one moment."""

from __future__ import annotations

import itertools
import json
import math
from functools import cache
from importlib import resources
from pathlib import Path

import cantools
import jsonschema
import pytest
import yaml
from PIL import Image, ImageChops

from hmic.cli.main import main
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.model.expressions import Doubt
from hmic.model.samples import doubtful_values, sample_values
from hmic.model.values import Value
from hmic.pack.writer import write
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.runtime import Runtime
from hmic.show.screens import raw_values
from hmic.sources.frame import Frame

PLOVER = Path(__file__).parents[2] / "layouts" / "plover"
LAMPS = ("car.left", "car.right", "car.main_beam", "car.park_brake", "car.brake_fault", "drive.fault",
         "drive.reduced", "drive.ready", "pack.fault")  # fmt: skip


@cache
def plover() -> Compiled:
    compiled = compile_design(PLOVER)
    assert isinstance(compiled, Compiled), compiled
    return compiled


def painted(screen: str, theme: int = 1, **values: Value) -> Image.Image:
    compiled = plover()
    drawing = compiled.arranged.drawing
    number = next(at for at, each in enumerate(drawing.screens) if each.name == screen)
    given = sample_values(compiled.design) | values
    return Painter(drawing).paint(Moment(number, theme, raw_values(compiled, given)))


def test_nothing_is_found_in_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(PLOVER), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == []


@pytest.mark.parametrize("name", ["design", "signals", "themes"])
def test_file_fits_its_schema(name: str) -> None:
    schema = json.loads(resources.files("hmic.model").joinpath(f"schema/{name}.json").read_text("utf-8"))
    data = yaml.safe_load((PLOVER / f"{name}.yaml").read_text(encoding="utf-8"))
    assert [error.message for error in jsonschema.Draft202012Validator(schema).iter_errors(data)] == []


def test_what_pictures_show_is_one_moment() -> None:
    """Each by the others: what is driven takes power, what is not plugged in charges nothing."""
    values = sample_values(plover().design)
    assert values["car.gear"] == "D" and values["drive.ready"] is True and values["car.park_brake"] is False
    speed, power, charge, left = (
        values[name] for name in ("car.speed", "drive.power", "pack.charge", "pack.range")
    )
    assert isinstance(speed, float) and isinstance(power, float)
    # 640 kg and two people on the level at 64 km/h: some 6 to 14 kW (a small car's drag, from memory).
    assert 50 < speed < 70 and 6 < power < 14
    assert isinstance(charge, float) and isinstance(left, float) and 100 < left / charge * 100 < 150
    assert values["charge.power"] == 0 and values["charge.time_left"] is Doubt.UNSEEN


@pytest.mark.parametrize("theme", [0, 1])
def test_nothing_reaches_beyond_the_round_glass(theme: int) -> None:
    compiled = plover()
    drawing = compiled.arranged.drawing
    every = [sample_values(compiled.design) | dict.fromkeys(LAMPS, True)]
    every += [doubtful_values(compiled.design, doubt) for doubt in Doubt]
    for screen, values in itertools.product(range(len(drawing.screens)), every):
        image = Painter(drawing).paint(Moment(screen, theme, raw_values(compiled, values)))
        ground = image.getpixel((0, 0))
        assert isinstance(ground, tuple)
        inked = ImageChops.difference(image, Image.new("RGB", image.size, ground)).convert("L").point(bool)
        farthest = max(
            math.hypot(x - 239.5, y - 239.5)
            for x, y in itertools.product(range(480), range(480))
            if inked.getpixel((x, y))
        )
        assert farthest < 240


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_lamp_is_there_only_while_it_has_something_to_say(lamp: str) -> None:
    quiet = painted("drive", **{lamp: False})
    lit = ImageChops.difference(quiet, painted("drive", **{lamp: True})).getbbox()
    doubtful = ImageChops.difference(quiet, painted("drive", **{lamp: Doubt.STALE})).getbbox()
    assert lit is not None and doubtful is not None
    assert {colour for _, colour in quiet.crop(lit).getcolors() or ()} == {quiet.getpixel((0, 0))}


def test_the_bus_is_on_the_screen_and_trouble_comes_up_by_itself() -> None:
    compiled = plover()
    drawing = compiled.arranged.drawing
    display = Display(MemoryFlash(), Glass(drawing.width, drawing.height, drawing.depth), 2)
    assert display.install(write(drawing)), display.refusal
    runtime, decoder = Runtime(bind(compiled), 3), load_decoder(compiled.design)
    messages = cantools.database.load_file(PLOVER / "plover.dbc")
    now = 20.0

    def run(seconds: float, **heard: dict[str, float]) -> None:
        nonlocal now
        end = now + seconds
        while now < end:
            now += 0.02
            for name, values in heard.items():
                message = messages.get_message_by_name(name)
                frame = Frame(now - 20.0, message.frame_id, False, message.encode(values))
                runtime.feed(Arrival(frame.at, decoder.readings(frame)), now)
            runtime.tick(now)
            display.receive(runtime.outgoing(now), now)
            runtime.receive(display.outgoing(now), now)

    motion = {"Speed": 42.0, "Gear": 2, "ParkBrake": 0}
    state = {"Charge": 71.5, "Range": 90, "Heat": 22, "Fault": 0, "Insulation": 0}
    run(1.0, Motion=motion, PackState=state)
    assert runtime.screen == "drive" and runtime.table.lookup("car.speed") == pytest.approx(42.0)
    assert runtime.table.lookup("pack.charge") == 71.5 and runtime.table.lookup("car.gear") == "D"
    run(0.3, Motion=motion, PackState=state | {"Fault": 1})
    assert runtime.screen == "trouble"
    display.turn(True, now)
    run(0.4, Motion=motion, PackState=state | {"Fault": 1})
    assert runtime.screen == "drive"
