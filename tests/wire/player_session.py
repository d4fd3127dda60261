"""The player with the doors of ``DisplaySession`` and of the store that the tests of the line give it: what
the session tells is read out of its memory after each frame."""

from __future__ import annotations

import ctypes
from functools import cache
from hashlib import sha256
from types import SimpleNamespace

from hmic.display.display import Glass
from hmic.display.flash import MemoryFlash
from hmic.display.store import Store
from hmic.paint.operations import LIVE
from hmic.wire.events import Activated, DisplayEvent, DisplayFacts, Phase, Shown, Silent, Values
from hmic.wire.received import STALE, ReceivedValues
from hmic.wire.states import Display
from tests.tools.player_display import LARGEST_OUT, PlayerDisplay, State
from tests.wire.sound_packs import GLASS, SCREENS, pack_of

STATES = {
    State.ALONE: Display.ALONE,
    State.MET: Display.MET,
    State.SHOWING: Display.SHOWING,
    State.SILENT: Display.SILENT,
}
FLASH_SIZE = 1 << 20


@cache
def at_first() -> bytes:
    """A flash with some pack in use: without one no screen can be shown."""
    flash = MemoryFlash(FLASH_SIZE)
    assert Store(flash).install(pack_of())
    return bytes(flash.cells)


class PlayerStore(MemoryFlash):
    """The flash of a player, and what ``MemoryStore`` tells of its content."""

    def __init__(self) -> None:
        super().__init__(FLASH_SIZE)
        self.cells[:] = at_first()
        self.written = 0
        self.player: PlayerDisplay | None = None

    def program(self, offset: int, data: bytes) -> None:
        self.written += len(data)
        super().program(offset, data)

    @property
    def active(self) -> bytes | None:
        """The pack in use, as the software display would find it after power-up."""
        return Store(self).active()

    @active.setter
    def active(self, pack: bytes) -> None:
        assert Store(self).install(pack)

    @property
    def identity(self) -> bytes:
        """Another one once anything in the flash is."""
        return sha256(self.cells).digest()

    @property
    def content(self) -> memoryview:
        """The pack that is arriving."""
        assert self.player is not None
        told = self.player.told()
        return memoryview(self.cells)[told.arrived : told.arrived + told.arriving]

    def rot(self, low: int, high: int) -> None:
        """Flips a bit of each byte of a part of the pack in use."""
        assert self.player is not None
        start = self.player.told().in_use
        for at in range(start + low, start + high):
            self.cells[at] ^= 1


class PlayerSession:
    """As ``DisplaySession``; of what ``facts`` say it has the nonce, the channels and the rate, and of the
    panel the one that ``pack_of`` is for."""

    def __init__(self, facts: DisplayFacts, store: PlayerStore) -> None:
        self.facts = facts
        self._player = PlayerDisplay(
            store,
            Glass(*GLASS),
            facts.nonce,
            facts.fastest,
            channels=max(facts.channel_capacity, sum(SCREENS.values())),
        )
        store.player = self._player
        self._sequence = self._player.told().sequence
        self._silent = False
        self._shown: Shown | None = None
        self._told: tuple[int, ...] | None = None

    @property
    def state(self) -> str:
        return STATES[State(self._player.told().state)]

    @property
    def dropped(self) -> int:
        return int(self._player.told().dropped)

    def receive(self, data: bytes, now: float) -> list[DisplayEvent]:
        events: list[DisplayEvent] = []
        *frames, rest = data.split(b"\0")
        for piece in (*(frame + b"\0" for frame in frames), *([rest] if rest else [])):
            self._player.call("hmic_display_receive", piece, len(piece), _ms(now))
            self._tell(events)
        self._player.call("hmic_display_pass", _ms(now))
        self._tell(events)
        self._look_at_the_panel()
        return events

    def touch(self, zone: int | None, phase: Phase, x: int, y: int, now: float) -> bool:
        """Zones are the player's own to find, and it knows no other phases than press and release."""
        if phase not in (Phase.PRESS, Phase.RELEASE):
            return False
        name = "hmic_display_press" if phase is Phase.PRESS else "shim_lift"
        self._player.call("hmic_display_pass", _ms(now))
        # A new player feels a finger lift only where it came down.
        return bool(self._player.call(name, x, y))

    def repack(self, facts: DisplayFacts) -> None:
        """It has done so by itself."""

    def take_rate(self) -> int | None:
        return self._player.take_rate()

    def outgoing(self, now: float) -> bytes:
        out = ctypes.create_string_buffer(LARGEST_OUT)
        made = self._player.call("shim_outgoing", _ms(now), out, LARGEST_OUT)
        return out.raw[:made]

    def next_deadline(self) -> float | None:
        return self._player.next_deadline()

    @property
    def _seal(self) -> int | None:
        told = self._player.told()
        return told.seal if told.sealed else None

    @property
    def _scene(self) -> int:
        return int(self._player.told().scene)

    @property
    def _held(self) -> ReceivedValues:
        """What is held, as the software session would hold it."""
        told = self._player.told()
        held = ReceivedValues(told.count, told.number)
        held.values = list(self._player.held[: told.count])
        held.late = told.late
        return held

    @property
    def _touches(self) -> range:
        return range(self._player.told().touch_count)

    @property
    def _decoder(self) -> SimpleNamespace:
        return SimpleNamespace(_held=bytes(self._player.told().line_count))

    def visible(self) -> tuple[int, ...]:
        """The values of the list that may be shown."""
        told = self._player.told()
        live = told.state == State.SHOWING and not told.doubtful
        return self._held.visible() if live else (STALE,) * told.count

    def _tell(self, events: list[DisplayEvent]) -> None:
        """What has changed since it was asked last."""
        told = self._player.told()
        if told.sequence != self._sequence:
            self._sequence, self._shown, self._told = told.sequence, None, None
            identity = self._player.identity
            assert identity is not None
            events.append(Activated(identity))
        silent = told.state == State.SILENT
        if silent and not self._silent:
            events.append(Silent())
        self._silent = silent
        if not told.has_show:
            return
        shown = Shown(told.shown_screen, told.theme, told.brightness, told.shown_count)
        if shown != self._shown:
            self._shown, self._told = shown, None
            events.append(shown)
        visible = self.visible()
        if visible != self._told:
            self._told = visible
            events.append(Values(visible))

    def _look_at_the_panel(self) -> None:
        """The values that are painted are those of the session, and none is live that is not."""
        told = self._player.told()
        if not told.has_show:
            assert all(value < LIVE for value in self._player.raw[: told.channels])
            return
        first = sum(SCREENS[screen] for screen in range(told.screen))
        painted = tuple(self._player.raw[first : first + SCREENS[told.screen]])
        alike = told.count == SCREENS[told.screen] and told.shown_screen == told.screen
        assert painted == (self.visible() if alike else (STALE,) * len(painted))


def _ms(now: float) -> int:
    return round(now * 1000) & 0xFFFFFFFF
