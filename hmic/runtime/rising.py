"""Which screen is in sight: the one chosen, or one that came up by itself."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.model.expressions import Lookup
from hmic.runtime.binding import BoundScreen


class Sight:
    """The screen in sight, by number.

    A screen rises when its condition is true without doubt. It gives way when the condition turns
    false, or, if it yields only when acknowledged, at that. It does not rise again before its
    condition has been false. A condition in doubt changes nothing. Of several the first is shown.
    """

    def __init__(self, screens: Sequence[BoundScreen], start: int) -> None:
        self._screens = screens
        self._chosen = start
        self._risen: set[int] = set()
        self._dismissed: set[int] = set()

    @property
    def screen(self) -> int:
        """The screen in sight now."""
        return min(self._risen, default=self._chosen)

    @property
    def signals(self) -> frozenset[str]:
        """Every signal that a rise depends on."""
        names: frozenset[str] = frozenset()
        for screen in self._screens:
            if screen.rises is not None:
                names |= screen.rises.signals
        return names

    def weigh(self, lookup: Lookup) -> None:
        """Looks at every condition again."""
        for number, screen in enumerate(self._screens):
            if screen.rises is None:
                continue
            holds = screen.rises.evaluate(lookup)
            if holds is True and number not in self._dismissed:
                self._risen.add(number)
            elif holds is False:
                self._dismissed.discard(number)
                if not screen.yields_when_acknowledged:
                    self._risen.discard(number)

    def acknowledge(self, lookup: Lookup) -> bool:
        """The screen in sight gives way; False if it did not come up by itself."""
        if not self._risen:
            return False
        number = min(self._risen)
        self._risen.discard(number)
        self._dismissed.add(number)
        self.weigh(lookup)
        return True

    def go_to(self, number: int, lookup: Lookup) -> bool:
        """Chooses a screen; False if the one in sight must be acknowledged first."""
        if self._risen:
            if self._screens[min(self._risen)].yields_when_acknowledged:
                return False
            self.acknowledge(lookup)
        self._chosen = number
        return True
