"""How a touch fares, as a built-in word signal of each touch zone.

The runtime keeps the signal; widgets show it. ``asked`` is a zone that waits for the second touch
of a confirmation, ``sent`` a request on its way whose read-back has not followed yet. ``refused`` is a
touch that the control's own condition forbids, ``failed`` one that came to nothing for another
reason. ``barred`` is a zone at rest that would refuse a touch: its condition is false or in doubt.
Of a zone that must be held another signal tells how far that has come.
"""

from __future__ import annotations

from enum import StrEnum

from hmic.model.actions import Acknowledge, GoTo, TurnPage, ZoneAction
from hmic.model.expressions import Typed, ValueKind
from hmic.model.shown import barred, while_all

TOUCH_PREFIX = "touch."
HOLD_PREFIX = "hold."
PAGE_PREFIX = "page."
HOLD_STEPS = 60
"""Steps from the press until a control has been held for its time."""

TouchState = StrEnum("TouchState", "IDLE PRESSED ASKED SENT REFUSED FAILED BARRED")
"""The words, in the order of their steps."""

TOUCH_WORDS = tuple(TouchState)


def page_signal(screen: str, number: int) -> str:
    """The name of the built-in signal that holds the page in sight of a screen's list, from 0."""
    return f"{PAGE_PREFIX}{screen}.{number}"


def touch_signal(screen: str, zone: int) -> str:
    """The name of the built-in signal of a zone, by its place in the screen's list."""
    return f"{TOUCH_PREFIX}{screen}.{zone}"


def hold_signal(screen: str, zone: int) -> str:
    """The name of the built-in signal that tells how much of the time for which a control must be held has
    passed, from 0 to 1."""
    return f"{HOLD_PREFIX}{screen}.{zone}"


def hold_part(screen: str, zone: int, conditions: tuple[Typed, ...] = ()) -> Typed:
    """How much of its time a zone has been held, for a channel: none while a touch of it would be refused."""
    name = hold_signal(screen, zone)
    return Typed(
        kind=ValueKind.NUMBER,
        unit=None,
        count=None,
        low=0.0,
        high=1.0,
        words=(),
        signals=frozenset({name}).union(*(condition.signals for condition in conditions)),
        evaluate=while_all(name, tuple(each.evaluate for each in conditions)),
    )


def words_of(control: ZoneAction, conditions: tuple[Typed, ...]) -> tuple[TouchState, ...]:
    """Of ``TouchState`` those that a control's touch can come to; ``conditions`` as for ``touch_state``."""
    asks = not isinstance(control.action, GoTo | Acknowledge | TurnPage)
    never = {
        TouchState.ASKED: control.confirm is None,
        TouchState.SENT: not asks,
        TouchState.REFUSED: control.allowed is None,
        TouchState.FAILED: not asks and control.allowed is None and not control.held_ms,
        TouchState.BARRED: not conditions,
    }
    return tuple(word for word in TOUCH_WORDS if not never.get(word, False))


def touch_state(
    screen: str, zone: int, conditions: tuple[Typed, ...] = (), words: tuple[TouchState, ...] = TOUCH_WORDS
) -> Typed:
    """How a zone fares, for a channel; ``conditions`` must all be true for it to act. ``words`` are those
    of ``TouchState`` that it can come to."""
    name = touch_signal(screen, zone)
    return Typed(
        kind=ValueKind.WORD,
        unit=None,
        count=None,
        low=0.0,
        high=0.0,
        words=words,
        signals=frozenset({name}).union(*(condition.signals for condition in conditions)),
        evaluate=barred(
            name, TouchState.IDLE, TouchState.BARRED, tuple(each.evaluate for each in conditions)
        ),
    )
