"""The oracles. They know the requirements, the vehicle's own truth, what is on the glass and on the bus;
frames are read by cantools, units are pint's. Where hmic keeps a value inside does not matter to them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from hmic.model.channels import LIVE, FirstTrue, Listed, Scaled, signals_of
from hmic.model.touch_progress import HOLD_PREFIX, PAGE_PREFIX, TOUCH_WORDS
from tests.world.design import Control
from tests.world.plan import NOISE, TOUCHES, VEHICLE, Event
from tests.world.reading import numbers
from tests.world.sight import Sights
from tests.world.vehicle import Told, affine, units

PATH = 0.45
"""Seconds from the bus to the glass at most: a batch, the line, the painting."""
SLOW_PATH = 0.6
"""More of it for 960 bytes a second."""
SILENT = 1.0
"""Seconds after which a display shows nothing as live any more when the host has fallen silent."""
READ, QUESTION = 0.48, 5.0
"""Seconds in which nobody can have read a question, and after which it lapses."""
LATE = 1.0
"""Seconds after which a touch does nothing."""
FOLLOW = 3.0
"""Seconds in which the vehicle must follow."""
HEALED = {115200: 0.5, 57600: 0.6, 9600: 1.0}
"""Seconds after trouble on the line until all is right, by its rate."""
STARTED = 2.6
"""Seconds after any other trouble: a port looked for each 0.5 s, 2 s of the sessions."""
REOPENED = 1.5
"""Seconds after a bus is back: it is opened again every second."""
CALM = (*TOUCHES, *VEHICLE, "wall clock", "disk full", "pipe garbage", "bad frame", "flood")
"""Events that may disturb nothing but what they strike."""
EYE = 1.0
"""Seconds between two looks at the painted picture."""
FASTEST = 140.0
"""km/h, the end of the range of the vehicle's speed."""
BUS = ("bus down", "log ahead", "log back")
"""Trouble that is none of the display's, nor of the pipe's."""


@dataclass(frozen=True)
class Failure:
    """An oracle said no."""

    at: float
    oracle: str
    text: str

    def __str__(self) -> str:
        return f"{self.at:.2f} s: {self.oracle}: {self.text}"


@dataclass
class Touch:
    """A finger that was felt: it came down on ``screen`` at ``pressed``, in ``scene`` of what was seen, and
    lifted at ``at``. ``name`` is what it meant, "" for nothing; ``option`` which of those of its control,
    ``toward`` where a swipe went. ``told``: the host had it; ``used``: a frame was sent for it."""

    at: float
    name: str
    way: int
    control: Control | None
    x: int
    y: int
    screen: str = "main"
    pressed: float = 0.0
    scene: int = 0
    option: int = 0
    toward: str = ""
    told: int = 0
    used: bool = False


