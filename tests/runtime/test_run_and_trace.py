"""`hmic run` beside a software display, and `hmic trace` of what it recorded: the same pixels."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import can
import pytest
from PIL import Image, ImageChops

from hmic.cli.codes import USAGE
from hmic.cli.designs import compile_or_stop
from hmic.cli.main import main
from hmic.cli.moments import seconds
from hmic.diagnostics import DesignError
from hmic.display.display import Glass
from hmic.display.serve import Server, open_display
from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.pack.writer import write
from hmic.runtime.keeping import load_sums
from hmic.runtime.recording import RecordLog, Showing
from tests.tools.short_log import short_log

ROOT = Path(__file__).parents[2]
DUNLIN = ROOT / "layouts" / "dunlin"


class Screen:
    """A software display that holds the small design's pack."""

    def __init__(self, folder: Path, empty: bool = False) -> None:
        drawing = compile_or_stop(folder).arranged.drawing
        pack = None if empty else write(drawing)
        self.terminal = PseudoTerminal()
        glass = Glass(drawing.width, drawing.height, drawing.depth)
        self.server = Server(open_display(pack, None, glass), lambda: self.terminal, lambda line: None)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def image(self) -> Image.Image:
        found: list[Image.Image] = []
        done = threading.Event()

        def take(image: object) -> None:
            assert isinstance(image, Image.Image)
            found.append(image.copy())
            done.set()

        self.server.ask_image(take)
        assert done.wait(5)
        return found[0]

    def close(self) -> None:
        self.server.stop()
        self.thread.join(5)


