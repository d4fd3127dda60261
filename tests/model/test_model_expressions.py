"""Expressions: units, kinds, bounds, doubt."""

import math
from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import DesignError, Severity, Span, error
from hmic.language import syntax
from hmic.language.parser import parse_expression
from hmic.model.expressions import (
    Doubt,
    Scope,
    as_unit,
    condition,
    constant_number,
    said,
    typed,
    walk,
)
from hmic.model.units import unit
from hmic.model.values import lookup_over


@dataclass(frozen=True)
class Declared:
    kind: str
    unit: object = None
    low: float = 0.0
    high: float = 0.0
    count: int | None = None
    words: dict = field(default_factory=dict)


def number(spelling, low, high, count=None):
    return Declared("number", unit(spelling), low, high, count)


SIGNALS = {
    "pack.voltage": number("V", 0, 450),
    "pack.current": number("A", -300, 400),
    "pack.charge": number("%", 0, 100),
    "pack.energy": number("kWh", 0, 40),
    "pack.cells": number("V", 2, 4.5, 4),
    "pack.warmth": number("°C", -40, 90),
    "pack.modules": number("°C", -40, 90, 2),
    "road.speed": number("km/h", 0, 140),
    "motor.speed": number("rpm", 0, 12000),
    "motor.torque": number("N·m", -300, 300),
    "media.folder": number("", 1, 250),
    "car.gear": Declared("word", words={0: "P", 1: "R", 2: "N", 3: "D"}),
    "car.fault": Declared("flag"),
    "car.plug": Declared("flag"),
    "car.message": Declared("text"),
}
VALUES = {
    "pack.voltage": 350.0,
    "pack.current": 100.0,
    "pack.charge": 50.0,
    "pack.energy": 20.0,
    "pack.cells": (3.5, 3.6, 3.4, 3.7),
    "pack.warmth": 25.0,
    "pack.modules": (20.0, 26.0),
    "road.speed": 36.0,
    "motor.speed": 3000.0,
    "motor.torque": 100.0,
    "media.folder": 3.0,
    "car.gear": "P",
    "car.fault": False,
    "car.plug": True,
    "car.message": "Stop",
}


def tree(text):
    expression, findings = parse_expression(text, "x", 1, 1)
    assert expression is not None and not findings, findings
    return expression


def evaluated(text, **changes):
    values = VALUES | {name.replace("__", "."): value for name, value in changes.items()}
    return typed(tree(text), Scope(SIGNALS)).evaluate(values.__getitem__)


def findings_of(text):
    with pytest.raises(DesignError) as caught:
        typed(tree(text), Scope(SIGNALS))
    return caught.value.findings


@pytest.mark.parametrize(
    ("text", "value", "spelling"),
    [
        ("pack.voltage * pack.current in kW", 35.0, "kW"),
        ("pack.voltage * pack.current", 35000.0, "W"),
        ("motor.torque * motor.speed in kW", 31.41592653589793, "kW"),
        ("pack.charge * pack.energy", 10.0, "kWh"),
        ("pack.charge * 2", 100.0, "%"),
        ("pack.charge / 100 %", 0.5, ""),
        ("road.speed in m/s", 10.0, "m/s"),
        ("pack.energy / 2", 10.0, "kWh"),
        ("mean(pack.cells)", 3.55, "V"),
        ("max(pack.cells) - min(pack.cells) in mV", 300.0, "mV"),
        ("spread(pack.cells) in mV", 300.0, "mV"),
        ("sum(pack.cells)", 14.2, "V"),
        ("abs(-30 A)", 30.0, "A"),
        ("where_min(pack.cells)", 3.0, ""),
        ("where_max(pack.cells)", 4.0, ""),
        ("count(pack.cells > 3.55 V)", 2.0, ""),
        ("pack.cells[2]", 3.6, "V"),
        ("pack.cells[where_max(pack.cells)]", 3.7, "V"),
        ("max(pack.warmth, 30 °C)", 30.0, "°C"),
        ("min(1 kW, 900 W) in W", 900.0, "W"),
        ("spread(pack.modules)", 6.0, "K"),
        ("pack.warmth - 20 °C", 5.0, "K"),
        ("pack.warmth + 5 K", 30.0, "°C"),
        ("pack.warmth in K", 298.15, "K"),
        ("mean(pack.modules)", 23.0, "°C"),
        ("-(pack.current)", -100.0, "A"),
        ("2 + 3 * 4", 14.0, ""),
    ],
)
def test_numbers(text, value, spelling):
    result = typed(tree(text), Scope(SIGNALS))
    assert result.evaluate(VALUES.__getitem__) == pytest.approx(value, rel=1e-12)
    assert result.unit is not None and result.unit.spelling == spelling
    assert result.low <= value <= result.high * (1 + 1e-12) + 1e-9


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("road.speed < 36.1 km/h", True),
        ("road.speed < 10 m/s", False),
        ("pack.warmth > 300 K", False),
        ('car.gear is "P"', True),
        ('car.gear is not "P" or car.fault', False),
        ("not car.fault and car.plug", True),
        ("car.plug is on", True),
        ('car.message is "Stop"', True),
        ("media.folder is 3", True),
        ("pack.warmth - pack.modules[1] > 4 K", True),
        ("pack.cells > 3.55 V", (False, True, False, True)),
    ],
)
def test_conditions(text, value):
    assert evaluated(text) == value


