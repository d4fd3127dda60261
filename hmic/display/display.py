"""The software display: bytes and touches in, bytes and pictures out. No I/O and no clock inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from hmic.diagnostics import DesignError
from hmic.display.blank import blank
from hmic.display.flash import Flash
from hmic.display.store import Store
from hmic.pack.reader import read
from hmic.pack.records import identity
from hmic.paint.operations import STALE, UNSEEN, Box, Drawing, Moment
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import Activated, DisplayEvent, DisplayFacts, Phase, Shown, Silent, Values

if TYPE_CHECKING:
    from PIL import Image

    from hmic.paint.painter import Painter

CHANNEL_CAPACITY = 4096


@dataclass(frozen=True)
class Glass:
    """The panel in front: pixels and bits a pixel."""

    width: int
    height: int
    depth: int


class Display:
    """A panel with a store behind it. Times are seconds of any steady clock; ``nonce`` (32 bits)
    is new at every start; ``fastest`` the highest rate in Bd that its link can be set to, 0 for none;
    ``known`` a pack that has been read already, with its drawing.
    Call ``outgoing`` after any other call, and ``tick`` at
    ``next_deadline``. Bytes received never raise."""

    def __init__(
        self,
        flash: Flash,
        glass: Glass,
        nonce: int,
        fastest: int = 0,
        known: tuple[bytes, Drawing] | None = None,
    ) -> None:
        self.glass = glass
        self.refusal: str | None = None
        self.brightness = 100
        self._nonce = nonce
        self._fastest = fastest
        self._known: tuple[bytes, Drawing | None, str | None] | None = None
        if known is not None:
            self._known = *known, _unfit(known[1], glass)
        self._store = Store(flash, self._accepts)
        self._drawing: Drawing | None = None
        self._painter: Painter | None = None
        self._screen = self._theme = 0
        self._raw: list[int] = []
        self._listed: tuple[int, ...] = ()
        self._pressed = False
        self._load()
        self._session = DisplaySession(self._facts(), self._store)

    def receive(self, data: bytes, now: float) -> None:
        """Bytes from the host, however they were cut."""
        for event in self._session.receive(data, now):
            self._on(event)

    def outgoing(self, now: float) -> bytes:
        """Bytes for the host."""
        return self._session.outgoing(now)

    def take_rate(self) -> int | None:
        """The rate in Bd that the link must be set to once ``outgoing``'s bytes have left, 0 for its first
        one; None for no change."""
        return self._session.take_rate()

    def tick(self, now: float) -> None:
        """Lets time pass: silence is noticed here."""
        self.receive(b"", now)

    def next_deadline(self) -> float | None:
        """When ``tick`` is due, None when nothing waits for a time."""
        return self._session.next_deadline()

    def press(self, x: int, y: int, now: float) -> bool:
        """A finger comes down; False when no host feels it."""
        self._pressed = True
        return self._session.touch(self._zone(x, y), Phase.PRESS, x, y, now)

    def release(self, x: int, y: int, now: float) -> bool:
        """The finger lifts, perhaps elsewhere; False when no host feels it, or there was no press."""
        if not self._pressed:
            return False
        self._pressed = False
        return self._session.touch(self._zone(x, y), Phase.RELEASE, x, y, now)

    def feels(self, x: int, y: int) -> bool:
        """Whether a touch zone of the screen in sight lies under a point."""
        return self._zone(x, y) is not None

    def controls(self) -> tuple[Box, ...]:
        """The touch zones of the screen in sight."""
        drawing = self._drawing
        return () if drawing is None else tuple(zone.box for zone in drawing.screens[self._screen].zones)

    def turn(self, right: bool, now: float) -> bool:
        """One click of a knob, told to the host as a swipe across the whole panel that touches no zone:
        to the right brings the next screen. A click before the next screen is there counts for nothing.
        False when no host feels it."""
        self._pressed = False
        across = (self.glass.width - 1, 0) if right else (0, self.glass.width - 1)
        middle = self.glass.height // 2
        pressed = self._session.touch(None, Phase.PRESS, across[0], middle, now)
        return self._session.touch(None, Phase.RELEASE, across[1], middle, now) and pressed

    def install(self, pack: bytes, drawing: Drawing | None = None) -> bool:
        """Stores a pack that came another way than over the line and shows it. False when it cannot
        be held or drawn; ``refusal`` says why. ``drawing`` is what it draws, where it has been read."""
        self.refusal = None
        if drawing is not None:
            self._known = pack, drawing, _unfit(drawing, self.glass)
        if not self._store.install(pack):
            room = f"the display holds packs of up to {self._store.capacity} bytes, this has {len(pack)}"
            self.refusal = self.refusal or (
                room if len(pack) > self._store.capacity else "the store could not be written"
            )
            return False
        self._reload()
        return True

    @property
    def identity(self) -> bytes | None:
        """The identity of the pack in use."""
        pack = self._store.active()
        return None if pack is None or self._drawing is None else identity(pack)

    @property
    def held(self) -> tuple[bytes, Drawing] | None:
        """The pack in use and what it draws; None on an empty display."""
        pack = self._store.active()
        return None if pack is None or self._drawing is None else (pack, self._drawing)

    def moment(self, now: float) -> Moment:
        """What is shown now, in numbers."""
        return Moment(self._screen, self._theme, tuple(self._raw), int(now * 1000))

    def image(self, now: float) -> Image.Image:
        """The frame as it stands now, RGB, of the panel's size. Brightness does not change it."""
        if self._painter is None:
            from hmic.paint.painter import Painter

            glass = self.glass
            self._painter = Painter(self._drawing or blank(glass.width, glass.height, glass.depth))
        return self._painter.paint(self.moment(now))

    def _on(self, event: DisplayEvent) -> None:
        match event:
            case Shown():
                self._show(event)
            case Values(raw=raw):
                self._take(raw)
            case Silent():
                # What was never seen on this screen is stale too: its sender is not there.
                self._raw = [STALE] * len(self._raw)
            case Activated():
                self.refusal = None
                self._reload()
            case _:
                pass

    def _show(self, shown: Shown) -> None:
        drawing = self._drawing
        if drawing is None:
            return
        known = shown.screen < len(drawing.screens)
        if not known or shown.screen != self._screen:
            # Another screen's values are not kept up to date, so none of them may look alive.
            self._raw = [UNSEEN] * len(drawing.channels)
        # Values for a screen that is not here must not end up on one that is.
        self._listed = drawing.screens[shown.screen].channels if known else ()
        if known:
            self._screen = shown.screen
        if shown.theme < len(drawing.themes):
            self._theme = shown.theme
        self.brightness = shown.brightness

    def _take(self, raw: tuple[int, ...]) -> None:
        if len(raw) != len(self._listed):
            self._raw = [STALE] * len(self._raw)
            return
        for channel, value in zip(self._listed, raw, strict=True):
            self._raw[channel] = value

    def _zone(self, x: int, y: int) -> int | None:
        """The smallest zone under a point, the first of equal ones."""
        if self._drawing is None:
            return None
        under = []
        for number, zone in enumerate(self._drawing.screens[self._screen].zones):
            box = zone.box
            if 0 <= x - box.left < box.width and 0 <= y - box.top < box.height:
                under.append((box.width * box.height, number))
        return min(under)[1] if under else None

    def _accepts(self, pack: bytes) -> bool:
        return self._read(pack) is not None

    def _read(self, pack: bytes) -> Drawing | None:
        """The drawing of a pack, if this panel can show it; ``refusal`` says why not. The last one is
        kept, for a pack is looked at before it is put to use."""
        if self._known is None or self._known[0] != pack:
            try:
                drawing = read(pack)
                self._known = pack, drawing, _unfit(drawing, self.glass)
            except DesignError as failure:
                self._known = pack, None, failure.findings[0].message
        _, known, self.refusal = self._known
        return known if self.refusal is None else None

    def _reload(self) -> None:
        self._load()
        self._session.repack(self._facts())

    def _load(self) -> None:
        pack = self._store.active()
        self._drawing = self._read(pack) if pack is not None else None
        self._painter = None
        drawing = self._drawing
        self._screen = drawing.start if drawing else 0
        self._theme = drawing.first_theme if drawing else 0
        self._raw = [UNSEEN] * len(drawing.channels) if drawing else []
        self._listed = drawing.screens[drawing.start].channels if drawing else ()
        self.brightness = drawing.themes[self._theme].brightness if drawing else 100
        self._pressed = False

    def _facts(self) -> DisplayFacts:
        return DisplayFacts(
            self._nonce,
            self.glass.width,
            self.glass.height,
            self.glass.depth,
            self.identity,
            self._store.capacity,
            CHANNEL_CAPACITY,
            len(self._drawing.screens) if self._drawing else 0,
            fastest=self._fastest,
        )


def _unfit(drawing: Drawing, glass: Glass) -> str | None:
    """Why a panel cannot show a drawing."""
    wanted = Glass(drawing.width, drawing.height, drawing.depth)
    if wanted != glass:
        return (
            f"the pack is for a panel of {wanted.width} x {wanted.height} at {wanted.depth} bits, "
            f"this one has {glass.width} x {glass.height} at {glass.depth} bits"
        )
    if len(drawing.channels) > CHANNEL_CAPACITY:
        return f"the pack has {len(drawing.channels)} channels, the display holds {CHANNEL_CAPACITY}"
    return None
