"""The theme of the moment: chosen by a signal with hysteresis, by the clock, or by hand."""

from __future__ import annotations

from hmic.model.builtin import CLOCK
from hmic.model.design import ByClock, BySignal, ThemeChoice, level_at, theme_at
from hmic.model.expressions import Lookup


class Theming:
    """Follows the design's ``choose``; times are host seconds.

    ``by_hand`` is a theme's number that overrides it, None to follow. A value in doubt keeps the
    theme that is shown; once it has been in doubt for the declared time, the first theme is shown.
    """

    def __init__(self, choice: ThemeChoice | None, by_hand: int | None = None) -> None:
        self.by_hand = by_hand
        self._choice = choice
        self._chosen = 0
        self._settled = False
        self._other_since: float | None = None
        self._doubt_since: float | None = None

    @property
    def theme(self) -> int:
        """The number of the theme to show."""
        return self._chosen if self.by_hand is None else self.by_hand

    def follow(self, lookup: Lookup, now: float) -> bool:
        """Looks at what the choice goes by; True when another theme is to be shown."""
        before = self.theme
        if isinstance(self._choice, ByClock):
            self._follow_clock(self._choice, lookup)
        elif isinstance(self._choice, BySignal):
            self._follow_signal(self._choice, lookup, now)
        return self.theme != before

    def next_deadline(self) -> float | None:
        """When ``follow`` must be called though no value changes."""
        if not isinstance(self._choice, BySignal):
            return None
        if self._doubt_since is not None:
            return self._doubt_since + self._choice.keep / 1000 if self._chosen else None
        return None if self._other_since is None else self._other_since + self._choice.wait / 1000

    def _follow_clock(self, choice: ByClock, lookup: Lookup) -> None:
        minutes = lookup(CLOCK)
        if isinstance(minutes, float):
            self._chosen = theme_at(choice, minutes)

    def _follow_signal(self, choice: BySignal, lookup: Lookup, now: float) -> None:
        value = lookup(choice.signal)
        if not isinstance(value, float):
            self._other_since = None
            if self._doubt_since is None:
                self._doubt_since = now
            if now >= self._doubt_since + choice.keep / 1000:
                self._chosen, self._settled = 0, False
            return
        self._doubt_since = None
        wanted = self._wanted(choice, value)
        if wanted == self._chosen:
            self._other_since, self._settled = None, True
        elif not self._settled:
            # The first sure value counts at once: a start at night must not dazzle.
            self._chosen, self._settled = wanted, True
        elif self._other_since is None:
            self._other_since = now
        if self._other_since is not None and now >= self._other_since + choice.wait / 1000:
            self._chosen, self._other_since = wanted, None

    def _wanted(self, choice: BySignal, value: float) -> int:
        """The theme for a value; a level that is passed now is kept down to its hysteresis."""
        themes = [theme for _, theme in choice.levels]
        held = themes.index(self._chosen) if self._settled and self._chosen in themes else -1
        return themes[level_at(choice, value, held)]
