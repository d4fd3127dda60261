"""The player as a bare-metal program on emulated cores, driven by the commands that a person would type."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import cantools
import pytest
from PIL import Image

from hmic.cli.main import main
from hmic.pack.reader import read
from hmic.paint.frame import Painter
from hmic.paint.operations import UNSEEN, Moment
from tests.tools.designs import LAYOUTS, example_pack
from tests.tools.program_lines import Lines

pytest.importorskip("unicorn", reason="unicorn has no wheel for this system")

ROOST = LAYOUTS / "roost"
STEADY = {"Charge": 73, "Voltage": 12.9, "Current": -31, "TimeLeft": 21, "Temperature": 18, "Power": 240}
SECONDS = 20


class Program:
    """A running program, its lines, and the picture it saves on SIGUSR1."""

    def __init__(self, *words: str, picture: Path | None = None) -> None:
        self._picture = picture
        command = [sys.executable, "-m", *words]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        assert self.process.stdout is not None
        self._lines = Lines(self.process.stdout)

    def until(self, word: str) -> str:
        """The next line that holds a word."""
        return self._lines.until(word, SECONDS)

    def seen(self) -> Image.Image:
        """What is on the panel now."""
        assert self._picture is not None
        self._picture.unlink(missing_ok=True)
        self.process.send_signal(signal.SIGUSR1)
        end = time.monotonic() + SECONDS
        while not self._picture.exists() and time.monotonic() < end:
            time.sleep(0.02)
        with Image.open(self._picture) as image:
            return image.convert("RGB")

    def end(self) -> None:
        self.process.terminate()
        self.process.wait(10)
        self._lines.join()
        assert self.process.stdout is not None
        self.process.stdout.close()


@contextmanager
def running(*words: str, picture: Path | None = None) -> Iterator[Program]:
    program = Program(*words, picture=picture)
    try:
        yield program
    finally:
        program.end()


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pack") / "roost.pack"
    path.write_bytes(example_pack("roost"))
    return path


@pytest.fixture(scope="module")
def unseen(pack: Path) -> Image.Image:
    """The start screen before any value came."""
    drawing = read(pack.read_bytes())
    return Painter(drawing).paint(Moment(drawing.start, 0, (UNSEEN,) * len(drawing.channels)))


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log in which every message comes ten times a second and says the same."""
    path = tmp_path_factory.mktemp("log") / "steady.log"
    database = cantools.database.load_file(ROOST / "roost.dbc")
    frames = []
    for message in database.messages:
        values = {one.name: STEADY.get(one.name, one.offset) for one in message.signals}
        frames.append(f"can0 {message.frame_id:03X}#{message.encode(values).hex().upper()}")
    path.write_text("".join(f"({1000 + step / 10:.6f}) {frame}\n" for step in range(600) for frame in frames))
    return path


def driven(port: str, steady: Path, display: Program, unseen: Image.Image) -> Image.Image:
    """The picture once ``hmic run`` has shown what the log holds and nothing changes any more."""
    with running("hmic", "run", str(ROOST), "--port", port, "--replay", str(steady)) as host:
        host.until("display connected")
        end, last = time.monotonic() + SECONDS, unseen
        while time.monotonic() < end:
            time.sleep(0.4)
            now = display.seen()
            if now.tobytes() == last.tobytes() != unseen.tobytes():
                return now
            last = now
    raise AssertionError("the picture never came to rest")


@pytest.fixture(scope="module")
def wanted(pack: Path, steady: Path, unseen: Image.Image, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What the software display shows of the log."""
    picture = tmp_path_factory.mktemp("software") / "seen.png"
    with running("hmic", "display", str(pack), "--picture", str(picture), picture=picture) as display:
        return driven(display.until("port ").split()[1], steady, display, unseen).tobytes()


@pytest.mark.parametrize("core", ["cortex_m4", "cortex_m0plus"])
def test_push_and_run_drive_a_bare_microcontroller(
    core: str, pack: Path, steady: Path, unseen: Image.Image, wanted: bytes, tmp_path: Path
) -> None:
    store, seen = tmp_path / "store", tmp_path / "board.png"
    board = ["tests.tools.player_board", str(ROOST), "--core", core]
    board += ["--picture", str(seen), "--store", str(store)]
    with running(*board, picture=seen) as chip:
        port = chip.until("/dev/").strip()
        assert set(chip.seen().tobytes()) == {0}
        assert main(["push", str(pack), "--port", port]) == 0
        assert chip.seen().tobytes() == unseen.tobytes()
        assert driven(port, steady, chip, unseen).tobytes() == wanted
    with running(*board, picture=seen) as chip:
        chip.until("/dev/")
        assert chip.seen().tobytes() == unseen.tobytes(), "the pack outlives a loss of power"
