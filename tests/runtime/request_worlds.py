"""Random designs whose outputs share messages, driven by random vehicles and fingers; one oracle.

Written from DESIGN.md ("Outputs") and the frames alone: what is on the bus is decoded by cantools, and judged
by what this file itself put on the bus, never by what hmic says it reads or allows.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cantools
from crccheck.crc import Crc8SaeJ1850
from runtime_builders import Far

from hmic.cli.starter import THEMES
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.diagnostics import Finding
from hmic.link.memory import Faults, MemoryEnd, MemoryLine
from hmic.runtime.decoding import Arrival
from hmic.runtime.from_dbc import load_decoder, load_encoder
from hmic.runtime.requests import RequestMade
from hmic.runtime.run import Loop
from hmic.runtime.runtime import Runtime
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from hmic.wire.events import Phase
from tests.tools.designs import SMALL

STALE = 0.6
"""Seconds for which every reading lives."""
DELAY = 0.05
"""Seconds that a frame or a turn of the loop may take on its way here."""


@dataclass(frozen=True)
class Control:
    """One output, its message's number, and the one control that asks for it."""

    name: str
    message: int
    kind: str
    allowed: str | None
    when: str | None
    held: float
    question: bool
    every: float

    @property
    def flag(self) -> bool:
        """Its values are on and off."""
        return self.kind in ("switch", "on", "off")


@dataclass(frozen=True)
class Condition:
    """A condition of the vehicle: the text in the design, and what makes it true."""

    gate: int
    text: str
    over: float | None

    def holds(self, value: float) -> bool:
        """Whether it is true for a reading of its gate."""
        return value < self.over if self.over is not None else value >= 0.5


def plan(seed: int) -> tuple[list[Control], list[Condition]]:
    """A random design's controls and the conditions that they name by index."""
    chance = random.Random(seed)
    conditions = [Condition(0, "gate.speed < 5 km/h", 5.0), Condition(1, "gate.flag", None)]
    controls = []
    for number in range(chance.randint(2, 6)):
        pick = lambda: chance.choice((None, None, "0", "1"))  # noqa: E731
        kind = chance.choice(("switch", "on", "off", "choice", "stepper", "slider"))
        controls.append(
            Control(
                f"out.n{number}", chance.randint(0, 1), kind, pick(), pick(),
                chance.choice((0.0, 0.0, 0.4)), chance.random() < 0.25, chance.choice((0.2, 0.2, 1.0)),
            )
        )
    return controls, conditions


def write(folder: Path, controls: Sequence[Control], conditions: Sequence[Condition], checked: bool) -> None:
    """The design's files. Each message of requests has a counter and a checksum where ``checked``."""
    signals = ["signals:"]
    signals.append("  gate.speed: {unit: km/h, range: [0, 200], from: Gates.Speed, stale: 600 ms}")
    signals.append("  gate.flag: {flag: true, from: Gates.Flag, stale: 600 ms}")
    state, asked = [], {0: [], 1: []}  # type: ignore[var-annotated]
    outputs, layout = ["outputs:"], []
    for number, each in enumerate(controls):
        allowed = f', allowed: "{conditions[int(each.allowed)].text}"' if each.allowed else ""
        field, bits = f"F{number}", 1 if each.flag else 8
        form = "flag: true" if each.flag else 'unit: "%", range: [0, 100]'
        signals.append(f"  {each.name}: {{{form}, from: State{number}.{field}, stale: 600 ms}}")
        target = f"Request{each.message}.{field}"
        outputs.append(f"  {each.name}: {{to: {target}, every: {int(each.every * 1000)} ms{allowed}}}")
        top = 1 if each.flag else 200
        line = f' SG_ {field} : {{}}|{bits}@1+ (1,0) [0|{top}] "{"" if each.flag else "%"}" Vector__XXX'
        state.append(f"BO_ {1536 + number} State{number}: 8 Vehicle\n" + line.format(0))
        asked[each.message].append(line)
        more = f", allowed when {conditions[int(each.when)].text}" if each.when else ""
        more += f", held {each.held:g} s" if each.held else ""
        more += ', confirmed by "Do it?"' if each.question else ""
        words = {
            "switch": f'switch {each.name}, called "N"',
            "on": f'button "N", sets {each.name} to on',
            "off": f'button "N", sets {each.name} to off',
            "choice": f'choice {each.name} of 20 % or 60 %, called "N"',
            "stepper": f'stepper {each.name} from 0 % to 100 %, in steps of 10 %, as "0 %"',
            "slider": f'slider {each.name} from 0 % to 100 %, in steps of 5 %, as "0 %"',
        }[each.kind]
        layout.append(f"    in a{number}      {words}{more}")
    messages, checks = [], ["messages:"]
    for message, lines in asked.items():
        if not lines:
            continue
        text = f"BO_ {1792 + message} Request{message}: 8 Display\n"
        text += "\n".join(line.format(8 * place) for place, line in enumerate(lines))
        if checked:
            text += '\n SG_ Turn : 48|4@1+ (1,0) [0|15] "" Vector__XXX\n SG_ Sum : 56|8@1+ (1,0) [0|255] "" X'
            checks.append(f"  Request{message}: {{counter: Turn, checksum: Sum}}")
        messages.append(text)
    gates = (
        'BO_ 1280 Gates: 8 Vehicle\n SG_ Speed : 0|8@1+ (1,0) [0|200] "km/h" Vector__XXX\n'
        ' SG_ Flag : 8|1@1+ (1,0) [0|1] "" Vector__XXX'
    )
    dbc = 'VERSION ""\n\nNS_ :\n\nBS_:\n\nBU_: Vehicle Display X\n\n'
    dbc += "\n\n".join([gates, *state, *messages])
    areas = [f"a{number}" for number in range(len(controls))]
    rows = "".join(f"        {'   '.join(areas[at : at + 2])}\n" for at in range(0, len(areas) - 1, 2))
    if len(areas) % 2:
        rows += f"        {areas[-1]}   {areas[-1]}\n"
    folder.mkdir()
    (folder / "design.yaml").write_text(SMALL)
    text = "\n".join([*signals, *outputs, *(checks if checked else [])]) + "\n"
    (folder / "signals.yaml").write_text(text)
    (folder / "car.dbc").write_text(dbc + "\n")
    (folder / "themes.yaml").write_text(THEMES)
    (folder / "all.layout").write_text(f'screen all "All"\n    plan\n{rows}' + "\n".join(layout) + "\n")


