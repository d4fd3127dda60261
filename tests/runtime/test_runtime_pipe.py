"""Lines of JSON from other programs, however they come, and requests to them."""

from __future__ import annotations

import json
import os
import re
import select
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import signal, total_of

from hmic.diagnostics import DesignError
from hmic.model.expressions import Doubt
from hmic.runtime import pipe as pipe_module
from hmic.runtime.decoding import Reading
from hmic.runtime.pipe import LONGEST_LINE, Lines, Pipe, PipeOut, read_line
from hmic.runtime.service import open_log
from hmic.runtime.sources import LIMIT
from hmic.runtime.vehicle_time import VehicleTime

SIGNALS = {
    definition.name: definition
    for definition in (
        signal("tank.water"),
        signal("house.heater", kind="flag", unit=None),
        signal("valve.state", kind="word", unit=None, words={0: "Apart", 1: "Joined"}),
        signal("media.titles", kind="text", unit=None, count=3),
        signal("pack.cells", count=4),
        signal("x.sum", derived=total_of("tank.water")),
    )
}


def readings(**said: object) -> list[Reading] | str:
    line = json.dumps({name.replace("_", ".", 1): value for name, value in said.items()}).encode()
    result = read_line(line, SIGNALS)
    return result if isinstance(result, str) else result[1]


def test_values_of_every_kind_and_none() -> None:
    assert readings(tank_water=45, house_heater=True, valve_state="Joined") == [
        Reading("tank.water", None, 45.0),
        Reading("house.heater", None, True),
        Reading("valve.state", None, "Joined"),
    ]
    assert readings(media_titles=["Low tide", "Night\nferry"]) == [
        Reading("media.titles", 0, "Low tide"),
        Reading("media.titles", 1, "Night ferry"),
        Reading("media.titles", 2, Doubt.UNSEEN),
    ]
    assert read_line(b'{"t": 3, "pack.cells[4]": 3.5}', SIGNALS) == (3.0, [Reading("pack.cells", 3, 3.5)])
    assert readings(tank_water=None) == [Reading("tank.water", None, Doubt.UNSEEN)]
    odd = readings(tank_water="45", house_heater=1, valve_state="Open")
    assert isinstance(odd, list) and {reading.value for reading in odd} == {Doubt.OUT_OF_RANGE}


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"tank.water=3", "no JSON"),
        (b"[1]", "no object"),
        (b'{"tank.watr": 3}', "did you mean 'tank.water'"),
        (b'{"x.sum": 3}', "no signal 'x.sum' to set"),
        (b'{"tank.water[1]": 3}', "single value"),
        (b'{"pack.cells[5]": 3}', "4 elements"),
        (b'{"pack.cells": 3}', "list of at most 4"),
        (b'{"t": true}', "no number of seconds"),
        (b'{"t": NaN}', "no number of seconds"),
        (b'{"t": %s}' % (b"9" * 400), "no number of seconds"),
        (b'{"tank.\\ud800": 1}', "no signal"),
    ],
)
def test_lines_that_cannot_be_used(line: bytes, problem: str) -> None:
    assert problem in str(read_line(line, SIGNALS))


@given(st.lists(st.binary(max_size=40).map(lambda data: data.replace(b"\n", b" ")), max_size=10), st.data())
def test_lines_do_not_depend_on_how_the_bytes_were_cut(written: list[bytes], data: st.DataObject) -> None:
    whole = b"".join(line + b"\n" for line in written)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=8)))
    lines, found, start = Lines(), [], 0
    for cut in [*cuts, len(whole)]:
        found += lines.feed(whole[start:cut])
        start = cut
    assert found == [line for line in written if line.strip()] and lines.rest() == []


