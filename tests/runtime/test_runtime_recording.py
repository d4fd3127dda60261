"""A run recorded, cut, on a full disk; and what it showed made again, bit for bit."""

from __future__ import annotations

import json
import os
import re
import tempfile
import time
from collections.abc import Iterable
from io import FileIO
from pathlib import Path
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from runtime_builders import IDENTITY, Far, bound, flagged, scaled, signal, value_of

from hmic.cli.designs import compile_or_stop
from hmic.cli.main import main
from hmic.compile.bind import bind
from hmic.diagnostics import DesignError
from hmic.model.channels import LIVE, Channel, Kept, RingHead, Scaled
from hmic.model.expressions import Doubt
from hmic.model.terms import Memory
from hmic.runtime import recording
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Arrival, Decoder, Reading
from hmic.runtime.record_lines import Clock
from hmic.runtime.recording import Entry, Recorder, RecordLog, Showing, before
from hmic.runtime.retrace import Moment, as_seen
from hmic.runtime.runtime import Runtime
from hmic.runtime.seeking import SeekableReplay
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from tests.tools.changed import replace

A = value_of("a")
CHANNELS = [
    flagged("fault", urgency=0),
    scaled("a"),
    Channel(None, RingHead(4, 1.0)),
    *(Channel(A, Scaled(0.0, 1.0, 101), kept=Kept(4, 1.0, slot)) for slot in range(4)),
    Channel(value_of("clock.time"), Scaled(0.0, 1.0, 1440)),
]
SIGNALS = [signal("a", stale_after=700), signal("fault", kind="flag", unit=None, stale_after=3000)]
SCREENS = [BoundScreen("first", (0, 1, 7)), BoundScreen("chart", (2, 3, 4, 5, 6))]


def van() -> BoundDesign:
    return bound(SIGNALS, CHANNELS, SCREENS)


class Run:
    """A runtime and a display on a clean line, recorded."""

    def __init__(self, path: Path) -> None:
        self.recorder = Recorder(path, "made", IDENTITY)
        self.runtime = Runtime(van(), 3, VehicleTime(), witness=self.recorder)
        self.far = Far()
        self.now = 50.0

    def say(self, **values: object) -> None:
        readings = tuple(Reading(name, None, value) for name, value in values.items())  # type: ignore[arg-type]
        self.runtime.feed(Arrival(self.now - 50.0, readings), self.now)

    def to(self, moment_of: float) -> Run:
        while self.now < 50.0 + moment_of - 1e-9:
            self.now += 0.05
            self.runtime.tick(self.now)
            self.far.receive(self.runtime.outgoing(self.now), self.now)
            self.runtime.receive(self.far.session.outgoing(self.now), self.now)
            self.recorder.turn(self.now)
        return self


def moment(
    made: BoundDesign, entries: Iterable[Entry], at: float, clock: float | None = None
) -> Moment:
    return SeekableReplay(made, entries, Decoder({}), clock).at(at)


def replayed(path: Path, at: float, clock: float | None = None):  # type: ignore[no-untyped-def]
    return moment(van(), RecordLog(path).entries(), at, clock)


def test_every_moment_of_a_run_is_made_again(tmp_path: Path) -> None:
    path = tmp_path / "drive.record"
    run = Run(path)
    run.runtime.set_clock(624.0, run.now)
    shown: list[tuple[float, int | None, tuple[int, ...]]] = []
    for step in range(160):
        run.now += 0.01
        if step % 3 == 0 and not 60 < step < 90:
            run.say(a=float((step * 37) % 120), fault=step > 120)
        if step == 70:
            run.runtime.go_to("chart", run.now)
        if step == 140:
            run.runtime.go_to("first", run.now)
        run.to(run.now - 50.0 + 0.04)
        shown.append((run.runtime.table.now, run.far.screen, run.far.raw))
    run.recorder.close()
    for at, screen, raw in shown[20::7]:
        seen = replayed(path, at + 1e-6).seen
        assert isinstance(seen, Showing)
        number, theme, all_raw = as_seen(van(), seen)  # type: ignore[misc]
        assert (number, theme) == (screen, 0)
        assert tuple(all_raw[channel] for channel in SCREENS[number].channels) == raw, at
    # What was not in sight is worked out: the chart as it would have been.
    worked = replayed(path, 2.5).raw
    assert worked[2] == LIVE + 2 and worked[7] == LIVE + 624
    assert worked[3] == 0 and worked[4] >= LIVE


