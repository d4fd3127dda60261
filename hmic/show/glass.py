"""The glass of a software display on a page: what it shows, and fingers on it. The display itself stays where
it is, so any page may come and go."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, TypeVar

from aiohttp import web

from hmic.display.display import Display
from hmic.display.serve import Server
from hmic.foreign_text import visible
from hmic.pack.records import identity
from hmic.show.door import LARGEST, Door, News, deeds
from hmic.show.live import as_json
from hmic.show.rehearsal import shown_by

REST = 1 / 30
"""Seconds between two looks at it."""
FILES = {
    "": ("text/html", ["glass.html"]),
    "page.css": ("text/css", ["page.css"]),
    "page.js": ("text/javascript", ["player.js", "choosing.js", "glass.js"]),
}
Told = TypeVar("Told")


def start(server: Server, port: int) -> str:
    """Serves the page beside the loop of a display that is about to run, for as long as the process lives.
    Its address; raises OSError where the port is not free."""
    page, loop = GlassPage(server), asyncio.new_event_loop()
    threading.Thread(target=loop.run_forever, name="page", daemon=True).start()
    asyncio.run_coroutine_threadsafe(page.door.begin(port), loop).result()
    return page.door.address


class GlassPage:
    """The page of one display."""

    def __init__(self, server: Server) -> None:
        self._server = server
        self.door = Door(FILES)
        self.door.get("pack", self._pack)
        self.door.get("facts", self._facts)
        self.door.get("glass", self._glass)

    async def _asked(self, action: Callable[[Display, float], Told]) -> Told:
        """What the display answers, from the thread of its own loop."""
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[Told] = loop.create_future()

        def put(value: Told) -> None:
            if not answer.done():
                answer.set_result(value)

        def ask(display: Display, now: float) -> None:
            loop.call_soon_threadsafe(put, action(display, now))

        self._server.ask(ask)
        return await asyncio.wait_for(answer, 10)

    async def _pack(self, _: web.Request) -> web.Response:
        held = await self._asked(lambda display, _: display.held)
        if held is None:
            raise web.HTTPNotFound(text="The display holds no pack yet.\n")
        return web.Response(body=held[0])

    async def _facts(self, _: web.Request) -> web.Response:
        told = await self._asked(lambda display, _: facts(display))
        return web.Response(text=as_json(told), content_type="application/json")

    async def _glass(self, request: web.Request) -> web.StreamResponse:
        socket = web.WebSocketResponse(max_msg_size=LARGEST, heartbeat=20)
        await socket.prepare(request)
        listener = asyncio.create_task(self._feel(socket))
        news = News(socket)
        try:
            while not listener.done():
                await news.tell(await self._asked(seen))
                await asyncio.sleep(REST)
        except ConnectionError:
            pass
        finally:
            listener.cancel()
        return socket

    async def _feel(self, socket: web.WebSocketResponse) -> None:
        async for deed in deeds(socket):
            if deed is not None:
                await self._asked(partial(_felt, deed))


def _felt(deed: Mapping[str, Any], display: Display, now: float) -> None:
    """What a hand does; what is none is nothing."""
    match deed:
        case {"do": "press", "x": int(x), "y": int(y)}:
            display.press(*_within(display, x, y), now)
        case {"do": "release", "x": int(x), "y": int(y)}:
            display.release(*_within(display, x, y), now)
        case {"do": "turn", "right": bool(right)}:
            display.turn(right, now)


def _within(display: Display, x: int, y: int) -> tuple[int, int]:
    glass = display.glass
    return max(0, min(x, glass.width - 1)), max(0, min(y, glass.height - 1))


def seen(display: Display, now: float) -> dict[str, object]:
    """What is in sight, and of which pack."""
    held = display.held
    told: dict[str, object] = {"pack": None if held is None else identity(held[0]).hex()}
    return told if held is None else told | shown_by(display, now)


def facts(display: Display) -> dict[str, object]:
    """The glass and the pack that it holds, for the page's player. How large a pixel is, no pack says."""
    glass, held = display.glass, display.held
    told: dict[str, object] = {
        "width": glass.width,
        "height": glass.height,
        "depth": glass.depth,
        "panel": {"across": 1, "down": 1, "distance": 1, "round": False},
        "pack": None,
    }
    if held is None:
        return told
    pack, drawing = held
    return told | {
        "pack": identity(pack).hex(),
        "channels": len(drawing.channels),
        "screens": [visible(screen.name) for screen in drawing.screens],
        "themes": [visible(theme.name) for theme in drawing.themes],
    }
