"""Live CAN channels whose drivers wait, hang and stumble, over pseudo terminals and under the true clock."""

from __future__ import annotations

import argparse
import ast
import importlib.util
import os
import select
import signal as signals
import struct
import subprocess
import sys
import termios
import threading
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import can
import pytest
from can.interfaces.slcan import slcanBus
from can.interfaces.socketcan.utils import pack_filters
from cantools.j1939 import pgn_from_frame_id
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import Far, bound, design, host_for, scaled, signal

from hmic.cli import run_command as command
from hmic.link.memory import Faults, MemoryLine
from hmic.model.channels import LIVE
from hmic.runtime.adapters import Adapter
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Decoder
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.inbox import ROOM, Inbox
from hmic.runtime.listening import CLOSE_WITHIN, IN_A_ROW, Listener, State
from hmic.runtime.rarely import Rarely
from hmic.runtime.read_ahead import ReadAhead
from hmic.runtime.run import Loop
from hmic.runtime.runtime import LinkChanged, Problem, Runtime, RuntimeEvent
from hmic.runtime.sources import LiveCan
from hmic.runtime.vehicle_time import VehicleTime, host_seconds
from hmic.runtime.wanted import Wanted

DBC = """VERSION "made"
NS_ :
BS_:
BU_: Sender
BO_ 256 Drive: 8 Sender
 SG_ Speed : 0|8@1+ (1,0) [0|255] "%" Sender
"""
SIGNALS = [signal("speed", source="Drive.Speed", stale_after=500)]
TURN_LIMIT = 0.15
"""Seconds that a turn of the loop may take; a display is lost after one without a word."""


class Wire:
    """A serial adapter's end of a pseudo terminal."""

    def __init__(self) -> None:
        self._own, self._other = os.openpty()
        tty.setraw(self._own)
        tty.setraw(self._other)
        self.path = os.ttyname(self._other)
        self.said = b""
        self._own_open = True

    def put(self, data: bytes) -> None:
        os.write(self._own, data)

    @property
    def waits(self) -> bool:
        """Whether the driver has not read all."""
        return bool(select.select([self._other], [], [], 0.0)[0])

    def heard(self) -> bytes:
        """All that the driver has written so far; the system takes a moment to hand it over."""
        while select.select([self._own], [], [], 0.2)[0]:
            self.said += os.read(self._own, 4096)
        return self.said

    def pull(self) -> None:
        """The adapter is unplugged."""
        if self._own_open:
            self._own_open = False
            os.close(self._own)
            os.close(self._other)


@pytest.fixture
def wire() -> Iterator[Wire]:
    made = Wire()
    yield made
    made.pull()


def text_line(identifier: int, data: bytes) -> bytes:
    """A frame as ``slcan`` adapters write it."""
    return b"t%03X%d%s\r" % (identifier, len(data), data.hex().upper().encode())


def record(identifier: int, data: bytes, at: float = 0.0) -> bytes:
    """A frame of python-can's ``serial`` interface, by its documentation."""
    head = struct.pack("<BIBI", 0xAA, int(at * 1000), len(data), identifier)
    return head + data + b"\xbb"


@pytest.fixture
def drive(tmp_path: Path) -> tuple[BoundDesign, Decoder]:
    path = tmp_path / "made.dbc"
    path.write_text(DBC)
    screens = [BoundScreen("first", (0,), ())]
    return bound(SIGNALS, [scaled("speed")], screens), load_decoder(design(SIGNALS, path))


class Bench:
    """A loop under the true clock with a display in memory; how long its turns and its rests were."""

    def __init__(self, drive: tuple[BoundDesign, Decoder], *adapters: Adapter) -> None:
        design, decoder = drive
        vehicle_time = VehicleTime()
        self.buses = [LiveCan(adapter, decoder, vehicle_time) for adapter in adapters]
        self.line, self.far = MemoryLine(Faults(rate=11520.0), Faults(rate=11520.0)), Far()
        self.events: list[RuntimeEvent] = []
        self.shown: list[int] = []
        self.turns: list[float] = []
        self.loop = Loop(
            Runtime(design, 5, vehicle_time), lambda: self.line.near, self.buses, self.events.append
        )
        for bus in self.buses:
            bus.start()

    def run(self, seconds: float, until: Callable[[], bool] = lambda: False) -> None:
        """Turns for so long, or until something is so."""
        end = host_seconds() + seconds
        while (now := host_seconds()) < end and not until():
            self.line.advance(now)
            self.far.receive(self.line.far.read(), now)
            self.line.far.write(self.far.session.outgoing(now))
            rest = self.loop.turn(now)
            self.turns.append(host_seconds() - now)
            if self.far.raw and self.far.raw[:1] != tuple(self.shown[-1:]):
                self.shown.append(self.far.raw[0])
            # The display in memory has no descriptor to be waited on.
            self.loop.wait(min(rest, 0.002))

    @property
    def codes(self) -> list[str]:
        """The codes of what was found."""
        return [each.finding.code for each in self.events if isinstance(each, Problem)]

    @property
    def lost(self) -> bool:
        """Whether the display was ever lost, or went for a second without a word of its host."""
        return self.far.silent > 0 or LinkChanged(False) in self.events