def test_what_another_pack_showed_is_not_passed_off_as_this_one_s(tmp_path: Path) -> None:
    path = tmp_path / "drive.record"
    Run(path).to(0.5).recorder.close()
    path.write_bytes(path.read_bytes().replace(IDENTITY.hex().encode(), b"ff" * 8))
    seen = replayed(path, 0.4).seen
    assert seen is not None and as_seen(van(), seen) is None


def test_a_display_that_heard_nothing_was_stale_all_over(tmp_path: Path) -> None:
    path = tmp_path / "drive.record"
    run = Run(path)
    run.say(a=40.0)
    run.to(0.5)
    while run.now < 53.0:
        run.now += 0.05
        run.runtime.receive(b"", run.now)
        run.runtime.outgoing(run.now)
    run.recorder.close()
    seen = replayed(path, 2.9).seen
    assert seen is not None and not seen.up
    assert as_seen(van(), seen) == (0, 0, (1, 1, 0, 0, 0, 0, 0, 1))


values = st.floats(allow_nan=False, allow_infinity=False) | st.booleans() | st.text(max_size=9)
entries = st.one_of(
    st.builds(
        lambda number, extended, data: Frame(0.0, number, extended, data),
        st.integers(0, 0x7FF),
        st.booleans(),
        st.binary(max_size=8),
    ),
    st.builds(
        lambda items: Arrival(0.0, tuple(Reading("a.b", place, item) for place, item in items)),
        st.lists(st.tuples(st.none() | st.integers(0, 9), values | st.sampled_from(list(Doubt))), max_size=4),
    ),
    st.builds(lambda minutes: Clock(0.0, float(minutes)), st.integers(0, 1439)),
)


@settings(max_examples=60)
@given(st.lists(entries, max_size=12), st.data())
def test_what_is_written_is_read_and_a_cut_costs_one_line(
    tmp_path_factory: pytest.TempPathFactory, given_entries: list[object], data: st.DataObject
) -> None:
    path = tmp_path_factory.mktemp("r") / "x.record"
    recorder = Recorder(path, "made", IDENTITY)
    recorder.link(0.0, True)
    for entry in given_entries:
        if isinstance(entry, Frame):
            recorder.arrived(Arrival(0.0, (), entry))
        elif isinstance(entry, Arrival):
            recorder.arrived(entry)
        elif isinstance(entry, Clock):
            recorder.clock(0.0, entry.minutes)
    recorder.close()
    assert list(RecordLog(path).entries()) == given_entries
    whole = path.read_bytes()
    head = whole.index(b"\n") + 1
    cut = data.draw(st.integers(head, len(whole)))
    path.write_bytes(whole[:cut])
    log = RecordLog(path)
    left = list(log.entries())
    assert left == given_entries[: len(left)] and len(left) >= whole[head:cut].count(b"\n") - 1
    assert {finding.code for finding in log.findings} <= {"R753"}


def test_a_record_turns_over_and_is_read_as_one(tmp_path: Path) -> None:
    path = tmp_path / "x.record"
    path.write_text("of an earlier run\n")
    recorder = Recorder(path, "made", bytes(8), limit=2000)
    for second in range(100):
        recorder.arrived(Arrival(float(second), (Reading("a", None, float(second)),)))
        recorder.turn(float(second))
    recorder.close()
    assert before(path).is_file() and (tmp_path / "x.record.old").read_text() == "of an earlier run\n"
    assert path.stat().st_size < 2200 and before(path).stat().st_size < 2200
    times = [entry.at for entry in RecordLog(path).entries()]
    assert times == sorted(times) and times[-1] == 99.0 and len(times) > 40


