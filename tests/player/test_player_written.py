"""``hmic player``: what it writes compiles as it is, and is a display."""

from __future__ import annotations

import os
import select
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PIL import Image

from hmic.check.budget import memory_need
from hmic.cli.main import main
from hmic.compile.compiling import Compiled, compile_design
from hmic.link.serial_port import open_port
from hmic.pack.reader import read
from hmic.paint.operations import LIVE, UNSEEN, Flow, Moment, Stencil
from hmic.paint.painter import Painter
from hmic.player.written import STATE, memory
from hmic.wire.events import Connected
from hmic.wire.host_session import HostSession
from tests.tools.designs import example_pack
from tests.tools.player import SOURCES, compiler, run

LAYOUTS = Path(__file__).parents[2] / "layouts"
BAUD = 115200
needs_make = pytest.mark.skipif(shutil.which("make") is None, reason="make is not installed")


def made(folder: Path, *words: str) -> Path:
    assert main(["player", "--out", str(folder), *words]) == 0
    if shutil.which("make"):
        run(["make", "-s", "-C", str(folder), f"CC={shlex.join(compiler())}", "player", "board.o"])
    return folder / "player"


@contextmanager
def running(program: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The program and the path of its port."""
    process = subprocess.Popen([str(program), *words], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        ready, _, _ = select.select([process.stdout], [], [], 10)
        assert ready, "the program tells no port"
        yield process, process.stdout.readline().strip()
    finally:
        process.terminate()
        assert process.wait(10) == 0


def pictured(process: subprocess.Popen[str], path: Path) -> Image.Image:
    path.unlink(missing_ok=True)
    os.kill(process.pid, signal.SIGUSR1)
    end = time.monotonic() + 10
    while not path.exists() and time.monotonic() < end:
        time.sleep(0.02)
    with Image.open(path) as image:
        return image.convert("RGB")


def shown(port: str, moment: Moment, channels: tuple[int, ...], brightness: int = 80) -> None:
    """Shows a screen and values, and stays until they are there."""
    link, host = open_port(port, BAUD), HostSession(5, BAUD / 10)
    host.show(moment.screen, moment.theme, brightness, len(channels))
    together, end = False, time.monotonic() + 10
    try:
        unsent, until = b"", float("inf")
        while time.monotonic() < min(end, until):
            now = time.monotonic()
            for event in host.receive(link.read(), now):
                if isinstance(event, Connected):
                    together, until = True, now + 0.8
                    host.update([moment.raw[channel] for channel in channels], now)
            unsent += host.outgoing(now)
            unsent = unsent[link.write(unsent) :]
            time.sleep(0.005)
    finally:
        link.close()
    assert together


@needs_make
def test_a_display_for_a_design_takes_a_push_and_shows_the_frame(tmp_path: Path) -> None:
    pack = tmp_path / "roost.pack"
    data = example_pack("roost")
    pack.write_bytes(data)
    drawing = read(data)
    program = made(tmp_path / "made", "--for", str(LAYOUTS / "roost"))
    picture = tmp_path / "seen.png"
    still = next(
        number
        for number, screen in enumerate(drawing.screens)
        if not any(isinstance(o, Flow) or (isinstance(o, Stencil) and o.flash) for o in screen.operations)
    )
    with running(program, "--picture", str(picture), "--store", str(tmp_path / "store")) as (process, port):
        assert set(pictured(process, picture).tobytes()) == {0}
        assert main(["push", str(pack), "--port", port]) == 0
        listed = drawing.screens[still].channels
        raw = tuple(
            LIVE + steps // 2 if number in listed else UNSEEN for number, steps in enumerate(drawing.channels)
        )
        moment = Moment(still, 0, raw)
        shown(port, moment, listed)
        assert pictured(process, picture).tobytes() == Painter(drawing).paint(moment).tobytes()
    with running(program, "--picture", str(picture), "--store", str(tmp_path / "store")) as (process, port):
        # After power-up: the start screen out of the store, nothing seen yet.
        unseen = Moment(drawing.start, drawing.first_theme, (UNSEEN,) * len(drawing.channels))
        assert pictured(process, picture).tobytes() == Painter(drawing).paint(unseen).tobytes()


@needs_make
def test_a_pack_may_be_part_of_the_program(tmp_path: Path) -> None:
    drawing = read(example_pack("roost"))
    program = made(tmp_path / "made", "--with-pack", str(LAYOUTS / "roost"))
    picture = tmp_path / "seen.png"
    with running(program, "--picture", str(picture)) as (process, _):
        unseen = Moment(drawing.start, drawing.first_theme, (UNSEEN,) * len(drawing.channels))
        assert pictured(process, picture).tobytes() == Painter(drawing).paint(unseen).tobytes()


@needs_make
def test_for_any_design(tmp_path: Path) -> None:
    assert made(tmp_path / "any").exists()
    assert made(tmp_path / "dunlin", "--for", str(LAYOUTS / "dunlin")).exists()


@pytest.mark.skipif(
    shutil.which("cmake") is None, reason="cmake is not installed: CMakeLists.txt WAS NOT BUILT"
)
def test_cmake_builds_a_display(tmp_path: Path) -> None:
    """The library and the display on this computer, warnings being errors; the display plays its pack."""
    folder, build = tmp_path / "made", tmp_path / "build"
    assert main(["player", "--out", str(folder), "--with-pack", str(LAYOUTS / "roost")]) == 0
    flags = "-DCMAKE_C_FLAGS=-Wall -Wextra -Werror"
    run(["cmake", "-S", str(folder), "-B", str(build), "-DCMAKE_BUILD_TYPE=MinSizeRel", flags])
    run(["cmake", "--build", str(build)])
    drawing, picture = read(example_pack("roost")), tmp_path / "seen.png"
    with running(build / "player", "--picture", str(picture)) as (process, _):
        unseen = Moment(drawing.start, drawing.first_theme, (UNSEEN,) * len(drawing.channels))
        assert pictured(process, picture).tobytes() == Painter(drawing).paint(unseen).tobytes()


def test_headers_serve_cpp_too(tmp_path: Path) -> None:
    sketch = tmp_path / "sketch.cpp"
    sketch.write_text('#include "hmic_display.h"\nhmic_display d;\nvoid loop() { hmic_display_turn(&d); }\n')
    command = [sys.executable, "-m", "ziglang", "c++", "-std=c++11", "-Wall", "-Wextra", "-Werror"]
    run([*command, f"-I{SOURCES}", "-c", str(sketch), "-o", str(tmp_path / "sketch.o")])


def test_the_memory_told_is_that_of_a_small_core(tmp_path: Path) -> None:
    """The size of the struct on a Cortex-M4, by a symbol as large as it."""
    probe = tmp_path / "probe.c"
    probe.write_text('#include "hmic_display.h"\nchar probe[sizeof(hmic_display)];\n')
    target = ["-target", "thumb-freestanding-eabi", "-mcpu=cortex_m4"]
    zig = [sys.executable, "-m", "ziglang", "cc"]
    run([*zig, *target, f"-I{SOURCES}", "-c", str(probe), "-o", str(tmp_path / "probe.o")])
    command = ["nm", "-S", str(tmp_path / "probe.o")]
    listed = subprocess.run(command, capture_output=True, text=True, check=True)
    size = next(int(line.split()[1], 16) for line in listed.stdout.splitlines() if line.endswith("probe"))
    assert size <= STATE < size + 64
    drawing = read(example_pack("dunlin"))
    assert memory(drawing) == STATE + 6 * len(drawing.channels) + 1024 * 16 * 3
    # `hmic build` counts the stack too.
    compiled = compile_design(LAYOUTS / "dunlin")
    assert isinstance(compiled, Compiled)
    assert memory_need(compiled.arranged) == memory(compiled.arranged.drawing) + 1024


@needs_make
def test_a_board_puts_the_pack_of_its_program_to_use(tmp_path: Path) -> None:
    for words, stored in ((["--with-pack"], True), (["--for"], False)):
        folder = tmp_path / words[0].strip("-")
        made(folder, *words, str(LAYOUTS / "roost"))
        assert (b"hmic_display_install" in (folder / "board.o").read_bytes()) is stored
        head = (folder / "src" / "hmic_settings.h").read_text().split("*/")[0]
        assert "It takes" in head and "takes and" not in head