@contextmanager
def running(drive: tuple[BoundDesign, Decoder], *adapters: Adapter) -> Iterator[Bench]:
    bench = Bench(drive, *adapters)
    try:
        yield bench
    finally:
        bench.loop.close()


@contextmanager
def feeding(put: Callable[[bytes], None], frames: Callable[[int], bytes], every: float) -> Iterator[None]:
    """Meanwhile frames are sent, one each ``every`` seconds."""
    ended = threading.Event()

    def feed() -> None:
        begun, sent = time.monotonic(), 0
        while not ended.wait(every if every >= 0.01 else 0.005):
            due = int((time.monotonic() - begun) / every)
            put(b"".join(frames(each) for each in range(sent, due)))
            sent = due

    thread = threading.Thread(target=feed, daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


@pytest.mark.parametrize(("interface", "form"), [("serial", record), ("slcan", text_line)])
def test_frames_each_25_ms_starve_no_display(
    drive: tuple[BoundDesign, Decoder], wire: Wire, interface: str, form: Callable[[int, bytes], bytes]
) -> None:
    frame = [form(0x100, bytes([at % 100, 0, 0, 0, 0, 0, 0, 0])) for at in range(100)]
    with (
        feeding(wire.put, lambda at: frame[at % 100], 0.025),
        running(drive, Adapter(wire.path, interface)) as bench,
    ):
        bench.run(5.0, lambda: bench.far.raw[:1] > (LIVE,))
        bench.shown.clear()
        bench.run(2.0)
        assert not bench.lost and max(bench.turns) < TURN_LIMIT
        assert bench.buses[0].health == "up" and len(bench.shown) > 15
        assert min(bench.shown) >= LIVE
        begun = host_seconds()
    assert host_seconds() - begun < CLOSE_WITHIN


def test_a_flood_starves_no_display(drive: tuple[BoundDesign, Decoder], wire: Wire) -> None:
    """4000 frames a second, of which one in 20 is of the design."""
    frame = [text_line(0x100 if at % 20 == 0 else 0x200 + at, bytes([at, *bytes(7)])) for at in range(100)]
    with running(drive, Adapter(wire.path, "slcan")) as bench:
        bench.run(5.0, lambda: bench.buses[0].listener.open)
        with feeding(wire.put, lambda at: frame[at % 100], 1 / 4000):
            bench.turns.clear()
            bench.run(3.0)
            assert not bench.lost and max(bench.turns) < TURN_LIMIT
            assert bench.shown[-1] >= LIVE and bench.buses[0].frames > 1000


class Port:
    """A serial port that hands over what it is given, cut as it is told; and counts how often it is asked."""

    def __init__(self, parts: list[bytes]) -> None:
        self.parts = [part for part in parts if part]
        self.asked = 0
        self.timeout = 0.001

    @property
    def in_waiting(self) -> int:
        return len(self.parts[0]) if self.parts else 0

    def read(self, size: int = 1) -> bytes:
        self.asked += 1
        taken = self.parts[0][:size] if self.parts else b""
        self.parts[:1] = [self.parts[0][size:]] if self.parts and self.parts[0][size:] else []
        return taken


def lines_of(port: Any) -> list[can.Message | str | None]:
    """All that python-can's ``slcan`` reads from a port, until there is nothing."""
    bus = slcanBus.__new__(slcanBus)
    bus._is_shutdown, bus._filters = True, None
    bus.serialPortOrig, bus._buffer, bus._queue = port, bytearray(), SimpleQueue()
    found: list[can.Message | str | None] = []
    idle = 0
    while idle < 3 or port.in_waiting:
        try:
            message = bus.recv(0.0)
        except ValueError:
            found.append("spoiled")
            continue
        idle = idle + 1 if message is None else 0
        found += [] if message is None else [f"{message.arbitration_id} {message.data.hex()}"]
    return found


@given(
    st.lists(st.sampled_from([text_line(0x1, b"\1"), text_line(0x2, bytes(8)), b"t1zz\r", b"\a", b"z\r"])),
    st.data(),
)
def test_reading_ahead_changes_nothing_but_how_often_the_port_is_asked(
    lines: list[bytes], data: st.DataObject
) -> None:
    whole = b"".join(lines)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=5)))
    parts = [whole[start:end] for start, end in pairwise([0, *cuts, len(whole)])]
    ahead = Port(parts)
    assert lines_of(ReadAhead(ahead)) == lines_of(Port([whole]))
    assert ahead.asked <= len(parts) + 3


