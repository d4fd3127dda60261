"""Which screen is in sight: the one chosen, or one that came up by itself."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

from hmic.model.expressions import Lookup
from hmic.runtime.binding import BoundScreen


class Sight:
    """The screen in sight, by number.

    A screen rises when one of its causes is true without doubt. It gives way when all of them have
    turned false, or, if it yields only when acknowledged, at that; then it rises again for a cause
    that was not there, or has been false since. A cause in doubt changes nothing. Of several screens
    the first is shown.
    """

    def __init__(self, screens: Sequence[BoundScreen], start: int) -> None:
        self._screens = screens
        self._chosen = start
        self.signals = frozenset().union(*(cause.signals for screen in screens for cause in screen.rises))
        """Every signal that a rise depends on."""
        self._risen: set[int] = set()
        # By screen the numbers of the causes that hold, as far as is known, and of those dismissed.
        self._holding: dict[int, set[int]] = {number: set() for number in range(len(screens))}
        self._dismissed: dict[int, set[int]] = {number: set() for number in range(len(screens))}

    def copied(self) -> Sight:
        """Another that knows the same, and goes on by itself."""
        twin = copy(self)
        twin._risen = self._risen.copy()
        twin._holding = {number: held.copy() for number, held in self._holding.items()}
        twin._dismissed = {number: gone.copy() for number, gone in self._dismissed.items()}
        return twin

    def choose_as(self, other: Sight) -> None:
        """What was chosen there is chosen here, below what has risen."""
        self._chosen = other._chosen

    @property
    def screen(self) -> int:
        """The screen in sight now."""
        return min(self._risen, default=self._chosen)

    @property
    def causes(self) -> tuple[int, ...]:
        """The numbers of the causes that hold for the screen in sight, as far as is known; none if it
        was chosen."""
        return tuple(sorted(self._holding[min(self._risen)])) if self._risen else ()

    @property
    def holding(self) -> frozenset[tuple[int, int]]:
        """All causes that hold, by screen and place, as far as is known."""
        return frozenset((number, at) for number, held in self._holding.items() for at in held)

    def weigh(self, lookup: Lookup) -> None:
        """Looks at every cause again."""
        for number, screen in enumerate(self._screens):
            holding, dismissed = self._holding[number], self._dismissed[number]
            for at, cause in enumerate(screen.rises):
                match cause.evaluate(lookup):
                    case True:
                        holding.add(at)
                    case False:
                        holding.discard(at)
                        dismissed.discard(at)
            if holding - dismissed:
                self._risen.add(number)
            elif not screen.yields_when_acknowledged:
                self._risen.discard(number)

    def acknowledge(self, lookup: Lookup, seen: frozenset[tuple[int, int]] | None = None) -> bool:
        """The screen in sight gives way; False if it did not come up by itself. ``seen`` are the
        ``holding`` at the finger's press: one that came since is not answered."""
        if not self._risen:
            return False
        number = min(self._risen)
        self._risen.discard(number)
        held = self._holding[number]
        self._dismissed[number] |= held if seen is None else {at for at in held if (number, at) in seen}
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
