"""The player as a bare-metal program on emulated cores, driven by the commands that a person would type."""

from __future__ import annotations

import re
import shutil
import signal
import socket
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
from hmic.paint.operations import UNSEEN, Moment
from hmic.paint.painter import Painter
from tests.tools.designs import LAYOUTS, design_drawing, example_pack
from tests.tools.player import as_rgb
from tests.tools.program_lines import Lines

pytest.importorskip("unicorn", reason="unicorn has no wheel for this system")
from tests.tools.player_board import built_image

ROOST = LAYOUTS / "roost"
THEME = "day"
STEADY = {"Charge": 73, "Voltage": 12.9, "Current": -31, "TimeLeft": 21, "Temperature": 18, "Power": 240}
SECONDS = 60
"""To wait for what must come, however busy the machine is."""
# Each wait has an end of its own; several, and a compiler, may take longer than a test usually may.
pytestmark = pytest.mark.timeout(900)


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
    nothing = (UNSEEN,) * len(drawing.channels)
    return Painter(drawing).paint(Moment(drawing.start, drawing.first_theme, nothing))


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


@pytest.fixture(scope="module")
def wanted(steady: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What the driver sees of the log."""
    picture = tmp_path_factory.mktemp("traced") / "seen.png"
    words = ["trace", str(ROOST), "--replay", str(steady), "--at", "0:20", "--theme", THEME]
    assert main([*words, "--out", str(picture)]) == 0
    with Image.open(picture) as image:
        return image.convert("RGB").tobytes()


class Qemu:
    """A QEMU board, its UART's pseudo terminal, and the picture that its memory holds."""

    FRAME = 0x21200000

    def __init__(self, image: Path, folder: Path, size: tuple[int, int]) -> None:
        self._door, self._dump, self._size = folder / "monitor", folder / "frame", size
        command = ["qemu-system-arm", "-M", "mps2-an386", "-kernel", str(image), "-display", "none"]
        command += ["-serial", "pty", "-monitor", f"unix:{self._door},server=on,wait=off"]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        assert self._process.stdout is not None
        self._lines = Lines(self._process.stdout)
        self.port = re.findall(r"/dev/\S+", self._lines.until("/dev/", SECONDS))[0]
        self._monitor = socket.socket(socket.AF_UNIX)
        self._monitor.connect(str(self._door))

    def seen(self) -> Image.Image:
        """What is on the panel now."""
        self._dump.unlink(missing_ok=True)
        count = 2 * self._size[0] * self._size[1]
        self._monitor.sendall(f'pmemsave {self.FRAME} {count} "{self._dump}"\n'.encode())
        end = time.monotonic() + SECONDS
        while not (self._dump.exists() and self._dump.stat().st_size == count):
            assert time.monotonic() < end, "QEMU saves nothing"
            time.sleep(0.05)
        return Image.frombytes("RGB", self._size, as_rgb(self._dump.read_bytes(), 2))

    def end(self) -> None:
        self._monitor.close()
        self._process.terminate()
        self._process.wait(10)
        self._lines.join()
        assert self._process.stdout is not None
        self._process.stdout.close()


def becomes(display: Program | Qemu, wanted: bytes) -> None:
    """Waits until the panel shows what is wanted: some of it may still be being painted."""
    end = time.monotonic() + SECONDS
    while display.seen().tobytes() != wanted:
        assert time.monotonic() < end, "the picture never became the one that is wanted"
        time.sleep(0.2)


def driven(port: str, steady: Path, display: Program | Qemu, wanted: bytes) -> None:
    """Runs ``hmic run`` until the display shows what is wanted; the log says the same again and again, so
    that it does not matter how long that takes."""
    words = ["hmic", "run", str(ROOST), "--port", port, "--replay", str(steady), "--repeat", "--theme", THEME]
    with running(*words) as host:
        host.until("display connected")
        becomes(display, wanted)


def test_the_software_display_shows_it(pack: Path, steady: Path, wanted: bytes, tmp_path: Path) -> None:
    picture = tmp_path / "seen.png"
    with running("hmic", "display", str(pack), "--picture", str(picture), picture=picture) as display:
        driven(display.until("port ").split()[1], steady, display, wanted)


@pytest.mark.parametrize("core", ["cortex_m4", "cortex_m0plus", "rv32imc"])
def test_push_and_run_drive_a_bare_microcontroller(
    core: str, pack: Path, steady: Path, unseen: Image.Image, wanted: bytes, tmp_path: Path
) -> None:
    # Compiled before any time counts: that may take longer than all else.
    built_image(core, design_drawing(ROOST))
    store, seen = tmp_path / "store", tmp_path / "board.png"
    board = ["tests.tools.player_board", str(ROOST), "--core", core]
    board += ["--picture", str(seen), "--store", str(store)]
    with running(*board, picture=seen) as chip:
        port = chip.until("/dev/").strip()
        assert set(chip.seen().tobytes()) == {0}
        assert main(["push", str(pack), "--port", port]) == 0
        becomes(chip, unseen.tobytes())
        driven(port, steady, chip, wanted)
    with running(*board, picture=seen) as chip:
        chip.until("/dev/")
        # The pack outlives a loss of power.
        becomes(chip, unseen.tobytes())


@pytest.mark.skipif(
    shutil.which("qemu-system-arm") is None, reason="qemu-system-arm is not installed: NO QEMU BOARD WAS RUN"
)
def test_the_same_on_a_board_of_qemu(
    pack: Path, steady: Path, unseen: Image.Image, wanted: bytes, tmp_path: Path
) -> None:
    drawing = design_drawing(ROOST)
    assert drawing.depth == 16
    chip = Qemu(built_image("cortex_m4", drawing, port="mps2"), tmp_path, (drawing.width, drawing.height))
    try:
        assert set(chip.seen().tobytes()) == {0}
        assert main(["push", str(pack), "--port", chip.port]) == 0
        becomes(chip, unseen.tobytes())
        driven(chip.port, steady, chip, wanted)
    finally:
        chip.end()
