"""The example log and the model that writes it, against physics and against the example's own files."""

import itertools
import math
from bisect import bisect_left
from pathlib import Path

import can
import cantools
import pytest
import yaml
from crccheck.crc import Crc8SaeJ1850

from hmic.compile.compiling import Compiled, compile_design
from hmic.model.channels import signals_of
from hmic.model.design import sources_of
from hmic.model.expressions import Doubt
from hmic.model.samples import lookup, sample_values
from tests.tools import vehicle_model as model

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
LOG = DUNLIN / "logs" / model.LOG_NAME


class Series:
    """Times and values of one signal."""

    def __init__(self):
        self.times = []
        self.values = []

    def at(self, time):
        """The last value at or before a time."""
        return self.values[max(0, bisect_left(self.times, time + 1e-9) - 1)]

    def between(self, start, end):
        return self.values[bisect_left(self.times, start) : bisect_left(self.times, end)]


@pytest.fixture(scope="module")
def database():
    return cantools.database.load_file(str(DUNLIN / "dunlin.dbc"))


@pytest.fixture(scope="module")
def recorded():
    return [
        (message.timestamp, message.arbitration_id, bytes(message.data)) for message in can.LogReader(LOG)
    ]


@pytest.fixture(scope="module")
def series(recorded, database):
    """Every frame decoded; a frame that the DBC does not know raises here."""
    found = {}
    messages = {message.frame_id: message for message in database.messages}
    for time, identifier, data in recorded:
        message = messages[identifier]
        assert len(data) == message.length
        for name, value in message.decode(data, decode_choices=False).items():
            one = found.setdefault(f"{message.name}.{name}", Series())
            one.times.append(time)
            one.values.append(value)
    return found


def test_log_is_small_and_ten_minutes_long(recorded):
    assert LOG.stat().st_size < 2_000_000
    assert recorded[0][0] < 0.1
    assert 599.9 < recorded[-1][0] < 600
    assert len(recorded) / 600 < 300
    times = [time for time, _, _ in recorded]
    assert all(before < after for before, after in itertools.pairwise(times))


def test_model_writes_the_same_frames(recorded):
    made = list(model.frames())
    assert [frame[1:] for frame in made] == [frame[1:] for frame in recorded]
    assert max(abs(one[0] - two[0]) for one, two in zip(made, recorded, strict=True)) < 1e-6


def test_two_writings_are_the_same_bytes(tmp_path):
    story = model.Story(duration=20)
    for name in ("one.blf", "two.blf"):
        model.write_log(tmp_path / name, story)
    assert (tmp_path / "one.blf").read_bytes() == (tmp_path / "two.blf").read_bytes()


def test_every_sent_message_keeps_its_period(recorded, database):
    for message in database.messages:
        times = [time for time, identifier, _ in recorded if identifier == message.frame_id]
        if message.cycle_time is None:
            assert times == []
            continue
        gaps = [after - before for before, after in itertools.pairwise(times)]
        late = [gap for gap in gaps if gap > message.cycle_time / 1000 + 1e-6]
        thermal = "ThermalController" in message.senders
        assert len(late) == (1 if thermal else 0), message.name
        if thermal:
            assert 3.0 <= late[0] < 3.5


