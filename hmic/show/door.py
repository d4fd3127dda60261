"""An address on this computer behind which pages are: for whom has it with its token, and for no page of
anybody else's. What they and the program say to each other over a socket is JSON: news, and deeds."""

from __future__ import annotations

import json
import secrets
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from typing import Any

from aiohttp import WSMsgType, web

from hmic.diagnostics import DesignError
from hmic.player.written import MODULE
from hmic.show.live import as_json
from hmic.show.share import PAGE

HOST = "127.0.0.1"
LARGEST = 100_000
"""Bytes that a page may send at once."""
POLICY = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; connect-src 'self'"

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
Files = Mapping[str, tuple[str, Sequence[str]]]
"""By name their kind, and the files that each is put together of."""


class Door:
    """``address`` is known once it has begun; ``get`` and ``post`` are for before."""

    def __init__(self, files: Files) -> None:
        self.address = ""
        self._files = files
        self._token = secrets.token_urlsafe(16)
        self._hosts: set[str] = set()
        self._app = web.Application(middlewares=[self._guarded], client_max_size=LARGEST)
        for name in files:
            self.get(name, self._file)
        self.get("player.wasm", self._player)

    def get(self, name: str, handler: Handler) -> None:
        """What is there to be looked at."""
        self._app.router.add_get(f"/{self._token}/{name}", handler)

    def post(self, name: str, handler: Handler) -> None:
        """What something can be said to."""
        self._app.router.add_post(f"/{self._token}/{name}", handler)

    async def begin(self, port: int) -> None:
        """Takes the port, 0 for any. Raises OSError where it is not free."""
        runner = web.AppRunner(self._app, access_log=None, shutdown_timeout=0.1)
        await runner.setup()
        site = web.TCPSite(runner, HOST, port)
        await site.start()
        taken = runner.addresses[0][1]
        self._hosts = {f"{HOST}:{taken}", f"localhost:{taken}"}
        self.address = f"http://{HOST}:{taken}/{self._token}/"

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
        kind, names = self._files[request.path.rpartition("/")[2]]
        text = "".join((PAGE / name).read_text(encoding="utf-8") for name in names)
        return web.Response(text=text, content_type=kind)

    async def _player(self, _: web.Request) -> web.Response:
        return web.Response(body=MODULE.read_bytes(), content_type="application/wasm")


async def deeds(socket: web.WebSocketResponse) -> AsyncIterator[Mapping[str, Any] | None]:
    """What a page asks, until it says something else than text or goes away; None for what is no deed."""
    async for message in socket:
        if message.type is not WSMsgType.TEXT:
            return
        try:
            deed = json.loads(message.data)
        except (ValueError, RecursionError):
            deed = None
        yield deed if isinstance(deed, dict) else None


class News:
    """Tells a page what has changed since it was last told. Raises ConnectionError when it is gone."""

    def __init__(self, socket: web.WebSocketResponse) -> None:
        self._socket = socket
        self._before: Mapping[str, object] = {}

    async def tell(self, now: Mapping[str, object]) -> bool:
        """Whether there was any."""
        news = {key: value for key, value in now.items() if self._before.get(key, self) != value}
        if news:
            await self._socket.send_str(as_json(news))
            self._before = now
        return bool(news)


def words(raised: DesignError) -> str:
    """A refusal, with what to do."""
    return "; ".join(f"{item.message}: {item.remedy}" for item in raised.findings)
