"""Signals worked out over time: from signals.yaml to values, against closed forms."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.language.parser import parse_expression
from hmic.model.expressions import Doubt, Scope, Value, typed
from hmic.model.signals_file import SignalsFile, read_signals
from hmic.model.yaml_source import check_schema, parse_yaml
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.keeping import Sum, load_sums, save_sums
from hmic.runtime.state import SignalTable

BASE = """
signals:
  pack.power:    {unit: kW, range: [-100, 150], from: A.Power, stale: 1 s}
  pack.voltage:  {unit: V, range: [0, 500], from: A.Voltage, stale: 1 s}
  pack.current:  {unit: A, range: [-500, 500], from: A.Current, stale: 1 s}
  pack.charge:   {unit: "%", range: [0, 100], from: A.Charge, stale: 1 s}
  vehicle.speed: {unit: km/h, range: [0, 140], from: A.Speed, stale: 1 s}
  motor.torque:  {unit: N·m, range: [-300, 300], from: A.Torque, stale: 1 s}
  motor.speed:   {unit: rpm, range: [-2000, 12000], from: A.Turns, stale: 1 s}
  motor.heat:    {unit: °C, range: [-40, 200], from: A.Heat, stale: 1 s}
  pack.cells:    {unit: V, range: [2, 5], count: 3, from: "A.C{n}", stale: 1 s}
  trip.begin:    {flag: true, from: A.Begin, stale: 1 s}
  vehicle.gear:  {words: {0: P, 1: D}, from: A.Gear, stale: 1 s}