class Bus:
    """A live source of what the vehicle sends, given to the loop as it comes."""

    def __init__(self, decoder: object, time: VehicleTime) -> None:
        self.frames = 0
        self.ended = False
        self.health = self.name = "made up"
        self._decoder = decoder
        self._time = time
        self._waiting: list[Frame] = []

    def put(self, frame: Frame) -> None:
        """A frame comes at its time."""
        self._waiting.append(frame)

    def due(self, now: float) -> list[Arrival]:
        """All that came."""
        self._time.start(now)
        come, self._waiting = self._waiting, []
        self.frames += len(come)
        return [
            Arrival(self._time.at(now), self._decoder.readings(frame), frame)  # type: ignore[attr-defined]
            for frame in come
        ]

    def wait(self, seconds: float, descriptor: int | None) -> None:
        """Time is the world's."""

    def descriptor(self) -> None:
        """Nothing to wait on."""

    def next_deadline(self) -> None:
        """Nothing is known ahead."""

    def take_findings(self) -> list[Finding]:
        """Nothing goes wrong here."""
        return []

    def close(self) -> None:
        """Nothing is held."""


class World:
    """One design, one vehicle, one finger. ``faults`` says what was wrong with a frame on the bus."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.chance = random.Random(seed * 7919 + 1)
        self.controls, self.conditions = plan(seed)
        self.checked = self.chance.random() < 0.5
        write(folder, self.controls, self.conditions, self.checked)
        compiled = compile_design(folder)
        assert isinstance(compiled, Compiled), [each.message for each in compiled.findings]
        self.bound = bind(compiled)
        self.database = cantools.database.load_file(folder / "car.dbc")
        self.now = 100.0
        self.line = MemoryLine(Faults(rate=11520.0), Faults(rate=11520.0))
        self.line.advance(self.now)
        self.far = Far(self.bound.identity, width=800, height=480, pack_capacity=2 << 20)
        vehicle_time = VehicleTime()
        self.bus = Bus(load_decoder(compiled.design), vehicle_time)
        encoder = load_encoder(compiled.design)
        self.runtime = Runtime(self.bound, 3, vehicle_time, outputs_allowed=True, encoder=encoder)
        self.loop = Loop(self.runtime, self._open, [self.bus], send=self._sent)
        self.truth: dict[str, float] = {}
        self.said: dict[str, tuple[float, float]] = {}
        self.sends = {f"State{number}" for number in range(len(self.controls))} | {"Gates"}
        self.obeys = True
        self.faults: list[str] = []
        self.frames = 0
        self.refused = 0
        self.turns: dict[int, int] = {}
        self.touch: tuple[Control, int] | None = None
        for number, each in enumerate(self.controls):
            self.truth[f"F{number}"] = 0.0 if each.flag else 50.0
        self.truth |= {"Speed": 0.0, "Flag": 1.0}

    def _open(self) -> MemoryEnd:
        return MemoryEnd(self.line, self.line._forth, self.line._back)

    def pass_time(self, seconds: float) -> None:
        """The loop turns whenever it wants to, the vehicle sends each 0.1 s."""
        end = self.now + seconds
        while self.now < end - 1e-9:
            self._vehicle_speaks()
            after = min(end, self.now + 0.1)
            while True:
                pause = self.loop.turn(self.now)
                self.far.receive(self.line.far.read(), self.now)
                self.line.far.write(self.far.session.outgoing(self.now))
                if self.now >= after:
                    break
                self.now = min(after, self.now + max(pause, 1e-3))
                self.line.advance(self.now)

    def _vehicle_speaks(self) -> None:
        for message in self.database.messages:
            if message.name in self.sends:
                fields = {each.name: self.truth[each.name] for each in message.signals}
                self.bus.put(Frame(self.now, message.frame_id, False, message.encode(fields)))
                self.said |= {name: (value, self.now) for name, value in fields.items()}

    def _reads(self, field: str, slack: float = 0.0) -> float | None:
        """What a driver may take a field for: None once it is stale."""
        value, at = self.said.get(field, (0.0, float("-inf")))
        return value if self.now - at < STALE + slack else None

    def _holds(self, index: str | None) -> bool:
        if index is None:
            return True
        condition = self.conditions[int(index)]
        value = self._reads("Speed" if condition.gate == 0 else "Flag", DELAY)
        return value is not None and condition.holds(value)

    def _sent(self, request: RequestMade) -> str | None:
        frame = request.frame
        assert frame is not None
        self.frames += 1
        message = self.database.get_message_by_frame_id(frame.identifier)
        fields = message.decode(frame.data, decode_choices=False)
        carried = [place for place, each in enumerate(self.controls) if f"F{place}" in fields]
        touch, self.touch = self.touch, None
        if touch is None:
            self.faults.append(f"{self.now:.2f}: a frame without a touch: {fields}")
            return None
        control, zone = touch
        for place in carried:
            each, field = self.controls[place], f"F{place}"
            reads, value = self._reads(field, DELAY), float(fields[field])
            if each is control:
                if not self._may(control) or not self._wanted(control, zone, value):
                    self.faults.append(f"{self.now:.2f}: {each} asked for {value} at {reads} through {zone}")
            elif value != reads:
                self.faults.append(f"{self.now:.2f}: beside {control.name}, {each} is {value}, reads {reads}")
        if f"F{self.controls.index(control)}" not in fields:
            self.faults.append(f"{self.now:.2f}: {control} was touched, {message.name} sent")
        self._checks(frame, fields)
        if self.obeys:
            for place in carried:
                self.truth[f"F{place}"] = float(fields[f"F{place}"])
        return None

    def _may(self, control: Control) -> bool:
        return self._holds(control.allowed) and self._holds(control.when)

    def _wanted(self, control: Control, zone: int, value: float) -> bool:
        reads = self._reads(f"F{self.controls.index(control)}", DELAY)
        match control.kind:
            case "on" | "off":
                return value == float(control.kind == "on")
            case "switch":
                return value == float(self.bound.screens[0].zones[zone].action.value)  # type: ignore[union-attr]
            case "choice":
                return value in (20.0, 60.0)
            case "stepper":
                return reads is not None and value in (reads + 10, reads - 10, 0.0, 100.0)
        return value % 5 == 0 and 0 <= value <= 100

    def _checks(self, frame: Frame, fields: dict[str, float]) -> None:
        if not self.checked:
            return
        turn = int(fields["Turn"])
        last = self.turns.get(frame.identifier)
        if last is not None and turn != (last + 1) % 16:
            self.faults.append(f"{self.now:.2f}: counter {turn} after {last}")
        self.turns[frame.identifier] = turn
        if Crc8SaeJ1850.calc(frame.data[:7]) != frame.data[7]:
            self.faults.append(f"{self.now:.2f}: checksum of {frame.data.hex()}")

    def act(self) -> None:
        """One random thing happens."""
        chance = self.chance
        what = chance.random()
        if what < 0.55:
            self._tap()
        elif what < 0.7:
            self.truth["Speed"] = chance.choice((0.0, 4.0, 5.0, 60.0))
        elif what < 0.8:
            self.truth["Flag"] = float(chance.random() < 0.7)
        elif what < 0.88:
            place = chance.randrange(len(self.controls))
            flag = self.controls[place].flag
            self.truth[f"F{place}"] = float(chance.randint(0, 1) if flag else chance.randrange(0, 101, 5))
        elif what < 0.93:
            self.obeys = not self.obeys
        elif what < 0.97:
            self.sends ^= {chance.choice(["Gates", *(f"State{n}" for n in range(len(self.controls)))])}
        else:
            self.sends = {f"State{number}" for number in range(len(self.controls))} | {"Gates"}
        self.pass_time(chance.choice((0.05, 0.1, 0.3, 0.7, 1.5)))

    def _tap(self) -> None:
        zones = [
            (number, control)
            for number, zone in enumerate(self.bound.screens[0].zones)
            for control in self.controls
            if control.name == getattr(zone.action, "name", "")
        ]
        zone, control = self.chance.choice(zones)
        action = self.bound.screens[0].zones[zone].action
        x = y = 10
        if control.kind == "slider":
            along = action.start + self.chance.randint(0, action.length)  # type: ignore[union-attr]
            x, y = (x, along) if action.upright else (along, y)  # type: ignore[union-attr]
        self.far.session.touch(zone, Phase.PRESS, x, y, self.now)
        self.pass_time(self.chance.choice((0.05, 0.2, 0.5)))
        before = self.frames
        self.touch = (control, zone)
        self.far.session.touch(zone, Phase.RELEASE, x, y, self.now)
        self.pass_time(0.1)
        self.touch = None
        self.refused += self.frames == before
