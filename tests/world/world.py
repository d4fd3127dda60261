"""One world: everything outside hmic's own logic on one simulated clock, in one process."""

from __future__ import annotations

import contextlib
import errno
import math
import os
import random
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Any
from unittest import mock

from hmic.compile.bind import bind, host_of
from hmic.compile.compiling import Compiled, Failed, compile_design
from hmic.diagnostics import DesignError
from hmic.display.display import Glass
from hmic.link.push import push
from hmic.pack.records import identity
from hmic.pack.writer import write
from hmic.runtime import host_file
from hmic.wire import states
from hmic.wire.events import Phase, Touched, TouchesLost
from hmic.wire.host_session import HostSession
from hmic.wire.states import DISPLAY, HOST, Cause, Table, after
from tests.tools.changed import replace
from tests.world.bus import Channel, Tap
from tests.world.clock import Clock, instead_of_time
from tests.world.design import Spec, spec
from tests.world.fingers import Fingers
from tests.world.host import Host, boundary
from tests.world.judge import Failure, Judge
from tests.world.line import HostEnd, Line
from tests.world.panel import CutFlash, PowerCut, SoftwarePlayer
from tests.world.plan import Event, Plan, shrunk
from tests.world.strand import Strand
from tests.world.vehicle import Told, Vehicle, foreign, garbage

LOOKS = 0.05
"""Seconds between two looks at the glass."""
FLASH = 1 << 20
RESTARTS = 1.0
"""Seconds after which a run that ended is started again, as by systemd."""


@dataclass(frozen=True)
class Outcome:
    """What a world came to."""

    plan: Plan
    failures: tuple[Failure, ...]
    met: Counter[str]
    seconds: float


_folders: list[tempfile.TemporaryDirectory[str]] = []


@lru_cache(maxsize=128)
def folder_of(shape: int) -> tuple[Spec, Path]:
    """A random design in a folder of its own, for as long as this process lives."""
    made = spec(shape)
    _folders.append(tempfile.TemporaryDirectory(prefix="hmic-world-"))
    folder = Path(_folders[-1].name)
    for name, text in made.files.items():
        (folder / name).write_text(text)
    return made, folder


@lru_cache(maxsize=128)
def compiled_of(shape: int) -> tuple[Compiled | Failed, bytes, bytes]:
    """A compiled design, its pack and its pack's identity."""
    _, folder = folder_of(shape)
    result = compile_design(folder)
    found = result.compiled if isinstance(result, Failed) else result
    if found is None:
        return result, b"", b""
    return found, found.pack, bind(found).identity


@lru_cache(maxsize=8)
def bound_of(shape: int) -> host_file.Host:
    """All that a run needs, as the host file of the design holds it."""
    found = compiled_of(shape)[0]
    assert isinstance(found, Compiled)
    return host_file.read(host_file.write(host_of(found)), "car.host")


def transition(table: Table, state: str, cause: Cause) -> str:
    """How a transition of the tables of sessions is called among what was met."""
    return f"{'host' if table is HOST else 'display'} in '{state}': {cause}"


