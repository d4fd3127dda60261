"""Serves the page that a design is looked at with while it is written: on this computer only, to whom has the
address with its token."""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

from aiohttp import web

from hmic.compile.compiling import Compiled
from hmic.diagnostics import DesignError
from hmic.player.written import MODULE
from hmic.show.live import Unmended, Watched, as_json, raw, state
from hmic.show.seeing import contrasts, lens
from hmic.show.share import PAGE
from hmic.show.stage import rehearse

HOST = "127.0.0.1"
REST = 0.02
"""Seconds between two looks at the folder."""
BEAT = 5.0
"""Seconds after which a page that hears nothing is told that all is well."""
LARGEST = 100_000
"""Bytes that a page may send."""
LIVE = [
    f"{name}.js"
    for name in ("player", "choosing", "lens", "measuring", "values", "found", "rehearse", "live")
]
FILES = {
    "": ("text/html", ["live.html"]),
    "page.css": ("text/css", ["page.css", "live.css"]),
    "page.js": ("text/javascript", LIVE),
}
POLICY = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; connect-src 'self'"

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Live:
    """A design's folder behind an address. ``address`` is known once it has begun."""

    def __init__(self, folder: Path, language: str | None = None, replay: Sequence[str] = ()) -> None:
        """``replay`` are the recordings of rehearsals, as ``--replay`` takes them."""
        self._watched = Watched(folder, language)
        self._given = tuple(replay)
        self._token = secrets.token_urlsafe(16)
        self._news = asyncio.Condition()
        self._turner = ThreadPoolExecutor(1, "compile")
        self._hosts: set[str] = set()
        self.address = ""

    async def begin(self, port: int) -> None:
        """Takes the port, 0 for any. Raises OSError where it is not free."""
        app = web.Application(middlewares=[self._guarded], client_max_size=LARGEST)
        for name in FILES:
            app.router.add_get(f"/{self._token}/{name}", self._file)
        app.router.add_get(f"/{self._token}/player.wasm", self._player)
        app.router.add_get(f"/{self._token}/state", self._state)
        app.router.add_get(f"/{self._token}/pack", self._pack)
        app.router.add_get(f"/{self._token}/lens", self._lens)
        app.router.add_get(f"/{self._token}/contrasts", self._contrasts)
        app.router.add_post(f"/{self._token}/values", self._values)
        app.router.add_post(f"/{self._token}/mend", self._mend)
        app.router.add_get(f"/{self._token}/news", self._told)
        app.router.add_get(f"/{self._token}/rehearsal", self._rehearsal)
        runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
        await runner.setup()
        site = web.TCPSite(runner, HOST, port)
        await site.start()
        taken = runner.addresses[0][1]
        self._hosts = {f"{HOST}:{taken}", f"localhost:{taken}"}
        self.address = f"http://{HOST}:{taken}/{self._token}/"

    async def watch(self) -> None:
        """Follows the folder, without end."""
        loop = asyncio.get_running_loop()
        while True:
            if await loop.run_in_executor(self._turner, self._watched.turn):
                async with self._news:
                    self._news.notify_all()
            else:
                await asyncio.sleep(REST)

    @web.middleware
    async def _guarded(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Only for the address that was printed, and for no page of anybody else's."""
        origin = request.headers.get("Origin")
        own = origin is None or origin.removeprefix("http://") in self._hosts
        if request.headers.get("Host") not in self._hosts or not own:
            raise web.HTTPForbidden(text="Open the address that hmic printed.\n")
        answer = await handler(request)
        if not answer.prepared:
            answer.headers["Content-Security-Policy"] = POLICY
            answer.headers["Cache-Control"] = "no-store"
            answer.headers["X-Content-Type-Options"] = "nosniff"
        return answer

    async def _file(self, request: web.Request) -> web.Response:
        kind, names = FILES[request.path.rpartition("/")[2]]
        text = "".join((PAGE / name).read_text(encoding="utf-8") for name in names)
        return web.Response(text=text, content_type=kind)

    async def _player(self, _: web.Request) -> web.Response:
        return web.Response(body=MODULE.read_bytes(), content_type="application/wasm")

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
            told = "; ".join(f"{item.message}: {item.remedy}" for item in raised.findings)
            raise web.HTTPUnprocessableEntity(text=told) from None
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
