"""Oracles for what is in sight: the screen, the theme, and that each touch is answered."""

from __future__ import annotations

from typing import Any

from tests.world.design import Screen
from tests.world.themes import LUMINANCE, by_clock, by_light

RISES = 0.75
"""Seconds from the bus to another screen at most: the path, and a period of its message."""
ANSWERED = 1.2
"""Seconds from a finger's lifting to what the host makes of it."""
DARK = 10.0
"""lx below which it is night in a vehicle."""
NIGHT_PEAK = 60.0
"""cd/m2 on the glass at night (DESIGN.md, limits)."""
ANSWERS = ("RequestMade", "RequestRefused", "ConfirmAsked", "ScreenChanged")
LATER = ("UNDONE", "NOT_FOLLOWED", "NOT_SENT")
"""What is told of a request a second time."""


class Sights:
    """Keeps watch over screens and themes. ``scene`` counts the screens that were seen on the glass;
    ``since`` is when the last came."""

    def __init__(self, judge: Any) -> None:
        self.judge, self.world = judge, judge.world
        self.scene, self.since = 0, 0.0
        self._seen = ""
        self._of_host: dict[int, tuple[str, float]] = {}
        self._answers: list[tuple[float, int, str, str]] = []

    def host_began(self, number: int) -> None:
        """A run begins at the design's start."""
        self._of_host[number] = "main", self.world.now

    def host_said(self, number: int, event: Any) -> None:
        """What a host makes of a touch, and which screen is in sight for it."""
        kind, name = type(event).__name__, getattr(event, "name", "")
        why = getattr(getattr(event, "why", None), "name", "")
        if kind == "ScreenChanged":
            self._of_host[number] = name, self.world.now
        if why:
            self.judge.met[f"refused: {why}"] += 1
        if kind in ANSWERS and why not in LATER:
            self._answers.append((self.world.now, number, kind, name))

    def look(self, now: float, screen: str, theme: str, well: bool) -> None:
        """Judges the screen and the theme on the glass."""
        if screen != self._seen:
            self.scene, self.since, self._seen = self.scene + 1, now, screen
        self.judge.met[f"theme {theme}"] += 1
        if not well:
            return
        slow = 0.6 * (self.world.setup.baud < 20000)
        self._as_the_host_says(now, screen, RISES + slow)
        self._risen(now, screen, RISES + slow)
        self._theme(now, theme, RISES + slow)

    def _as_the_host_says(self, now: float, screen: str, path: float) -> None:
        said, at = self._of_host.get(self.world.line_leads_to, (screen, now))
        if now - at > path and screen != said:
            self.judge.fail("screen", "other", f"'{screen}' is on the glass, and the run shows '{said}'")

    def _risen(self, now: float, screen: str, path: float) -> None:
        """A screen comes up for its cause, and one that came up by itself had one."""
        screens = self.world.spec.screens
        above = [each.name for each in screens]
        for at, each in enumerate(screens):
            if each.rises is None or self._of_two_buses(each):
                continue
            since = self._holds_since(each, now)
            if since is None:
                continue
            known = max(since, self.world.up_since + 3.0)
            touched = any(touch.at > since - 0.5 for touch in self.judge.touches)
            if now - known > path and not touched and screen not in above[: at + 1]:
                self.judge.fail(
                    "screen", each.name, f"'{each.name}' has had its cause for {now - since:.2f} s, and "
                    f"'{screen}' is in sight",
                )  # fmt: skip
        here = next(each for each in screens if each.name == screen)
        controls = self.world.spec.controls
        reached = any(each.kind == "goes" and each.signal == screen for each in controls)
        if here.rises is None or reached or here.answered or self._of_two_buses(here):
            return
        told = self.judge.told(here.rises.signal)
        at_vehicle = self.judge.vehicle_time(now)
        recent = told.between(at_vehicle - path - 0.3, at_vehicle)
        if len(recent) > 1 and not any(value is None or here.rises.holds(value) for value in recent):
            self.judge.fail("screen", screen, f"'{screen}' is in sight, and nothing brought it up of late")

    def _of_two_buses(self, screen: Screen) -> bool:
        """Whether its cause comes from two buses, and so is in doubt."""
        assert screen.rises is not None
        return bool(self.world.setup.channels > 1 and screen.rises.signal == "vehicle.speed")

    def _holds_since(self, screen: Screen, now: float) -> float | None:
        """Since when the cause of a screen has held without a break or a doubt, by this host's clock."""
        assert screen.rises is not None
        told = self.judge.told(screen.rises.signal)
        stale = self.world.spec.declared[screen.rises.signal].stale
        at = self.judge.vehicle_time(now)
        since, last = None, at
        for when, value in told.backwards(at):
            if value is None or not screen.rises.holds(value) or last - when > 0.6 * stale:
                break
            since = last = when
        return None if since is None else since + (now - at)

    def _theme(self, now: float, theme: str, path: float) -> None:
        choice = self.world.spec.themes
        wanted: str | None = choice.first
        if choice.by == "clock":
            wall = self.world.clock.minutes
            shown = {by_clock(choice, wall(now - back)) for back in (0.0, path, 1.0 + path)}
            wanted = shown.pop() if len(shown) == 1 and self.world.clock_set < now - 1.0 - path else None
        elif choice.by == "signal":
            at, told = self.judge.vehicle_time(now), self.judge.told("vehicle.light")
            said = told.between(at - choice.wait - path - 0.6, at)
            stale = self.world.spec.declared["vehicle.light"].stale
            if said and None not in said:
                wanted = by_light(choice, said)
            elif told.between(at - choice.keep - stale - path, at) or now - self.world.up_since < 3.0:
                wanted = None
        if wanted is not None and theme != wanted:
            self.judge.fail("theme", theme, f"theme '{theme}' is in sight, and it is to be '{wanted}'")

    def night(self, now: float, theme: str, picture: Any) -> None:
        """At night the glass does not dazzle, unless the check has said that it would."""
        world = self.world
        told = self.judge.told("vehicle.light").between(now - 8.0, now)
        lit = any(value is not None and value > DARK for value in told)
        if not world.vehicle.night or lit or world.clock.wall:
            return
        if any(
            finding.severity.value in ("warning", "error") and "dazzle" in finding.message
            for finding in world.compiled.findings
        ):
            return
        colours = picture.getcolors(1 << 16) or [(0, (255, 255, 255))]
        peak = LUMINANCE[theme] * max(
            0.2126 * _linear(red) + 0.7152 * _linear(green) + 0.0722 * _linear(blue)
            for _, (red, green, blue) in colours
        )
        if peak > NIGHT_PEAK:
            self.judge.fail(
                "night", theme, f"at night the glass shows {peak:.0f} cd/m2 in '{theme}', and no finding of "
                "the check says so",
            )  # fmt: skip

    def end(self) -> None:
        """Whether each touch that was told has been answered, first come first served: by what names what it
        asked for or, where it moves between screens, by any other screen."""
        left = list(self._answers)
        moves = {"swipe", "acknowledge", *(each.name for each in self.world.spec.screens)}
        unanswered = []
        for touch in self.judge.touches:
            if not touch.told or not touch.name:
                continue
            target = self._target(touch)
            if self.world.now - touch.at < ANSWERED + 0.5 or (touch.name == "swipe" and target is None):
                continue
            if not self.judge.untroubled(touch.at + ANSWERED, 3.0):
                # It may come to nothing; no answer to a later one may be taken for its own.
                continue
            until = touch.at + ANSWERED + self.judge.held_back(touch.at)
            within = [each for each in left if touch.at <= each[0] <= until]
            answers = [
                each for each in within
                if each[3] in (touch.name, target) or (touch.name in moves and each[2] == "ScreenChanged")
            ]  # fmt: skip
            if answers:
                left.remove(answers[0])
            else:
                unanswered.append((touch, until))
        for touch, until in unanswered:
            other = any(
                kind == "ScreenChanged" and touch.at <= at <= until for at, _, kind, _ in self._answers
            )
            if other and touch.name in moves:
                continue
            self.judge.fail(
                "answer", touch.name, f"the touch of {touch.at:.2f} s on '{touch.name}' of '{touch.screen}' "
                "came to nothing, and nothing was said of it",
            )  # fmt: skip

    def _target(self, touch: Any) -> str | None:
        """Where a swipe leads."""
        if touch.name != "swipe":
            return None
        spec = self.world.spec
        screen = next(each for each in spec.screens if each.name == touch.screen)
        own, order = dict(screen.swipes).get(touch.toward), spec.order
        if own is not None or touch.toward not in ("left", "right") or touch.screen not in order:
            return own
        place = order.index(touch.screen) + (1 if touch.toward == "left" else -1)
        return str(order[place]) if 0 <= place < len(order) else None


def _linear(value: int) -> float:
    part = value / 255
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
