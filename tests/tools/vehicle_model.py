"""A small physical model of the camper van Dunlin, and the ten-minute log it writes.

    python -m tests.tools.vehicle_model --out layouts/dunlin/logs

Deterministic: no clock, one seeded generator, the same bytes each time. The numbers describe an
invented vehicle; they are plausible, not measured (common practice, no source, unless named).
Battery current and power are positive when they leave the battery.
"""

from __future__ import annotations

import argparse
import functools
import math
import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cantools.database.can import Database

DBC = Path(__file__).parents[2] / "layouts" / "dunlin" / "dunlin.dbc"
LOG_NAME = "ten_minutes.blf"

CELLS = 90
CELLS_A_FRAME = 4
SENSORS = 12
CAPACITY = 104.0 * 3600  # A·s
CELL_RESISTANCE = 0.0008  # Ω, ohmic
SLOW_RESISTANCE = 0.0004  # Ω of one slow polarisation per cell ...
SLOW_SECONDS = 25.0  # ... and its time constant
STEP = 0.01  # s
AMBIENT = 11.0  # °C
MASS = 2600.0  # kg
WHEEL = 0.34  # m, rolling radius
RATIO = 9.5  # motor turns a wheel turn
DRAG_AREA = 1.6  # m², drag coefficient times frontal area
ROLLING = 0.011
GRAVITY = 9.81
AIR = 1.2  # kg/m³
MAX_TORQUE = 240.0  # N·m
MAX_POWER = 92e3  # W at the shaft
COOLANT_HEAT = 3500.0  # J/(kg·K), water and glycol
MAINS = 231.0  # V
CONVERTER_EFFICIENCY = 0.92
CHARGER_EFFICIENCY = 0.93
CELL_FULL = 4.15  # V, where the charger turns from constant power to constant voltage

# Open-circuit voltage of a nickel-manganese-cobalt cell by charge, in steps of a tenth; from memory.
_REST = (3.00, 3.45, 3.55, 3.61, 3.65, 3.70, 3.79, 3.88, 3.97, 4.07, 4.18)

Track = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Story:
    """What happens when. Times in s, ``speeds`` in km/h, ``grades`` as rise over run; both are
    (time, value) and joined by straight lines. An event is (start, end)."""

    duration: float = 600.0
    start_charge: float = 0.50
    speeds: Track = (
        (0, 0), (6, 0), (14, 32), (30, 48), (62, 50), (70, 18), (78, 0), (92, 0), (97, 50), (108, 84),
        (150, 88), (168, 70), (196, 74), (216, 86), (262, 86), (270, 72), (322, 70), (330, 48), (342, 12),
        (347, 0), (600, 0),
    )  # fmt: skip
    grades: Track = (
        (0, 0), (34, 0), (40, 0.02), (60, 0), (160, 0), (176, 0.045), (200, 0.07), (258, 0.075), (264, 0),
        (270, -0.055), (316, -0.06), (324, 0), (600, 0),
    )  # fmt: skip
    tunnel: tuple[float, float] = (118.0, 136.0)
    thermal_silent: tuple[float, float] = (145.0, 148.0)
    drive_selected: tuple[float, float] = (4.0, 352.0)
    plugged: float = 362.0
    charge_fault: tuple[float, float] = (455.0, 463.0)
    post_shares: tuple[float, float] = (530.0, 570.0)


STORY = Story()
TOPPING_UP = Story(
    duration=240.0,
    start_charge=0.955,
    speeds=((0, 0),),
    grades=((0, 0),),
    drive_selected=(0.0, 0.0),
    plugged=2.0,
    charge_fault=(-1.0, -1.0),
    post_shares=(-1.0, -1.0),
)
"""Nearly full and plugged in: shows constant power turning into constant voltage."""


def along(track: Track, time: float) -> float:
    """The value of a (time, value) track at a time; level before and after it."""
    before = track[0]
    for point in track:
        if point[0] > time:
            share = (time - before[0]) / (point[0] - before[0])
            return before[1] + share * (point[1] - before[1])
        before = point
    return before[1]


def rest_voltage(charge: float) -> float:
    """Open-circuit voltage of a cell at a charge of 0 to 1."""
    place = min(max(charge, 0.0), 1.0) * 10
    below = min(int(place), 9)
    return _REST[below] + (place - below) * (_REST[below + 1] - _REST[below])