def test_a_port_that_is_read_ahead_is_the_port_otherwise() -> None:
    port = Port([b"abc"])
    ahead = ReadAhead(port)
    assert ahead.read(1) == b"a" and ahead.in_waiting == 2
    ahead.timeout = 0.5
    assert port.timeout == ahead.timeout == 0.5
    # A spoiled line says nothing about those that follow.
    ahead.reset_input_buffer()
    assert ahead.read(9) == b"bc" and ahead.in_waiting == 0


def test_a_spoiled_line_costs_itself_alone(drive: tuple[BoundDesign, Decoder], wire: Wire) -> None:
    good = [text_line(0x100, bytes([at, *bytes(7)])) for at in range(100)]
    spoiled = [
        b"t1zz8\r",
        b"t\r",
        b"t100\r",
        b"T0000010\r",
        b"t1008001122\r",
        b"t10080011223344556\r",
        b"\xff\xfe\xf0\r",
        b"t100\xc38",
        b"x" * 3000 + b"\r",
        b"\a",
        b"\r\r",
    ]
    with running(drive, Adapter(wire.path, "slcan")) as bench:
        bench.run(5.0, lambda: bench.buses[0].listener.open)
        # What waits as it opens may have come before.
        bench.run(0.2)
        for number, line in enumerate(spoiled):
            ended = line[-1:] in b"\r\a"
            wire.put(line + (good[number + 1] if ended else b""))
            bench.run(1.0 if ended else 0.2, lambda number=number: bench.far.raw[:1] == (LIVE + number + 1,))
            if not ended:
                wire.put(good[number] + good[number + 1])
                bench.run(1.0, lambda number=number: bench.far.raw[:1] == (LIVE + number + 1,))
            assert bench.far.raw[:1] == (LIVE + number + 1,), line
        assert bench.codes == ["R720"] and bench.buses[0].health == "up"


def test_a_spoiled_record_costs_itself_alone(drive: tuple[BoundDesign, Decoder], wire: Wire) -> None:
    spoiled = [
        record(0x100, bytes(8))[:-1] + b"\x00",
        record(0x100, bytes(8))[:7],
        b"\xaa\0\0\0\0\x40",
        bytes(range(100)),
        b"\xaa",
    ]
    with running(drive, Adapter(wire.path, "serial")) as bench:
        bench.run(1.0, lambda: bench.buses[0].listener.open)
        for number, line in enumerate(spoiled):
            wire.put(line)
            bench.run(0.3)
            for _ in range(2):
                wire.put(record(0x100, bytes([number + 1, *bytes(7)]), at=number))
                bench.run(1.0, lambda number=number: bench.far.raw[:1] == (LIVE + number + 1,))
            assert bench.far.raw[:1] == (LIVE + number + 1,), line
        assert set(bench.codes) == {"R720"} and bench.buses[0].health == "up"