@pytest.mark.parametrize(
    ("text", "code", "column", "remedy"),
    [
        ("pack.voltag > 3 V", "M201", 1, "did you mean 'pack.voltage'?"),
        (
            "pack.volts > 3 V",
            "M201",
            1,
            "declare 'pack.volts' in signals.yaml, or use one of 'pack': pack.cells, pack.charge",
        ),
        ("pakc.voltage > 3 V", "M201", 1, "did you mean 'pack.voltage'?"),
        ("van.gear is on", "M201", 1, "declare 'van.gear' in signals.yaml; known groups of signals: car"),
        (
            "xx.yy > 3 V",
            "M201",
            1,
            "declare 'xx.yy' in signals.yaml; known groups of signals: car, media, motor, pack, road",
        ),
        ("pack.voltage > 30 °C", "M204", 1, "did you mean `30 V`, or a signal of temperature: pack.modules"),
        ("pack.voltage + pack.current", "M204", 1, "use two values of voltage"),
        ("pack.voltage > 300", "M214", 16, "write `300 V`"),
        ("pack.charge > 20", "M214", 15, "write `20 %`"),
        ("pack.voltage > 300 C", "M203", 16, "did you mean '°C'?"),
        ("pack.warmth * 2", "M205", 1, "pack.warmth in K"),
        ("pack.warmth + 20 °C", "M205", 1, "mean"),
        ("-pack.warmth", "M205", 2, "in K"),
        ("sum(pack.modules)", "M205", 5, "in K"),
        ("pack.warmth - 20 °C > pack.warmth", "M205", 1, "5 K"),
        ("car.fault > 1", "M206", 1, "is"),
        ("pack.voltage and car.fault", "M206", 1, "compare"),
        ("car.gear is on", "M206", 1, '"P"'),
        ("maxx(pack.cells)", "M207", 1, "did you mean 'max'?"),
        ("mean(pack.voltage)", "M208", 1, "list"),
        ("count(pack.cells)", "M208", 1, "count(pack.cells < 3 V)"),
        ("pack.cells[5]", "M209", 12, "1 to 4"),
        ("pack.cells[0]", "M209", 12, "1 to 4"),
        ("pack.voltage[1]", "M209", 1, "alone"),
        ('car.gear is "PP"', "M210", 13, "words: P, R, N, D"),
        ("pack.voltage in kW", "M212", 1, "voltage"),
        ("pack.cells > pack.modules in V", "M212", None, "temperature"),
        ("spread(pack.cells) + pack.modules", "M204", None, ""),
    ],
)
def test_mistakes(text, code, column, remedy):
    first = findings_of(text)[0]
    assert first.code == code
    assert column is None or first.span.column == column
    assert remedy in (first.remedy or "")


def test_the_message_names_both_units():
    message = findings_of("pack.voltage > 30 °C")[0].message
    assert "V (voltage)" in message and "°C (temperature)" in message


def test_one_error_hides_no_other():
    codes = [finding.code for finding in findings_of('pack.volts > 3 V and car.gear is "X" or maxx(1 V)')]
    assert codes == ["M201", "M210", "M207"]


def test_lists_of_different_length():
    assert findings_of("pack.cells - pack.cells > 0 V and pack.modules > 3 °C")[0].code == "M213"