def test_a_line_without_end_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = Lines()
    for _ in range(2 * LONGEST_LINE // 1000):
        assert lines.feed(b"x" * 1000) == []
        assert len(lines._held) <= LONGEST_LINE
    assert lines.feed(b"tail\n{}\n") == [b"{}"] and lines.dropped == 1


def piped(tmp_path: Path) -> tuple[Pipe, int]:
    path = tmp_path / "fifo"
    os.mkfifo(path)
    source = Pipe(str(path), SIGNALS, VehicleTime())
    source.due(0.0)
    return source, os.open(path, os.O_WRONLY)


def given_by(source: Pipe, now: float) -> list[object]:
    return [reading.value for arrival in source.due(now) for reading in arrival.readings]


def test_a_name_with_half_a_letter_is_told_in_letters_that_a_file_can_hold(tmp_path: Path) -> None:
    source, writer = piped(tmp_path)
    os.write(writer, b'{"tank.\\ud800": 1}\n{"media.titles[1]": "a\\udfffb"}\n')
    assert given_by(source, 1.0) == ["a b"]
    (finding,) = source.take_findings()
    log = tmp_path / "run.log"
    open_log(log, lambda: "now")(finding.message)
    assert "there is no signal 'tank. '" in log.read_text(encoding="utf-8")
    open_log(log, lambda: "now")("any other \ud800")
    assert "any other \\ud800" in log.read_text(encoding="utf-8")
    source.close()


def test_lines_that_waited_are_as_old_as_a_standstill_may_have_made_them(tmp_path: Path) -> None:
    source, writer = piped(tmp_path)
    for turn in range(1, 5):
        os.write(writer, b'{"tank.water": 1}\n')
        assert [arrival.at for arrival in source.due(turn / 4)] == [turn / 4]
    os.write(writer, b'{"tank.water": 2}\n' * (LIMIT + 2) + b'{"t": 4, "tank.water": 3}\n')
    # Stopped from 1 s to 7 s; what one turn does not take stays as old.
    assert [arrival.at for arrival in source.due(7.0)] == [4.0] + [1.0] * (LIMIT - 1)
    assert [arrival.at for arrival in source.due(7.01)] == [1.0] * 3
    os.write(writer, b'{"tank.water": 4}\n')
    assert [arrival.at for arrival in source.due(7.02)] == [7.02]
    os.close(writer)
    source.close()


def test_a_plain_file_has_not_waited(tmp_path: Path) -> None:
    path = tmp_path / "values"
    path.write_bytes(b'{"tank.water": 1}\n' * 3)
    source = Pipe(str(path), SIGNALS, VehicleTime())
    source.due(0.0)
    path.open("ab").write(b'{"tank.water": 2}\n')
    assert all(arrival.at == 9.0 for arrival in source.due(9.0))
    source.close()


def test_a_time_of_another_clock_holds_up_nothing(tmp_path: Path) -> None:
    source, writer = piped(tmp_path)
    os.write(writer, b'{"t": 1764076800.0, "tank.water": 1}\n{"tank.water": 2}\n')
    assert given_by(source, 0.0) == [2.0]
    (finding,) = source.take_findings()
    assert finding.code == "R740" and "1 h ahead" in finding.message
    os.write(writer, b'{"t": 9, "tank.water": 9}\n{"t": 4, "tank.water": 4}\n{"tank.water": 3}\n')
    assert [given_by(source, now) for now in (1.0, 4.0, 9.0)] == [[3.0], [4.0], [9.0]]
    source.close()
    # A file may be a script of hours, each line within an hour of the one before.
    script = tmp_path / "script"
    script.write_text("".join(f'{{"t": {at}, "tank.water": 1}}\n' for at in range(0, 20000, 3000)))
    hours = Pipe(str(script), SIGNALS, VehicleTime())
    assert len([given_by(hours, float(now)) for now in range(0, 20000, 3000)]) == 7
    hours.due(20000.0)
    assert hours.ended and not hours.take_findings()
    hours.close()


def test_a_line_without_an_end_is_told(tmp_path: Path) -> None:
    source, writer = piped(tmp_path)
    for _ in range(6):
        os.write(writer, b"y" * 60000)
        source.due(1.0)
    os.write(writer, b'\n{"tank.water": 2}\n')
    assert given_by(source, 1.0) == [2.0]
    (finding,) = source.take_findings()
    assert finding.code == "R740" and "longer than 256 KB" in finding.message
    source.close()


def test_standard_input_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    reading, writing = os.pipe()
    kept = os.dup(0)
    os.dup2(reading, 0)
    try:
        source = Pipe("-", SIGNALS, VehicleTime())
        assert source.due(0.0) == [] and os.get_blocking(0)
        os.write(writing, b'{"tank.water": 2}\n')
        assert given_by(source, 0.1) == [2.0]
        source.close()
        monkeypatch.setattr(sys, "stdin", None)
        with pytest.raises(DesignError) as raised:
            Pipe("-", SIGNALS, VehicleTime())
        assert raised.value.findings[0].code == "R741"
    finally:
        os.dup2(kept, 0)
        for descriptor in (kept, reading, writing):
            os.close(descriptor)


def test_another_reader_of_standard_input_holds_up_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    reading, writing = os.pipe()
    kept = os.dup(0)
    os.dup2(reading, 0)
    source = Pipe("-", SIGNALS, VehicleTime())
    try:
        # Something was there to be read, and has been taken since.
        monkeypatch.setattr(select, "select", lambda *given: (given[0], [], []))
        assert source.due(0.0) == []
        os.write(writing, b'{"tank.water": 2}\n')
        assert given_by(source, 0.1) == [2.0]
        os.close(writing)
        source.due(0.2)
        source.due(0.3)
        assert source.ended
    finally:
        source.close()
        os.dup2(kept, 0)
        os.close(kept)
        os.close(reading)


@given(st.binary(max_size=80))
def test_any_bytes_are_read_or_explained(line: bytes) -> None:
    assert isinstance(read_line(line, SIGNALS), str | tuple)


def test_a_file_with_times_waits_for_them(tmp_path: Path) -> None:
    path = tmp_path / "lines"
    path.write_text('{"t": 1, "tank.water": 1}\n{"tank.water": 2}\nnonsense\n{"t": 2.5, "tank.water": 3}')
    source = Pipe(str(path), SIGNALS, VehicleTime())
    # A line without a time does not wait behind one that has.
    assert [reading.value for arrival in source.due(100.0) for reading in arrival.readings] == [2.0]
    assert source.due(100.0) == [] and source.next_deadline() == 101.0
    values = [[r.value for a in source.due(now) for r in a.readings] for now in (101.0, 102.0, 102.6)]
    assert values == [[1.0], [], [3.0]]
    assert source.ended and source.health == "ended, 1 bad lines"
    assert [finding.code for finding in source.take_findings()] == ["R740"]
    source.close()


def test_a_named_pipe_outlives_its_writers(tmp_path: Path) -> None:
    path = tmp_path / "fifo"
    os.mkfifo(path)
    source = Pipe(str(path), SIGNALS, VehicleTime())
    source.due(0.0)
    for value in (1.0, 2.0):
        with path.open("wb") as writer:
            writer.write(b'{"tank.water": %d}\n' % value)
        source.wait(1.0, None)
        assert [reading.value for arrival in source.due(1.0) for reading in arrival.readings] == [value]
    assert not source.ended and source.due(2.0) == []
    source.close()
    with pytest.raises(DesignError) as raised:
        Pipe(str(tmp_path / "none"), SIGNALS, VehicleTime())
    assert raised.value.findings[0].code == "R741"


def test_complaints_grow_rare(tmp_path: Path) -> None:
    path = tmp_path / "lines"
    path.write_text("bad\n" * 1000)
    source = Pipe(str(path), SIGNALS, VehicleTime())
    for _ in range(4):
        source.due(0.0)
    assert source.bad == 1000 and len(source.take_findings()) == 10
    source.close()


def test_requests_to_a_program_need_a_reader(tmp_path: Path) -> None:
    path = tmp_path / "out"
    os.mkfifo(path)
    out = PipeOut(str(path))
    assert "nobody reads" in str(out.send("media.title", 3.0))
    reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    assert out.send("media.title", 3.0) is None
    assert json.loads(os.read(reader, 1000)) == {"ask": "media.title", "value": 3.0}
    os.close(reader)


def test_the_lines_of_the_page_are_read(tmp_path: Path) -> None:
    page = (Path(pipe_module.__file__).parent / "PIPE.md").read_text(encoding="utf-8")
    lines = [line for block in re.findall(r"```json\n(.*?)```", page, re.S) for line in block.splitlines()]
    assert len(lines) == 6
    known = {
        definition.name: definition
        for definition in (
            signal("house.water"),
            signal("house.heater", kind="flag", unit=None),
            signal("coolant.valve", kind="word", unit=None, words={2: "Joined"}),
            signal("media.titles", kind="text", unit=None, count=250),
            signal("pack.cells", count=90),
            signal("vehicle.outside"),
            signal("vehicle.message", kind="text", unit=None),
        )
    }
    for line in lines[:5]:
        read = read_line(line.encode(), known)
        assert not isinstance(read, str), read
        assert all(reading.value is not Doubt.OUT_OF_RANGE for reading in read[1])