class World:
    """A plan, lived through."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.setup = plan, plan.setup
        self.dice = random.Random(plan.seed)
        self.spec, self.folder = folder_of(plan.setup.shape)
        self.compiled, self.pack, self.identity = compiled_of(plan.setup.shape)
        self.bound = partial(bound_of, plan.setup.shape)
        self.clock = Clock(plan.setup.hour, self.block)
        self.judge = Judge(self)
        self.channels = [Channel(self, f"can{at}", plan.setup.adapter) for at in range(plan.setup.channels)]
        self.struck: Counter[str] = Counter()
        self.vehicle = Vehicle(self.spec, list(plan.events), self.struck)
        self.vehicle.night = not 6.0 <= plan.setup.hour < 20.0
        self.line = Line(plan.setup.baud, list(plan.events), self.struck)
        self.line_leads_to = 0
        self.disk_full = False
        self.clock_set = -1e9
        self.allows = not plan.setup.replay
        self.player: SoftwarePlayer | None = None
        self.hosts: dict[int, Host] = {}
        self.acting: Host | None = None
        self.push_end: HostEnd | None = None
        self.started = 0.0
        self.up_since = 0.0
        self.busy_until = 0.0
        self.log_length = self.log_from = 0.0
        self._flash = CutFlash(FLASH, plan.seed)
        self._unsent = b""
        self._start_at: dict[int, float] = {0: 0.0}
        self._to_do: list[tuple[float, int, Callable[[], None]]] = []
        self._turning: set[int] = set()
        self._starting: set[int] = set()
        self.strands: list[Strand] = []
        self.strand: Strand | None = None
        self._look = 0.5
        self._foreign = 0
        self._fingers = Fingers(self)
        self._carried = 0.0
        self._kept_in = tempfile.TemporaryDirectory(prefix="hmic-world-")
        self._work = Path(self._kept_in.name)

    @property
    def now(self) -> float:
        """Seconds since the world began."""
        return self.clock.now

    def live(self) -> Outcome:
        """Lives through the plan."""
        begun = time.perf_counter()
        if isinstance(self.compiled, Failed):
            text = "; ".join(str(finding.message) for finding in self.compiled.findings[:3])
            self.judge.fail("design", "refused", f"a sound design is refused: {text}")
            return self._outcome(begun)
        with instead_of_time(self.clock), self._listening(), boundary(self):
            self._prepare()
            self.advance(self.setup.length)
            self.judge.end()
            for host in self.hosts.values():
                host.stop()
            for strand in list(self.strands):
                strand.kill()
        os.close(self._feeder)
        self._kept_in.cleanup()
        return self._outcome(begun)

    def _outcome(self, begun: float) -> Outcome:
        for each in self.plan.events:
            self.judge.met[f"event {each.kind}"] += 1
        self.judge.met += Counter({f"struck by {kind}": count for kind, count in self.struck.items()})
        if self.setup.replay:
            self.judge.met["setup replay"] += 1
        self.judge.met[f"setup {self.setup.adapter}, {self.setup.baud} Bd"] += 1
        for feature in self.spec.features:
            self.judge.met[f"design with {feature}"] += 1
        return Outcome(self.plan, tuple(self.judge.failures), self.judge.met, time.perf_counter() - begun)

    def _prepare(self) -> None:
        self._pipe = self._work / "pipe"
        os.mkfifo(self._pipe)
        self._feeder = os.open(self._pipe, os.O_RDWR | os.O_NONBLOCK)
        if self.setup.replay:
            self._write_log()
        for channel in self.channels:
            channel.on_sent = self._sent
        assert isinstance(self.compiled, Compiled)
        drawing = self.compiled.arranged.drawing
        self._glass = Glass(drawing.width, drawing.height, drawing.depth)
        self._power_up()
        assert self.player is not None and self.player.display.install(self.pack)
        for each in self.plan.events:
            self._begin(each)

    # Time

    def at(self, when: float, act: Callable[[], None]) -> None:
        """Does something at a moment."""
        self._to_do.append((when, len(self._to_do), act))
        self._to_do.sort(key=lambda each: each[:2])

    def block(self, seconds: float, until: Callable[[], bool] | None = None) -> None:
        """What runs now waits, a process or a thread of one; all others go on."""
        if self.strand is not None:
            self.strand.rest(seconds, until)
        else:
            self.advance(self.now + seconds, until)

    def advance(self, end: float, until: Callable[[], bool] | None = None) -> None:
        """Time passes, to ``end`` or until something is so."""
        while not (until is not None and until()):
            due = min(self._next_due(), end)
            self.clock.now = max(self.clock.now, due)
            if due >= end and self._next_due() > end:
                return
            self._turn()

    def _next_due(self) -> float:
        times = [self._look]
        if self._to_do:
            times.append(self._to_do[0][0])
        if not self.setup.replay:
            times.append(self.vehicle.next_due())
        for number, host in self.hosts.items():
            if host.running and number not in self._turning:
                times.append(max(host.wakes, host.frozen_until))
        times += [strand.next_due() for strand in self.strands]
        times += [at for number, at in self._start_at.items() if number not in self._turning]
        if self.player is not None:
            # It looks at its line and its timers a thousand times a second at most.
            for at in (self.line.forth.next_arrival(), self.player.next_deadline()):
                if at is not None:
                    times.append(max(at, self._carried + 0.001))
            if self._unsent:
                times.append(self.now + 0.01)
        back = self.line.back.next_arrival()
        if back is not None:
            times.append(back)
        return max(self.now, min(times))

    def _turn(self) -> None:
        now = self.now
        while self._to_do and self._to_do[0][0] <= now:
            self._to_do.pop(0)[2]()
        if not self.setup.replay and self.vehicle.next_due() <= now:
            self._drive(now)
        self._carry(now)
        for strand in list(self.strands):
            if strand in self.strands and strand.next_due() <= now:
                strand.host.go_on(strand)
        for number in sorted(self._start_at):
            if self._start_at[number] <= now and number not in self._turning:
                self._start(number)
        for number, host in list(self.hosts.items()):
            due = max(host.wakes, host.frozen_until)
            if host.running and number not in self._turning and due <= now:
                self._turn_host(number, host)
        if self._look <= self.now:
            self._look = self.now + LOOKS
            self.judge.look(self.now)

    def _turn_host(self, number: int, host: Host) -> None:
        self._turning.add(number)
        try:
            host.turn()
        finally:
            self._turning.discard(number)
        if host.loop is not None and host.loop.ended and not self.setup.replay:
            self.judge.fail("run", "ended", "the run has ended by itself")

    # The vehicle

    def _drive(self, now: float) -> None:
        self.vehicle.turn(now, self._put, self._feed)
        if len(self.channels) > 1:
            self._foreign += 1
            self.channels[1].put(*foreign(now, self._foreign))

    def _put(self, identifier: int, data: bytes) -> None:
        self.channels[0].put(identifier, data)

    def _feed(self, line: bytes) -> None:
        try:
            os.write(self._feeder, line)
        except OSError as full:
            if full.errno != errno.EAGAIN:
                raise
        for host in self.hosts.values():
            host.hears()

    def _spoil(self, line: bytes) -> None:
        self._feed(line)
        self.struck["pipe garbage"] += bool(self.hosts)
        if b"tank.level" in line:
            # It says, in its way, that there is no such value.
            self.vehicle.truth.setdefault("tank.level", Told()).say(self.now, None)

    def _sent(self, data: bytes, identifier: int, tap: Tap) -> None:
        self.judge.bus(data, identifier, self.now)
        self.vehicle.take(data, identifier, self.now)

    def known_distance(self) -> float:
        """km for which a run must account: driven while it had every frame, or that it had kept."""
        gone = [
            each for each in self.plan.events
            if each.kind in ("host frozen", "host killed", "host restarted", "bus down", "flood", "disk full",
                             "sender stops", "sender repeats", "sender lies", "sender restarts", "push",
                             "bad frame", "other host")
        ]  # fmt: skip
        slack = 12.0 if any(each.kind == "host killed" for each in gone) else 0.0
        slack += sum(each.lasts + 2.5 for each in gone) + 2.5
        if self.setup.adapter != "socket":
            slack += 3.0
        return max(0.0, self.vehicle.distance(self.now) - slack * 60.0 / 3600.0)

    def _write_log(self) -> None:
        """What the vehicle's buses carry, as a logger with two interfaces writes it."""
        self.log_length = self.setup.length - 6.0
        lines: list[tuple[float, str]] = []

        def put(identifier: int, data: bytes) -> None:
            lines.append((now, f"can0 {identifier:03X}#{data.hex().upper()}"))

        now = 0.0
        self.log_from = self.vehicle.next_due()
        while (now := self.vehicle.next_due()) < self.log_length:
            self.vehicle.turn(now, put, lambda line: None)
            if self.setup.channels > 1:
                # The other interface has its own delay: its frames are written first, stamped later.
                # The other interface is stamped 0.7 ms ahead: its frame stands first all the same.
                lines.insert(len(lines) - 1, (now + 0.0007, f"can1 7A0#{bytes(8).hex()}"))
        self.vehicle.truth.pop("tank.level", None)
        shift = 0.0
        jumps = sorted((each for each in self.plan.events if each.kind in ("log ahead", "log back")),
                       key=lambda each: each.at)  # fmt: skip
        text = []
        for at, line in lines:
            while jumps and jumps[0].at <= at:
                shift += jumps.pop(0)["by"]
            text.append(f"({1_700_000_000 + at + shift:.6f}) {line}\n")
        self._log = self._work / "drive.log"
        self._log.write_text("".join(text))

    # Processes

    def _start(self, number: int) -> None:
        del self._start_at[number]
        self._turning.add(number)
        self._starting.add(number)
        try:
            host = Host(self, number, self._words(number))
        finally:
            self._turning.discard(number)
            self._starting.discard(number)
        if host.refused:
            self.judge.met[f"refused {host.refused[0].code}"] += 1
            if self.setup.channels == 1 and not any(
                each.kind in ("bus down", "port gone") and each.at <= self.now <= each.ends + 5.0
                for each in self.plan.events
            ):
                self.judge.fail("run", "refused", f"the run does not start: {host.refused[0].message}")
            if self.setup.channels == 1:
                self._start_at[number] = self.now + RESTARTS
            return
        self.hosts[number] = host
        self.judge.sights.host_began(number)
        if number == 0:
            self.up_since, self.judge.replay_from = self.now, None

    def is_starting(self) -> bool:
        """The first host has been started and still opens what it needs: an adapter takes up to 2 s."""
        return 0 in self._starting

    def _words(self, number: int) -> list[str]:
        words = [str(self.folder), "--port", "port", "--baud", str(self.setup.baud)]
        if self.setup.replay:
            return [*words, "--replay", str(self._log)]
        kept = self._work / f"host{number}"
        words += ["--state", f"{kept}.sums", "--record", f"{kept}.record", "--record-limit", "0.05"]
        if number == 0:
            # A driver without times is one that python-can has none for.
            forms = {"socket": "{}", "bare": "virtual:{}", "serial": "serial:{}", "slcan": "slcan:{}@500000"}
            for channel in self.channels:
                words += ["--can", forms[self.setup.adapter].format(channel.name)]
            words += ["--allow-outputs"] if self.allows else []
        return [*words, "--pipe", str(self._pipe)]

    def _end(self, number: int, kill: bool, kind: str = "") -> None:
        host = self.hosts.pop(number, None)
        if host is not None:
            self.struck[kind] += bool(kind)
            host.kill() if kill else host.stop()

    @contextlib.contextmanager
    def _listening(self) -> Iterator[None]:
        """Hears what the sessions of the hosts are told of touches, and how states follow each other."""
        whole = HostSession.receive
        judge = self.judge

        def receive(session: HostSession, data: bytes, now: float) -> Any:
            events = whole(session, data, now)
            for event in events:
                if isinstance(event, Touched):
                    judge.touched(event.x, event.y, event.phase is Phase.RELEASE)
                elif isinstance(event, TouchesLost):
                    judge.touches_lost += event.count
            return events

        def followed(table: Table, state: str, cause: Cause) -> str:
            judge.met[transition(table, state, cause)] += table in (HOST, DISPLAY)
            return after(table, state, cause)

        with (
            mock.patch.object(HostSession, "receive", receive),
            mock.patch.object(states, "after", followed),
        ):
            yield

    # The display and its line

    def _power_up(self) -> None:
        self.player = SoftwarePlayer(self._flash, self._glass, self.dice.getrandbits(32))
        self._unsent = b""
        self.started = self.now

    def _carry(self, now: float) -> None:
        for number, host in self.hosts.items():
            if host.end is not None and number == self.line_leads_to:
                host.end.gather()
                if host.end.ready:
                    host.hears()
        if self.push_end is not None:
            self.push_end.gather()
        # What no open port takes in is lost.
        self.line.back.take(now)
        if self.player is None:
            self.line.forth.take(now)
            return
        self._carried = now
        try:
            self.player.receive(self.line.forth.take(now) if self.line.whole else b"", now)
            self._unsent += self.player.outgoing(now)
        except PowerCut:
            self.judge.met["power cut in a push"] += 1
            self.power_off(0.5)
            return
        if not self.line.whole:
            self._unsent = b""
        elif self._unsent:
            self._unsent = self._unsent[self.line.back.put(self._unsent, now) :]

    def power_off(self, seconds: float) -> None:
        """The display has no power for a while."""
        self.player = None
        self.line.cut(self.now)
        self.busy_until = max(self.busy_until, self.now + seconds)
        self.at(self.now + seconds, self._power_up)

    # Events

    def _begin(self, each: Event) -> None:
        def during(begin: Callable[[], None], end: Callable[[], None]) -> None:
            self.at(each.at, begin)
            self.at(each.ends, end)

        match each.kind:
            case "unplugged":
                during(self._unplug, lambda: setattr(self.line, "whole", True))
            case "port gone":
                during(self._pull, lambda: setattr(self.line, "port", True))
            case "host frozen":
                self.at(each.at, lambda: self._freeze(each.ends))
            case "host killed" | "host restarted":
                self.at(each.at, lambda: self._stop_host(each))
            case "wall clock":
                self.at(each.at, lambda: self._set_clock(each["by"]))
            case "disk full":
                during(lambda: setattr(self, "disk_full", True), lambda: setattr(self, "disk_full", False))
            case "other host":
                during(self._other_host, self._first_host)
            case "display restarted":
                self.at(each.at, lambda: self._restart_display(each.lasts))
            case "bus down":
                during(lambda: self._bus(True), lambda: self._bus(False))
            case "bad frame":
                self.at(each.at, lambda: setattr(self.channels[0], "bad", 1))
            case "pipe garbage":
                self.at(each.at, lambda: self._spoil(garbage(each["seed"])))
            case "push":
                self.at(each.at, lambda: self._push(each["cuts"]))
            case "tap" | "double tap" | "hold" | "answer" | "swipe":
                self.at(each.at, lambda: self._fingers.begin(each))
            case _:
                # The vehicle's own, or the line's.
                pass

    def _stop_host(self, each: Event) -> None:
        """It begins again when the event ends. One that is only just starting, or waits to, is left alone."""
        if 0 in self.hosts:
            self._end(0, each.kind == "host killed", each.kind)
            self._start_at[0] = each.ends

    def _set_clock(self, by: float) -> None:
        self.clock.wall += by
        self.clock_set = self.now
        self.struck["wall clock"] += 0 in self.hosts

    def _restart_display(self, seconds: float) -> None:
        self.struck["display restarted"] += self.player is not None
        self.power_off(seconds)

    def _unplug(self) -> None:
        self.line.whole = False
        self.line.cut(self.now)

    def _pull(self) -> None:
        self.line.port = False
        self.line.cut(self.now)

    def _freeze(self, until: float) -> None:
        host = self.hosts.get(0)
        if host is not None:
            self.struck["host frozen"] += 1
            host.frozen_until = until

    def _other_host(self) -> None:
        if self.line_leads_to == 1:
            return
        self.line_leads_to = 1
        self._start_at[1] = self.now

    def _first_host(self) -> None:
        others = (each for each in self.plan.events if each.kind == "other host")
        if any(each.at <= self.now < each.at + each.lasts for each in others):
            return
        self.line_leads_to = 0
        self._start_at.pop(1, None)
        self._end(1, True)

    def _bus(self, down: bool) -> None:
        self.channels[0].down = down
        if down:
            for tap in self.channels[0].taps:
                tap.queue.clear()

    def _push(self, cuts: tuple[int, ...]) -> None:
        """An edited pack is pushed, and the design's own again; power fails at some flash operations.
        Meanwhile the run is ended; a push that found no display is begun again."""
        if self.setup.replay or self.setup.baud != 115200 or 0 not in self.hosts or 0 in self._turning:
            return
        self._end(0, False)
        # No run is started while the port is taken.
        self._turning.add(0)
        self.busy_until = math.inf
        try:
            edited = self._edited()
            for pack, cut in zip((edited, self.pack, self.pack), (*cuts, None, None), strict=False):
                self._flash.cut_in = cut
                self._pushed(pack, (identity(edited), self.identity))
            self._flash.cut_in = None
            while self._held() != self.identity and self.now < self.setup.length:
                self._pushed(self.pack, (identity(edited), self.identity))
        finally:
            self._turning.discard(0)
        self.busy_until = self.now
        self._start_at[0] = max(self._start_at.get(0, 0.0), self.now + RESTARTS)

    def _edited(self) -> bytes:
        """The design's pack, a little different."""
        assert isinstance(self.compiled, Compiled)
        drawing = self.compiled.arranged.drawing
        theme = replace(drawing.themes[0], brightness=drawing.themes[0].brightness - 1)
        return write(replace(drawing, themes=(theme, *drawing.themes[1:])))

    def _pushed(self, pack: bytes, whole: tuple[bytes, bytes]) -> None:
        """One push. However it ends, the store holds one pack whole, and after a good end this one."""
        ended = "push in vain"
        with contextlib.suppress(DesignError), mock.patch.object(os, "urandom", self.dice.randbytes):
            push(self._push_port, pack, self.setup.baud, lambda facts: None)
            ended = "push done"
        self.push_end = None
        self.judge.met[ended] += 1
        self.struck["push"] += ended == "push done"
        held = self._held()
        if held not in whole:
            self.judge.fail("store", "whole", "the store holds neither the old pack nor the new one")
        elif ended == "push done" and held != identity(pack):
            self.judge.fail("store", "push", "a push has ended well and its pack is not in use")

    def _push_port(self) -> HostEnd:
        if not self.line.port:
            raise DesignError([])
        end = HostEnd(self.line, lambda: self.now, lambda: self.line_leads_to == 0)
        end.descriptor = lambda: None  # type: ignore[method-assign]
        self.push_end = end
        return end

    def _held(self) -> bytes | None:
        """What a display comes up with that is started now on what its flash holds."""
        copy = CutFlash(FLASH, 0)
        copy.cells[:] = self._flash.cells
        return SoftwarePlayer(copy, self._glass, 1).identity()


def live(plan: Plan) -> Outcome:
    """Lives through a plan."""
    return World(plan).live()


def shortest(plan: Plan, oracles: set[str], most: int = 60) -> Plan:
    """The plan with the fewest events for which one of these oracles still says no."""
    return shrunk(plan, lambda each: any(one.oracle in oracles for one in live(each).failures), most)
