"""Shows a vehicle's signals on a display: live from CAN channels, OBD and pipes, from a log, or simulated.

A value that stops arriving is shown as stale. Nothing is sent to the vehicle unless the design declares
outputs (or values asked for by OBD) and --allow-outputs is given.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from errno import EIO
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError, Finding, Severity, as_text, error, warning
from hmic.foreign_text import drawn_on, encodable, visible

if TYPE_CHECKING:
    from hmic.link.any_link import Link
    from hmic.model.design import Design
    from hmic.runtime.binding import BoundDesign
    from hmic.runtime.host_file import Host
    from hmic.runtime.requests import RequestMade
    from hmic.runtime.run import Attendant, Status, Summary
    from hmic.runtime.runtime import Runtime, RuntimeEvent
    from hmic.runtime.sources import Frames, LiveCan, Source
    from hmic.runtime.vehicle_time import VehicleTime
    from hmic.runtime.watching import Watch

EPILOG = """\
examples:
  hmic run layouts/dunlin --port /dev/ttyUSB0 --can can0
  hmic run layouts/dunlin --port /dev/ttyUSB0 --can can0 --pipe /run/van/pipe --record van.record
  hmic run layouts/dunlin --port /dev/pts/3 --replay layouts/dunlin/logs/ten_minutes.blf --speed 10
  hmic run van --port /dev/ttyUSB0 --can car=can0 --can drive=slcan:/dev/ttyACM0@500000
  hmic run layouts/dunlin --port /dev/pts/3 --simulate --allow-outputs --watch
  hmic run van.host --port /dev/ttyUSB0 --can can0

Channels and logs, the pipe's lines, the record and a service for systemd are described in CHANNELS.md,
PIPE.md, RECORD.md and SERVICE.md in the folder hmic/runtime. A host file starts at once (hmic bind).
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml, or a host file of hmic bind")
    parser.add_argument("--port", required=True, help="the display's serial port, or a pyserial URL")
    parser.add_argument("--baud", type=int, help="line rate in Bd (default: the design's)")
    parser.add_argument(
        "--push", action="store_true", help="first send the pack to the display, where it holds another"
    )
    parser.add_argument("--theme", metavar="T", help="the theme to show (default: as themes.yaml chooses)")
    sources = parser.add_argument_group("where values come from")
    sources.add_argument(
        "--can",
        metavar="[BUS=]CHANNEL",
        action="append",
        default=[],
        help="listen on a CAN channel, such as can0, drive=can1 or car=slcan:/dev/ttyACM0@500000; once a bus",
    )
    sources.add_argument("--obd", action="store_true", help="ask controllers for the design's values")
    sources.add_argument(
        "--pipe", metavar="FILE", action="append", default=[], help="lines of JSON; - is standard input"
    )
    sources.add_argument(
        "--replay",
        metavar="[BUS=]LOG[#CHANNEL]",
        action="append",
        default=[],
        help="play a log of frames, of any usual kind, once a bus; or a record",
    )
    sources.add_argument("--repeat", action="store_true", help="play the log again and again")
    sources.add_argument(
        "--simulate", action="store_true", help="make values up within their ranges, for the bench"
    )
    sources.add_argument(
        "--speed", type=_speed, default=1.0, metavar="N", help="play or simulate N times as fast"
    )
    asking = parser.add_argument_group("what may be asked of the vehicle")
    asking.add_argument(
        "--allow-outputs",
        action="store_true",
        help="let touches send what the design declares (without it CAN adapters are told only to listen)",
    )
    asking.add_argument("--pipe-out", metavar="FILE", help="write requests of `to: pipe` here; - is stdout")
    keeping = parser.add_argument_group("what is kept and told")
    keeping.add_argument("--record", type=Path, metavar="FILE", help="record what came and what was shown")
    keeping.add_argument(
        "--record-limit", type=_megabytes, default=64.0, metavar="MB", help="size of a record (default 64)"
    )
    keeping.add_argument("--state", type=Path, metavar="FILE", help="where integrals outlive a loss of power")
    keeping.add_argument(
        "--log", type=Path, metavar="FILE", help="what happened, a line each; rotates at 1 MB"
    )
    keeping.add_argument("--watch", action="store_true", help="a live table of all signals in the terminal")


