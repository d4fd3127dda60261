"""A step, spread or distance of temperatures is a difference, in whatever unit it is written. By pint."""

from __future__ import annotations

from pathlib import Path

import pint
import pytest

from hmic.cli.starter import THEMES
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.actions import SetOutput, SlideOutput, StepOutput
from hmic.model.channels import Bands, Scaled
from tests.tools.designs import SMALL

DBC = """\
VERSION ""

NS_ :

BS_:

BU_: Vehicle Display

BO_ 256 State: 8 Vehicle
 SG_ Set : 0|16@1- (1,-4000) [-4000|4000] "UNIT" Display
 SG_ Out : 16|16@1- (1,-4000) [-4000|4000] "UNIT" Display
 SG_ C1 : 32|16@1- (1,-4000) [-4000|4000] "UNIT" Display
 SG_ C2 : 48|16@1- (1,-4000) [-4000|4000] "UNIT" Display

BO_ 320 Request: 2 Display
 SG_ Set : 0|16@1- (1,-4000) [-4000|4000] "UNIT" Vehicle
"""
SIGNALS = """\
signals:
  oven.set: {{unit: {unit}, range: [200, 1400], from: State.Set, stale: 2 s}}
  oven.out: {{unit: {unit}, range: [200, 1400], from: State.Out, stale: 2 s}}
  pack.heat: {{unit: {unit}, count: 2, range: [200, 1400], from: "State.C{{n}}", stale: 2 s}}
outputs:
  oven.set: {{to: Request.Set}}
"""
LAYOUT = """\
screen all "All"
    plan
        a b
        c d
        e f
        g h
    in a        stepper oven.set, in steps of {step}, as "0 {unit}"
    in b        slider oven.set from 300 {unit} to 1200 {unit}, in steps of {step}
    in c        button "More", steps oven.set by {step}
    in d        button "Less", steps oven.set by -{step}
    in e        choice oven.set of 400 {unit} or 600 {unit}, called "T"
    in f        cells pack.heat, difference from mean within {step}, filled by ramp charge
    in g        reading oven.set - oven.out as "0 K", called "D", caution above {step}, danger below -{step}
    in h        bar oven.out from 300 {unit} to 1200 {unit}, rightward, marks every {spaced}
"""
NAMES = {"°C": "degC", "°F": "degF", "K": "kelvin"}
UNITS = pint.UnitRegistry()


def degrees(amount: float, source: str, target: str) -> float:
    """A difference in another unit, as pint has it."""
    deltas = {"°C": "delta_degC", "°F": "delta_degF", "K": "kelvin"}
    return float(UNITS.Quantity(amount, deltas[source]).to(deltas[target]).magnitude)


def compiled(folder: Path, unit: str, source: str, amount: float) -> Compiled:
    spaced = f"{300 if source == '°F' else 200} {source}"
    (folder / "design.yaml").write_text(SMALL)
    (folder / "car.dbc").write_text(DBC.replace("UNIT", NAMES[unit] if unit != "K" else "K"))
    (folder / "signals.yaml").write_text(SIGNALS.format(unit=unit))
    (folder / "themes.yaml").write_text(THEMES)
    text = LAYOUT.format(unit=unit, step=f"{amount:g} {source}", spaced=spaced)
    (folder / "all.layout").write_text(text)
    found = compile_design(folder)
    assert isinstance(found, Compiled), [(each.message, each.remedy) for each in found.findings]
    return found


@pytest.mark.parametrize("amount", [10.0, 4.5])
@pytest.mark.parametrize("source", NAMES)
@pytest.mark.parametrize("unit", NAMES)
def test_every_step_is_a_difference(tmp_path: Path, unit: str, source: str, amount: float) -> None:
    design = bind(compiled(tmp_path, unit, source, amount))
    step = degrees(amount, source, unit)
    actions = [zone.action for zone in design.screens[0].zones]
    steps = [action.by for action in actions if isinstance(action, StepOutput)]
    assert steps == pytest.approx([-step, step, step, -step])
    assert [each.step for each in actions if isinstance(each, SlideOutput)] == pytest.approx([step])
    assert [each.value for each in actions if isinstance(each, SetOutput)] == [400, 600]
    spreads = [each.steps for each in design.channels if each.centred]
    assert spreads and all(
        isinstance(each, Scaled) and each.low == pytest.approx(-step) and each.step > 0 for each in spreads
    )
    assert spreads[0].step * (spreads[0].count - 1) == pytest.approx(2 * step)  # type: ignore[union-attr]
    # The difference of two readings is in K; so are its limits.
    limits = [each.steps.limits for each in design.channels if isinstance(each.steps, Bands)]
    kelvin = degrees(amount, source, "K")
    assert any(pair == pytest.approx((-kelvin, kelvin)) for pair in limits), limits


@pytest.mark.parametrize("shown", NAMES)
@pytest.mark.parametrize("unit", ["°C", "°F"])
def test_a_difference_is_shown_in_degrees(tmp_path: Path, unit: str, shown: str) -> None:
    """Written into a layout, and as a signal of its own that is declared so."""
    (tmp_path / "design.yaml").write_text(SMALL)
    (tmp_path / "car.dbc").write_text(DBC.replace("UNIT", NAMES[unit]))
    derived = f'  oven.lack: {{unit: {shown}, range: [-2000, 2000], is: "oven.set - oven.out"}}\noutputs:'
    (tmp_path / "signals.yaml").write_text(SIGNALS.format(unit=unit).replace("outputs:", derived))
    (tmp_path / "themes.yaml").write_text(THEMES)
    (tmp_path / "all.layout").write_text(
        'screen all "All"\n    plan\n        a b\n'
        f'    in a        reading oven.set - oven.out as "0 {shown}", called "D", caution above 20 {shown}\n'
        f'    in b        reading oven.lack as "0 {shown}", called "L", caution above 10 K\n'
    )
    found = compile_design(tmp_path)
    assert isinstance(found, Compiled), [(each.message, each.remedy) for each in found.findings]
    bands = [each for each in bind(found).channels if isinstance(each.steps, Bands)]
    figures = [each for each in bind(found).channels if isinstance(each.steps, Scaled)]
    limits = sorted(each.steps.limits[0] for each in bands)  # type: ignore[union-attr]
    wanted = [degrees(20, shown, "K"), degrees(10, "K", shown)]
    assert limits == pytest.approx(sorted(wanted))
    seen = {"oven.set": 700.0, "oven.out": 600.0}
    for channel in figures:
        assert channel.value is not None
        values = [channel.value.evaluate(lambda name: seen.get(name, degrees(100, unit, shown)))]
        assert values == pytest.approx([degrees(100, unit, shown)])


@pytest.mark.parametrize("unit", NAMES)
def test_a_choice_is_lit_at_its_own_value_only(tmp_path: Path, unit: str) -> None:
    from hmic.model.channels import LIVE, FirstTrue, raw_value

    design = bind(compiled(tmp_path, unit, "K", 10.0))
    (lit,) = [each for each in design.channels if isinstance(each.steps, FirstTrue) and each.value is None]
    seen = [raw_value(lit, lambda name, at=at: float(at)) - LIVE for at in (399, 400, 401, 600, 900)]
    assert seen == [0, 1, 0, 2, 0]
