"""The loop around a display, on a real pseudo terminal."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PIL import Image

from hmic.diagnostics import DesignError
from hmic.display.display import Display, Glass
from hmic.display.serve import Server, open_display, save_picture
from hmic.link.any_link import Link
from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.link.serial_port import open_port
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, Box, Drawing, Fill, Ink, ScreenDrawing, Theme
from hmic.wire.host_session import HostSession


def lamp(width: int = 40) -> Drawing:
    theme = Theme("day", ((0, 0, 0), (90, 90, 90), (0, 200, 0), (200, 0, 0)), 80)
    screen = ScreenDrawing("lamp", (Fill(Box(0, 0, width, 20), Ink(2, 0)),), (0,), ())
    return Drawing(width, 20, 24, (theme,), (), (), (), (2,), (screen,), 0)


@contextmanager
def served(display: Display, links: list[Link], told: list[str]) -> Iterator[Server]:
    def connect() -> Link:
        if not links:
            raise DesignError([])
        return links.pop(0)

    server = Server(display, connect, told.append)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield server
    finally:
        server.stop()
        thread.join(5)
        assert not thread.is_alive()


def drive(path: str, raw: list[int], seconds: float = 1.0) -> None:
    """A host on a port: shows screen 0 with these values."""
    port = open_port(path, 115200)
    host = HostSession(int.from_bytes(os.urandom(4), "little"))
    host.show(0, 0, 80, len(raw))
    end = time.monotonic() + seconds
    while (now := time.monotonic()) < end:
        host.receive(port.read(), now)
        host.update(raw, now)
        port.write(host.outgoing(now))
        time.sleep(0.005)
    port.close()


def colour(server: Server) -> tuple[int, int, int]:
    answer: queue.Queue[Image.Image] = queue.Queue()
    server.ask_image(answer.put)
    pixel = answer.get(timeout=5).getpixel((5, 5))
    assert isinstance(pixel, tuple)
    return pixel[0], pixel[1], pixel[2]


def test_a_host_comes_and_goes_and_comes_again() -> None:
    display = open_display(write(lamp()), None)
    terminal = PseudoTerminal()
    path = terminal.path
    with served(display, [terminal], []) as server:
        drive(path, [LIVE], 0.6)
        assert colour(server) == (0, 200, 0)
        drive(path, [LIVE + 1], 0.6)
        assert colour(server) == (200, 0, 0)
        time.sleep(1.4)
        assert len(set(colour(server))) == 1


def test_a_lost_port_is_told_and_opened_again() -> None:
    display = open_display(write(lamp()), None)
    first, second = PseudoTerminal(), PseudoTerminal()
    path = second.path
    told: list[str] = []
    with served(display, [first, second], told) as server:
        colour(server)
        server.ask(lambda *_: first.close())
        drive(path, [LIVE + 1], 1.5)
        assert colour(server) == (200, 0, 0)
    assert len(told) == 2 and "waiting" in told[0] and told[1] == "the port is back"


def test_open_display_says_what_is_wrong(tmp_path: Path) -> None:
    with pytest.raises(DesignError) as caught:
        open_display(b"nonsense", None)
    assert caught.value.findings[0].code == "P501"
    store = tmp_path / "store"
    with pytest.raises(DesignError) as caught:
        open_display(None, store)
    assert caught.value.findings[0].code == "W665"
    assert open_display(None, store, Glass(320, 240, 16)).glass.width == 320


def test_the_store_decides_the_panel_and_survives(tmp_path: Path) -> None:
    store = tmp_path / "store"
    script = "import sys; from pathlib import Path; from hmic.display.serve import open_display\n"
    script += "display = open_display(%s, Path(sys.argv[1])); print(display.glass.width, display.identity)"
    put = script % "sys.stdin.buffer.read()"
    outputs = [
        subprocess.run([sys.executable, "-c", text, str(store)], input=data, capture_output=True, check=True)
        for text, data in ((put, write(lamp())), (script % "None", b""), (put, write(lamp(50))))
    ]
    first, second, third = (output.stdout.decode() for output in outputs)
    assert first == second and first.startswith("40 b")
    assert third.startswith("50 b")


def test_signals_write_the_picture_and_end_the_loop(tmp_path: Path) -> None:
    picture = tmp_path / "now.png"
    script = (
        "import sys; from pathlib import Path\n"
        "from hmic.display.serve import Server, open_display\n"
        "from hmic.link.pseudo_terminal import PseudoTerminal\n"
        "from hmic.display.display import Glass\n"
        "display = open_display(None, None, Glass(1024, 600, 24))\n"
        "server = Server(display, PseudoTerminal, print, Path(sys.argv[1]))\n"
        "server.ask(lambda *_: print('ready', flush=True))\n"
        "server.run()\n"
        "print('ended')\n"
    )
    command = [sys.executable, "-c", script, str(picture)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None and process.stdout.readline() == "ready\n"
            process.send_signal(signal.SIGUSR1)
            end = time.monotonic() + 10
            while not picture.exists() and time.monotonic() < end:
                time.sleep(0.02)
            process.send_signal(signal.SIGINT)
            process.wait(20)
            assert process.stdout.read() == "ended\n"
        finally:
            process.kill()
    assert process.returncode == 0
    with Image.open(picture) as image:
        assert image.size == (1024, 600)
        colours = image.getcolors()
        assert colours is not None and len(colours) == 2


def test_a_picture_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    save_picture(Image.new("RGB", (3, 2)), path)
    first = path.read_bytes()
    save_picture(Image.new("RGB", (3, 2)), path)
    assert path.read_bytes() == first and [item.name for item in tmp_path.iterdir()] == ["a.png"]