class Van:
    """The state of the vehicle; ``step`` moves it on by ``STEP`` seconds."""

    def __init__(self, story: Story) -> None:
        self.story = story
        self.random = random.Random(CELLS)
        self.time = 0.0
        self.speed = 0.0  # m/s
        self.metres = 0.0
        self.torque = self.shaft = 0.0  # N·m, W
        self.torque_limit = MAX_TORQUE
        self.inverter_power = 0.0  # W from the pack
        self.lowered = [self.random.uniform(-0.004, 0.004) for _ in range(CELLS)]
        self.resistances = [CELL_RESISTANCE * self.random.uniform(0.95, 1.06) for _ in range(CELLS)]
        self.resistances[36] = CELL_RESISTANCE * 2.9  # a poor joint
        self.ohms = sum(self.resistances)
        self.lowered[70] = -0.028  # a cell that lost capacity
        self.charge = story.start_charge
        self.rests = [0.0] * CELLS
        self.rest_sum = 0.0
        self.slow = 0.0  # V a cell, slow polarisation
        self.current = self.voltage = 0.0
        self.drawn = 0.0  # J out of the pack's terminals, net
        self.cell_heat = 0.0  # W in all cells
        self.motor_heat = self.inverter_heat = self.charger_heat = 0.0
        self.motor_temperature = 96.0
        self.inverter_temperature = 36.0
        self.drive_inlet = 28.0
        self.pack_temperature = 13.0
        self.pack_coolant = 13.0
        self.module_spread = [1.4 * math.sin(math.pi * (n + 0.5) / SENSORS) - 0.9 for n in range(SENSORS)]
        self.valve = 0.0  # 0 apart, 1 joined
        self.valve_wanted = 0.0
        self.fan = self.heater = self.chiller = 0.0  # %, W, W
        self.charger_power = 0.0  # W into the pack
        self.charger_current = 0.0
        self.topping_up = False
        self.charged = 0.0  # J since plugging in
        self.limit = 90.0 if story.start_charge < 0.9 else 100.0
        self.water = 64.0
        self.usage = 0.27 * 3.6e6 / 1000  # J a metre, slow mean
        self._settle_cells()
        self.voltage = self.rest_sum

    def during(self, span: tuple[float, float]) -> bool:
        """Whether now lies in an event."""
        return span[0] <= self.time < span[1]

    @property
    def driving(self) -> bool:
        """Whether D is selected."""
        return self.during(self.story.drive_selected)

    @property
    def plugged(self) -> bool:
        """Whether the cable is in."""
        return self.time >= self.story.plugged

    @property
    def post_ready(self) -> bool:
        """Whether the post offers current."""
        return self.time >= self.story.plugged + 3

    @property
    def charge_fault(self) -> bool:
        """Whether the charger has stopped by fault."""
        return self.during(self.story.charge_fault)

    @property
    def pilot_duty(self) -> float:
        """Percent: 53.5 for about 32 A, 26.5 for about 16 A."""
        return 26.5 if self.during(self.story.post_shares) else 53.5

    @property
    def post_current(self) -> float:
        """A the post allows; SAE J1772, 0.6 A a percent from 10 to 85 % (tests/reference/07)."""
        return self.pilot_duty * 0.6

    @property
    def drive_flow(self) -> float:
        """l/min in the drive loop."""
        if self.driving:
            return 9.0 + 3.0 * min(1.0, abs(self.shaft) / 60e3)
        return 5.0 if self.charger_power > 0 else 3.0

    @property
    def pack_flow(self) -> float:
        """l/min in the pack loop."""
        return 7.5 if self.driving or self.plugged else 2.0

    @property
    def drive_outlet(self) -> float:
        """°C behind the motor."""
        heat = self.motor_heat + self.inverter_heat + self.charger_heat
        return self.drive_inlet + heat / (self.drive_flow / 60 * COOLANT_HEAT)

    @property
    def pack_outlet(self) -> float:
        """°C behind the pack."""
        return self.pack_coolant + (self.pack_temperature - self.pack_coolant) * 0.35

    def cell(self, number: int) -> float:
        """V of a cell, counted from 0."""
        return self.rests[number] - self.slow - self.current * self.resistances[number]

    def sensor(self, number: int) -> float:
        """°C at a sensor, counted from 0."""
        return self.pack_temperature + self.module_spread[number]

    def step(self) -> None:
        """One time step."""
        self.time = round(self.time + STEP, 6)
        self._drive()
        self._charge()
        self._battery()
        self._thermal()

    def _drive(self) -> None:
        wanted = along(self.story.speeds, self.time + 1.0) / 3.6
        grade = along(self.story.grades, self.time)
        drag = 0.5 * AIR * DRAG_AREA * self.speed**2
        rolling = MASS * GRAVITY * ROLLING if self.speed > 0.05 else 0.0
        climbing = MASS * GRAVITY * grade if self.speed > 0.05 else 0.0
        pull = min(max((wanted - self.speed) * 0.9, -2.4), 1.7)
        if wanted == 0 and self.speed < 0.3:
            pull = -self.speed / 0.5
        force = MASS * pull + drag + rolling + climbing
        turning = self.speed / WHEEL * RATIO
        self.torque_limit = MAX_TORQUE * min(1.0, max(0.25, (126 - self.motor_temperature) / 16))
        most = min(self.torque_limit, MAX_POWER * self.torque_limit / MAX_TORQUE / max(turning, 1.0))
        # Slowing fades out at walking pace, where the wheel brakes take over; they also take the excess.
        fading = min(1.0, max(0.0, self.speed - 1) / 4)
        least = -min(0.7 * self.torque_limit, 58e3 / max(turning, 1.0)) * fading
        self.torque = min(max(force * WHEEL / RATIO, least), most) if self.driving else 0.0
        braking = min(0.0, force - self.torque * RATIO / WHEEL)
        gain = (self.torque * RATIO / WHEEL + braking - drag - rolling - climbing) / MASS
        self.speed = max(0.0, self.speed + gain * STEP)
        if wanted == 0 and self.speed < 0.05:
            self.speed = self.torque = 0.0
        self.metres += self.speed * STEP
        turning = self.speed / WHEEL * RATIO
        self.shaft = self.torque * turning
        on = 1.0 if self.driving else 0.0
        self.motor_heat = 0.21 * self.torque**2 + 1.1 * turning
        self.inverter_heat = 120 * on + 0.018 * abs(self.shaft) + 0.6 * abs(self.torque)
        self.inverter_power = on * (self.shaft + self.motor_heat + self.inverter_heat)

    def _charge(self) -> None:
        full = self.charge * 100 >= self.limit
        running = self.time >= self.story.plugged + 8 and not self.charge_fault and not full
        if not running:
            self.charger_power = self.charger_heat = 0.0
            self.topping_up = False
            return
        wanted = min(7200.0, MAINS * self.post_current * CHARGER_EFFICIENCY)
        # Constant voltage: what flows into the pack while its terminals stand at the full voltage.
        spare = CELLS * CELL_FULL - (self.rest_sum - CELLS * self.slow)
        ceiling = max(0.0, spare / self.ohms * CELLS * CELL_FULL)
        self.topping_up = ceiling < wanted
        target = min(wanted, ceiling)
        self.charger_power = min(target, self.charger_power + 1500 * STEP)
        self.charged += self.charger_power * STEP
        self.charger_heat = self.charger_power * (1 / CHARGER_EFFICIENCY - 1)

    def _battery(self) -> None:
        aux = self.low_voltage_power / CONVERTER_EFFICIENCY
        power = self.inverter_power + aux + self.heater + self.chiller - self.charger_power
        source = self.rest_sum - CELLS * self.slow
        ohms = self.ohms
        # Terminal power P = (E - I R) I, the root that starts at no current.
        self.current = (source - math.sqrt(max(0.0, source**2 - 4 * ohms * power))) / (2 * ohms)
        self.voltage = source - self.current * ohms
        self.drawn += self.voltage * self.current * STEP
        self.slow += (self.current * SLOW_RESISTANCE - self.slow) * STEP / SLOW_SECONDS
        self.charge -= self.current * STEP / CAPACITY
        self.cell_heat = self.current**2 * ohms + CELLS * self.slow**2 / SLOW_RESISTANCE
        if round(self.time / STEP) % 50 == 0:
            self._settle_cells()
        if self.driving and self.speed > 5:
            self.usage += (max(0.0, power) / self.speed - self.usage) * STEP / 900

    def _settle_cells(self) -> None:
        self.rests = [rest_voltage(self.charge + lowered) for lowered in self.lowered]
        self.rest_sum = sum(self.rests)

    @property
    def low_voltage_power(self) -> float:
        """W on the 12 V net."""
        return 260 + (180 if self.driving else 0) + 3.2 * self.fan + (110 if self.lights else 0)

    @property
    def lights(self) -> bool:
        """Side lights."""
        return self.driving and self.during((self.story.tunnel[0] - 1, self.story.tunnel[1] + 6))

    def _thermal(self) -> None:
        outlet = self.drive_outlet
        if outlet > 50 or self.motor_temperature > 112:
            self.fan = min(100.0, self.fan + 12 * STEP)
        elif outlet < 46 and self.motor_temperature < 106:
            self.fan = max(0.0, self.fan - 8 * STEP)
        # The motor's lost heat warms a cold pack as long as the drive loop has some to spare.
        if self.pack_temperature > 16.2 or outlet < 27 or outlet > 56:
            self.valve_wanted = 0.0
        elif self.pack_temperature < 15.5 and self.drive_inlet > 33:
            self.valve_wanted = 1.0
        self.valve += min(max(self.valve_wanted - self.valve, -STEP / 3), STEP / 3)
        cold = self.pack_temperature < 15.5 and self.valve_wanted == 0 and (self.driving or self.plugged)
        self.heater += (min(3000.0, 3000.0 if cold else 0.0) - self.heater) * STEP / 4
        hot = self.pack_temperature > 32 and self.plugged
        self.chiller += ((1800.0 if hot else 0.0) - self.chiller) * STEP / 4
        exchange = 260 * self.valve * (outlet - self.pack_coolant)
        into_coolant = 17 * (self.motor_temperature - outlet)
        self.motor_temperature += (self.motor_heat - into_coolant) * STEP / 5200
        from_inverter = 90 * (self.inverter_temperature - self.drive_inlet)
        self.inverter_temperature += (self.inverter_heat - from_inverter) * STEP / 6000
        radiator = (14 + 1.0 * self.speed + 1.1 * self.fan) * (outlet - AMBIENT)
        heat = into_coolant + from_inverter + self.charger_heat
        self.drive_inlet += (heat - radiator - exchange) * STEP / 19e3
        to_pack = 170 * (self.pack_coolant - self.pack_temperature)
        self.pack_coolant += (exchange + self.heater - 2.2 * self.chiller - to_pack) * STEP / 22e3
        self.pack_temperature += (self.cell_heat + to_pack) * STEP / 210e3
        if self.during((380.0, 392.0)):
            self.water -= 0.3 * STEP