def test_an_adapter_plugged_in_again_leaves_the_other_bus_and_the_display_alone(
    drive: tuple[BoundDesign, Decoder], wire: Wire, tmp_path: Path
) -> None:
    """``slcan`` sleeps for two seconds as it opens."""
    port = tmp_path / "adapter"
    port.symlink_to(wire.path)
    with (
        can.Bus(channel="listening-sound", interface="virtual") as sound,
        running(drive, Adapter("listening-sound", "virtual"), Adapter(str(port), "slcan")) as bench,
    ):

        def send(data: bytes) -> None:
            sound.send(can.Message(arbitration_id=0x100, data=data, is_extended_id=False))

        with feeding(send, lambda at: bytes([at % 100]), 0.02):
            bench.run(5.0, lambda: bench.buses[1].listener.open)
            wire.pull()
            port.unlink()
            bench.run(5.0, lambda: "R710" in bench.codes)
            again = Wire()
            port.symlink_to(again.path)
            bench.shown.clear()
            with feeding(again.put, lambda at: text_line(0x200, bytes(8)), 0.05):
                bench.run(8.0, lambda: "R715" in bench.codes)
            again.pull()
        assert bench.codes[:2] == ["R710", "R715"]
        assert not bench.lost and max(bench.turns) < TURN_LIMIT
        assert min(bench.shown) >= LIVE and len(bench.shown) > 20


def given_to(
    monkeypatch: pytest.MonkeyPatch, interface: str, only_listen: bool, wanted: Wanted
) -> dict[str, Any]:
    """What an interface is opened with."""
    opened: dict[str, Any] = {}
    monkeypatch.setattr(can, "Bus", lambda **all_of_it: opened.update(all_of_it))
    Adapter("can0", interface, only_listen).open(wanted)
    assert (opened.pop("channel"), opened.pop("interface")) == ("can0", interface)
    return opened


def parameters(interface: str) -> set[str]:
    """The arguments of an interface's constructor, as python-can's sources name them."""
    spec = importlib.util.find_spec(can.interfaces.BACKENDS[interface][0])
    assert spec is not None and spec.origin is not None
    names = set()
    files = Path(spec.origin).parent.glob("*.py") if spec.submodule_search_locations else [Path(spec.origin)]
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name == "__init__":
                names |= {each.arg for each in [*node.args.args, *node.args.kwonlyargs]}
                names |= {
                    each.args[0].value
                    for each in ast.walk(node)
                    if isinstance(each, ast.Call)
                    and ast.unparse(each.func) == "kwargs.get"
                    and isinstance(each.args[0], ast.Constant)
                }
    return names


def test_each_interface_is_told_only_to_listen_by_its_own_argument(monkeypatch: pytest.MonkeyPatch) -> None:
    """Held against python-can's own sources: the arguments are there, and no interface has one unused."""
    words = {"listen_only", "monitor", "operation_mode", "driver_mode", "silent"}
    able = set()
    for interface in sorted(can.interfaces.BACKENDS):
        given = given_to(monkeypatch, interface, True, frozenset())
        assert given_to(monkeypatch, interface, False, frozenset()) == {}
        knows = parameters(interface)
        assert given.keys() <= knows and (bool(given) or not knows & words), interface
        able |= {interface} if given else set()
    assert able == {
        "cantact", "kvaser", "nixnet", "pcan", "seeedstudio", "slcan", "systec", "vector",
    }  # fmt: skip
    assert given_to(monkeypatch, "pcan", True, frozenset()) == {"state": can.BusState.PASSIVE}


@pytest.mark.parametrize(("only_listen", "command"), [(True, b"L\r"), (False, b"O\r")])
def test_slcan_opens_its_channel_to_listen(wire: Wire, only_listen: bool, command: bytes) -> None:
    """The adapter's commands: L opens it to listen only, O to take part."""
    listener = Listener(Adapter(wire.path, "slcan", only_listen), Wanted())
    listener.step()
    listener.close()
    assert wire.heard() == command + b"C\r"


@pytest.mark.parametrize(("only_listen", "mode"), [(True, 2), (False, 0)])
def test_seeedstudio_is_opened_to_listen(wire: Wire, only_listen: bool, mode: int) -> None:
    listener = Listener(Adapter(wire.path, "seeedstudio", only_listen), Wanted())
    listener.step()
    listener.close()
    assert wire.heard()[:3] == b"\xaa\x55\x12" and wire.heard()[13] == mode


@pytest.mark.parametrize("allowed", [True, False])
def test_a_run_listens_only_unless_it_may_send(
    drive: tuple[BoundDesign, Decoder], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, allowed: bool
) -> None:
    given: list[dict[str, Any]] = []
    monkeypatch.setattr(can, "Bus", lambda **all_of_it: given.append(all_of_it) or Scripted())
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    words = ["x", "--port", "x", "--can", "slcan:a@500000", "--can", "slcan:b@500000"]
    arguments = parser.parse_args([*words, *(["--allow-outputs"] if allowed else [])])
    host = host_for(design(SIGNALS, tmp_path / "made.dbc"))
    sources = command.open_sources(host, arguments, VehicleTime(), frozenset())
    for source in sources:
        source.close()
    assert len(given) == 2 and all(("listen_only" in each) is not allowed for each in given)


