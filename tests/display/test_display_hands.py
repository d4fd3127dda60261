"""Touches in words: what a line says, and what comes of it on a display that a run drives."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image

from hmic.cli.main import main
from hmic.diagnostics import DesignError, Finding
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.display.hands import FORMS, Deed, Hands, lines_of, read
from tests.tools.program_lines import Lines

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("line", "deed"),
    [
        ("tap 120 300", Deed("tap", ((120, 300),))),
        ("  TAP  120,  300  # the button", Deed("tap", ((120, 300),))),
        ("hold 120 300 2 s", Deed("hold", ((120, 300),), 2.0)),
        ("hold 1 2 1500ms", Deed("hold", ((1, 2),), 1.5)),
        ("slide 10 10 400 10", Deed("slide", ((10, 10), (400, 10)))),
        ("turn left", Deed("turn", name="left")),
        ("wait 0.5 s", Deed("wait", seconds=0.5)),
        ("picture now and then.png", Deed("picture", name="now and then.png")),
        ("controls", Deed("controls")),
        ("", None),
        ("# nothing", None),
    ],
)
def test_what_a_line_says(line: str, deed: Deed | None) -> None:
    assert read(line) == deed


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("tab 1 2", "did you mean 'tap'?"),
        ("tap 1", "write it like `tap 120 300`"),
        ("tap -1 2", "write it like `tap 120 300`"),
        ("tap 1 2 3", "write it like `tap 120 300`"),
        ("hold 1 2", "write it like `hold 120 300 2 s`"),
        ("hold 1 2 3", "write it like `hold 120 300 2 s`"),
        ("hold 1 2 700 s", "write 600 s or less"),
        ("turn round", "write it like `turn left`"),
        ("picture", "write it like `picture now.png`"),
        ("controls all", "write it like `controls`"),
    ],
)
def test_what_no_line_says(line: str, remedy: str) -> None:
    with pytest.raises(DesignError) as raised:
        read(line)
    (finding,) = raised.value.findings
    assert (finding.code, finding.remedy) == ("W664", remedy)


def test_every_form_can_be_read() -> None:
    assert [deed.word for form in FORMS.values() if (deed := read(form))] == list(FORMS)


class Bench:
    """Stands for a server: an empty display, asked at once."""

    def __init__(self) -> None:
        self.display = Display(MemoryFlash(), Glass(320, 240, 16), 1)

    def ask(self, deed: Callable[[Display, float], None]) -> None:
        deed(self.display, time.monotonic())


def followed(*lines: str) -> tuple[list[str], list[Finding]]:
    told: list[str] = []
    findings: list[Finding] = []
    Hands(Bench(), told.append, findings.append).follow(lines)  # type: ignore[arg-type]
    return told, findings


def test_a_line_that_cannot_be_followed_is_told_and_the_next_is_read(tmp_path: Path) -> None:
    picture = tmp_path / "now.png"
    told, findings = followed("tap here", "tap 320 10", f"picture {tmp_path}/no/x.png", f"picture {picture}")
    assert [finding.code for finding in findings] == ["W664"] * 3
    assert all(finding.remedy for finding in findings) and "x is 0 to 319" in (findings[1].remedy or "")
    assert told == [str(picture)]
    with Image.open(picture) as image:
        assert image.size == (320, 240)


def test_a_touch_that_nobody_hears_is_told() -> None:
    told, findings = followed("tap 1 2", "slide 1 2 30 4", "turn left", "controls", "help", "wait 1 ms")
    assert not findings and len(told) == 5
    assert told[0].startswith("tap 1 2: nobody listens") and told[1].startswith("slide 1 2 30 4: nobody")
    assert told[2].startswith("turn left: nobody") and told[3] == "no controls on this screen"
    assert "slide 10 10 400 10" in told[4]


def test_lines_come_as_they_are_written() -> None:
    far, near = os.pipe()
    os.write(near, b"tap 1 2\nwait ")
    lines = lines_of(far)
    assert next(lines) == "tap 1 2"
    os.write(near, b"1 s\r\nhelp")
    os.close(near)
    assert list(lines) == ["wait 1 s\r", "help"]
    os.close(far)
    assert list(lines_of(far)) == [], "a closed input has no lines"


class Process:
    """A command with its output line by line."""

    def __init__(self, *words: str, stdin: int | None = subprocess.PIPE) -> None:
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-m", "hmic", *words]
        self.process = subprocess.Popen(
            command, stdin=stdin, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
        )
        assert self.process.stdout is not None
        self._lines = Lines(self.process.stdout)

    def until(self, word: str, seconds: float = 20) -> str:
        return self._lines.until(word, seconds)

    def say(self, *lines: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("".join(f"{line}\n" for line in lines))
        self.process.stdin.flush()

    def end(self) -> None:
        self.process.terminate()
        self.process.wait(10)
        assert self.process.stdout is not None
        if self.process.stdin is not None:
            self.process.stdin.close()


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new")
    assert main(["new", str(folder / "car")]) == 0
    assert main(["build", str(folder / "car"), "-o", str(folder / "car.pack")]) == 0
    return folder / "car.pack"


@pytest.fixture
def hand(pack: Path) -> Iterator[Process]:
    display = Process("display", str(pack), "--hands")
    yield display
    display.end()


def test_a_button_is_pressed_without_hardware(pack: Path, hand: Process, tmp_path: Path) -> None:
    before, after = tmp_path / "before.png", tmp_path / "after.png"
    port = hand.until("port ").split()[1]
    run = Process("run", str(pack.with_suffix("")), "--port", port, "--simulate", stdin=subprocess.DEVNULL)
    try:
        run.until("display connected")
        time.sleep(0.5)
        hand.say("tap 9999 1", "nonsense", "controls")
        assert "W664" in hand.until("W664") and "W664" in hand.until("W664")
        place = hand.until("tap ").split("  (")[0]
        hand.say(f"picture {before}", "tap 400 300", place, "wait 1 s", f"picture {after}", "controls")
        assert "no control there" in hand.until("tap 400 300")
        hand.until(str(after))
        _, pump = hand.until("tap "), hand.until("tap ").split("  (")[0]
        hand.say(pump)
        assert "coolant.pump" in run.until("refused: ")
    finally:
        run.end()
    with Image.open(before) as one, Image.open(after) as other:
        assert one.size == other.size == (800, 480) and one.tobytes() != other.tobytes()


@pytest.mark.parametrize("words", [[], ["--hands"]])
def test_a_display_without_input_goes_on(pack: Path, words: list[str]) -> None:
    display = Process("display", str(pack), *words, stdin=subprocess.DEVNULL)
    try:
        display.until("port ")
        if words:
            display.until("the display goes on")
        time.sleep(0.3)
        assert display.process.poll() is None
    finally:
        display.end()
