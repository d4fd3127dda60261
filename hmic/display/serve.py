"""Runs a display on a link until told to stop: the loop behind ``hmic display``."""

from __future__ import annotations

import contextlib
import os
import selectors
import signal
import socket
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError, error
from hmic.display.display import Display, Glass
from hmic.display.flash import FileFlash, Flash, MemoryFlash
from hmic.link.any_link import Link
from hmic.link.line import Line
from hmic.plain_files import write_plain

if TYPE_CHECKING:
    from PIL import Image

    from hmic.paint.operations import Drawing

LONGEST_SLEEP = 1.0


def open_display(
    pack: bytes | None,
    store: Path | None,
    glass: Glass | None = None,
    fastest: int = 0,
    drawing: Drawing | None = None,
) -> Display:
    """A display with a store in a file, or in memory without one. A ``pack`` given is installed;
    ``drawing`` is what it draws, where it has been read already.

    The panel is ``glass``, else the pack's, else that of the pack in the store. ``fastest`` (Bd) as for
    ``Display``. Raises DesignError: P5xx for a bad pack, W660 to W662 for the store, W663 when the pack
    does not fit, W665 when nothing tells the panel.
    """
    from hmic.display.store import Store
    from hmic.pack.reader import read

    if glass is None and pack is None and (store is None or not os.path.lexists(store)):
        raise _no_panel()
    flash: Flash = FileFlash(store) if store is not None else MemoryFlash()
    try:
        stored = None
        if pack is not None:
            drawing = drawing or read(pack)
        elif glass is None and (held := Store(flash).active()) is not None:
            drawing = read(held)
            stored = held, drawing
        if glass is None:
            if drawing is None:
                raise _no_panel()
            glass = Glass(drawing.width, drawing.height, drawing.depth)
        display = Display(flash, glass, int.from_bytes(os.urandom(4), "little"), fastest, stored)
        if pack is not None and not display.install(pack, drawing):
            remedy = "build the design for this panel, or start a display for the pack's panel"
            raise DesignError([error("W663", display.refusal or "the pack does not fit", remedy=remedy)])
    except BaseException:
        if isinstance(flash, FileFlash):
            flash.close()
        raise
    return display


def _no_panel() -> DesignError:
    remedy = "give its width, height and bits a pixel, such as --panel 800x480x16, or a pack"
    return DesignError([error("W665", "an empty display does not know its panel", None, remedy)])


class Server:
    """Joins a display to a link that ``connect`` opens, again whenever it is lost.

    ``tell`` gets sentences for a person. ``picture`` is where the frame goes as a PNG on SIGUSR1
    (when ``run`` is in the main thread). ``baud`` is the rate that ``connect`` opens the link with.
    """

    def __init__(
        self,
        display: Display,
        connect: Callable[[], Link],
        tell: Callable[[str], None],
        picture: Path | None = None,
        baud: int = 115200,
    ) -> None:
        self._baud = baud
        self._display = display
        self._connect = connect
        self._tell = tell
        self._picture = picture
        self._stopping = False
        self._asked: deque[Callable[[Display, float], None]] = deque()
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)
        self._refusal: str | None = None

    def stop(self) -> None:
        """Ends ``run`` soon. From any thread."""
        self._stopping = True
        self._wake()

    def ask(self, action: Callable[[Display, float], None]) -> None:
        """Has ``action(display, now)`` called in the loop's thread soon. From any thread."""
        self._asked.append(action)
        self._wake()

    def ask_image(self, take: Callable[[Image.Image], None]) -> None:
        """Has ``take`` called with the frame soon. From any thread."""
        self.ask(lambda display, now: take(display.image(now)))

    def run(self) -> None:
        """Serves until ``stop`` or Ctrl-C. Raises DesignError when the link cannot be opened at
        first; later it waits for it to come back."""
        try:
            with contextlib.suppress(KeyboardInterrupt), self._signals():
                self._loop(Line(self._connect))
        finally:
            self._wake_in.close()
            self._wake_out.close()

    def _loop(self, line: Line) -> None:
        try:
            while not self._stopping:
                now = time.monotonic()
                self._turn(line, now)
                self._answer(now)
                self._sleep(line)
        finally:
            line.close()

    def _turn(self, line: Line, now: float) -> None:
        display = self._display
        display.receive(line.read(now), now)
        fresh = display.outgoing(now)
        if display.refusal not in (None, self._refusal):
            self._tell(f"a pack was refused: {display.refusal}")
        self._refusal = display.refusal
        line.write(fresh, now)
        rate = display.take_rate() if line.is_open and not line.unsent else None
        if rate is not None:
            line.set_rate(rate or self._baud, now)
        loss = line.take_loss()
        if loss is not None:
            self._tell(f"{loss}; waiting for it to come back")
        if line.take_return():
            self._tell("the port is back")

    def _answer(self, now: float) -> None:
        while self._asked:
            self._asked.popleft()(self._display, now)

    def _sleep(self, line: Line) -> None:
        now = time.monotonic()
        moments = [now + LONGEST_SLEEP, line.next_look(now), self._display.next_deadline()]
        wait = max(0.0, min(moment for moment in moments if moment is not None) - now)
        descriptor = line.descriptor()
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_in, selectors.EVENT_READ)
            if descriptor is not None:
                selector.register(descriptor, selectors.EVENT_READ)
            selector.select(wait)
        with contextlib.suppress(BlockingIOError):
            self._wake_in.recv(4096)

    def _wake(self) -> None:
        # A full pipe wakes as well as one more byte; a closed one is a loop that has ended.
        with contextlib.suppress(OSError):
            self._wake_out.send(b"\0")

    @contextlib.contextmanager
    def _signals(self) -> Iterator[None]:
        """SIGUSR1 asks for the picture while the loop runs, where there are such signals."""
        number = getattr(signal, "SIGUSR1", None)
        picture = self._picture
        if picture is None or number is None or threading.current_thread() is not threading.main_thread():
            yield
            return
        before = signal.signal(number, lambda *_: self.ask_image(lambda image: self._save(image, picture)))
        try:
            yield
        finally:
            signal.signal(number, before)

    def _save(self, image: Image.Image, picture: Path) -> None:
        try:
            save_picture(image, picture)
        except OSError as reason:
            self._tell(f"the picture {picture} cannot be written: {(reason.strerror or '').lower()}")


def save_picture(image: Image.Image, path: Path) -> None:
    """Writes a PNG whole or not at all, so that a viewer never sees half a picture. Raises OSError."""
    data = BytesIO()
    image.save(data, format="PNG")
    write_plain(path, data.getvalue())
