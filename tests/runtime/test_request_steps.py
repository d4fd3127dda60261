"""What is asked for reads back within its range, whatever steps its field has. By cantools."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

import cantools
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from hmic.cli.starter import THEMES
from hmic.diagnostics import Finding
from hmic.model.design import Design, FieldSteps
from hmic.model.expressions import Doubt, Value
from hmic.model.load import load
from hmic.model.terms import signal_typed
from hmic.runtime.from_dbc import load_encoder
from hmic.runtime.requests import RequestDone, RequestMade, Requests
from tests.tools.changed import replace
from tests.tools.designs import SMALL

DBC = """VERSION ""
NS_ :
BS_:
BU_: Dash
BO_ 256 Said: 8 Dash
 SG_ Set : 0|16@1{sign} ({scale},{offset}) [0|0] "{of}" Dash
 SG_ Beside : 16|16@1{sign} ({scale},{offset}) [0|0] "{of}" Dash
BO_ 320 Ask: 8 Dash
 SG_ Set : 0|16@1{sign} ({scale},{offset}) [0|0] "{of}" Dash
 SG_ Beside : 16|16@1{sign} ({scale},{offset}) [0|0] "{of}" Dash
"""
SIGNALS = """\
signals:
  oven.set: {{unit: {unit}, range: [{low}, {high}], from: Said.Set, stale: 2 s}}
  oven.beside: {{unit: {unit}, range: [{low}, {high}], from: Said.Beside, stale: 2 s}}
outputs:
  oven.set: {{to: Ask.Set}}
  oven.beside: {{to: Ask.Beside}}
"""
LAYOUT = 'screen all "All"\n    plan\n        a\n    in a        label "x"\n'


def designed(**given: object) -> tuple[Design, list[Finding], bytes]:
    """A design of two outputs in one message."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "design.yaml").write_text(SMALL)
        dbc = DBC.format(**{"sign": "-", "offset": 0, "of": "V", **given})
        (folder / "car.dbc").write_text(dbc)
        (folder / "signals.yaml").write_text(SIGNALS.format(**{"unit": "V", **given}))
        (folder / "themes.yaml").write_text(THEMES)
        (folder / "all.layout").write_text(LAYOUT)
        design, findings = load(folder)
        assert design is not None, findings
        encoder = load_encoder(design)
        assert encoder is not None
        return design, findings, dbc.encode()


counts = {"oven.set": 0, "oven.beside": 0}


def requests_of(folder: Path, dbc: bytes, design: Design) -> Requests:
    path = folder / "car.dbc"
    path.write_bytes(dbc)
    encoder = load_encoder(replace(design, buses={"": path}))
    assert encoder is not None
    return Requests(design, True, lambda name: counts[name], encoder.targets, encoder.encode)


@settings(max_examples=40)
@given(
    scale=st.integers(1, 2000).map(lambda n: n / 1000),
    offset=st.integers(-100, 100),
    low=st.integers(-200, 900).map(lambda n: n / 10),
    width=st.integers(20, 1000).map(lambda n: n / 10),
    unit=st.sampled_from(["V", "mV", "kV"]),
    share=st.floats(0, 1),
    beside=st.floats(0, 1),
)
def test_what_is_asked_for_reads_back_within_its_range(
    scale: float, offset: int, low: float, width: float, unit: str, share: float, beside: float
) -> None:
    to_volt = {"V": Fraction(1), "mV": Fraction(1, 1000), "kV": Fraction(1000)}[unit]
    # The range in the signal's unit, of so many volts.
    ends = [float(Fraction(repr(end)) / to_volt) for end in (low, low + width)]
    design, _, dbc = designed(scale=scale, offset=offset, low=ends[0], high=ends[1], unit=unit)
    reads = [signal_typed(name, design.signals[name]) for name in counts]
    output = design.outputs["oven.set"]
    steps = output.steps
    inside = steps.within(*ends) if steps is not None else None
    assume(inside is not None)
    wanted = output.low + share * (output.high - output.low)
    known: dict[str, Value] = {"oven.set": output.low, "oven.beside": ends[0] + beside * (ends[1] - ends[0])}
    with tempfile.TemporaryDirectory() as folder:
        requests = requests_of(Path(folder), dbc, design)
        made = requests.ask("oven.set", wanted, lambda name: known.get(name, Doubt.UNSEEN), 10.0)
        assert isinstance(made, RequestMade) and made.frame is not None, made
        message = cantools.database.load_string(dbc.decode(), "dbc").get_message_by_name("Ask")
        fields = message.decode(made.frame.data)
    back = {
        name: float(Fraction(repr(float(fields[field]))) / to_volt)  # type: ignore[arg-type]
        for name, field in (("oven.set", "Set"), ("oven.beside", "Beside"))
    }
    for each in reads:
        assert not isinstance(each.evaluate(back.__getitem__), Doubt), (back, ends)
    # The nearest that lies inside, by trying its neighbours.
    step = scale / float(to_volt)
    assert abs(back["oven.set"] - wanted) <= step * 1.001
    assert made.value == pytest.approx(back["oven.set"], abs=1e-6 * step)
    for other in (back["oven.set"] - step, back["oven.set"] + step):
        if ends[0] <= other <= ends[1]:
            assert abs(other - wanted) >= abs(back["oven.set"] - wanted) - 1e-6 * step
    # The vehicle follows, and that is seen.
    counts["oven.set"] += 1
    answers = requests.tick(back.__getitem__, 10.5)
    assert [type(answer) for answer in answers] == [RequestDone]


def test_a_range_that_ends_between_steps_is_told() -> None:
    design, findings, _ = designed(scale=0.7, low=0, high=100)
    output = design.outputs["oven.set"]
    assert (output.low, output.high) == (0, pytest.approx(99.4))
    told = [item for item in findings if item.code == "M282"]
    assert len(told) == 2 and "write `range: [0, 99.4]` for it" in (told[0].remedy or "")
    for scale in (0.5, 0.1, 0.4):
        assert "M282" not in {item.code for item in designed(scale=scale, low=0, high=100)[1]}


def test_a_range_without_a_value_of_the_field_is_an_error() -> None:
    _, findings, _ = designed(scale=7, low=1, high=6)
    assert [item.code for item in findings if item.severity.value == "error"] == ["M283"] * 2


@given(
    st.floats(-1e3, 1e3), st.floats(1e-3, 1e2), st.integers(2, 300), st.floats(-2e3, 2e3), st.floats(0.1, 3e3)
)
def test_the_nearest_step_by_trying_all(
    first: float, step: float, count: int, low: float, width: float
) -> None:
    steps = FieldSteps(first, step, count)
    high = low + width
    every = [first + number * step for number in range(count)]
    slack = 1e-9 * width
    inside = [each for each in every if low - slack <= each <= high + slack]
    sure = [each for each in every if low + slack < each < high - slack]
    found = steps.within(low, high)
    if not inside:
        assert found is None
    elif sure:
        assert found is not None and found[0] <= min(sure) and max(sure) <= found[1]
        for value in (low, high, low + width / 3):
            nearest = steps.nearest(value, low, high)
            assert nearest in every
            assert abs(nearest - value) <= min(abs(each - value) for each in sure) + 1e-9 * (1 + abs(value))
