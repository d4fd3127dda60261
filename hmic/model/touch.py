"""How a touch fares, as a built-in word signal of each touch zone.

The runtime keeps the signal; widgets show it. ``asked`` is a zone that waits for the second touch
of a confirmation, ``sent`` a request on its way whose read-back has not followed yet.
"""

from __future__ import annotations

from functools import cache

from hmic.model.expressions import Lookup, Typed, Value

TOUCH_PREFIX = "touch."
PAGE_PREFIX = "page."
IDLE, PRESSED, ASKED, SENT, REFUSED = TOUCH_WORDS = ("idle", "pressed", "asked", "sent", "refused")


def page_signal(screen: str, number: int) -> str:
    """The name of the built-in signal that holds the page in sight of a screen's list, from 0."""
    return f"{PAGE_PREFIX}{screen}.{number}"


def touch_signal(screen: str, zone: int) -> str:
    """The name of the built-in signal of a zone, by its place in the screen's list."""
    return f"{TOUCH_PREFIX}{screen}.{zone}"


@cache
def touch_state(screen: str, zone: int) -> Typed:
    """The value of a zone's signal, for a channel."""
    name = touch_signal(screen, zone)

    def evaluate(lookup: Lookup) -> Value:
        return lookup(name)

    return Typed(
        kind="word",
        unit=None,
        count=None,
        low=0.0,
        high=0.0,
        words=TOUCH_WORDS,
        signals=frozenset({name}),
        evaluate=evaluate,
    )
