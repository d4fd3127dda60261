"""Numbers with more steps than one channel can tell, as odometers and hour meters have: what is painted,
read back figure by figure, against Python's own way of writing a number."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from hmic.arrange.compose import Arranged, arrange
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.channels import raw_value
from hmic.model.expressions import Doubt, Value
from hmic.model.load import load
from hmic.paint.operations import Figures, Moment
from hmic.paint.painter import Painter
from hmic.places import examples_folder
from hmic.runtime.binding import ScreenValues
from tests.tools.changed import replace
from tests.world.reading import numbers

SIGNALS = """signals:
  vehicle.odometer:     {unit: km, range: [0, 999999.9], from: pipe, stale: 5 s}
  inverter.hours:       {unit: h, range: [0, 99999.9], from: pipe, stale: 5 s}
  grid.taken:           {unit: kWh, range: [1000, 120000], from: pipe, stale: 5 s}
  trip.so.far:          {unit: km, range: [0, 9999.99], from: pipe, stale: 5 s}
  charger.power:        {unit: W, range: [0, 22000], from: pipe, stale: 5 s}
  pack.charge.moved:    {unit: Ah, range: [-50000, 50000], from: pipe, stale: 5 s}
"""
SCREEN = """screen drive "Drive"
    plan
        a
        b
        c
        d
        e
    in a    reading vehicle.odometer as "0.0 km", text 30 arcmin, called "Odometer"
    in b    reading inverter.hours as "00000.0 h", text 30 arcmin
    in c    reading grid.taken as "+0.0 kWh", text 30 arcmin
    in d    reading trip.so.far as "0.00 km", text 30 arcmin, decimals small
    in e    reading charger.power as "0.0 W", text 30 arcmin, decimals small
"""
WAYS = {
    "vehicle.odometer": lambda tenths: f"{tenths / 10:.1f}",
    "inverter.hours": lambda tenths: f"{tenths / 10:07.1f}",
    "grid.taken": lambda tenths: f"{tenths / 10:+.1f}",
    "trip.so.far": lambda hundredths: f"{hundredths / 100:.2f}",
    "charger.power": lambda tenths: f"{tenths / 10:.1f}",
}
"""Each reading as Python's format writes it."""


def designed(folder: Path, screen: str = SCREEN) -> Path:
    made = folder / "van"
    shutil.copytree(examples_folder() / "dunlin", made, ignore=shutil.ignore_patterns("logs", "*.layout"))
    signals = made / "signals.yaml"
    text = signals.read_text(encoding="utf-8")
    signals.write_text(text.replace("signals:\n", SIGNALS, 1), encoding="utf-8")
    (made / "drive.layout").write_text(screen, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def van(tmp_path_factory: pytest.TempPathFactory) -> Arranged:
    design, findings = load(designed(tmp_path_factory.mktemp("wide")))
    assert design is not None, findings
    made, more = arrange(design)
    assert made is not None, more
    return made


@pytest.fixture(scope="module")
def painter(van: Arranged) -> Painter:
    return Painter(van.drawing)


def moment(van: Arranged, value: Value) -> Moment:
    """All channels at one value."""
    screen = van.drawing.screens[0]
    raw = tuple(raw_value(van.channels[at], lambda name: value) for at in screen.channels)
    return Moment(0, 0, raw, 0)


def wide(van: Arranged, name: str) -> Figures:
    """The place of a number as a whole, as if it were painted without a condition."""
    for operation in van.drawing.screens[0].operations:
        if isinstance(operation, Figures):
            value = van.channels[operation.channel].value
            if value is not None and value.signals == {name}:
                return replace(operation, when=None)
    raise AssertionError(name)


def read(van: Arranged, painter: Painter, name: str, value: Value) -> str:
    screen = replace(van.drawing.screens[0], operations=(wide(van, name),))
    eyes = replace(van.drawing, screens=(screen,))
    return numbers(eyes, 0, painter.paint(moment(van, value)))[0][1]


@pytest.mark.parametrize(("name", "first", "last"), [
    ("vehicle.odometer", 0, 9_999_999), ("inverter.hours", 0, 999_999), ("grid.taken", 10_000, 1_200_000),
    ("trip.so.far", 0, 999_999), ("charger.power", 0, 220_000),
])  # fmt: skip
def test_what_is_painted_is_what_python_writes(
    van: Arranged, painter: Painter, name: str, first: int, last: int
) -> None:
    @given(st.one_of(st.integers(first, last), st.integers(0, last // 10_000).map(lambda n: n * 10_000 - 1)))
    @example(first)
    @example(last)
    @example(10_000)
    @example(65_520)
    def holds(steps: int) -> None:
        steps = max(first, min(last, steps))
        of_one = 100 if name == "trip.so.far" else 10
        assert read(van, painter, name, steps / of_one) == WAYS[name](steps)

    holds()


@pytest.mark.parametrize("doubt", list(Doubt))
def test_in_doubt_there_is_a_mark_for_each_figure(van: Arranged, painter: Painter, doubt: Doubt) -> None:
    assert read(van, painter, "vehicle.odometer", doubt) == "!" * 7


def test_parts_that_do_not_come_together_show_no_number(van: Arranged, painter: Painter) -> None:
    """While one of both is in doubt, marks stand in the number."""
    screen = van.drawing.screens[0]
    one, other = moment(van, 123_456.7), moment(van, Doubt.STALE)
    for mixed in ([one, other], [other, one]):
        for first in range(len(one.raw)):
            raw = tuple(mixed[at == first].raw[at] for at in range(len(one.raw)))
            picture = painter.paint(Moment(0, 0, raw, 0))
            seen = replace(screen, operations=(wide(van, "vehicle.odometer"),))
            text = numbers(replace(van.drawing, screens=(seen,)), 0, picture)[0][1]
            assert text == "123456.7" or not re.search("[0-9]$", text)


@pytest.mark.parametrize(("sentence", "told"), [
    ('reading pack.charge.moved as "0.0 Ah"', "below zero"),
    ('reading grid.taken as "0.000 Wh"', "655200000 can be sent"),
    ('reading vehicle.odometer as "0.0000 km"', "9999999001 steps, 65520 can"),
])  # fmt: skip
def test_what_cannot_be_told_is_said(tmp_path: Path, sentence: str, told: str) -> None:
    screen = f'screen drive "Drive"\n    plan\n        a\n    in a    {sentence}, text 20 arcmin\n'
    outcome = compile_design(designed(tmp_path, screen))
    assert not isinstance(outcome, Compiled)
    found = [finding for finding in outcome.findings if finding.code == "A346"]
    assert len(found) == 1 and told in found[0].message


def test_both_channels_of_a_number_go_in_one_frame(van: Arranged) -> None:
    screen = van.drawing.screens[0]
    values = ScreenValues([van.channels[at] for at in screen.channels], None, numbers=screen.channels)
    assert len(values.pairs) == len(WAYS)
    told = {one: tuple(screen.channels[at] for at in pair) for pair in values.pairs for one in pair}
    for operation in screen.operations:
        if isinstance(operation, Figures) and operation.when is not None:
            at = screen.channels.index(operation.channel)
            assert operation.when.channel in told[at]