def run(arguments: argparse.Namespace) -> int:
    """Runs until the log ends or Ctrl-C; 1 if something was found wrong on the way, or no display ever
    answered."""
    from hmic.link.half_duplex import HalfDuplexHost
    from hmic.link.serial_port import open_port
    from hmic.runtime.encoding import encoder_of
    from hmic.runtime.ending import Ending
    from hmic.runtime.recording import Recorder
    from hmic.runtime.run import local_minutes
    from hmic.runtime.run import run as run_loop
    from hmic.runtime.runtime import Runtime
    from hmic.runtime.vehicle_time import VehicleTime

    _check(arguments)
    host = named_host(arguments.design)
    bound = host.bound
    design = bound.design
    baud = arguments.baud or design.panel.baud
    theme = _theme(arguments.theme, [each.name for each in design.themes])

    def opened() -> Link:
        line = open_port(arguments.port, baud)
        return HalfDuplexHost(line, baud) if design.panel.half_duplex else line

    if arguments.push:
        _push(host, opened, baud)
    vehicle_time = VehicleTime(arguments.speed)
    sources = open_sources(host, arguments, vehicle_time, _rising(bound))
    on_bus = arguments.allow_outputs and (arguments.can or arguments.simulate)
    recorder = None
    if arguments.record is not None:
        limit = int(arguments.record_limit * (1 << 20))
        recorder = Recorder(arguments.record, design.name, bound.identity, limit)
    runtime = Runtime(
        bound,
        int.from_bytes(os.urandom(4), "little"),
        vehicle_time,
        theme=theme,
        outputs_allowed=arguments.allow_outputs,
        encoder=encoder_of(host.sent) if on_bus else None,
        witness=recorder,
        baud=baud,
    )
    beside = _Beside(bound, runtime, sources, arguments)
    attendants = [*beside.attendants, *([recorder] if recorder is not None else [])]

    with Ending() as ending:
        summary = run_loop(
            runtime,
            opened,
            sources,
            on_event=beside.event,
            on_status=beside.status,
            await_display=bool(arguments.replay),
            time_of_day=local_minutes,
            send=_sender(sources, arguments) if arguments.allow_outputs else None,
            attendants=attendants,
            asked_to_end=lambda: ending.asked,
        )
        beside.end(summary)
    return (
        1
        if not summary.answered or any(finding.severity is Severity.ERROR for finding in summary.findings)
        else 0
    )


def named_host(path: Path) -> Host:
    """All that a run needs: what a host file holds, or what a design's folder compiles to. Raises
    ``DesignError``."""
    from hmic.plain_files import is_plain

    if is_plain(path):
        from hmic.cli.writing import read_whole
        from hmic.runtime.host_file import read

        return read(read_whole(path, "the host file"), path.name)
    from hmic.cli.designs import compile_or_stop
    from hmic.compile.bind import host_of

    return host_of(compile_or_stop(path))


def _push(host: Host, opened: Callable[[], Link], baud: int) -> None:
    """Has the display hold the run's own pack. One that does not answer is waited for by the run."""
    from hmic.cli.push_command import summed_up
    from hmic.link.half_duplex import SHARE
    from hmic.link.push import push
    from hmic.runtime.runtime import panel_mismatch

    panel = host.bound.design.panel
    share = SHARE if panel.half_duplex else 1.0
    try:
        pushed = push(opened, host.pack, baud, lambda facts: panel_mismatch(panel, facts), share=share)
    except DesignError as failure:
        if failure.findings[0].code != "W650":
            raise
        print(as_text(failure.findings, {}), end="", file=sys.stderr)
    else:
        print(summed_up(pushed, len(host.pack)), file=sys.stderr)


def _check(arguments: argparse.Namespace) -> None:
    chosen = [
        name
        for name, given in (
            ("--replay", arguments.replay),
            ("--can", arguments.can),
            ("--simulate", arguments.simulate),
        )
        if given
    ]
    findings: list[Finding] = []
    if len(chosen) > 1:
        message = f"{' and '.join(chosen)} exclude each other"
        findings.append(error("U930", message, None, "give one of them"))
    if arguments.obd and not (arguments.can and arguments.allow_outputs):
        remedy = "give --can CHANNEL and --allow-outputs too: asking sends frames onto the bus"
        findings.append(error("U934", "--obd has no bus that it may ask on", None, remedy))
    if arguments.speed != 1 and not (arguments.replay or arguments.simulate):
        message = "--speed is for a replay or a simulation; a vehicle keeps its own time"
        findings.append(error("U935", message, None, "leave it out"))
    if arguments.repeat and not arguments.replay:
        message = "--repeat has no log to play again"
        findings.append(error("U936", message, None, "give --replay LOG too"))
    if findings:
        raise DesignError(findings)


