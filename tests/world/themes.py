"""Themes of a random design: what themes.yaml says, and which of them is to be shown."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Choice:
    """What themes.yaml says: ``by`` none, clock or signal; ``begins`` are minutes since midnight, or lx, with
    the theme from there on, in rising order. ``first`` is shown first; ``wait`` and ``keep`` in seconds."""

    by: str
    first: str
    begins: tuple[tuple[float, str], ...] = ()
    hysteresis: float = 0.2
    wait: float = 2.0
    keep: float = 60.0


LUMINANCE = {"day": 600.0, "dusk": 120.0, "night": 28.0}
"""Of the panel's white, in cd/m2."""


def two_themes(by: str) -> Choice:
    """Day and night."""
    begins = {
        "none": (),
        "clock": ((7 * 60.0, "day"), (19.5 * 60.0, "night")),
        "signal": ((0.0, "night"), (200.0, "day")),
    }[by]
    return Choice(by, "day", begins)


def more_themes(by: str, dice: random.Random) -> Choice:
    """Day, dusk and night, any of them first."""
    begins = {
        "none": (),
        "clock": ((7 * 60.0, "day"), (19.5 * 60.0, "dusk"), (22 * 60.0, "night")),
        "signal": ((0.0, "night"), (50.0, "dusk"), (2000.0, "day")),
    }[by]
    first = dice.choice(sorted(LUMINANCE))
    return Choice(by, first, begins, dice.choice((0.1, 0.2)), dice.choice((0.5, 2.0)), 3.0)


def themes_text(choice: Choice) -> str:
    """themes.yaml."""
    begins = {name: _hour(at) if choice.by == "clock" else f"{at:g} lx" for at, name in choice.begins}
    pairs = ", ".join(f"{name}: {at}" for name, at in begins.items())
    chooses = {
        "none": "",
        "clock": f"choose:\n  by: clock\n  times: {{{pairs}}}\n",
        "signal": f"choose: {{by: vehicle.light, levels: {{{pairs}}}, hysteresis: {choice.hysteresis:.0%}, "
        f"wait: {choice.wait * 1000:g} ms, keep: {choice.keep:g} s}}\n",
    }[choice.by]
    names = sorted({choice.first, *begins} | ({"day", "night"} if len(begins) < 3 else set()))
    names.sort(key=lambda name: name != choice.first)
    return chooses + "themes:\n" + "".join(_THEMES[name] for name in names)


def by_clock(choice: Choice, minutes: float) -> str:
    """What is shown at a time of day."""
    before = [name for at, name in choice.begins if at <= minutes]
    return before[-1] if before else choice.begins[-1][1]


def by_light(choice: Choice, said: Iterable[float]) -> str | None:
    """What is shown in such light, or None where one of these is another level, or between two."""
    found = set()
    for lux in said:
        under = [name for at, name in choice.begins if at <= lux] or [choice.begins[0][1]]
        held = [name for at, name in choice.begins[1:] if at * (1 - choice.hysteresis) <= lux < at]
        found |= {under[-1], *held}
    return found.pop() if len(found) == 1 else None


def _hour(minutes: float) -> str:
    return f"{minutes // 60:.0f}:{minutes % 60:02.0f}"


_THEMES = {
    "day": """\
  day:
    brightness: 100
    luminance: 600
    roles: {ground: "#f3efe4", surface: "#dcd7c8", line: "#a39d8c", ink: "#17211d", quiet: "#4c564f",
            accent: "#0a6a86", good: "#3a8a49", notice: "#2452b8", caution: "#965a00", danger: "#960a22",
            stale: "#6d4f86"}
    ramps: {charge: ["#6a2d12", "#7a4a10", "#74641a", "#4f7a34", "#2f8f63"]}
""",
    "dusk": """\
  dusk:
    brightness: 25
    luminance: 120
    roles: {ground: "#11171a", surface: "#1c2529", line: "#4b5a60", ink: "#f8f3e6", quiet: "#beb8b0",
            accent: "#8fd3f4", good: "#44a074", notice: "#6f90ff", caution: "#ffd04a", danger: "#ff4f34",
            stale: "#a18aac"}
    ramps: {charge: ["#aa6647", "#b6804b", "#b2a054", "#90c37e", "#7adfb7"]}
""",
    "night": """\
  night:
    brightness: 6
    luminance: 28
    roles: {ground: "#070503", surface: "#17110b", line: "#4b3c2d", ink: "#eec58c", quiet: "#a18568",
            accent: "#c79a5c", good: "#8fc46c", notice: "#8c93d8", caution: "#f6b53a", danger: "#ff4a2b",
            stale: "#9187a8"}
    ramps: {charge: ["#8a4d33", "#95693b", "#928549", "#77a068", "#62b596"]}
""",
}