def test_who_cannot_be_told_to_listen_is_told_of_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(can, "Bus", Scripted().open)
    for interface, told in {"socketcan": 1, "gs_usb": 1, "serial": 1, "slcan": 0, "virtual": 0}.items():
        for only_listen in (True, False):
            listener = Listener(Adapter("can0", interface, only_listen), Wanted())
            listener.step()
            found = [*listener.take_findings(), *listener.take_findings()]
            assert [each.code for each in found] == ["R726"] * (told and only_listen), interface
            if interface == "socketcan" and only_listen:
                assert "ip link set can0 type can listen-only on" in str(found[0].remedy)
            listener.close()


def test_an_adapter_that_was_told_to_listen_is_up() -> None:
    passive = Scripted()
    passive.state = can.BusState.PASSIVE
    assert Adapter("a", "pcan", True).controller(passive) == "active"
    assert Adapter("a", "pcan", False).controller(passive) == "passive"
    assert Adapter("a", "ixxat", True).controller(passive) == "passive"
    passive.state = can.BusState.ERROR
    assert Adapter("a", "pcan", True).controller(passive) == "error"


def test_the_kernel_is_told_what_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    """By python-can's own packing of filters (struct can_filter of linux/can.h: a frame passes when its
    number and the mask's bits are alike)."""
    exact = frozenset({(0x100, False), (0x100, True), (0x1ABCDEF0, True)})
    wanted = Wanted(exact, frozenset({0xFEF1, 0xEC00}))
    given = given_to(monkeypatch, "socketcan", True, wanted)
    packed = pack_filters(given.pop("can_filters"))
    filters = list(struct.iter_unpack("=II", packed))
    extended_flag = 0x8000_0000
    groups = (0x18FEF100, 0x0CFEF1FF, 0x18FEF200, 0x19FEF100, 0x18ECFF03, 0x1CEC2711, 0x18EB2711)
    for wide in (0x100, 0x101, 0x500, 0x1ABCDEF0, 0x1ABCDEF1, *groups):
        for extended in (False, True):
            number = wide if extended else wide & 0x7FF
            said = number | extended_flag * extended
            passes = any(said & mask == identifier & mask for identifier, mask in filters)
            grouped = extended and pgn_from_frame_id(number) in (0xFEF1, 0xEC00)
            assert passes == ((number, extended) in exact or grouped) == ((number, extended) in wanted)
    assert given == {}
    for interface, many in (("slcan", 3), ("socketcan", 0), ("socketcan", 513)):
        wanted = Wanted(frozenset((at, True) for at in range(many)))
        assert given_to(monkeypatch, interface, False, wanted) == {}


class Hanging:
    """A driver that does not return, until ``let_go``."""

    state = can.BusState.ACTIVE

    def __init__(self, where: str) -> None:
        self.where = where
        self.let_go = threading.Event()

    def open(self, **given: Any) -> Hanging:
        self._hang("open")
        return self

    def recv(self, seconds: float) -> None:
        self._hang("recv")
        time.sleep(seconds)

    def send(self, message: Any, timeout: float) -> None:
        self._hang("send")

    def shutdown(self) -> None:
        self._hang("shutdown")

    def _hang(self, place: str) -> None:
        if place == self.where:
            self.let_go.wait(30.0)


@pytest.fixture
def hanging(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Hanging]:
    driver = Hanging(request.param)
    monkeypatch.setattr(can, "Bus", driver.open)
    yield driver
    driver.let_go.set()


@pytest.mark.parametrize("hanging", ["open"], indirect=True)
def test_a_driver_that_hangs_while_it_opens_holds_up_nothing(
    drive: tuple[BoundDesign, Decoder], hanging: Hanging
) -> None:
    with running(drive, Adapter("can0", "made")) as bench:
        bench.buses[0].await_open(host_seconds() + 0.05)
        bench.run(1.5)
        assert bench.codes == ["R724"] and bench.buses[0].health == "opening"
        assert not bench.lost and max(bench.turns) < TURN_LIMIT
        begun = host_seconds()
    assert host_seconds() - begun < CLOSE_WITHIN + 0.5