def open_sources(
    host: Host, arguments: argparse.Namespace, vehicle_time: VehicleTime, quiet: frozenset[str]
) -> list[Source]:
    """The sources that the command line names; none shows a dashboard of unseen values. ``quiet`` are
    flags that a simulation leaves off."""
    from hmic.runtime.answering import overhearing
    from hmic.runtime.decoding import decoder_of
    from hmic.runtime.pipe import Pipe
    from hmic.runtime.simulator import Simulator
    from hmic.runtime.sources import Replay

    design = host.bound.design
    sources: list[Source] = []
    if arguments.replay:
        decoder = decoder_of(host.received, overhearing(design))
        sources.append(Replay(_log(design, arguments), decoder, vehicle_time))
    if arguments.simulate:
        sources.append(Simulator(design.signals, vehicle_time, quiet))
    sources += [Pipe(path, design.signals, vehicle_time) for path in arguments.pipe]
    return [*_open_buses(host, arguments, vehicle_time), *sources]


def _open_buses(host: Host, arguments: argparse.Namespace, vehicle_time: VehicleTime) -> list[LiveCan]:
    from hmic.runtime.adapter_form import adapter_of
    from hmic.runtime.decoding import decoder_of
    from hmic.runtime.listening import OPEN_WITHIN
    from hmic.runtime.obd import Asker
    from hmic.runtime.sources import LiveCan
    from hmic.runtime.vehicle_time import host_seconds
    from hmic.runtime.wiring import wires

    if not arguments.can:
        return []
    # One for all channels: it sees when a message comes from two of them.
    design, decoder = host.bound.design, decoder_of(host.received)
    buses: list[LiveCan] = []
    for wire in wires(design, arguments.can, "--can"):
        name = f"{wire.bus}={wire.what}" if wire.bus else wire.what
        adapter = adapter_of(wire.what, not arguments.allow_outputs, name)
        first = all(bus.bus != wire.bus for bus in buses)
        asker = Asker(design.signals, wire.bus) if arguments.obd and first else None
        buses.append(LiveCan(adapter, decoder, vehicle_time, asker=asker, bus=wire.bus))
    for bus in buses:
        bus.start()
    until = host_seconds() + OPEN_WITHIN
    try:
        for bus in buses:
            bus.await_open(until)
    except DesignError:
        for bus in buses:
            bus.close()
        raise
    return buses


def _log(design: Design, arguments: argparse.Namespace) -> Frames:
    from hmic.runtime.replays import Repeated, open_replay

    def opened() -> Frames:
        return open_replay(design, arguments.replay)

    return Repeated(opened) if arguments.repeat else opened()


def _rising(bound: BoundDesign) -> frozenset[str]:
    """The signals that bring up a screen by themselves."""
    return frozenset().union(*(cause.signals for screen in bound.screens for cause in screen.rises))


def _sender(sources: list[Source], arguments: argparse.Namespace) -> Callable[[RequestMade], str | None]:
    """Where requests go: the bus of their message, the pipe, or the simulator."""
    from hmic.runtime.pipe import PipeOut
    from hmic.runtime.simulator import Simulator
    from hmic.runtime.sources import LiveCan

    buses = {source.bus: source for source in reversed(sources) if isinstance(source, LiveCan)}
    benches = [source for source in sources if isinstance(source, Simulator)]
    out = PipeOut(arguments.pipe_out) if arguments.pipe_out else None

    def send(request: RequestMade) -> str | None:
        if benches:
            benches[0].ask(request.name, request.value)
            return None
        if request.frame is not None:
            bus = buses.get(request.frame.bus)
            return bus.send(request.frame) if bus is not None else "there is no bus to send it on"
        return out.send(request.name, request.value) if out is not None else "give --pipe-out FILE for it"

    return send


