"""Pages of designs as they are served, for tests."""

from __future__ import annotations

import asyncio
import json
import shutil
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

from hmic.compile.compiling import Compiled, compile_design
from hmic.show.serving import Live

LAYOUTS = Path(__file__).parents[2] / "layouts"


@cache
def compiled(name: str) -> Compiled:
    """An example, compiled once for all tests of a process."""
    found = compile_design(LAYOUTS / name)
    assert isinstance(found, Compiled)
    return found


def design(folder: Path, name: str = "roost") -> Path:
    shutil.copytree(LAYOUTS / name, folder / name, ignore=shutil.ignore_patterns("logs"))
    return folder / name


def write(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


@contextmanager
def served(folder: Path, replay: Sequence[str] = ()) -> Iterator[Live]:
    """The page of a design, served from a thread."""
    loop, begun, found = asyncio.new_event_loop(), threading.Event(), []

    async def serve() -> None:
        live = Live(folder, None, replay)
        await live.begin(0)
        found.append(live)
        begun.set()
        with suppress(asyncio.CancelledError):
            await live.watch()

    thread = threading.Thread(target=lambda: loop.run_until_complete(serve()), daemon=True)
    thread.start()
    assert begun.wait(10)
    try:
        yield found[0]
    finally:
        for task in asyncio.all_tasks(loop):
            loop.call_soon_threadsafe(task.cancel)
        thread.join(10)


def asked(address: str, **more: Any) -> bytes:
    with urlopen(Request(address, **more), timeout=10) as answer:
        result: bytes = answer.read()
        return result


def seen(address: str) -> dict[str, Any]:
    """The state once the checks have been through."""
    for _ in range(600):
        told: dict[str, Any] = json.loads(asked(address + "state"))
        if told["checked"]:
            return told
        threading.Event().wait(0.05)
    raise AssertionError("never checked")