@pytest.fixture(scope="module")
def van(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small design that `hmic new` writes, with an integral."""
    folder = tmp_path_factory.mktemp("van") / "van"
    assert main(["new", str(folder)]) == 0
    text = (folder / "signals.yaml").read_text()
    name = next(
        line.split(":")[0].strip() for line in text.splitlines() if "range:" in line and "km/h" in line
    )
    added = f'  trip.way: {{unit: km, range: [0, 999], is: "integral({name})"}}\n'
    (folder / "signals.yaml").write_text(text.replace("signals:\n", "signals:\n" + added, 1))
    return folder


@pytest.fixture
def screen(van: Path) -> Iterator[Screen]:
    shown = Screen(van)
    yield shown
    shown.close()


def started(*words: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-m", "hmic", "run", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.PIPE,
        text=True,
        env=environment,
    )


def ended(process: subprocess.Popen[str]) -> tuple[str, str]:
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=20)
    assert process.returncode == 0, err
    return out, err


def test_a_recorded_run_is_made_again_pixel_for_pixel(van: Path, screen: Screen, tmp_path: Path) -> None:
    record, log, sums = tmp_path / "van.record", tmp_path / "run.log", tmp_path / "van.sums"
    process = started(
        str(van), "--port", screen.terminal.path, "--simulate", "--speed", "2", "--watch",
        "--record", str(record), "--log", str(log), "--state", str(sums),
    )  # fmt: skip
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline and not (record.exists() and b'"moved"' in record.read_bytes()):
        time.sleep(0.2)
    time.sleep(1.5)
    os.kill(process.pid, signal.SIGSTOP)
    # The run stands still; what it sent last is on the glass, and the display not yet silent.
    time.sleep(0.4)
    last = screen.image()
    os.kill(process.pid, signal.SIGCONT)
    time.sleep(0.5)
    out, _ = ended(process)
    assert "sources: simulator up" in out and "frames in" in out
    assert "display connected" in log.read_text() and "end: " in log.read_text()
    kept, findings = load_sums(sums)
    assert not findings and next(iter(kept.values())).value > 0
    showings = [entry for entry in RecordLog(record).entries() if isinstance(entry, Showing)]
    assert len(showings) > 5
    found = []
    for showing in showings:
        picture = tmp_path / "then.png"
        at = f"{int(showing.at // 60)}:{showing.at % 60 + 2e-7:.7f}"
        assert main(["trace", str(van), "--replay", str(record), "--at", at, "--out", str(picture)]) == 0
        same = (
            ImageChops.difference(Image.open(picture).convert("RGB"), last.convert("RGB")).getbbox() is None
        )
        found.append(same)
        if same:
            break
    assert found[-1], f"none of {len(showings)} moments is what the display showed"


def test_a_replay_of_a_record_and_a_pipe_and_its_end(van: Path, screen: Screen, tmp_path: Path) -> None:
    record = tmp_path / "drive.record"
    record.write_text(
        '{"record":1,"design":"x","pack":""}\n{"t":0.1,"set":[["vehicle.speed",null,30.0]]}\n'
        '{"t":1.0,"set":[["vehicle.speed",null,31.0]]}\n'
    )
    process = started(str(van), "--port", screen.terminal.path, "--replay", str(record), "--pipe", "-")
    out, err = process.communicate(json.dumps({"nobody.knows": 1}) + "\n", timeout=30)
    assert process.returncode == 0 and "R740" in err and "3 frames in" in out


def test_a_run_by_a_host_file_brings_its_pack_to_an_empty_display(
    van: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    host, record, screen = tmp_path / "van.host", tmp_path / "drive.record", Screen(van, empty=True)
    record.write_text('{"record":1,"design":"x","pack":""}\n{"t":0.1,"set":[["vehicle.speed",null,30.0]]}\n')
    assert main(["bind", str(van), "-o", str(host)]) == 0
    words = ["run", str(host), "--port", screen.terminal.path, "--replay", str(record)]
    try:
        assert main(words) == 1
        told = capsys.readouterr().err
        assert "R721" in told and "run it with --push, or hmic push van.host" in told
        assert main([*words, "--push"]) == 0
        assert "the display has the new pack" in capsys.readouterr().err
        assert main([*words, "--push"]) == 0
        assert "has this pack already" in capsys.readouterr().err
        # The host file is a pack to whoever sends one.
        assert main(["push", str(host), "--port", screen.terminal.path]) == 0
        assert "has this pack already" in capsys.readouterr().out
    finally:
        screen.close()


def test_nothing_is_sent_by_default_and_wrong_usage_is_told(
    van: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words, code in (
        (["--replay", "a.asc", "--can", "can0"], "U930"),
        (["--obd", "--can", "can0"], "U934"),
        (["--can", "can0", "--speed", "2"], "U935"),
        (["--can", "can0", "--repeat"], "U936"),
        (["--pipe", "/nowhere/at/all"], "R741"),
        (["--simulate", "--record", "/proc/nowhere/x.record"], "R750"),
    ):
        assert main(["run", str(van), "--port", "loop://", *words]) == (2 if code in USAGE else 1)
        assert code in capsys.readouterr().err


def test_trace_of_a_log_says_where_it_ends(
    van: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "short.asc"
    with can.Logger(str(log)) as writer:
        for at in range(5):
            writer(can.Message(timestamp=at, arbitration_id=1296, data=b"\x10\x0e", is_extended_id=False))
    words = ["trace", str(DUNLIN), "--replay", str(log), "--out", str(tmp_path / "then.png")]
    assert main([*words, "--at", "3.5", "--clock", "10:24"]) == 0
    said = capsys.readouterr().out
    assert "worked out" in said and (tmp_path / "then.png").exists()
    assert "0:00 is the first frame, which the log stamps 0.000" in said
    words[1] = str(van)
    for extra, code in (
        (["--at", "9:59"], "U937"),
        (["--at", "1:75"], "U938"),
        (["--at", "inf"], "U938"),
        (["--at", "1e300"], "U938"),
        (["--at", "@-1"], "U938"),
        (["--at", "@soon"], "U938"),
        (["--at", "1", "--clock", "25:00"], "U938"),
        (["--at", "1", "--screen", "driev"], "U920"),
        (["--at", "1", "--theme", "dusk"], "U920"),
    ):
        assert main([*words, *extra]) == (2 if code in USAGE else 1)
        assert code in capsys.readouterr().err


@pytest.mark.parametrize("at", ["3.5", "@1764411153.5", "@2025-11-29T10:12:33.5"])
def test_a_moment_may_be_one_of_the_logs_own_stamps(
    at: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "stamped.log"
    log.write_text("".join(f"({1764411150 + step}.000000) can0 510#100E\n" for step in range(5)))
    words = ["trace", str(DUNLIN), "--replay", str(log), "--out", str(tmp_path / "then.png")]
    assert main([*words, "--at", at]) == 0
    said = capsys.readouterr().out
    assert "at 0:03.50" in said and "stamps 2025-11-29T10:12:30.000" in said
    assert main([*words, "--at", "@2025-11-29T10:12:29"]) == 2
    assert "that is @2025-11-29T10:12:30.000" in capsys.readouterr().err


def test_preview_of_a_moment_is_what_trace_shows_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The traces are held against real runs above."""
    moment = ["--replay", str(short_log()), "--at", "1:30"]
    assert main(["preview", str(DUNLIN), "--out", str(tmp_path), "--sheet", *moment]) == 0
    said = capsys.readouterr().out
    assert "at 1:30.00, where 0:00 is the first frame, which the log stamps 0.000" in said
    assert "worked out from what had come: cells, charging" in said
    for screen, theme in (("drive", "night"), ("chart", "day")):
        traced = tmp_path / "then.png"
        words = ["trace", str(DUNLIN), *moment, "--screen", screen, "--theme", theme, "--out", str(traced)]
        assert main(words) == 0
        assert traced.read_bytes() == (tmp_path / f"{screen}-{theme}.png").read_bytes()
    plain = tmp_path / "plain"
    assert main(["preview", str(DUNLIN), "--out", str(plain), "--screen", "drive", "--sheet"]) == 0
    assert (plain / "drive-night.png").read_bytes() != (tmp_path / "drive-night.png").read_bytes()
    for extra, code in (
        (["--replay", "a.asc"], "U944"),
        (["--at", "1:00"], "U944"),
        ([*moment, "--set", "vehicle.speed=3"], "U930"),
        ([*moment, "--touch", "refused"], "U930"),
        ([*moment[:3], "59:59"], "U937"),
        ([*moment, "--theme", "dusk"], "U920"),
    ):
        words = ["preview", str(DUNLIN), "--out", str(tmp_path), "--screen", "drive", *extra]
        assert main(words) == (2 if code in USAGE else 1)
        assert code in capsys.readouterr().err


def test_moments_as_people_write_them() -> None:
    assert [seconds(text) for text in ("95", "1:35", "12:34.5", "1:02:03")] == [95.0, 95.0, 754.5, 3723.0]
    for text in ("", ":", "1:2:3:4", "-1", "1:60", "x", "1.5:00", "nan"):
        with pytest.raises(DesignError):
            seconds(text)


STOP = [
    '{"record":1,"design":"Dunlin","pack":""}',
    '{"t":0.1,"set":[["pack.fault",null,false],["motor.fault",null,false]]}',
    '{"t":5.0,"set":[["motor.fault",null,true]]}',
    '{"t":9.0,"set":[["motor.fault",null,false]]}',
    '{"t":20.0,"set":[["pack.fault",null,false]]}',
]


def traced(log: Path, at: str, out: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["trace", str(DUNLIN), "--replay", str(log), "--at", at, "--out", str(out), *words]) == 0
    return capsys.readouterr().out


def test_trace_of_what_holds_no_touches_shows_the_screen_that_came_up_and_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "drive.record"
    log.write_text("\n".join(STOP) + "\n")
    before = traced(log, "4.9", tmp_path / "before.png", capsys)
    assert "screen 'drive'" in before and "none had come up by itself" in before and "no touches" in before
    fault = traced(log, "6", tmp_path / "fault.png", capsys)
    assert "screen 'stop'" in fault and "came up by itself at 0:05.00, for `motor.fault`" in fault
    asked = traced(log, "6", tmp_path / "asked.png", capsys, "--screen", "stop")
    assert "screen 'stop'" in asked
    assert (tmp_path / "fault.png").read_bytes() == (tmp_path / "asked.png").read_bytes()
    assert (tmp_path / "fault.png").read_bytes() != (tmp_path / "before.png").read_bytes()
    after = traced(log, "15", tmp_path / "after.png", capsys)
    assert "screen 'stop'" in after and "may have acknowledged it" in after


def test_trace_tells_what_a_log_did_not_bring(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "short.log"
    lines = [(1.0, "123#00"), (2.0, "123#00"), (90000.0, "7A0#00"), (90001.0, "7A0#00")]
    log.write_text("".join(f"({1e9 + at:.6f}) can0 {frame}\n" for at, frame in lines))
    words = ["trace", str(DUNLIN), "--replay", str(log), "--at", "1.5", "--out", str(tmp_path / "a.png")]
    assert main(words) == 0
    told = capsys.readouterr().err
    assert "R718" in told and "a frame of 'CellVoltages' without" in told
    assert "R716" in told and "jump after 1.000 s: 89998.0 s ahead" in told


def test_trace_says_of_a_log_all_that_run_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also what comes after the moment: a bad line, a cut one, and that no frame was of the design."""
    log = tmp_path / "other.log"
    log.write_text("(1.0) can0 7A0#00\n(2.0) can0 7A0#00\n(3.0) can0 7A0#0\n(4.0) can0 7A0#00\n(5.0) can0 7A")
    words = ["trace", str(DUNLIN), "--replay", str(log), "--at", "0.5", "--out", str(tmp_path / "a.png")]
    assert main(words) == 0
    told = capsys.readouterr().err
    assert "R711" in told and "none of the 3 frames of 'other.log'" in told
    assert "R713" in told and "has 2 lines or frames that cannot be read; the first is line 3" in told


def test_trace_knows_a_record_by_its_content(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "drive.txt"
    log.write_text("\n".join(STOP) + "\n")
    assert "screen 'stop'" in traced(log, "6", tmp_path / "fault.png", capsys)


def test_a_terminal_that_closes_ends_a_run_with_its_sums_kept(
    van: Path, screen: Screen, tmp_path: Path
) -> None:
    sums = tmp_path / "van.sums"
    words = (str(van), "--port", screen.terminal.path, "--simulate", "--state", str(sums))
    process = started(*words)
    assert process.stderr is not None
    assert "display connected" in process.stderr.readline()
    time.sleep(1.0)
    process.send_signal(signal.SIGHUP)
    out, _ = process.communicate(timeout=20)
    assert process.returncode == 0 and "frames in" in out
    assert next(iter(load_sums(sums)[0].values())).value > 0


def test_a_run_that_no_display_answered_ends_with_1(van: Path, tmp_path: Path) -> None:
    lines = tmp_path / "lines"
    lines.write_text('{"vehicle.speed": 3}\n')
    terminal = PseudoTerminal()
    process = started(str(van), "--port", terminal.path, "--pipe", str(lines))
    process.communicate(timeout=30)
    terminal.close()
    assert process.returncode == 1


@pytest.mark.parametrize("seed", range(4))
def test_signals_however_many_and_close_end_a_run_once_with_its_sums_kept(
    van: Path, screen: Screen, tmp_path: Path, seed: int
) -> None:
    """A service manager and a closing terminal may both send, within milliseconds, at any moment."""
    chance = random.Random(seed)
    sums, record = tmp_path / "van.sums", tmp_path / "van.record"
    words = ("--port", screen.terminal.path, "--simulate", "--state", str(sums), "--record", str(record))
    process = started(str(van), *words)
    assert process.stderr is not None
    assert "display connected" in process.stderr.readline()
    time.sleep(1.0 + chance.random() / 5)
    for _ in range(12):
        process.send_signal(chance.choice((signal.SIGINT, signal.SIGTERM, signal.SIGHUP)))
        time.sleep(chance.random() / 50)
        if process.poll() is not None:
            break
    out, err = process.communicate(timeout=20)
    assert process.returncode == 0 and "frames in" in out and "Traceback" not in err, err
    assert next(iter(load_sums(sums)[0].values())).value > 0
    assert b'"moved"' in record.read_bytes() and RecordLog(record).findings == []


def test_a_record_and_sums_belong_to_one_run(van: Path, screen: Screen, tmp_path: Path) -> None:
    sums, record = tmp_path / "van.sums", tmp_path / "van.record"
    keeping = ("--state", str(sums), "--record", str(record))
    first = started(str(van), "--port", screen.terminal.path, "--simulate", *keeping)
    assert first.stderr is not None
    assert "display connected" in first.stderr.readline()
    time.sleep(1.5)
    there = record.read_bytes()
    other = PseudoTerminal()
    second = started(str(van), "--port", other.path, "--simulate", "--record", str(record))
    _, err = second.communicate(timeout=20)
    assert second.returncode == 1 and "R758" in err and "Traceback" not in err
    third = started(str(van), "--port", other.path, "--simulate", "--state", str(sums))
    assert third.stderr is not None
    assert "R759" in third.stderr.readline()
    ended_first, _ = ended(first)
    assert "frames in" in ended_first
    kept = sums.read_bytes()
    third.send_signal(signal.SIGTERM)
    third.communicate(timeout=20)
    other.close()
    assert record.read_bytes().startswith(there) and sums.read_bytes() == kept
    assert not (tmp_path / "van.record.old").exists()
    # What held them has ended: they can be taken again.
    again = started(str(van), "--port", screen.terminal.path, "--simulate", *keeping)
    assert again.stderr is not None
    assert "display connected" in again.stderr.readline()
    ended(again)