class _Beside:
    """What goes on beside the display: the status line or the live table, the log, the kept sums."""

    def __init__(
        self, bound: BoundDesign, runtime: Runtime, sources: list[Source], arguments: argparse.Namespace
    ) -> None:
        from hmic.runtime.service import Watchdog

        self._line = StatusLine()
        self._watch: Watch | None = None
        self._log = _log_to(arguments.log)
        self.attendants: list[Attendant] = [Watchdog(os.environ)]
        self._keep_sums(bound.design, runtime, arguments)
        if arguments.watch:
            self._open_watch(bound, runtime, sources)
        self._log(f"start {bound.design.name}, pack {bound.identity.hex()}")

    def _open_watch(self, bound: BoundDesign, runtime: Runtime, sources: list[Source]) -> None:
        from hmic.runtime.watching import Watch

        def write(text: str) -> None:
            terminal = drawn_on(sys.stdout)
            try:
                terminal.write(encodable(text, terminal))
                terminal.flush()
            except OSError as fault:
                # A terminal that is gone ends nothing; a closed pipe does.
                if fault.errno != EIO:
                    raise

        def size() -> tuple[int, int]:
            found = shutil.get_terminal_size((160, 1000))
            return found.columns, found.lines

        plain = not sys.stdout.isatty()
        self._watch = Watch(bound, runtime.table, sources, write=write, size=size, plain=plain)
        self.attendants.append(self._watch)

    def _keep_sums(self, design: Design, runtime: Runtime, arguments: argparse.Namespace) -> None:
        from hmic.runtime.holding import HeldByAnother, Hold
        from hmic.runtime.keeping import Keeper, load_sums

        made_up = arguments.replay or arguments.simulate
        path: Path | None = arguments.state
        if path is None and not made_up:
            path = _state_folder() / f"{_plain_name(design.name)}.sums"
        if path is None or not runtime.table.sums():
            return
        hold = None
        try:
            # A place where nothing can be written is told when the sums are.
            with suppress(OSError):
                path.parent.mkdir(parents=True, exist_ok=True)
                hold = Hold(path)
        except HeldByAnother:
            message = f"the sums in '{path}' are kept by another run"
            remedy = "end that run, or name another place with --state; this run's begin at 0 and are lost"
            self._say(as_text([warning("R759", message, None, remedy)], {}))
            return
        sums, findings = load_sums(path)
        for finding in [*findings, *runtime.table.restore(sums)]:
            self._say(as_text([finding], {}))
        self.attendants.append(Keeper(path, runtime.table.sums, hold))

    def status(self, status: Status) -> None:
        """Once a second."""
        if self._watch is None:
            self._line.status(status)

    def event(self, event: RuntimeEvent) -> None:
        """Something to tell at once."""
        from hmic.runtime.telling import told

        text = told(event)
        if text is not None:
            self._log(text)
            self._say(text)

    def end(self, summary: Summary) -> None:
        """What the run came to."""
        self._line.end()
        text = summed_up(summary)
        if summary.counts:
            text += "; found " + ", ".join(f"{code} ({count})" for code, count in summary.counts.items())
        self._log("end: " + text)
        print(text)

    def _say(self, text: str) -> None:
        if self._watch is not None:
            self._watch.note(text)
        else:
            self._line.say(text)


def _log_to(path: Path | None) -> Callable[[str], None]:
    if path is None:
        return lambda line: None
    import time

    from hmic.runtime.service import open_log

    try:
        write = open_log(path, lambda: time.strftime("%Y-%m-%dT%H:%M:%S%z"))
    except OSError as fault:
        message = f"the log {path} cannot be written: {fault.strerror or fault}"
        raise DesignError([error("U910", message, None, "choose a place you may write to")]) from None
    return lambda line: write(visible(line.replace("\n", " | ")))


def _state_folder() -> Path:
    base = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if base:
        return Path(base)
    home = os.environ.get("XDG_STATE_HOME")
    return (Path(home) if home else Path.home() / ".local" / "state") / "hmic"


def _plain_name(name: str) -> str:
    return "".join(letter if letter.isalnum() else "-" for letter in name.lower()) or "design"


def summed_up(summary: Summary) -> str:
    """What a run did, in one line."""
    return f"{summary.frames} frames in, {summary.updates} updates and {summary.bytes_out} bytes out"


class StatusLine:
    """Rates on one line of a terminal; events above it."""

    def __init__(self) -> None:
        self._open = False

    def status(self, status: Status) -> None:
        """Once a second."""
        if not sys.stderr.isatty():
            return
        text = (
            f"{visible(status.screen):<12} {status.frames:6.0f} frames/s in {status.updates:5.0f} updates/s "
            f"{status.bytes_out:6.0f} bytes/s out  display {status.link:<8} {status.stale} stale "
        )
        self._put("\r" + text)
        self._open = True

    def event(self, event: RuntimeEvent) -> None:
        """Something to tell at once."""
        from hmic.runtime.telling import told

        text = told(event)
        if text is not None:
            self.say(text)

    def say(self, text: str) -> None:
        """A line of its own."""
        self.end()
        self._put(visible(text, kept="\n\t") + "\n")

    def end(self) -> None:
        """Leaves the status line."""
        if self._open:
            self._put("\n")
            self._open = False

    def _put(self, text: str) -> None:
        # A terminal that is gone must not end a run that was told to outlive it.
        with suppress(OSError, ValueError):
            terminal = drawn_on(sys.stderr)
            terminal.write(encodable(text, terminal))
            terminal.flush()


def _speed(text: str) -> float:
    value = float(text)
    if not 0 < value <= 1e6:
        raise argparse.ArgumentTypeError("must be above 0")
    return value


def _megabytes(text: str) -> float:
    value = float(text)
    if not 0.01 <= value <= 1e6:
        raise argparse.ArgumentTypeError("must be at least 0.01")
    return value


def _theme(wanted: str | None, names: list[str]) -> int | None:
    from hmic.diagnostics import did_you_mean

    if wanted is None:
        return None
    if wanted not in names:
        remedy = did_you_mean(wanted, names, "themes")
        raise DesignError([error("U920", f"the design has no theme '{wanted}'", None, remedy)])
    return names.index(wanted)
