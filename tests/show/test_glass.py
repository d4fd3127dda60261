"""The page of a software display: it tells what the display shows, and its fingers are felt."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientSession

from hmic.cli.main import main
from hmic.compile.compiling import Compiled
from hmic.display.display import Glass
from hmic.display.serve import Server, open_display
from hmic.pack.records import identity
from hmic.paint.operations import UNSEEN, Moment
from hmic.paint.painter import Painter
from hmic.show.glass import start
from hmic.wire.events import Connected, Phase, Touched
from hmic.wire.host_session import HostSession
from tests.tools.browser import browser, canvas, digest, needs_browser
from tests.tools.pages import asked, compiled

STEP = 9


class End:
    """One end of a line between two threads."""

    def __init__(self, into: deque[bytes], out: deque[bytes]) -> None:
        self._into, self._out = into, out

    def read(self) -> bytes:
        return b"".join(self._into.popleft() for _ in range(len(self._into)))

    def write(self, data: bytes) -> int:
        self._out.append(data)
        return len(data)

    def close(self) -> None: ...

    def set_rate(self, baud: int) -> None: ...

    def descriptor(self) -> int | None:
        return None


class Host:
    """A run's session on the other end."""

    def __init__(self, end: End) -> None:
        self._end, self._session = end, HostSession(7, 11520.0)
        self.events: list[Any] = []

    def until(self, wanted: Any) -> Any:
        for _ in range(2000):
            now = time.monotonic()
            self.events += self._session.receive(self._end.read(), now)
            self._end.write(self._session.outgoing(now))
            found = [event for event in self.events if wanted(event)]
            if found:
                return found[0]
            time.sleep(0.005)
        raise AssertionError(self.events)

    def show(self, screen: int, theme: int, raw: list[int]) -> None:
        self._session.show(screen, theme, 60, len(raw))
        self._session.update(raw, time.monotonic())

    def turn(self) -> None:
        """Until all of it is there."""
        end = time.monotonic() + 0.5
        self.until(lambda _: time.monotonic() > end)


@pytest.fixture
def roost() -> Compiled:
    return compiled("roost")


@pytest.fixture
def served(roost: Compiled) -> Iterator[tuple[str, Host]]:
    """The page's address, and the host."""
    one: deque[bytes] = deque()
    other: deque[bytes] = deque()
    server = Server(open_display(roost.pack, None), lambda: End(one, other), print)
    address = start(server, 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield address, Host(End(other, one))
    server.stop()
    thread.join(10)


async def talked(address: str, deeds: list[object]) -> dict[str, Any]:
    """What a page has been told once it said these."""
    now: dict[str, Any] = {}
    async with ClientSession() as session, session.ws_connect(address + "glass") as socket:
        for deed in deeds:
            await socket.send_str(deed if isinstance(deed, str) else json.dumps(deed))
        while "raw" not in now:
            now |= json.loads(await asyncio.wait_for(socket.receive_str(), 30))
    return now


def test_it_is_told_what_the_display_shows_and_feels(served: tuple[str, Host], roost: Compiled) -> None:
    address, host = served
    told = json.loads(asked(address + "facts"))
    assert asked(address + "pack") == roost.pack and told["pack"] == identity(roost.pack).hex()
    drawing = roost.arranged.drawing
    now = asyncio.run(talked(address, []))
    assert now["screen"] == drawing.start and set(now["raw"]) == {UNSEEN}
    host.until(lambda event: isinstance(event, Connected))
    channels = drawing.screens[1].channels
    host.show(1, 0, [STEP] * len(channels))
    host.turn()
    now = asyncio.run(talked(address, ["{", [], {"do": "press", "x": "1", "y": None}, {"do": "fly"}]))
    assert now["screen"] == 1 and now["brightness"] == 60
    assert [now["raw"][channel] for channel in channels] == [STEP] * len(channels)
    asyncio.run(talked(address, [{"do": "press", "x": 7, "y": -9}, {"do": "release", "x": 99999, "y": 11}]))
    down = host.until(lambda event: isinstance(event, Touched) and event.phase is Phase.PRESS)
    up = host.until(lambda event: isinstance(event, Touched) and event.phase is Phase.RELEASE)
    assert (down.x, down.y, up.x, up.y) == (7, 0, drawing.width - 1, 11)


@needs_browser
def test_in_a_browser_it_is_the_glass(served: tuple[str, Host], roost: Compiled) -> None:
    """To the pixel; the knob by keys."""
    address, host = served
    host.until(lambda event: isinstance(event, Connected))
    drawing = roost.arranged.drawing
    host.show(2, 1, [STEP] * len(drawing.screens[2].channels))
    host.turn()
    raw = tuple(STEP if at in drawing.screens[2].channels else 0 for at in range(len(drawing.channels)))
    wanted = digest(Painter(drawing).paint(Moment(2, 1, raw)))
    stopped = threading.Event()

    def go_on() -> None:
        while not stopped.is_set():
            host.turn()

    other = threading.Thread(target=go_on, daemon=True)
    other.start()
    with browser() as started:
        page = started.new_page(reduced_motion="reduce")
        page.goto(address)
        name = drawing.screens[2].name
        page.wait_for_selector(f"#shown:text-matches('^{name},.*60 %$')", timeout=60_000)
        page.wait_for_timeout(300)
        assert canvas(page) == wanted
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(500)
    stopped.set()
    other.join(10)
    assert host.until(lambda event: isinstance(event, Touched)).x == drawing.width - 1


def test_a_port_that_is_taken_is_told(
    served: tuple[str, Host], roost: Compiled, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    port = served[0].split(":")[2].split("/")[0]
    pack = tmp_path / "roost.pack"
    pack.write_bytes(roost.pack)
    assert main(["display", str(pack), "--page", "--page-port", port]) == 1
    assert "U947" in capsys.readouterr().err


def test_an_empty_display_has_a_page(tmp_path: Path) -> None:
    display = open_display(None, tmp_path / "flash", Glass(320, 240, 16))
    server = Server(display, lambda: End(deque(), deque()), print)
    address = start(server, 0)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    told = json.loads(asked(address + "facts"))
    assert told["pack"] is None and (told["width"], told["depth"]) == (320, 16)
    server.stop()
    thread.join(10)
