"""Which fields a driver most likely wants to see, by unit and name."""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Mapping, Sequence

from hmic.survey.proposal import Source, families, snake

MOST = 12
"""Signals that are chosen where nobody says which."""
_BESIDE = re.compile(r"limit|request|req(_|$)|target|set_?point|max|min|desired|command|cmd")
TELLING = 20
"""How much a field is wanted at least to be offered beside others."""
_NEVER = re.compile(
    r"(^|_)(crc|chk|chks|checksum|csum|counter|cnt|alive|prun|clock|mux|unknown|unused|reserved|spare)(_|\d|$)"
)
GROUPS: tuple[tuple[str, str, frozenset[str], str, int], ...] = (
    ("drive", "Drive", frozenset(("km/h", "mph", "m/s", "kph", "kn")), r"speed|velocity|spd", 100),
    ("drive", "Drive", frozenset(("%",)), r"soc|charge|battery_level|state_of", 90),
    ("drive", "Drive", frozenset(("kW", "W")), r"", 80),
    ("battery", "Battery", frozenset(("V",)), r"pack|batt|total|dc|hv|bus|link|voltage", 70),
    ("battery", "Battery", frozenset(("A",)), r"", 66),
    ("drive", "Drive", frozenset(("rpm", "1/min")), r"", 60),
    ("heat", "Temperatures", frozenset(("°C", "degC", "deg C", "°F", "degF", "K")), r"", 56),
    ("battery", "Battery", frozenset(("V", "mV", "%", "Ah", "kWh", "Wh")), r"", 50),
)
"""Screen, its title, units, what the name has, and how much it is wanted. The first that fits counts."""


def group_of(source: Source) -> tuple[str, str, int]:
    """The screen that a field belongs on, its title, and how much it is wanted."""
    name, written = snake(source.signal.name), (source.signal.unit or "").strip()
    if source.signal.choices and not written:
        return "states", "States", 30
    for screen, title, units, pattern, wanted in GROUPS:
        if written in units and re.search(pattern, name):
            return screen, title, wanted
    return "more", "More", 20 if written else 5


def _wanted(source: Source) -> int:
    if _NEVER.search(snake(source.signal.name)):
        return 0
    wanted = group_of(source)[2]
    # What is asked for or allowed is not what is.
    wanted -= 12 if _BESIDE.search(snake(source.signal.name)) else 0
    if source.message is None:
        return wanted
    seen = source.seen
    if seen is None or seen.low is None:
        return 0
    return wanted - (25 if seen.low == seen.high else 0)


def likely(sources: Mapping[str, Source], recorded: bool) -> list[str]:
    """The fields that are wanted most, by name, at most ``MOST``; with a recording only those that came."""
    members = families(sources)
    inside = {member for family in members.values() for member in family[1:]}
    scored: list[tuple[int, int, str]] = []
    for order, (name, source) in enumerate(sources.items()):
        wanted = _wanted(source) if not recorded or source.message is not None else 0
        if wanted and name not in inside:
            scored.append((-wanted, order, name))
    # What has neither a unit nor words is offered only where nothing else is there.
    telling = [each for each in scored if each[0] <= -TELLING]
    chosen = [name for *_, name in sorted(telling or scored)[:MOST]]
    return [each for name in chosen for each in members.get(name, (name,))]


def matching(wanted: Sequence[str], sources: Mapping[str, Source]) -> tuple[list[str], list[str]]:
    """The fields that names or patterns such as ``Pack*.*`` mean, and the patterns that mean none."""
    found: list[str] = []
    lacking = []
    for pattern in wanted:
        names = [pattern] if pattern in sources else fnmatch.filter(sources, pattern)
        found += [name for name in names if name not in found]
        if not names:
            lacking.append(pattern)
    return found, lacking
