"""What a host shows."""

from __future__ import annotations

from hmic.wire import messages, states
from hmic.wire.events import Shown
from hmic.wire.states import Cause, Machine

SHOW_AGAIN = 0.3
"""Seconds a display may go on telling of another scene before Show is sent again."""


class Scene:
    """The look in sight and the number of its scene; the choice outlives a session, but not a pack."""

    def __init__(self) -> None:
        self._machine = Machine(states.SCENE)
        self._shown_at = 0.0
        self.look: Shown | None = None
        self.number = 0

    @property
    def due(self) -> bool:
        """Whether a Show has to be sent."""
        return self._machine.state in (states.Scene.FRESH, states.Scene.KEPT)

    @property
    def fresh(self) -> bool:
        """Whether its values begin with the Show that is due."""
        return self._machine.state == states.Scene.FRESH

    def choose(self, look: Shown) -> bool:
        """Show this next, if it is not in sight; whether it needs values of its own."""
        before, self.look = self.look, look
        if before == look:
            return False
        same = before is not None and before.same_screen(look)
        self._machine.move(Cause.OTHER_LOOK if same else Cause.OTHER_SCREEN)
        self.number += 1
        return not same

    def forget(self) -> None:
        """The display has another pack now."""
        self._machine.move(Cause.OTHER_PACK)
        self.look = None

    def anew(self) -> None:
        """Show what is in sight, and every value of it, once more."""
        self._machine.move(Cause.ANEW)
        self.number = self.number + 1 if self.look is not None else 0

    def astray(self, now: float) -> None:
        """The display tells of another scene, or of values that are not known."""
        if now >= self._shown_at + SHOW_AGAIN:
            self.anew()

    def show(self, look: Shown, number: int, now: float) -> messages.Show:
        """The Show that is due, after value frame ``number``."""
        fresh = self.fresh
        self._machine.move(Cause.SHOWN)
        self._shown_at = now
        chosen = look.screen, look.theme, look.brightness, look.channel_count
        return messages.Show(self.number, number, fresh, *chosen)