def test_stale_times_are_a_few_periods(database):
    """The example's own rule: three to five periods, where a multiplexed value's period is a round."""
    signals = yaml.safe_load((DUNLIN / "signals.yaml").read_text(encoding="utf-8"))["signals"]
    checked = 0
    for name, entry in signals.items():
        source = entry.get("from", "pipe")
        if source == "pipe":
            continue
        message = database.get_message_by_name(source.partition(".")[0])
        rounds = (
            max(1, sum(len(groups) for groups in message.signal_tree[0]["Group"].values()) // 4)
            if (message.is_multiplexed())
            else 1
        )
        amount, unit = entry["stale"].split()
        periods = float(amount) * {"ms": 1, "s": 1000}[unit] / (message.cycle_time * rounds)
        assert 3 <= periods <= 5, name
        checked += 1
    assert checked > 40


def test_counters_rise_and_checksums_hold(recorded, database):
    """crccheck's CRC-8 of SAE J1850 is the second opinion; its check value is in its own tests."""
    for name in ("PackPower", "MotorPower"):
        message = database.get_message_by_name(name)
        mine = [data for _, identifier, data in recorded if identifier == message.frame_id]
        counters = [message.decode(data)["Counter"] for data in mine]
        assert counters == [n % 16 for n in range(len(mine))]
        for data in mine[::97]:
            assert Crc8SaeJ1850.calc(bytes([message.frame_id & 0xFF]) + data[:7]) == data[7]
    assert model.checksum(0x31, b"23456789"[:7] + b"?") == Crc8SaeJ1850.calc(b"12345678")


def test_pack_voltage_is_the_sum_of_its_cells(series):
    """Within 0.4 V whenever the current was steady over a whole round of cells."""
    current, voltage = series["PackPower.Current"], series["PackPower.Voltage"]
    compared = 0
    for time in range(5, 600, 3):
        lately = current.between(time - 0.75, time + 0.01)
        if max(lately) - min(lately) > 2:
            continue
        total = sum(series[f"CellVoltages.Cell{n}"].at(time) for n in range(1, model.CELLS + 1))
        assert total == pytest.approx(voltage.at(time), abs=0.4)
        compared += 1
    assert compared > 100


def _integral(series, power, start=0.0, end=600.0, step=0.05):
    steps = round((end - start) / step)
    return sum(power(series, start + n * step) * step for n in range(steps))


def _pack_power(series, time):
    return series["PackPower.Voltage"].at(time) * series["PackPower.Current"].at(time)


def test_energy_out_of_the_pack_is_what_its_users_take(series):
    def users(found, time):
        inverter = found["InverterSupply.Voltage"].at(time) * found["InverterSupply.Current"].at(time)
        low = found["DcConverter.Voltage"].at(time) * found["DcConverter.Current"].at(time)
        heat = 1000 * (
            found["ThermalState.HeaterPower"].at(time) + found["ThermalState.ChillerPower"].at(time)
        )
        charger = 1000 * found["ChargerPower.OutputPower"].at(time)
        return inverter + low / model.CONVERTER_EFFICIENCY + heat - charger

    driven = _integral(series, _pack_power, 5, 350)
    assert driven > 5e6
    assert driven == pytest.approx(_integral(series, users, 5, 350), rel=0.02)
    charged = -_integral(series, _pack_power, 376, 450)
    assert charged == pytest.approx(-_integral(series, users, 376, 450), rel=0.02)


def test_energy_out_of_the_pack_is_the_charge_it_lost(series):
    """Charge lost times capacity times rest voltage, less the heat in the cells' resistance."""
    charge = series["PackState.Charge"]
    lost = (charge.at(5) - charge.at(262)) / 100
    middle = (charge.at(5) + charge.at(262)) / 200
    ohms = model.CELLS * (model.CELL_RESISTANCE + model.SLOW_RESISTANCE)
    heat = _integral(series, lambda found, time: found["PackPower.Current"].at(time) ** 2 * ohms, 5, 262)
    stored = lost * model.CAPACITY * model.CELLS * model.rest_voltage(middle)
    assert _integral(series, _pack_power, 5, 262) == pytest.approx(stored - heat, rel=0.04)


def test_model_accounts_for_every_joule():
    """The model's own terminal energy against its charge account, over the whole story."""
    van = model.Van(model.STORY)
    stored = 0.0
    for _ in range(60_000):
        van.step()
        stored += (van.voltage * van.current + van.cell_heat) * model.STEP
    lost = (model.STORY.start_charge - van.charge) * model.CAPACITY
    assert stored == pytest.approx(lost * van.rest_sum, rel=0.03)
    assert 0.3 < van.charge < model.STORY.start_charge


def test_shaft_torque_and_wheels_agree(series):
    speed, torque = series["MotorPower.Speed"], series["MotorPower.Torque"]
    for time in range(8, 350):
        turning = speed.at(time) * math.tau / 60
        assert series["MotorPower.ShaftPower"].at(time) == pytest.approx(
            turning * torque.at(time) / 1000, abs=0.05 + 0.06 * turning / 1000 + 0.06
        )
        road = series["VehicleSpeed.Speed"].at(time) / 3.6
        assert turning == pytest.approx(road / model.WHEEL * model.RATIO, abs=1.0)


def test_drive_is_energy_over_distance(series):
    """The shaft's net energy is what rolling and air resistance took, and what the brakes wasted."""

    def resisted(found, time):
        v = found["VehicleSpeed.Speed"].at(time) / 3.6
        grade = model.along(model.STORY.grades, time)
        rolling = model.MASS * model.GRAVITY * (model.ROLLING + grade) if v > 0.05 else 0.0
        return (0.5 * model.AIR * model.DRAG_AREA * v**2 + rolling) * v

    shaft = 1000 * _integral(series, lambda found, time: found["MotorPower.ShaftPower"].at(time), 5, 262)
    road = _integral(series, resisted, 5, 262)
    v = series["VehicleSpeed.Speed"].at(262) / 3.6
    motion = 0.5 * model.MASS * v**2
    assert 0 <= shaft - road - motion < 0.06 * shaft


def test_the_story_shows_its_events(series):
    assert series["MotorState.Derated"].between(0, 200) == [0] * 2000
    assert 1 in series["MotorState.Derated"].between(200, 270)
    assert min(series["MotorPower.ShaftPower"].between(265, 345)) < -20
    assert 2.9 < min(series["CellVoltages.Cell37"].values) < 3.1
    assert min(series["CellVoltages.Cell36"].values) > 3.3
    faults = series["ChargerState.Fault"]
    assert {time // 1 for time, on in zip(faults.times, faults.values, strict=True) if on} == set(
        range(455, 463)
    )
    assert set(series["ThermalState.Valve"].values) == {0, 1, 2}
    assert {0, 1, 2, 5} == set(series["ChargerState.State"].values)
    assert max(series["VehicleSpeed.Speed"].values) > 80
    assert series["VehicleSpeed.Speed"].at(360) == 0 and series["ChargerPower.OutputPower"].at(400) > 6
    assert set(series["PackState.Fault"].values) == set(series["MotorState.Fault"].values) == {0}


def test_values_stay_within_the_declared_ranges(series):
    """A value outside its range would show as a fault; a "no data" value is not a value."""
    signals = yaml.safe_load((DUNLIN / "signals.yaml").read_text(encoding="utf-8"))["signals"]
    seen = 0
    for name, entry in signals.items():
        source = entry.get("from", "pipe")
        if source == "pipe":
            continue
        for n in range(1, entry.get("count", 1) + 1):
            values = set(series[source.replace("{n}", str(n))].values) - {entry.get("no data")}
            if "range" in entry:
                low, high = entry["range"]
                assert low <= min(values) and max(values) <= high, name
            elif "words" in entry:
                assert values <= set(entry["words"]), name
            else:
                assert values <= {0, 1}, name
            seen += 1
    assert seen > 140
    assert 127.5 in series["Inlet.CurrentLimit"].values and 4095 in series["ChargerState.TimeLeft"].values


# When the pictures of a screen are, in seconds of the log; the screen of a fault is of no moment there.
MOMENTS = {"charging": 420, "parked": 420, "motor": 420}
DRIVE = 140


@pytest.fixture(scope="module")
def shown(compiled):
    """What the pictures of a screen show: a lookup, and the signals from outside that it comes from."""

    def of(screen):
        find = lookup(compiled.design, sample_values(compiled.design, screen))
        drawn = next(each for each in compiled.arranged.drawing.screens if each.name == screen)
        channels = [compiled.arranged.channels[at] for at in drawn.channels]
        names = frozenset().union(*(signals_of(channel) for channel in channels))
        return find, sources_of(names, compiled.design) & compiled.design.signals.keys()

    return of


@pytest.fixture(scope="module")
def compiled():
    found = compile_design(DUNLIN)
    assert isinstance(found, Compiled)
    return found


def test_a_screen_is_pictured_at_one_moment_of_the_log(series, compiled, shown):
    seen = 0
    for screen in [each.name for each in compiled.arranged.screens if each.name != "stop"]:
        find, names = shown(screen)
        for name in sorted(names):
            definition, value = compiled.design.signals[name], find(name)
            if definition.source is None:
                continue
            field = f"{definition.source.message}.{definition.source.signal}"
            each = value if isinstance(value, tuple) else (value,)
            for n, sample in enumerate(each, 1):
                raw = series[field.replace("{n}", str(n))].at(MOMENTS.get(screen, DRIVE))
                if raw == definition.no_data:
                    assert sample is Doubt.UNSEEN, (screen, name)
                elif definition.words:
                    assert sample == definition.words[raw], (screen, name)
                else:
                    assert sample == pytest.approx(raw, abs=1e-6), (screen, name)
                seen += 1
    assert seen > 150


@pytest.mark.parametrize("screen", ["drive", "cells", "chart", "motor", "charging", "parked"])
def test_what_pictures_show_adds_up(screen, shown):
    """By arithmetic, not by the log: whatever the samples are, a picture must not contradict itself."""
    find, names = shown(screen)
    if "pack.cells" in names:
        cells = find("pack.cells")
        assert sum(cells) == pytest.approx(find("pack.voltage"), rel=0.003)
        assert find("pack.cell_spread") == pytest.approx(1000 * (max(cells) - min(cells)))
    assert find("pack.power") == pytest.approx(find("pack.voltage") * find("pack.current") / 1000)
    turning = find("motor.speed") * math.tau / 60
    assert find("motor.power") == pytest.approx(turning * find("motor.torque") / 1000, abs=0.1)
    assert turning == pytest.approx(find("vehicle.speed") / 3.6 / model.WHEEL * model.RATIO, abs=1.0)
    standing = find("vehicle.gear") == "P"
    assert standing == (find("vehicle.speed") == 0) == (find("motor.state") == "Off")
    # The charger gives more than what reaches the pack, and takes more from the post than it gives.
    given, taken = find("charge.power"), 230 * find("inlet.current") / 1000
    assert (given > 0) == (taken > 0) == find("charge.plugged") == (find("charge.state") == "Charging")
    assert given == 0 or (0 < given + find("pack.power") < 0.5 and 0.9 < given / taken < 0.98)
    used = find("pack.power") - find("motor.power") - find("heater.power")
    assert standing or 0 < used < 0.12 * find("motor.power") + 0.6
    left = find("charge.limit") - find("pack.charge")
    if given:
        hours = left / 100 * model.CAPACITY / 3600 / abs(find("pack.current"))
        assert find("charge.time_left") / 60 == pytest.approx(hours, rel=0.1)


def test_pilot_duty_gives_the_current(series):
    """SAE J1772, tests/reference/07: 0.6 A a percent from 10 to 85 %, to the signal's half ampere."""
    for duty, amps in zip(series["Inlet.Duty"].values, series["Inlet.CurrentLimit"].values, strict=True):
        if duty != 127.5:
            assert amps == pytest.approx(duty * 0.6, abs=0.26)
    most = max(series["ChargerPower.MainsCurrent"].between(532, 569))
    assert most <= series["Inlet.CurrentLimit"].at(550) + 0.1


def test_a_full_pack_turns_to_constant_voltage():
    """Near full the current falls while the voltage stands."""
    seen = [
        (t, v) for t, name, v in model.simulate(model.TOPPING_UP, {"PackPower": 1000}) if name == "PackPower"
    ]
    late = [values for time, values in seen if time > 90]
    voltages = [values["Voltage"] for values in late]
    currents = [-values["Current"] for values in late]
    assert max(voltages) - min(voltages) < 1.5
    assert max(voltages) <= model.CELLS * model.CELL_FULL + 0.5
    assert currents[-1] < 0.8 * currents[0] and currents[-1] > 0
