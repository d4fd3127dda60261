"""Serves the page that a design is looked at with while it is written."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

from aiohttp import web

from hmic.compile.compiling import Compiled
from hmic.diagnostics import DesignError
from hmic.show.door import LARGEST, Door, words
from hmic.show.live import Unmended, Watched, as_json, raw, state
from hmic.show.seeing import contrasts, lens
from hmic.show.stage import rehearse

REST = 0.02
"""Seconds between two looks at the folder."""
BEAT = 5.0
"""Seconds after which a page that hears nothing is told that all is well."""
LIVE = [
    f"{name}.js"
    for name in ("player", "choosing", "lens", "measuring", "values", "found", "rehearse", "live")
]
FILES = {
    "": ("text/html", ["live.html"]),
    "page.css": ("text/css", ["page.css", "live.css"]),
    "page.js": ("text/javascript", LIVE),
}


class Live:
    """A design's folder behind an address. ``address`` is known once it has begun."""

    def __init__(self, folder: Path, language: str | None = None, replay: Sequence[str] = ()) -> None:
        """``replay`` are the recordings of rehearsals, as ``--replay`` takes them."""
        self._watched = Watched(folder, language)
        self._given = tuple(replay)
        self._news = asyncio.Condition()
        self._turner = ThreadPoolExecutor(1, "compile")
        self._door = Door(FILES)
        self._door.get("state", self._state)
        self._door.get("pack", self._pack)
        self._door.get("lens", self._lens)
        self._door.get("contrasts", self._contrasts)
        self._door.get("news", self._told)
        self._door.get("rehearsal", self._rehearsal)
        self._door.post("values", self._values)
        self._door.post("mend", self._mend)

    async def begin(self, port: int) -> None:
        """Takes the port, 0 for any. Raises OSError where it is not free."""
        await self._door.begin(port)

    @property
    def address(self) -> str:
        """Where it is, once it has begun."""
        return self._door.address

    async def watch(self) -> None:
        """Follows the folder, without end."""
        loop = asyncio.get_running_loop()
        while True:
            if await loop.run_in_executor(self._turner, self._watched.turn):
                async with self._news:
                    self._news.notify_all()
            else:
                await asyncio.sleep(REST)

    async def _state(self, _: web.Request) -> web.Response:
        sight = self._watched.sight
        text = await asyncio.to_thread(lambda: as_json(state(sight)))
        return web.Response(text=text, content_type="application/json")

    def _shown(self) -> Compiled:
        shown = self._watched.sight.shown
        if shown is None:
            raise web.HTTPNotFound(text="There is nothing to show yet.\n")
        return shown

    async def _pack(self, _: web.Request) -> web.Response:
        shown = self._shown()
        return web.Response(body=await asyncio.to_thread(lambda: shown.pack))

    async def _lens(self, _: web.Request) -> web.Response:
        told = await asyncio.to_thread(lens, self._shown())
        return web.Response(text=as_json(told), content_type="application/json")

    async def _contrasts(self, request: web.Request) -> web.Response:
        shown, screen = self._shown(), request.query.get("screen", "")
        if not screen.isascii() or not screen.isdigit() or int(screen) >= len(shown.arranged.screens):
            raise web.HTTPBadRequest(text="There is no such screen.\n")
        told = await asyncio.to_thread(contrasts, shown, int(screen))
        return web.Response(text=as_json(told), content_type="application/json")

    async def _mend(self, request: web.Request) -> web.Response:
        try:
            asked = json.loads(await request.text())
            version, number = asked["version"], asked["finding"]
            if type(version) is not int or type(number) is not int:
                raise ValueError
        except (ValueError, KeyError, TypeError, RecursionError):
            raise web.HTTPBadRequest(text="This names no finding.\n") from None
        loop = asyncio.get_running_loop()
        try:
            # Between two turns, so that nothing changes meanwhile but by others.
            done = await loop.run_in_executor(self._turner, self._watched.mend, version, number)
        except Unmended as why:
            raise web.HTTPConflict(text=str(why)) from None
        return web.Response(text=done)

    async def _rehearsal(self, request: web.Request) -> web.StreamResponse:
        socket = web.WebSocketResponse(max_msg_size=LARGEST, heartbeat=20)
        shown = self._shown()
        await socket.prepare(request)
        await rehearse(socket, shown, self._given)
        return socket

    async def _values(self, request: web.Request) -> web.Response:
        shown = self._watched.sight.shown
        try:
            asked = json.loads(await request.text())
            settings, touch = asked["settings"], asked["touch"]
            plain = all(isinstance(each, str) for pair in settings.items() for each in pair)
            if shown is None or not plain or not isinstance(touch, str):
                raise ValueError
            return web.Response(body=await asyncio.to_thread(raw, shown, settings, touch))
        except DesignError as raised:
            raise web.HTTPUnprocessableEntity(text=words(raised)) from None
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            raise web.HTTPBadRequest(text="These are no values.\n") from None

    async def _told(self, request: web.Request) -> web.StreamResponse:
        """The version of what there is to see, whenever it changes, for as long as the page listens."""
        headers = {"Content-Type": "text/event-stream", "Cache-Control": "no-store"}
        answer = web.StreamResponse(headers=headers)
        await answer.prepare(request)
        version = -1
        try:
            while True:
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._other_than(version), BEAT)
                version = self._watched.sight.version
                await answer.write(f"data: {version}\n\n".encode())
        except ConnectionError:
            return answer

    async def _other_than(self, version: int) -> None:
        async with self._news:
            await self._news.wait_for(lambda: self._watched.sight.version != version)