def test_a_full_disk_is_a_gap_whichever_write_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for failing in range(1, 8):
        path = tmp_path / f"{failing}.record"
        recorder = Recorder(path, "made", IDENTITY)
        count = 0

        class Full(FileIO):
            def write(self, data: object) -> int:  # type: ignore[override]
                nonlocal count
                count += 1
                if failing <= count < failing + 3:  # noqa: B023
                    super().write(bytes(data)[: len(bytes(data)) // 2])  # type: ignore[call-overload]
                    raise OSError(28, "No space left on device")
                return super().write(data)  # type: ignore[arg-type]

        monkeypatch.setattr(recording, "FileIO", Full)
        recorder.showed(0.0, "first", "day", ())
        told = []
        for second in range(60):
            recorder.arrived(Arrival(float(second), (Reading("a", None, 1.0),)))
            told += recorder.turn(float(second))
        told += recorder.close()
        monkeypatch.undo()
        assert [finding.code for finding in told] == ["R751"]
        times = [entry.at for entry in RecordLog(path).entries()]
        assert times[-1] == 59.0 and times == sorted(times) and 20 < len(times) <= 60


def test_what_is_no_record_is_told(tmp_path: Path) -> None:
    for content in ("", "{}\n", "nothing\n", '{"t":1}\n'):
        path = tmp_path / "x.record"
        path.write_text(content)
        with pytest.raises(DesignError) as raised:
            RecordLog(path)
        assert raised.value.findings[0].code == "R752"
    with pytest.raises(DesignError) as raised:
        Recorder(Path("/proc/nowhere/x.record"), "made", bytes(8))
    assert raised.value.findings[0].code == "R750"


def test_the_lines_of_the_page_are_read(tmp_path: Path) -> None:
    page = (Path(recording.__file__).parent / "RECORD.md").read_text(encoding="utf-8")
    found = re.search(r"```json\n(.*?)```", page, re.S)
    assert found is not None
    path = tmp_path / "x.record"
    path.write_text(found[1])
    log = RecordLog(path)
    kinds = [type(entry).__name__ for entry in log.entries()]
    assert kinds == ["Frame", "Arrival", "Clock", "Showing", "Showing"] and not log.findings
    assert all(json.loads(line) for line in found[1].splitlines())


def risen(entries: list[Arrival | Clock], at: float) -> list[tuple[float, int, tuple[int, ...]]]:
    causes = (value_of("fault", "flag"), value_of("hot", "flag"))
    screens = [BoundScreen("first", (0,)), BoundScreen("stop", (0,), rises=causes)]
    signals = [signal("fault", kind="flag", unit=None), signal("hot", kind="flag", unit=None)]
    made = bound(signals, [flagged("fault")], screens)
    return [(turn.at, turn.screen, turn.causes) for turn in moment(made, entries, at).sightings]


def said(at: float, name: str, value: bool | Doubt) -> Arrival:
    return Arrival(at, (Reading(name, None, value),))


def test_the_screens_in_sight_follow_from_what_came() -> None:
    entries = [said(1, "fault", True), said(2, "hot", True), said(3, "fault", False), said(4, "hot", False)]
    start = (0.0, 0, ())
    assert risen(entries, 0.9) == [start]
    assert risen(entries, 3.5) == [start, (1, 1, (0,))]
    assert risen(entries, 9) == [start, (1, 1, (0,)), (4, 0, ())]
    # What turns stale is no end of its cause.
    assert risen(entries[:1], 60) == [start, (1, 1, (0,))]


def test_what_brings_up_a_screen_by_time_alone_is_seen_at_its_time(tmp_path: Path) -> None:
    folder = tmp_path / "car"
    assert main(["new", str(folder)]) == 0
    signals, layout = folder / "signals.yaml", folder / "battery.layout"
    hot = '  motor.hot: {is: "debounce(motor.temperature > 90 °C, 1 s)"}\n'
    signals.write_text(signals.read_text().replace("signals:\n", "signals:\n" + hot, 1))
    layout.write_text(layout.read_text().replace("    plan\n", "    comes up when motor.hot\n    plan\n", 1))
    made = bind(compile_or_stop(folder))
    warm = [Arrival(at, (Reading("motor.temperature", None, now),)) for at, now in ((3.0, 20.0), (4.0, 95.0))]
    # Nothing comes between the second at which it rises and the one at which it is asked for.
    turns = moment(made, warm, 5.5).sightings
    assert [(turn.at, made.screens[turn.screen].name) for turn in turns] == [(0.0, "drive"), (5.0, "battery")]


def test_a_list_in_pages_is_at_its_first_page() -> None:
    pages = Channel(value_of("page.first.0"), Scaled(0.0, 1.0, 4))
    made = bound([signal("a")], [pages], [BoundScreen("first", (0,))])
    assert moment(made, [], 1.0).raw == (LIVE,)


def test_starts_that_fail_leave_the_last_record_alone(tmp_path: Path) -> None:
    path, old = tmp_path / "x.record", tmp_path / "x.record.old"
    first = Recorder(path, "made", IDENTITY)
    first.arrived(Arrival(1.0, (Reading("a", None, 1.0),)))
    first.close()
    kept = path.read_bytes()
    for _ in range(3):
        failed = Recorder(path, "made", IDENTITY)
        failed.clock(0.0, 600.0)
        failed.turn(0.0)
        failed.close()
        assert path.read_bytes() == kept and not old.exists()
    # A display with a wrong pack, while the bus talks.
    for _ in range(3):
        failed = Recorder(path, "made", IDENTITY)
        failed.arrived(Arrival(0.1, (Reading("a", None, 1.0),)))
        failed.link(0.2, True)
        failed.turn(0.5)
        failed.close()
        assert path.read_bytes() == kept and not old.exists()
    # One that shows something sets it aside; an empty one never takes its place.
    second = Recorder(path, "made", IDENTITY)
    second.clock(0.0, 600.0)
    second.link(0.5, True)
    second.showed(0.6, "first", "day", (3, 4, 5))
    second.close()
    assert old.read_bytes() == kept and b'"clock":600.0' in path.read_bytes()
    before(path).write_text('{"record":1,"design":"made","pack":"00"}\n{"t":9000.0,"clock":600.0}\n')
    path.write_text('{"record":1,"design":"made","pack":"00"}\n\n{"t":0.0,"clock":600.0}\n')
    third = Recorder(path, "made", IDENTITY)
    third.showed(0.6, "first", "day", (3, 4, 5))
    third.close()
    assert old.read_bytes() == kept and not before(path).exists()
    # Without a display it begins after a while, with all that came.
    fourth = Recorder(path, "made", IDENTITY)
    for second_of in range(20):
        fourth.arrived(Arrival(float(second_of), (Reading("a", None, 1.0),)))
        fourth.turn(float(second_of))
    assert b'"screen":"first"' in old.read_bytes()
    fourth.close()
    assert len(list(RecordLog(path).entries())) == 20


def test_a_record_is_a_plain_file(tmp_path: Path) -> None:
    with pytest.raises(DesignError) as raised:
        Recorder(tmp_path, "made", IDENTITY)
    assert raised.value.findings[0].code == "R750"


@pytest.mark.parametrize(
    "line",
    [
        '{"t":1e400,"clock":1}',
        '{"t":-1,"clock":1}',
        '{"t":NaN,"clock":1}',
        '{"t":true,"clock":1}',
        '{"t":%s,"clock":1}' % ("9" * 400),
        '{"t":1764076800.0,"clock":1}',
        '{"t":1,"clock":1e9}',
        '{"t":1,"set":[["a","x",1.0]]}',
        '{"t":1,"set":[["a",-1,1.0]]}',
        '{"t":1,"set":[["a",1.5,1.0]]}',
        '{"t":1,"set":[["a",null,%s]]}' % ("9" * 400),
        '{"t":1,"set":[["a",null,NaN]]}',
        '{"t":1,"set":[["a",null,{"doubt":"none"}]]}',
        '{"t":1,"set":[["a",null]]}',
        '{"t":1,"set":7}',
        '{"t":1,"set":[[["a"],null,1.0]]}',
        '{"t":1,"id":"-1","data":""}',
        '{"t":1,"id":"120","data":7}',
        '{"t":1,"id":[],"data":"00"}',
        '{"t":1,"screen":"first","theme":"day","raw":[1e400]}',
        '{"t":1,"screen":"first","theme":"day","raw":[-4]}',
        '{"t":1,"moved":{"-1":3}}',
        '{"t":1,"moved":{"9999":3}}',
        '{"t":1,"moved":[1]}',
        '{"t":1}',
    ],
)
def test_a_spoilt_line_costs_itself_alone(tmp_path: Path, line: str) -> None:
    path = tmp_path / "x.record"
    head = '{"record":1,"design":"made","pack":"00"}\n{"t":0,"screen":"first","theme":"day","raw":[3,4,5]}\n'
    path.write_text(f'{head}{line}\n{{"t":2,"set":[["a",null,1.0]]}}\n')
    log = RecordLog(path)
    assert [entry.at for entry in log.entries()] == [0.0, 2.0]
    assert [finding.code for finding in log.findings] == ["R753"]


def test_a_gap_of_days_costs_one_line(tmp_path: Path) -> None:
    path = tmp_path / "x.record"
    lines = [f'{{"t":{at},"clock":1}}' for at in (1, 300000, 300060, 300120)]
    path.write_text('{"record":1,"design":"made","pack":"00"}\n' + "\n".join(lines) + "\n")
    assert [entry.at for entry in RecordLog(path).entries()] == [1.0, 300060.0, 300120.0]


def test_a_slow_disk_does_not_hold_up_the_loop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda descriptor: (time.sleep(0.4), real(descriptor)))
    recorder = Recorder(tmp_path / "x.record", "made", IDENTITY)
    recorder.showed(0.0, "first", "day", ())
    began = time.monotonic()
    for second in range(5):
        recorder.arrived(Arrival(float(second), (Reading("a", None, 1.0),)))
        recorder.turn(float(second))
    assert time.monotonic() - began < 0.3
    recorder.close()
    assert len(list(RecordLog(tmp_path / "x.record").entries())) == 1 + 5


def test_a_disk_that_fails_afterwards_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(descriptor: int) -> None:
        raise OSError(5, "Input/output error")

    recorder = Recorder(tmp_path / "x.record", "made", IDENTITY)
    told = []
    monkeypatch.setattr(os, "fsync", refused)
    recorder.showed(0.0, "first", "day", ())
    for second in range(4):
        recorder.arrived(Arrival(float(second), (Reading("a", None, 1.0),)))
        told += recorder.turn(float(second))
        time.sleep(0.02)
    assert [finding.code for finding in told] == ["R751"]


def test_what_came_late_is_as_old_in_the_record_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "late.record"
    run = Run(path)
    run.say(fault=False)
    run.to(0.5)
    run.runtime.feed(Arrival(0.1, (Reading("a", None, 40.0),)), run.now)
    run.to(0.7)
    assert run.far.raw[1] == LIVE + 40
    run.to(0.95)
    # It was said of 0.1 s, and lives for 0.7 s.
    assert run.far.raw[1] == Doubt.STALE
    run.recorder.close()
    assert [replayed(path, at).raw[1] for at in (0.7, 0.95)] == [LIVE + 40, Doubt.STALE]


@settings(max_examples=20)
@given(st.lists(st.tuples(st.floats(0.05, 1.5), st.integers(0, 100)), min_size=3, max_size=12))
def test_a_held_peak_is_traced_as_it_was_shown(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[float, int]]
) -> None:
    peaks = [
        Channel(value_of("r"), Scaled(-100.0, 1.0, 201), peak=2.0),
        Channel(A, Scaled(0, 1, 101), peak=1.0),
    ]
    signals = [*SIGNALS, signal("r", derived=value_of("rate(a)"), low=-100.0, high=100.0)]
    made = bound(signals, peaks, [BoundScreen("first", (0, 1))])
    memory = Memory("rate(a)", "rate", A, seconds=0.4)
    made = replace(made, design=replace(made.design, memories={"rate(a)": memory}))
    path = tmp_path_factory.mktemp("p") / "x.record"
    run = Run(path)
    run.runtime = Runtime(made, 3, VehicleTime(), witness=run.recorder)
    at, shown = 0.0, []
    for wait, value in steps:
        at += wait
        run.to(at)
        run.say(a=float(value))
        run.to(at + 0.2)
        shown.append((run.runtime.table.now, run.runtime.vehicle.raw()))
    run.recorder.close()
    for moment_of, raw in shown:
        assert moment(made, RecordLog(path).entries(), moment_of).raw == raw