@pytest.mark.parametrize("hanging", ["recv", "shutdown", "send"], indirect=True)
def test_a_driver_that_hangs_holds_up_nothing(drive: tuple[BoundDesign, Decoder], hanging: Hanging) -> None:
    with running(drive, Adapter("can0", "made")) as bench:
        bench.run(1.5)
        listener = bench.buses[0].listener
        assert not bench.lost and max(bench.turns) < TURN_LIMIT and listener.open
        assert bench.buses[0].health == ("its driver hangs" if hanging.where == "recv" else "up")
        begun = host_seconds()
        said = [listener.send(can.Message()) for _ in range(2)]
        if hanging.where == "send":
            assert said == [
                "CAN channel 'can0' does not take it",
                "CAN channel 'can0' has not taken the frame before",
            ]
        else:
            assert said == [None, None]
        assert host_seconds() - begun < 0.5
        begun = host_seconds()
    assert host_seconds() - begun < CLOSE_WITHIN + 0.5


class Scripted:
    """A driver that does what it is told, read after read, and then finds nothing."""

    def __init__(self, *does: Any) -> None:
        self.state = can.BusState.ACTIVE
        self.does = list(does)
        self.opened = 0

    def open(self, **given: Any) -> Scripted:
        self.opened += 1
        return self

    def recv(self, seconds: float) -> Any:
        what = self.does.pop(0) if self.does else None
        if isinstance(what, Exception):
            raise what
        return what

    def shutdown(self) -> None:
        pass


def stepped(monkeypatch: pytest.MonkeyPatch, *does: Any) -> tuple[Listener, Scripted]:
    """A listener after the reads that do so, and some that find nothing."""
    driver = Scripted(*does)
    monkeypatch.setattr(can, "Bus", driver.open)
    listener = Listener(Adapter("can0", "made"), Wanted(frozenset({(1, False)})), lambda: 1.0)
    for _ in range(len(does) + 3):
        listener.step()
    return listener, driver


def message(identifier: int = 1, data: bytes = b"\1", **given: Any) -> can.Message:
    return can.Message(arbitration_id=identifier, data=data, is_extended_id=False, **given)


GONE = can.CanOperationError("could not read")
GONE.__cause__ = OSError(5, "Input/output error")