def test_a_literal_out_of_range_is_a_warning():
    scope = Scope(SIGNALS)
    result = typed(tree("pack.voltage > 500 V"), scope)
    assert result.kind == "flag"
    (found,) = scope.warnings
    assert (found.code, found.severity, found.span.column) == ("M211", Severity.WARNING, 16)
    assert "0 to 450 V" in found.message


def flagged(text):
    return condition(tree(text), typed(tree(text), Scope(SIGNALS)))


def test_a_condition_must_be_a_flag():
    with pytest.raises(DesignError) as caught:
        flagged("pack.voltage")
    assert caught.value.findings[0].code == "M215"
    assert caught.value.findings[0].remedy == "compare it, such as `pack.voltage > 0 V`"
    assert flagged("car.fault").kind == "flag"


def test_a_broken_signal_is_not_reported_again():
    with pytest.raises(DesignError) as caught:
        typed(tree("pack.lost > 3 V"), Scope(SIGNALS, broken={"pack.lost": error("M233", "x")}))
    assert caught.value.findings == ()


def test_names_in_reach():
    index = syntax.Name("n", Span("x", 1, 1, 1, 2))
    element = syntax.Signal("pack.cells", index, index.span)
    assert typed(element, Scope(SIGNALS, {"n": constant_number(3)})).evaluate(VALUES.__getitem__) == 3.4
    with pytest.raises(DesignError) as caught:
        typed(element, Scope(SIGNALS))
    assert caught.value.findings[0].code == "M202"
    assert said(element) == "pack.cells[n]"


def test_a_nest_too_deep():
    here = Span("x", 1, 1, 1, 2)
    expression: syntax.Expression = syntax.Flag(True, here)
    for _ in range(5000):
        expression = syntax.Not(expression, here)
    with pytest.raises(DesignError) as caught:
        typed(expression, Scope(SIGNALS))
    assert [finding.code for finding in caught.value.findings] == ["M216"]


# Doubt -----------------------------------------------------------------------------------------

UNSEEN, STALE, OUT = Doubt.UNSEEN, Doubt.STALE, Doubt.OUT_OF_RANGE


@pytest.mark.parametrize(
    ("text", "changes", "value"),
    [
        ("pack.voltage * pack.current", {"pack__voltage": STALE}, STALE),
        ("pack.voltage * pack.current", {"pack__voltage": OUT, "pack__current": STALE}, STALE),
        ("pack.voltage * pack.current", {"pack__voltage": STALE, "pack__current": UNSEEN}, UNSEEN),
        ("pack.voltage / (pack.current - 100 A)", {}, OUT),
        ("pack.voltage", {"pack__voltage": 451.0}, OUT),
        ("pack.voltage", {"pack__voltage": math.nan}, OUT),
        ("pack.voltage", {"pack__voltage": "high"}, OUT),
        ("car.gear", {"car__gear": "X"}, OUT),
        ("mean(pack.cells)", {"pack__cells": (3.0, STALE, 3.0, OUT)}, STALE),
        ("pack.cells[1]", {"pack__cells": (3.0, STALE, 3.0, OUT)}, 3.0),
        ("pack.cells[1]", {"pack__cells": STALE}, STALE),
        ("pack.cells[1]", {"pack__cells": (3.0,)}, UNSEEN),
        ("count(pack.cells > 3.2 V)", {"pack__cells": (3.0, STALE, 3.0, OUT)}, STALE),
        ("car.fault and car.plug", {"car__plug": STALE}, False),
        ("car.plug or car.fault", {"car__fault": UNSEEN}, True),
        ("car.fault or car.plug", {"car__plug": STALE}, STALE),
        ("car.plug and car.fault", {"car__fault": UNSEEN}, UNSEEN),
        ("not car.plug", {"car__plug": STALE}, STALE),
        ("media.folder is 3", {"media__folder": STALE}, STALE),
    ],
)
def test_doubt(text, changes, value):
    result = evaluated(text, **changes)
    assert result == value and isinstance(result, Doubt) == isinstance(value, Doubt)


def test_a_name_the_lookup_lacks_was_never_seen():
    assert typed(tree("pack.voltage"), Scope(SIGNALS)).evaluate({}.__getitem__) is UNSEEN


def test_a_range_holds_through_rounding_of_a_decoder():
    assert evaluated("pack.charge", pack__charge=100 + 1e-12) == pytest.approx(100)


