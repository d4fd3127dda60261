"""A rehearsal or a display before a page: what it shows goes out, what hands do comes in, both as JSON over a
socket of its own. When the page goes away, nothing is left."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from typing import Any

from aiohttp import web

from hmic.compile.compiling import Compiled
from hmic.diagnostics import DesignError
from hmic.show.door import News, deeds, words
from hmic.show.live import as_json
from hmic.show.rehearsal import Rehearsal, opened

REST = 0.01
"""Seconds between two turns."""
LONGEST = 0.05
"""Seconds that pass for a rehearsal between two turns at most: a computer that is busy is no line that is
cut."""
APART = 0.03
"""Seconds at least between two things that are told."""
Answer = Mapping[str, str] | None
NO_DEED: Answer = {"fault": "this is no deed"}


class Clock:
    """The time of a rehearsal: it goes on by turns."""

    def __init__(self) -> None:
        self.now = self._real = time.monotonic()

    def turn(self) -> float:
        """Goes on."""
        real = time.monotonic()
        self.now += min(real - self._real, LONGEST)
        self._real = real
        return self.now


async def rehearse(socket: web.WebSocketResponse, compiled: Compiled, given: Sequence[str]) -> None:
    """Until the page goes away."""
    loop = asyncio.get_running_loop()
    with ThreadPoolExecutor(1, "rehearse") as thread:
        do = partial(loop.run_in_executor, thread)
        clock = Clock()
        try:
            rehearsal = await do(opened, compiled, given, clock.now)
        except DesignError as raised:
            await socket.send_str(as_json({"fault": words(raised)}))
            return
        listener = asyncio.create_task(_listen(socket, lambda deed: do(_follow, rehearsal, clock.now, deed)))
        try:
            await _tell(socket, lambda: do(_turn, rehearsal, clock), listener)
        finally:
            listener.cancel()
            await do(rehearsal.close)


async def _tell(
    socket: web.WebSocketResponse,
    turn: Callable[[], Awaitable[dict[str, object]]],
    listener: asyncio.Task[None],
) -> None:
    """What is new, as it comes."""
    news, last = News(socket), 0.0
    with suppress(ConnectionError):
        while not listener.done():
            now = await turn()
            if time.monotonic() - last >= APART and await news.tell(now):
                last = time.monotonic()
            await asyncio.sleep(REST)


async def _listen(
    socket: web.WebSocketResponse, follow: Callable[[Mapping[str, Any]], Awaitable[Answer]]
) -> None:
    async for deed in deeds(socket):
        try:
            answer = NO_DEED if deed is None else await follow(deed)
        except (ValueError, RecursionError):
            answer = NO_DEED
        if answer is not None:
            await socket.send_str(as_json(answer))


def _turn(rehearsal: Rehearsal, clock: Clock) -> dict[str, object]:
    now = clock.turn()
    rehearsal.turn(now)
    rehearsal.read_on()
    return rehearsal.seen(now)


def _follow(rehearsal: Rehearsal, now: float, deed: Mapping[str, Any]) -> Answer:
    """Does what a page asks."""
    try:
        match deed:
            case {"do": "play", "speed": float() | int() as speed} if 0 <= speed <= 100:
                rehearsal.play(float(speed), now)
            case {"do": "seek", "at": float() | int() as at} if 0 <= at < 1e9:
                rehearsal.seek(float(at), now)
            case {"do": "next"}:
                change = rehearsal.next_change(now)
                return None if change is None else {"change": change.what}
            case {"do": "press" | "release" as which, "x": int(x), "y": int(y)}:
                finger = rehearsal.press if which == "press" else rehearsal.release
                finger(max(0, min(x, 65535)), max(0, min(y, 65535)), now)
            case {"do": "pull", "on": bool(on)}:
                rehearsal.pull(on)
            case {"do": "power", "on": bool(on)}:
                rehearsal.power(not on)
            case {"do": "freeze", "on": bool(on)}:
                rehearsal.freeze(on)
            case {"do": "follow", "on": bool(on)}:
                rehearsal.follows = on
            case {"do": "go", "screen": int(screen)}:
                rehearsal.go(screen, now)
            case {"do": "theme", "theme": int() | None as theme}:
                rehearsal.choose_theme(theme, now)
            case {"do": "set", "settings": dict(settings)} if all(
                isinstance(each, str) for pair in settings.items() for each in pair
            ):
                rehearsal.set(settings)
            case _:
                return NO_DEED
    except DesignError as raised:
        return {"fault": words(raised)}
    return None