"""


def read(lines: str) -> tuple[SignalsFile, list[str]]:
    node, findings = parse_yaml(BASE + lines, "signals.yaml")
    assert node is not None and not findings
    findings = check_schema(node, "signals")
    file = read_signals(node, findings)
    return file, [finding.code for finding in findings]


class Car:
    """A table that is fed by name; each value stands until the next."""

    def __init__(self, formula: str, unit: str = "", extra: str = "") -> None:
        declared = f", unit: {unit}" if unit else ""
        file, codes = read(f"  x.x: {{is: '{formula}'{declared}{extra}}}\n")
        assert codes == []
        self.file = file
        self.table = SignalTable(file.signals, file.memories.values())

    def at(self, now: float, **values: object) -> Value:
        self.table.advance(now)
        names = {name.replace("_", "."): value for name, value in values.items()}
        readings = tuple(Reading(name, None, value) for name, value in names.items())  # type: ignore[arg-type]
        if readings:
            self.table.feed(Arrival(now, readings))
        return self.table.lookup("x.x")


def number(value: Value) -> float:
    assert isinstance(value, float), value
    return value


def test_energy_and_distance_of_an_analytic_drive_cycle() -> None:
    """P(t) = 40 kW * sin(pi t / 600), v(t) = 72 km/h * sin^2(pi t / 600): in 600 s
    40 kW * 2/pi * 1/6 h = 4.2441 kWh over 72 km/h * 1/2 * 1/6 h = 6 km; 707.36 Wh/km."""
    energy = Car("integral(pack.power)", "kWh")
    file, _ = read(
        "  t.e: {is: 'integral(pack.power)', unit: kWh}\n  t.d: {is: 'integral(vehicle.speed)', unit: km}\n"
        "  t.u: {is: 't.e / t.d in Wh/km'}\n"
    )
    table = SignalTable(file.signals, file.memories.values())
    for step in range(60001):
        now = step / 100
        part = math.sin(math.pi * now / 600)
        table.advance(now)
        readings = (
            Reading("pack.power", None, 40 * part),
            Reading("vehicle.speed", None, 72 * part**2),
        )
        table.feed(Arrival(now, readings))
        if step % 10 == 0:
            energy.at(now, pack_power=40 * part)
    exact = 40 * 2 / math.pi / 6
    assert number(table.lookup("t.e")) == pytest.approx(exact, rel=1e-6)
    assert number(table.lookup("t.d")) == pytest.approx(6, rel=1e-6)
    assert number(table.lookup("t.u")) == pytest.approx(exact * 1000 / 6, rel=1e-6)
    assert number(energy.table.lookup("x.x")) == pytest.approx(exact, rel=1e-5)


def test_an_integral_leaves_out_doubt_begins_again_and_is_kept() -> None:
    car = Car("integral(pack.power, trip.begin)", "kWh")
    assert car.at(0.0) is Doubt.UNSEEN
    car.at(0.0, pack_power=36.0, trip_begin=False)
    assert number(car.at(0.5)) == pytest.approx(36 * 0.4 / 3600)
    assert car.at(5.0) is Doubt.STALE
    assert number(car.at(10.0, pack_power=36.0)) == pytest.approx(0.01)
    assert number(car.at(10.4, trip_begin=True)) == 0.0
    assert number(car.at(10.9, pack_power=0.0, trip_begin=True)) == pytest.approx(0.005)
    kept = car.table.sums()
    again = Car("integral(pack.power, trip.begin)", "kWh")
    again.table.restore({**kept, "integral(something.gone)": Sum(3.0)})
    assert again.at(0.0) is Doubt.UNSEEN
    assert number(again.at(1.0, pack_power=0.0, trip_begin=True)) == pytest.approx(0.005)


def test_a_kept_sum_of_another_unit_is_converted_or_left(tmp_path: Path) -> None:
    def table(unit: str) -> SignalTable:
        lines = f"  p.p: {{unit: {unit}, range: [0, 99999], from: pipe, stale: 9 s}}\n"
        file, codes = read(lines + "  t.a: {is: 'integral(p.p)'}\n")
        assert codes == []
        return SignalTable(file.signals, file.memories.values())

    first = table("kW")
    first.feed(Arrival(0.0, (Reading("p.p", None, 3.0),)))
    first.advance(5.0)
    path = tmp_path / "x.sums"
    save_sums(path, first.sums())
    kept = first.sums()["integral(p.p)"].value
    assert kept > 14.0
    for unit, expected in (("kW", kept), ("W", kept * 1000)):
        again = table(unit)
        assert again.restore(load_sums(path)[0]) == []
        assert again.sums()["integral(p.p)"].value == expected
    other = table("V")
    assert [finding.code for finding in other.restore(load_sums(path)[0])] == ["R757"]
    assert other.sums()["integral(p.p)"].value == 0.0


def test_rate_of_a_ramp_and_time_to_a_target() -> None:
    rate = Car("rate(motor.heat, 30 s)", "K/min")
    eta = Car("time_to(pack.charge, 80 %, 30 s)", "min")
    for at in (half / 2 for half in range(121)):
        shown = rate.at(at, motor_heat=20.0 + 0.1 * at)
        left = eta.at(at, pack_charge=20 + 0.05 * at)
        if at < 29:
            assert shown is Doubt.UNSEEN and left is Doubt.UNSEEN
    assert number(shown) == pytest.approx(6.0, rel=0.04)
    assert number(left) == pytest.approx((80 - 23) / 0.05 / 60, rel=0.04)
    for half in range(121, 300):
        left = eta.at(half / 2, pack_charge=23.0)
    assert left is Doubt.OUT_OF_RANGE
    for half in range(300, 400):
        left = eta.at(half / 2, pack_charge=23.0 - (half - 300) / 10)
    assert left is Doubt.OUT_OF_RANGE
    assert eta.at(300.0) is Doubt.STALE


@settings(max_examples=50)
@given(st.lists(st.tuples(st.floats(0.01, 0.9), st.floats(-400, 400)), min_size=1, max_size=30))
def test_a_low_pass_follows_its_closed_form_whatever_the_looks(steps: list[tuple[float, float]]) -> None:
    car = Car("smooth(pack.current, 2 s)")
    now, goal, value = 0.0, None, 0.0
    for wait, given_value in steps:
        now += wait
        # An equal value asks for no look, so what is shown is at most 5 % of the way behind.
        behind = 0.0 if goal is None else abs(goal - value) * 0.05
        value = given_value if goal is None else goal + (value - goal) * math.exp(-wait / 2)
        goal = given_value
        shown = car.at(now, pack_current=given_value)
        assert number(shown) == pytest.approx(value, abs=behind + 1e-3)


def test_a_low_pass_moves_by_itself_and_comes_to_rest() -> None:
    car = Car("smooth(pack.current, 200 ms)")
    car.at(0.0, pack_current=0.0)
    car.at(0.1, pack_current=100.0)
    assert number(car.at(0.3)) == pytest.approx(100 * (1 - math.exp(-1)), rel=1e-6)
    assert car.table.next_due() is not None
    for tenth in range(4, 60):
        car.at(tenth / 10, pack_current=100.0)
    assert car.at(6.0, pack_current=100.0) == 100.0
    assert car.table.next_due() == 7.0


def test_an_average_over_a_window_and_efficiency() -> None:
    mean = Car("average(pack.power, 10 s)")
    use = Car("efficiency(pack.power, vehicle.speed, 10 s)", "Wh/km")
    for tenth in range(0, 300):
        on = tenth % 20 < 10
        shown = mean.at(tenth / 10, pack_power=20.0 if on else 0.0)
        used = use.at(tenth / 10, pack_power=20.0 if on else 0.0, vehicle_speed=50.0)
    assert number(shown) == pytest.approx(10.0, rel=0.07)
    assert number(used) == pytest.approx(200.0, rel=0.07)
    for tenth in range(300, 500):
        used = use.at(tenth / 10, pack_power=1.0, vehicle_speed=0.0)
    assert used is Doubt.OUT_OF_RANGE


def test_hysteresis_hold_and_debounce() -> None:
    hot = Car("hysteresis(motor.heat, 110 °C, 100 °C)")
    shown = [hot.at(at / 10, motor_heat=heat) for at, heat in enumerate((90.0, 105.0, 110.0, 101.0, 100.0))]
    assert shown == [False, False, True, True, False]
    hot.at(0.6, motor_heat=120.0)
    assert hot.at(2.0) is Doubt.STALE and hot.at(2.1, motor_heat=105.0) is True
    cold = Car("hysteresis(motor.heat, -5 °C, 0 °C)")
    assert [cold.at(at / 10, motor_heat=heat) for at, heat in enumerate((-5.0, -1.0, 0.0))] == [
        True,
        True,
        False,
    ]
    held = Car("hold(trip.begin, 500 ms)")
    held.at(0.0, trip_begin=True)
    assert held.at(0.2, trip_begin=False) is True
    assert held.at(0.69) is True and held.at(0.7) is False
    steady = Car("debounce(vehicle.gear, 300 ms)")
    assert steady.at(0.0, vehicle_gear="P") == "P"
    steady.at(0.1, vehicle_gear="D")
    assert steady.at(0.3, vehicle_gear="P") == "P"
    steady.at(0.4, vehicle_gear="D")
    assert steady.at(0.69) == "P" and steady.at(0.7) == "D"


def test_power_and_interpolation() -> None:
    # 100 N·m at 3000 rpm: 100 * 2 pi * 50 W = 31.416 kW.
    turning = Car("power(motor.torque, motor.speed)", "kW")
    assert number(turning.at(0.0, motor_torque=100.0, motor_speed=3000.0)) == pytest.approx(
        31.41593, rel=1e-6
    )
    flowing = Car("power(pack.voltage, pack.current)", "W")
    assert flowing.at(0.0, pack_voltage=350.0, pack_current=-10.0) == -3500.0
    curve = Car("interpolate(pack.voltage, 100 V, -10 °C, 0.2 kV, 30 °C, 300 V, 50 °C)", "°C")
    assert [curve.at(at / 10, pack_voltage=v) for at, v in enumerate((100.0, 150.0, 200.0, 275.0))] == [
        -10.0,
        10.0,
        30.0,
        45.0,
    ]
    assert curve.at(0.5, pack_voltage=301.0) is Doubt.OUT_OF_RANGE


def test_one_memory_may_read_another_and_ranges_hold() -> None:
    car = Car("integral(smooth(pack.power, 1 s))", "kWh", ", range: [0, 0.001]")
    assert list(car.file.memories) == ["smooth(pack.power, 1 s)", "integral(smooth(pack.power, 1 s))"]
    car.at(0.0, pack_power=10.0)
    assert number(car.at(0.2, pack_power=10.0)) == pytest.approx(10 * 0.2 / 3600)
    assert car.at(0.9) is Doubt.OUT_OF_RANGE


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.floats(0.01, 2.0), st.integers(-90, 140)), max_size=20),
    st.lists(st.floats(0.01, 30.0), max_size=12),
)
def test_what_is_remembered_does_not_depend_on_when_it_is_asked(
    steps: list[tuple[float, int]], asked: list[float]
) -> None:
    lines = "".join(
        f"  t.{name}: {{is: '{formula}'}}\n"
        for name, formula in {
            "a": "integral(pack.power) in kWh",
            "b": "smooth(pack.power, 3 s)",
            "c": "rate(pack.power, 2 s)",
            "d": "average(pack.power, 2 s)",
            "e": "hold(pack.power > 20 kW, 1 s)",
            "f": "debounce(pack.power > 20 kW, 1 s)",
        }.items()
    )
    file, codes = read(lines)
    assert codes == []
    one, two = (SignalTable(file.signals, file.memories.values()) for _ in range(2))
    now, moments = 0.0, [(at, None) for at in asked]
    for wait, value in steps:
        now += wait
        moments.append((now, float(value)))  # type: ignore[arg-type]
    for at, value in sorted(moments, key=lambda pair: pair[0]):
        two.advance(at)
        if value is not None:
            one.advance(at)
            for table in (one, two):
                table.feed(Arrival(at, (Reading("pack.power", None, value),)))
    one.advance(40.0)
    two.advance(40.0)
    for name in "abcdef":
        assert one.lookup(f"t.{name}") == two.lookup(f"t.{name}")
    assert one.sums() == two.sums()


def test_a_leap_of_a_day_is_no_work_and_no_nonsense() -> None:
    file, _ = read(
        "  p.p: {unit: W, range: [0, 9], from: pipe, stale: 50000 min}\n"
        "  t.a: {is: 'integral(p.p) in Wh'}\n  t.r: {is: 'rate(p.p, 1 s)'}\n"
    )
    table = SignalTable(file.signals, file.memories.values())
    table.feed(Arrival(0.0, (Reading("p.p", None, 2.0),)))
    table.advance(30 * 86400.0)
    assert number(table.lookup("t.a")) == pytest.approx(2 * 24 * 30)
    assert table.lookup("t.r") is Doubt.UNSEEN


@pytest.mark.parametrize(
    ("formula", "code"),
    [
        ("smooth(pack.power, 3 V)", "M281"),
        ("smooth(pack.power, 0 s)", "M281"),
        ("smooth(pack.cells, 3 s)", "M208"),
        ("smooth(pack.power)", "M208"),
        ("integral(motor.heat)", "M205"),
        ("integral(pack.power, pack.power)", "M206"),
        ("hysteresis(motor.heat, 100 V, 90 °C)", "M204"),
        ("hysteresis(motor.heat, 100 °C, 100 °C)", "M281"),
        ("hysteresis(motor.heat, motor.heat, 100 °C)", "M281"),
        ("hold(pack.power, 3 s)", "M206"),
        ("efficiency(pack.charge, vehicle.speed, 3 s)", "M208"),
        ("power(pack.voltage, motor.speed)", "M208"),
        ("interpolate(pack.voltage, 1 V, 2 %)", "M208"),
        ("interpolate(pack.voltage, 2 V, 2 %, 1 V, 3 %)", "M281"),
        ("interpolate(pack.voltage, 1 V, 2 %, 2 A, 3 %)", "M204"),
        ("rate(pack.power, 1 s) in kWh", "M212"),
        ("time_to(pack.charge, 80 V, 1 min)", "M204"),
    ],
)
def test_mistakes_are_told(formula: str, code: str) -> None:
    file, codes = read(f"  x.x: {{is: '{formula}'}}\n")
    assert codes == [code]
    assert "x.x" in file.broken and not file.memories


def test_a_layout_cannot_remember() -> None:
    file, _ = read("")
    node, wrong = parse_expression("smooth(pack.current, 2 s)", "drive.layout", 1, 1)
    assert node is not None and not wrong
    with pytest.raises(DesignError) as raised:
        typed(node, Scope(file.signals))
    (finding,) = raised.value.findings
    assert finding.code == "M280" and '`some.name: {is: "smooth(pack.current, 2 s)"}`' in str(finding.remedy)