def test_derived_values_over_given_ones():
    power = typed(tree("pack.voltage * pack.current in kW"), Scope(SIGNALS))
    lookup = lookup_over({"pack.voltage": 300.0, "pack.current": 10.0}, {"pack.power": power})
    assert lookup("pack.power") == 3.0
    assert lookup("pack.nothing") is UNSEEN
    assert lookup_over({}, {"pack.power": power})("pack.power") is UNSEEN


# Random expressions ----------------------------------------------------------------------------

HERE = Span("x", 1, 1, 1, 2)
leaves = st.one_of(
    st.sampled_from([syntax.Signal(name, None, HERE) for name in (*SIGNALS, "no.such")]),
    st.builds(
        lambda n, u: syntax.Quantity(n, u, HERE),
        st.fractions(min_value=-1000, max_value=1000, max_denominator=100),
        st.sampled_from(["", "V", "A", "°C", "K", "%", "km/h", "kWh", "wrong"]),
    ),
    st.builds(lambda v: syntax.Flag(v, HERE), st.booleans()),
    st.builds(lambda t: syntax.Text(t, HERE), st.sampled_from(["P", "D", "x"])),
)


def grown(inner):
    operators = ["+", "-", "*", "/", "<", "<=", ">", ">=", "is", "is_not", "and", "or"]
    functions = ["min", "max", "mean", "spread", "sum", "abs", "count", "where_min", "where_max", "no"]
    return st.one_of(
        st.builds(lambda o, a, b: syntax.Operation(o, a, b, HERE), st.sampled_from(operators), inner, inner),
        st.builds(lambda a: syntax.Not(a, HERE), inner),
        st.builds(lambda a: syntax.Negative(a, HERE), inner),
        st.builds(
            lambda a, u: syntax.Convert(a, u, HERE), inner, st.sampled_from(["V", "kW", "K", "°C", "%", "?"])
        ),
        st.builds(
            lambda f, a: syntax.Call(f, tuple(a), HERE),
            st.sampled_from(functions),
            st.lists(inner, max_size=3),
        ),
        st.builds(
            lambda n, i: syntax.Signal(n, i, HERE), st.sampled_from(["pack.cells", "pack.voltage"]), inner
        ),
    )


expressions = st.recursive(leaves, grown, max_leaves=8)
anything = st.one_of(
    st.sampled_from(list(Doubt)),
    st.floats(),
    st.integers(-(10**400), 10**400),
    st.booleans(),
    st.sampled_from(["P", "D", ""]),
    st.tuples(*[st.floats(-10, 100) | st.sampled_from(list(Doubt))] * 4),
    st.tuples(st.floats(-50, 100), st.floats(-50, 100)),
    st.just(()),
)
plausible = st.fixed_dictionaries(
    {
        name: st.floats(d.low, d.high)
        if d.kind == "number" and d.count is None
        else st.tuples(*[st.floats(d.low, d.high)] * d.count)
        if d.count
        else st.just(VALUES[name])
        for name, d in SIGNALS.items()
    }
)


@settings(max_examples=300)
@given(expressions, st.dictionaries(st.sampled_from(list(SIGNALS)), anything), plausible)
def test_evaluation_never_raises_and_keeps_its_bounds(expression, wild, calm):
    try:
        result = typed(expression, Scope(SIGNALS))
    except DesignError as problem:
        assert all(finding.code.startswith("M2") and finding.remedy for finding in problem.findings)
        assert problem.findings
        return
    for values in (wild, calm, calm | wild):
        value = result.evaluate(values.__getitem__)
        items = value if isinstance(value, tuple) else (value,)
        if isinstance(value, tuple):
            assert len(value) == result.count
        for item in items:
            if isinstance(item, Doubt):
                continue
            if result.kind == "number":
                assert isinstance(item, float) and math.isfinite(item)
                slack = 1e-6 * max(1.0, abs(item))
                assert result.low - slack <= item <= result.high + slack
            elif result.kind == "flag":
                assert isinstance(item, bool)
            else:
                assert isinstance(item, str)
    assert result.signals <= {node.name for node in walk(expression) if isinstance(node, syntax.Signal)}


@given(st.floats(0, 450))
def test_as_unit_keeps_the_quantity(volts):
    value = as_unit(typed(tree("pack.voltage"), Scope(SIGNALS)), unit("mV"))
    assert value is not None
    assert value.evaluate({"pack.voltage": volts}.__getitem__) == pytest.approx(volts * 1000)
    assert as_unit(value, unit("A")) is None