Values = dict[str, float]


def _pack_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def cells(turn: int) -> Values:
        group = turn % -(-CELLS // CELLS_A_FRAME)
        numbers = range(CELLS)[group * CELLS_A_FRAME :][:CELLS_A_FRAME]
        return {"Group": group} | {f"Cell{n + 1}": van.cell(n) for n in numbers}

    def temperatures(turn: int) -> Values:
        group = turn % 3
        numbers = range(group * 4, group * 4 + 4)
        return {"Group": group} | {f"Temp{n + 1}": van.sensor(n) for n in numbers}

    def state(_: int) -> Values:
        contactors = 2 if van.time > 2.5 else 1 if van.time > 1.5 else 0
        return {
            "Charge": van.charge * 100,
            "State": contactors,
            "Fault": 0,
            "Balancing": van.topping_up,
            "Health": 91.5,
            "DischargeLimit": 110 if van.pack_temperature > 10 else 80,
            "ChargeLimit": 60 if van.charge < 0.9 else 20,
        }

    def extremes(_: int) -> Values:
        numbers = range(CELLS)
        return {
            "LowestCell": min(numbers, key=van.cell) + 1,
            "HighestCell": max(numbers, key=van.cell) + 1,
            "WarmestSensor": max(range(SENSORS), key=van.sensor) + 1,
        }

    def power(_: int) -> Values:
        # A current sensor is not quiet: a fifth of an ampere either way.
        return {"Voltage": van.voltage, "Current": van.current + van.random.uniform(-0.2, 0.2)}

    return {
        "PackPower": power,
        "PackState": state,
        "CellVoltages": cells,
        "PackTemperatures": temperatures,
        "PackInsulation": lambda _: {"Insulation": 3200 - 15 * van.pack_temperature},
        "PackExtremes": extremes,
    }


def _motor_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def power(_: int) -> Values:
        rpm = van.speed / WHEEL * RATIO * 60 / math.tau
        return {"Speed": rpm, "Torque": van.torque, "ShaftPower": van.shaft / 1000}

    def state(_: int) -> Values:
        mode = 0 if not van.driving else 2 if van.torque > 1 else 3 if van.torque < -1 else 1
        derated = van.torque_limit < 0.97 * MAX_TORQUE
        return {
            "State": mode,
            "Fault": 0,
            "Derated": derated,
            "ClearingFault": 0,
            "FaultNumber": 0,
            "TorqueLimit": van.torque_limit,
        }

    def supply(_: int) -> Values:
        return {"Voltage": van.voltage, "Current": van.inverter_power / van.voltage}

    return {
        "MotorPower": power,
        "MotorState": state,
        "MotorTemperatures": lambda _: {"Motor": van.motor_temperature, "Inverter": van.inverter_temperature},
        "InverterSupply": supply,
        "MotorSettings": lambda _: {"Regen": 60, "SpeedLimit": 110, "Creep": 1, "Mode": 1},
    }


def _charger_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def power(_: int) -> Values:
        mains = van.charger_power / CHARGER_EFFICIENCY
        return {
            "MainsVoltage": MAINS - mains / 4000 if van.post_ready else 0,
            "MainsCurrent": mains / MAINS,
            "OutputVoltage": van.voltage,
            "OutputCurrent": van.charger_power / van.voltage,
            "OutputPower": van.charger_power / 1000,
        }

    def state(_: int) -> Values:
        if not van.plugged:
            mode = 0
        elif van.charge_fault:
            mode = 5
        elif van.charge * 100 >= van.limit:
            mode = 4
        elif van.charger_power == 0:
            mode = 1
        else:
            mode = 3 if van.topping_up else 2
        missing = max(0.0, van.limit / 100 - van.charge) * CAPACITY * van.rest_sum
        running = van.charger_power > 200
        return {
            "State": mode,
            "Fault": van.charge_fault,
            "Plugged": van.plugged,
            "Limit": van.limit,
            "TimeLeft": min(1440.0, missing / van.charger_power / 60) if running else 4095,
            "Energy": van.charged / 3.6e6,
            "Temperature": AMBIENT + van.charger_heat / 24,
        }

    def inlet(_: int) -> Values:
        mode = 2 if van.post_ready else 1 if van.plugged else 0
        return {
            "State": mode,
            "PortLock": van.plugged,
            "Duty": van.pilot_duty if van.post_ready else 127.5,
            "CurrentLimit": van.post_current if van.post_ready else 127.5,
            "Temperature": AMBIENT + van.charger_power / 900,
        }

    def converter(_: int) -> Values:
        return {"Voltage": 13.9, "Current": van.low_voltage_power / 13.9, "Temperature": 31}

    return {"ChargerPower": power, "ChargerState": state, "Inlet": inlet, "DcConverter": converter}


def _thermal_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def loop(inlet: float, outlet: float, flow: float) -> Values:
        return {"InletTemperature": inlet, "OutletTemperature": outlet, "Flow": flow, "Pump": flow * 7}

    def state(_: int) -> Values:
        valve = 0 if van.valve <= 0 else 2 if van.valve >= 1 else 1
        powers = {"HeaterPower": van.heater / 1000, "ChillerPower": van.chiller / 1000}
        return {"Valve": valve, "Fan": van.fan} | powers

    return {
        "DriveLoop": lambda _: loop(van.drive_inlet, van.drive_outlet, van.drive_flow),
        "PackLoop": lambda _: loop(van.pack_coolant, van.pack_outlet, van.pack_flow),
        "ThermalState": state,
    }


def _body_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def state(_: int) -> Values:
        slowing = van.torque < -60 or (van.driving and van.speed == 0)
        return {
            "Gear": 3 if van.driving else 0,
            "Brake": slowing,
            "HandBrake": not van.driving,
            "DoorOpen": van.during((355.0, 372.0)),
            "BeltOpen": van.time < 2 or van.time > 354,
            "Lights": van.lights,
        }

    def around(_: int) -> Values:
        light = 45 if van.during(van.story.tunnel) else 5200 - 4 * van.time
        return {"Outside": AMBIENT, "Light": light}

    def distance(_: int) -> Values:
        left = van.charge * CAPACITY * van.rest_sum / van.usage / 1000
        return {"Odometer": 184213.4 + van.metres / 1000, "Range": min(400.0, left)}

    return {
        "VehicleSpeed": lambda _: {"Speed": van.speed * 3.6},
        "VehicleState": state,
        "Surroundings": around,
        "Distance": distance,
    }


def _house_messages(van: Van) -> dict[str, Callable[[int], Values]]:
    def battery(_: int) -> Values:
        filling = -8.5 if van.driving else 3.2
        charged = min(van.time, van.story.drive_selected[1]) / 300
        charges = {"Charge1": 78 + charged, "Charge2": 74.5 + charged}
        return charges | {"Voltage": 13.3 if filling < 0 else 13.0, "Current": filling}

    def state(_: int) -> Values:
        camping = not van.driving and van.time > 375
        return {
            "Lights": camping,
            "Heater": 0,
            "Fridge": 1,
            "Dimmer": 70 if camping else 0,
            "Inside": 16 + min(4.0, van.time / 150),
        }

    return {
        "HouseBattery": battery,
        "HouseTanks": lambda _: {"Water": van.water, "Waste": 97 - van.water},
        "HouseState": state,
    }


_THERMAL = frozenset({"DriveLoop", "PackLoop", "ThermalState"})


def simulate(
    story: Story = STORY, periods: Mapping[str, int] | None = None
) -> Iterator[tuple[float, str, dict[str, float]]]:
    """(time in s, message name, physical values by signal) in order of time.

    ``periods`` gives ms a message, in whole steps; by default those of the DBC. Counters and
    checksums are left to ``frames``.
    """
    van = Van(story)
    makers = (
        _pack_messages(van)
        | _motor_messages(van)
        | _charger_messages(van)
        | _thermal_messages(van)
        | _body_messages(van)
        | _house_messages(van)
    )
    every = _dbc_periods() if periods is None else periods
    steps = {name: round(every[name] / (STEP * 1000)) for name in makers if name in every}
    for tick in range(round(story.duration / STEP)):
        van.step()
        for place, (name, period) in enumerate(steps.items()):
            if tick % period != place % period:
                continue
            if name in _THERMAL and van.during(story.thermal_silent):
                continue
            # Each message has its own place within a step, so that no two frames share a moment.
            yield round(tick * STEP + place * 0.0003, 6), name, makers[name](tick // period)


def frames(story: Story = STORY) -> Iterator[tuple[float, int, bytes]]:
    """(time in s, CAN identifier, payload) as the controllers send them, with counters and checksums."""
    database = _database()
    messages = {message.name: message for message in database.messages}
    guarded = {message.name for message in database.messages if "Checksum" in message.signal_tree}
    counters = dict.fromkeys(guarded, 0)
    for time, name, values in simulate(story):
        message = messages[name]
        if name in guarded:
            values |= {"Counter": counters[name] % 16, "Checksum": 0}
            counters[name] += 1
        data = message.encode(values, strict=False)
        if name in guarded:
            data = data[:-1] + bytes([checksum(message.frame_id, data)])
        yield time, message.frame_id, data


def checksum(identifier: int, data: bytes) -> int:
    """The last byte of a guarded frame: CRC-8 of SAE J1850 (polynomial 0x1D, initial and final XOR
    0xFF; check value 0x4B) over the low byte of the identifier and the first seven bytes."""
    value = 0xFF
    for byte in bytes([identifier & 0xFF]) + data[:7]:
        value = _CRC_STEPS[value ^ byte]
    return value ^ 0xFF


def _crc_step(value: int) -> int:
    for _ in range(8):
        value = (value << 1 ^ 0x1D) & 0xFF if value & 0x80 else value << 1
    return value


_CRC_STEPS = tuple(_crc_step(value) for value in range(256))


def write_log(path: Path, story: Story = STORY) -> int:
    """Writes a log that python-can reads, its clock counting from 0; gives the number of frames."""
    import can

    count = 0
    with can.BLFWriter(str(path), compression_level=9) as writer:
        for time, identifier, data in frames(story):
            writer.on_message_received(
                can.Message(timestamp=time, arbitration_id=identifier, data=data, is_extended_id=False)
            )
            count += 1
    return count


def _dbc_periods() -> dict[str, int]:
    return {message.name: message.cycle_time for message in _database().messages if message.cycle_time}


@functools.cache
def _database() -> Database:
    import cantools

    return cantools.database.load_file(str(DBC))


def main() -> None:
    """Writes the log into ``--out``."""
    parser = argparse.ArgumentParser(description="Write the ten-minute log of the camper van Dunlin.")
    parser.add_argument("--out", type=Path, required=True, help="folder to write into")
    folder: Path = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / LOG_NAME
    count = write_log(path)
    print(f"{path}: {count} frames, {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