@pytest.mark.parametrize("fault", [OSError(19, "No such device"), GONE])
def test_what_the_system_says_is_gone_is_opened_again(
    monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    """A socket says so once, and then only that there is nothing."""
    listener, driver = stepped(monkeypatch, message(), fault)
    assert listener.state is State.DOWN and driver.opened == 1
    assert [finding.code for finding in listener.take_findings()] == ["R710"]
    listener.close()


def test_what_fails_again_and_again_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    spoiled = [ValueError("no number"), None] * (IN_A_ROW - 1)
    listener, driver = stepped(monkeypatch, *spoiled, message(), *spoiled)
    assert listener.state is State.UP and driver.opened == 1
    listener.close()
    listener, driver = stepped(monkeypatch, *spoiled, ValueError("no number"))
    assert listener.state is State.DOWN
    listener.close()


def test_only_frames_of_the_design_are_handed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    frames = [
        message(1),
        message(2),
        message(1, is_remote_frame=True, data=b""),
        message(1, is_error_frame=True),
        can.Message(arbitration_id=1, is_extended_id=True),
    ]
    listener, _ = stepped(monkeypatch, *frames)
    assert [each for _, each in listener.take(9)] == frames[:1] and listener.frames == 3
    listener.close()


@pytest.mark.parametrize("heard", [True, False])
def test_a_channel_that_brings_nothing_is_told_of_once(monkeypatch: pytest.MonkeyPatch, heard: bool) -> None:
    now = [0.0]
    monkeypatch.setattr(can, "Bus", Scripted(*[message()] * heard).open)
    listener = Listener(Adapter("can0", "made"), Wanted(), lambda: now[0])
    told = []
    for turn in range(100):
        now[0] = turn / 4
        listener.step()
        told += [(now[0], finding.code) for finding in listener.take_findings()]
    assert [code for _, code in told] == ["R727"] * (not heard)
    assert all(5.0 <= at <= 6.5 for at, _ in told)
    listener.close()


def test_a_frame_that_contradicts_itself_is_spoiled(monkeypatch: pytest.MonkeyPatch) -> None:
    listener, _ = stepped(monkeypatch, message(data=b"\1\2", dlc=8), message(data=b"\3"))
    assert [bytes(each.data) for _, each in listener.take(9)] == [b"\3"]
    (finding,) = listener.take_findings()
    assert finding.code == "R720" and "says 8 bytes and has 2" in finding.message
    listener.close()


def test_when_more_comes_than_can_be_used_the_oldest_goes(monkeypatch: pytest.MonkeyPatch) -> None:
    frames = [message(data=at.to_bytes(4, "little")) for at in range(ROOM + 30)]
    listener, _ = stepped(monkeypatch, *frames)
    (finding,) = listener.take_findings()
    assert finding.code == "R725" and finding.message.startswith("30 frames")
    taken = [each for _, each in listener.take(2 * ROOM)]
    assert taken == frames[30:] and not listener.take(1)
    listener.close()


def test_an_inbox_can_be_waited_on_while_it_holds_something() -> None:
    def ready() -> bool:
        number = inbox.descriptor()
        assert number is not None
        return bool(select.select([number], [], [], 0.0)[0])

    inbox: Inbox[int] = Inbox(3)
    assert not ready() and inbox.take(1) == []
    for item in range(5):
        inbox.put(item)
    assert ready() and inbox.take(2) == [2, 3] and ready() and inbox.take(2) == [4] and not ready()
    inbox.put(9)
    assert ready() and inbox.lost == 2
    inbox.close()
    inbox.put(10)
    assert inbox.descriptor() is None and inbox.take(9) == [9, 10]


def test_what_is_often_is_told_rarely() -> None:
    rarely = Rarely()
    assert [total for total in range(1, 20_000) if rarely.due(total)] == [1, 10, 100, 1000, 10_000]
    assert rarely.total == 19_999


def test_what_waited_while_the_process_stood_still_is_as_old_as_that(
    wire: Wire, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``serial`` never says that nothing is left: it waits for the next frame instead, and skips bytes that
    are none."""
    now = [0.0]
    listener = Listener(Adapter(wire.path, "serial"), Wanted(frozenset({(1, False)})), lambda: now[0])
    for _ in range(3):
        listener.step()

    def ages(at: float, *frames: bytes) -> list[float]:
        now[0] = at
        wire.put(b"".join(frames))
        listener.step()
        while not listener.idle or wire.waits:
            listener.step()
        return [round(at - came, 6) for came, _ in listener.take(99)]

    one = record(1, b"\0")
    for turn in range(1, 9):
        assert ages(turn / 4, one) == [0.0]
    assert ages(8.0, one, b"xxx", one, one) == [6.0, 6.0, 6.0]
    assert ages(8.1, one) == [0.0]
    listener.close()
    termios.tcflush(wire._own, termios.TCIOFLUSH)


CHILD = """
import sys, time
from hmic.runtime.adapters import Adapter
from hmic.runtime.vehicle_time import host_seconds
from hmic.runtime.listening import Listener
from hmic.runtime.wanted import Wanted
listener = Listener(Adapter(sys.argv[1], sys.argv[2]), Wanted(frozenset({(1, False)})))
listener.start()
while True:
    for came, message in listener.take(1000):
        print(message.data[0], came, flush=True)
    time.sleep(0.005)
"""


@pytest.mark.parametrize(("interface", "form"), [("serial", record), ("slcan", text_line)])
def test_a_process_that_was_stopped_reads_nothing_as_new(
    wire: Wire, interface: str, form: Callable[[int, bytes], bytes]
) -> None:
    """Frames come each 5 ms; the process is stopped while the last of them come, and for a second more."""
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, wire.path, interface], stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        try:
            with feeding(wire.put, lambda at: form(1, b"\0"), 0.005):
                child.stdout.readline()
                time.sleep(0.5)
                child.send_signal(signals.SIGSTOP)
                stopped = host_seconds()
                time.sleep(0.5)
            time.sleep(1.0)
            child.send_signal(signals.SIGCONT)
            time.sleep(0.7)
            resumed = host_seconds()
            wire.put(form(1, b"\1"))
            said = []
            while not said or said[-1][0] != "1":
                said.append(child.stdout.readline().split())
        finally:
            child.kill()
    *before, last = [float(came) for _, came in said]
    assert len(before) > 100 and max(before) < stopped + 0.1
    assert resumed - 0.1 < last