class FlakyDisk(FileIO):
    """A file that takes nothing while ``full``."""

    full = False

    def write(self, data: object) -> int:  # type: ignore[override]
        if FlakyDisk.full:
            raise OSError(28, "No space left on device")
        return super().write(data)  # type: ignore[arg-type]


@settings(max_examples=60)
@given(acts=st.lists(st.sampled_from(["arrives", "shown", "second", "grace", "full", "room"]), max_size=40))
def test_a_record_holds_all_but_what_a_full_disk_cost(acts: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder, mock.patch.object(recording, "FileIO", FlakyDisk):
        path = Path(folder) / "x.record"
        recorder = Recorder(path, "made", IDENTITY)
        told, sent, now, ever_full, FlakyDisk.full = [], [], 0.0, False, False
        for act in [*acts, "room"]:
            match act:
                case "arrives":
                    recorder.arrived(Arrival(now, (Reading("a", None, now),)))
                    sent.append(now)
                case "shown":
                    recorder.showed(now, "first", "day", (LIVE + int(now) % 50,))
                case "second" | "grace":
                    now += 1.0 if act == "second" else recording.GRACE
                    told += recorder.turn(now)
                case "full" | "room":
                    FlakyDisk.full = act == "full"
                    ever_full = ever_full or FlakyDisk.full
            now += 0.01
        told += recorder.close()
        written = path.is_file() and path.stat().st_size > 0
        entries = RecordLog(path).entries() if written else ()
        kept = [each.at for each in entries if isinstance(each, Arrival)]
    assert set(kept) <= set(sent) and kept == sorted(kept)
    assert ever_full or kept == sent
    assert (not told or ever_full) and {finding.code for finding in told} <= {"R751"}
    assert kept == sent or told