class Judge:
    """Keeps watch over one world."""

    def __init__(self, world: Any) -> None:
        self.world = world
        self.failures: list[Failure] = []
        self.touches: list[Touch] = []
        self.touches_lost = 0
        self.met: Counter[str] = Counter()
        self.frames = 0
        self._seen: set[tuple[str, str]] = set()
        self._plain: dict[int, tuple[str, bool]] = {}
        self.replay_from: float | None = None
        self._wrong_since: dict[str, float] = {}
        self._eye_due = 0.0
        self._asked: dict[str, float] = {}
        self.sights = Sights(self)

    @property
    def scene(self) -> int:
        """Counts the screens that were seen on the glass."""
        return self.sights.scene

    def fail(self, oracle: str, about: str, text: str) -> None:
        """Once for each oracle and thing."""
        if (oracle, about) not in self._seen:
            self._seen.add((oracle, about))
            self.failures.append(Failure(self.world.now, oracle, text))

    # What is on the glass

    def look(self, now: float) -> None:
        """Judges every value in sight."""
        world = self.world
        player = world.player
        if player is None or player.identity() != world.identity:
            return
        moment = player.shown(now)
        drawing = world.compiled.arranged.drawing
        screen = drawing.screens[moment.screen].name
        self.met[f"screen {screen}"] += 1
        self.sights.look(now, screen, drawing.themes[moment.theme].name, self._well(now))
        wrong: list[str] = []
        for number in drawing.screens[moment.screen].channels:
            channel = world.compiled.arranged.channels[number]
            raw = moment.raw[number]
            self.met[("never seen", "stale", "out of range", "live")[min(raw, LIVE)]] += 1
            names = sorted(signals_of(channel))
            if any(name.startswith("touch.") for name in names):
                self.met[f"control {TOUCH_WORDS[raw - LIVE]}" if raw >= LIVE else "control in doubt"] += 1
                continue
            if not names or any(name.startswith((PAGE_PREFIX, HOLD_PREFIX)) for name in names):
                continue
            if raw >= LIVE:
                self._live(channel, raw, names, now)
            if not self._right(channel, raw, names, now):
                wrong.append(names[0])
        self._heals(wrong, now)
        if now >= self._eye_due:
            self._eye_due = now + EYE
            self._eye(now)

    def _keys(self, name: str, channel: Any) -> list[str]:
        """What the vehicle says that a channel shows."""
        declared = self.world.spec.declared
        if name in self.world.spec.sums:
            return ["vehicle.speed"]
        if declared[name].count > 1 and channel.element is not None:
            return [f"{name}[{channel.element}]"]
        return [name]

    def _stale(self, name: str) -> float:
        return float(self.world.spec.declared[name.split("[")[0]].stale)

    def told(self, key: str) -> Told:
        return self.world.vehicle.truth.get(key, Told())  # type: ignore[no-any-return]

    def _oldest(self, key: str, now: float) -> float:
        """Seconds since which the vehicle must have said what looks live now."""
        path = PATH + SLOW_PATH * (self.world.setup.baud < 20000) + self.held_back(now)
        return self._stale(key) + path + (0.0 if self.untroubled(now, 3.0) else SILENT + 0.2)

    def _live(self, channel: Any, raw: int, names: list[str], now: float) -> None:
        """Nothing looks live that is too old, or that the vehicle never said."""
        world = self.world
        for name in names:
            for key in self._keys(name, channel):
                if self._one_bus_heard(key, now):
                    continue
                told = self.told(key)
                stale = self._stale(key)
                oldest = self._oldest(key, now)
                at = self.vehicle_time(now)
                recent = told.between(at - oldest, at)
                if not recent:
                    last = told.last(at)
                    age = "never said" if last is None else f"{at - last[0]:.2f} s old"
                    self.fail("stale", key, f"{name} looks live and is {age}; stale after {stale:g} s")
                elif name not in world.spec.sums and not self._said(channel, raw, recent, told, at - oldest):
                    shown = self._shown(channel, raw)
                    self.fail(
                        "truth", key, f"{name} shows {shown}, and of late the vehicle said only "
                        f"{[None if each is None else round(each, 2) for each in recent[-6:]]}",
                    )  # fmt: skip

    def _one_bus_heard(self, key: str, now: float) -> bool:
        """Nothing on the buses has told yet that this message comes from both: the run began just now, or its
        own sender is silent since."""
        world = self.world
        if key != "vehicle.speed" or world.setup.channels == 1 or world.setup.replay:
            return False
        return not self.told(key).between(world.up_since, now - PATH)

    def _eye(self, now: float) -> None:
        """Every number that the painted picture shows is one that the vehicle said of late."""
        world = self.world
        moment = world.player.shown(now)
        arranged = world.compiled.arranged
        picture = world.player.picture(now).convert("RGB")
        self.sights.night(now, arranged.drawing.themes[moment.theme].name, picture)
        for number, text in numbers(arranged.drawing, moment.screen, picture):
            for key in sorted(signals_of(arranged.channels[number]) & world.spec.declared.keys()):
                if not any(each.isdigit() for each in text):
                    self.met["number read: in doubt"] += 1
                    if "!" not in text:
                        self.fail("eye", key, f"no figure can be read where {key} is painted")
                    continue
                if self._one_bus_heard(key, now):
                    continue
                self.met["number read"] += 1
                at, declared = self.vehicle_time(now), world.spec.declared[key]
                slack = 0.51 * 10.0 ** -len(text.partition(".")[2])
                said = self.told(key).between(at - self._oldest(key, now), at)
                held = [min(max(each, declared.low), declared.high) for each in said if each is not None]
                if not any(abs(each - float(text)) <= slack for each in held):
                    self.fail(
                        "eye", key, f"{key} reads {text}, and of late the vehicle said only "
                        f"{[round(each, 2) for each in held[-6:]]}",
                    )  # fmt: skip

    def _shown(self, channel: Any, raw: int) -> float:
        """What a raw value stands for."""
        steps = channel.steps
        if isinstance(steps, Scaled):
            return steps.low + steps.step * (raw - LIVE)
        if isinstance(steps, Listed):
            return float(steps.values[raw - LIVE])
        return float(raw - LIVE)

    def _said(self, channel: Any, raw: int, recent: list[Any], told: Told, since: float) -> bool:
        shown = self._shown(channel, raw)
        options = self._options(channel)
        if options:
            lit = raw - LIVE - 1
            near = [[at for at, each in enumerate(options) if abs(value - each) < 0.5] or [-1]
                    for value in recent if value is not None]  # fmt: skip
            return any(lit in each for each in near)
        if isinstance(channel.steps, Scaled):
            last = channel.steps.low + channel.steps.step * (channel.steps.count - 1)
            slack = channel.steps.step * 1.01
            return any(
                value is not None and abs(min(max(value, channel.steps.low), last) - shown) <= slack
                for value in recent
            )
        if isinstance(channel.steps, FirstTrue | Listed):
            return any(value is not None and (value > 0.5) == (shown > 0.5) for value in recent)
        return True

    def _options(self, channel: Any) -> tuple[float, ...]:
        """The options of a choice, for the channel that says which of them is lit."""
        if not isinstance(channel.steps, FirstTrue):
            return ()
        for control in self.world.spec.controls:
            if control.kind == "choice" and {control.signal} == signals_of(channel):
                return control.options
        return ()

    def _right(self, channel: Any, raw: int, names: list[str], now: float) -> bool:
        """Whether a value that the vehicle keeps saying is shown as it is."""
        at = self.vehicle_time(now)
        if now < self.sights.since + PATH + 2 * SLOW_PATH * (self.world.setup.baud < 20000):
            # It has only just come.
            return True
        for name in names:
            for key in self._keys(name, channel):
                told = self.told(key)
                window = min(0.4, self._stale(key) * 0.6) + SLOW_PATH * (self.world.setup.baud < 20000)
                if key.startswith(("pack.cells", "tank", "vehicle.light")):
                    window = max(window, 0.8)
                recent = told.between(at - window, at)
                older = told.between(at - 2 * window, at - window)
                if not recent or not older or any(value is None for value in [*recent, *older]):
                    # It does not keep saying it.
                    return True
                if name in self.world.spec.sums:
                    return raw >= LIVE
                if raw < LIVE or not self._said(channel, raw, [*older, *recent], told, at - window):
                    return False
        return True

    def _heals(self, wrong: list[str], now: float) -> None:
        """When trouble ends, all is right within the stated time, and stays so."""
        well = self._well(now)
        # A run that begins while its only bus is away is refused, and is started again later.
        beside = well or (0 in self.world.hosts and self._well(now, BUS))
        # Told as a message that comes from two buses: not shown again, and never live.
        refused = ("vehicle.speed", "trip.distance") if self.met["R717"] else ()
        wrong = [name for name in wrong if well or (beside and name.startswith("tank."))]
        wrong = [name for name in wrong if name not in refused]
        for name in list(self._wrong_since):
            if name not in wrong:
                del self._wrong_since[name]
        for name in wrong:
            since = self._wrong_since.setdefault(name, now)
            if now - since > 0.3:
                self.fail("heal", name, f"{name} is not shown as the vehicle says, and nothing troubles it")

    # What is on the bus

    def bus(self, data: bytes, identifier: int, now: float) -> None:
        """Judges a frame that hmic has sent."""
        world = self.world
        self.frames += 1
        if not world.allows:
            self.fail("bus", "frame", f"a frame {identifier:X} was sent and nothing may be")
            return
        database = world.vehicle.database
        try:
            message = database.get_message_by_frame_id(identifier)
            read = message.decode(data)
        except (KeyError, ValueError):
            self.fail("bus", "frame", f"a frame {identifier:X} that the vehicle has not")
            return
        used: list[Touch] = []
        for name, (to, key, _) in world.spec.outputs.items():
            if to == message.name:
                used += self._field(name, float(read[key]), now)
        late = LATE + PATH + self.held_back(now)
        fresh = [touch for touch in used if not touch.used and now - touch.at <= late]
        if not fresh:
            self.fail("bus", "touch", f"frame {data.hex()} was sent and no touch asks for it")
        # A touch that came too soon was refused, if another one explains the frame.
        for touch in sorted(fresh, key=lambda touch: self._too_soon(touch.name, now))[:1]:
            touch.used = True
            for asking in self._asking(touch):
                asking.used = True
            self._soon(touch.name, now)

    def _soon(self, name: str, now: float) -> None:
        """A request comes no sooner after the last than its output says."""
        if self._too_soon(name, now):
            after = now - self._asked[name]
            self.fail("bus", f"soon {name}", f"{name} was asked for again after {after:.2f} s")
        self._asked[name] = now

    def _too_soon(self, name: str, now: float) -> bool:
        last, every = self._asked.get(name, -1e9), self.world.spec.every.get(name, 0.2)
        return last > self.world.up_since and now - last < every - 0.02

    def _asking(self, touch: Touch) -> list[Touch]:
        """The touches whose question this one may answer."""
        control = touch.control
        if control is None or not control.confirmed:
            return []
        return [
            each
            for each in self.touches
            if each is not touch and each.control is control and each.scene == touch.scene and not each.used
            and each.at - each.pressed >= control.held - 0.02
            and touch.pressed - each.at >= READ and touch.at - each.at <= QUESTION + LATE + PATH
        ]  # fmt: skip

    def _meant(self, touch: Touch) -> bool:
        """Whether a finger stayed and answered as the sentence of its control wants."""
        control = touch.control
        if control is None:
            return True
        if control.confirmed:
            return bool(self._asking(touch))
        return touch.at - touch.pressed >= control.held - 0.02

    def _field(self, name: str, value: float, now: float) -> list[Touch]:
        """The touches that ask for a field's value now; the field must be such, or as the vehicle reads."""
        field = next(each for each in self.world.spec.fields if each.signal == name)
        declared = self.world.spec.declared[name]
        factor, offset = affine(field.unit, declared.unit) if not declared.flag else (1.0, 0.0)
        wanted = value * factor + offset
        slack = {"oven.set": 0.06 * factor, "house.fan": 0.26}.get(name, 0.01)
        told = self.told(name)
        oldest = now - declared.stale - PATH - self.held_back(now)
        reads = [each for each in told.between(oldest, now, before=True) if each is not None]
        asking = [
            touch
            for touch in self.touches
            if touch.name == name
            and now - touch.at <= FOLLOW + LATE + PATH
            and any(abs(each - wanted) <= slack for each in self._asks(touch, now))
        ]
        allowed = [
            touch for touch in asking if (touch.used or self._meant(touch)) and self._may(touch, now)
        ]
        if not allowed and not any(abs(each - wanted) <= slack for each in reads):
            why = "while it was not allowed" if asking else "which nothing asked for"
            self.fail(
                "bus", name, f"a frame asks for {name} = {wanted:.2f} {declared.unit}, {why}; it reads "
                f"{sorted({round(each, 2) for each in reads})}",
            )  # fmt: skip
        return allowed

    def _asks(self, touch: Touch, now: float) -> list[float]:
        """What a touch may ask for, by the sentence of its control."""
        control = touch.control
        if control is None:
            return []
        told = self.told(touch.name)
        reads = {
            each
            for each in told.between(touch.at - 2.0, now, before=True)
            if each is not None
        }
        if control.kind == "switch":
            return [1.0 - each for each in reads]
        if control.options:
            return [control.options[touch.option]]
        registry = units()
        step = control.step
        if control.unit in ("°C", "°F", "K"):
            # A step is a difference: ten degrees are ten degrees, wherever the scale's zero is.
            delta = {"°C": "delta_degC", "°F": "delta_degF", "K": "delta_degC"}
            step = registry.Quantity(step, delta[control.step_unit]).to(delta[control.unit]).magnitude
        if control.kind == "slider":
            count = int((control.high - control.low) / step + 1e-9)
            return [control.low + at * step for at in range(count + 1)] + [control.high]
        return [min(max(each + touch.way * step, control.low), control.high) for each in reads]

    def _may(self, touch: Touch, now: float) -> bool:
        """Whether every condition of a touch holds now, as far as hmic can know: a frame may be under way."""
        _, _, limit = self.world.spec.outputs[touch.name]
        control = touch.control.limit if touch.control is not None else None
        limits = [each for each in (limit, control) if each is not None]
        if not limits:
            return True
        told = self.told("vehicle.speed")
        path = 0.3 + self.held_back(now)
        last = told.last(now)
        if last is None or now - last[0] > self._stale("vehicle.speed") + path:
            return False
        known = told.between(now - path, now, before=True)
        return any(each is not None and each < min(limits) for each in known)

    # Touches

    def touched(self, x: int, y: int, lifted: bool) -> None:
        """The host was told of a touch."""
        if not lifted:
            return
        alike = [at for at, touch in enumerate(self.touches) if (touch.x, touch.y) == (x, y)]
        if not alike:
            self.fail("touch", "made up", f"a touch at {x}, {y} was told that no finger made")
            return
        at = next((at for at in alike if not self.touches[at].told), alike[-1])
        touch = self.touches[at]
        touch.told += 1
        if touch.told > 1:
            self.fail("touch", "twice", f"the touch of {touch.at:.2f} s was told twice")
        if any(later.told for later in self.touches[at + 1 :]):
            self.fail("touch", "order", f"the touch of {touch.at:.2f} s was told out of order")

    def host_said(self, host: Any, event: Any) -> None:
        """Something that a host tells."""
        name = type(event).__name__
        self.met[name if name != "LinkChanged" else f"link {'up' if event.up else 'down'}"] += 1
        if name == "LinkChanged":
            if event.up and host.number == 0 and self.replay_from is None and self.world.setup.replay:
                self.replay_from = self.world.now
            elif not event.up and self.untroubled(self.world.now, STARTED + 2.0, BUS):
                self.fail("heal", "link", "the display was lost, and nothing troubled it")
        self.sights.host_said(host.number, event)
        finding = getattr(event, "finding", None)
        if finding is not None:
            self.met[finding.code] += 1
            self.world.struck["disk full"] += self.world.disk_full and finding.code in ("R751", "R755")
        self.world.struck["other host"] += host.number == 1 and name == "LinkChanged" and event.up

    def end(self) -> None:
        """What can be said only when all is over."""
        now = self.world.now
        for touch in self.touches:
            if touch.told or now - touch.at < 1.0:
                continue
            if self.untroubled(touch.at + 1.0, STARTED + 1.3):
                self.fail("touch", "lost", f"the touch of {touch.at:.2f} s was never told")
        # A run ends with its replay: from then on there is nobody to tell.
        heard = [touch for touch in self.touches if not self._log_ended(touch.at + 1.0)]
        untold = sum(not touch.told and now - touch.at > 3.0 for touch in heard)
        restarted = self.met["power cut in a push"] or self.world.struck["display restarted"]
        if untold > self.touches_lost and not restarted:
            told = f"{untold} touches were never told, {self.touches_lost} reported lost"
            self.fail("touch", "silent", told)
        self.met["touch reported lost"] += self.touches_lost
        self._sums()
        self.sights.end()

    def _sums(self) -> None:
        """Sums are kept: what is shown is what was driven, but for what was out of sight."""
        world = self.world
        moment = world.player.shown(world.now) if world.player is not None else None
        if moment is None or (world.setup.channels > 1 and not world.setup.replay):
            return
        arranged = world.compiled.arranged
        for number in arranged.drawing.screens[moment.screen].channels:
            channel = arranged.channels[number]
            names = signals_of(channel)
            if not names.isdisjoint(world.spec.sums) and moment.raw[number] >= LIVE:
                shown = self._shown(channel, moment.raw[number])
                driven, known = world.vehicle.distance(world.now), world.known_distance()
                if world.setup.replay:
                    until = min(self.vehicle_time(world.now), world.log_length)
                    driven = known = world.vehicle.distance(until)
                    if any(each.kind in ("log ahead",) for each in world.plan.events):
                        known = 0.0
                # A speed that its sender says again while the vehicle slows down is added up as it is said.
                repeated = sum(each.lasts for each in world.plan.events if each.kind == "sender repeats")
                if not known - 0.03 <= shown <= driven * 1.01 + 0.03 + repeated * FASTEST / 3600:
                    self.fail("sum", "trip", f"{shown:.2f} km are shown, {driven:.2f} were driven")

    # What troubles whom

    def vehicle_time(self, now: float) -> float:
        """The vehicle's time, which in a replay is the log's."""
        if not self.world.setup.replay:
            return now
        return -1.0 if self.replay_from is None else now - self.replay_from + self.world.log_from

    def _log_ended(self, now: float) -> bool:
        """Whether a replay has told all that it has; from then on its values grow old."""
        return self.world.setup.replay and self.vehicle_time(now) > self.world.log_length - 0.1

    def _troubles(self) -> list[Event]:
        return [
            each
            for each in self.world.plan.events
            if each.kind not in CALM
        ]

    def untroubled(self, now: float, seconds: float, but: tuple[str, ...] = ()) -> bool:
        """Nothing but the vehicle, and kinds that do not count, changed in the last seconds."""
        if now < self.world.up_since + seconds or self.world.busy_until > now - seconds:
            return False
        if self._log_ended(now):
            return False
        return not any(
            each.at <= now and each.ends > now - seconds for each in self._troubles() if each.kind not in but
        )

    def _well(self, now: float, but: tuple[str, ...] = ()) -> bool:
        """Trouble, but for some kinds, is over for as long as healing may take."""
        world = self.world
        if now < world.up_since + STARTED or now < world.busy_until + STARTED or self._log_ended(now):
            return False
        if world.is_starting():
            return False
        for each in self._troubles():
            if each.kind in but:
                continue
            heals = STARTED
            if each.kind in (*NOISE, "stall"):
                heals = HEALED[world.setup.baud] + PATH
                if each.kind == "stall":
                    heals += min(each.lasts, 1.5)
            elif each.kind == "bus down":
                heals = REOPENED + PATH + (2.0 if world.setup.adapter == "slcan" else 0.0)
            if each.at <= now < each.ends + heals:
                return False
        for each in world.plan.events:
            silent = each.kind in VEHICLE and each.kind not in ("drive", "vehicle deaf", "other light")
            if silent and each.at <= now < each.ends + 2.5:
                return False
        return world.player is not None and world.now - world.started > 3.0

    def held_back(self, now: float) -> float:
        """Seconds for which the line held bytes back of late: it delivers old values."""
        stalls = [each for each in self.world.plan.events if each.kind == "stall" and each.at <= now]
        return sum(each.lasts for each in stalls if each.ends > now - each.lasts - 3.0)

