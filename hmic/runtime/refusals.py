"""Why a touch comes to nothing: a reason to decide by, and the words that a person reads."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from hmic.model.expressions import Doubt, Lookup, Typed


class Refusal(Enum):
    """A reason against a touch. ``RequestRefused.reason`` has its words."""

    LATE = auto()
    GAVE_WAY = auto()
    HELD_TOO_SHORT = auto()
    CONTROL_FORBIDS = auto()
    CONTROL_IN_DOUBT = auto()
    OUTPUT_FORBIDS = auto()
    OUTPUT_IN_DOUBT = auto()
    LIST_TURNED = auto()
    SENDS_NOTHING = auto()
    READING_IN_DOUBT = auto()
    AT_ITS_END = auto()
    NO_OUTPUT = auto()
    OUT_OF_RANGE = auto()
    NO_FLAG = auto()
    OTHER_WORD = auto()
    TOO_SOON = auto()
    NO_BUS = auto()
    BESIDE_IN_DOUBT = auto()
    BESIDE_AWAITED = auto()
    NOT_ENCODED = auto()
    NOT_SENT = auto()
    NOT_FOLLOWED = auto()
    UNDONE = auto()
    NO_SCREEN = auto()
    NOT_RISEN = auto()
    CAME_SINCE = auto()
    NOT_ACKNOWLEDGED = auto()


_NOT_ALLOWED = "not allowed now{}"
_NOT_KNOWN = "whether it is allowed is not known: {}{}"
_WORDS = {
    Refusal.LATE: "the touch came {} s late",
    Refusal.GAVE_WAY: "screen '{}', which the finger saw, had given way to another",
    Refusal.HELD_TOO_SHORT: "must be held for {} s",
    Refusal.CONTROL_FORBIDS: _NOT_ALLOWED,
    Refusal.CONTROL_IN_DOUBT: _NOT_KNOWN,
    Refusal.OUTPUT_FORBIDS: _NOT_ALLOWED,
    Refusal.OUTPUT_IN_DOUBT: _NOT_KNOWN,
    Refusal.LIST_TURNED: "the list had just turned",
    Refusal.SENDS_NOTHING: "this run sends nothing to the vehicle",
    Refusal.READING_IN_DOUBT: "what it reads now is not known: {}",
    Refusal.AT_ITS_END: "it is at its end already",
    Refusal.NO_OUTPUT: "the design declares no such output",
    Refusal.OUT_OF_RANGE: "it takes {}",
    Refusal.NO_FLAG: "it is on or off",
    Refusal.OTHER_WORD: "it takes another word",
    Refusal.TOO_SOON: "it was asked for less than {} s ago",
    Refusal.NO_BUS: "there is no bus to send it on",
    Refusal.BESIDE_IN_DOUBT: "'{}' goes in the same message, and of it {}",
    Refusal.BESIDE_AWAITED: "'{}' goes in the same message, and its answer is awaited",
    Refusal.NOT_ENCODED: "the DBC does not allow it: {}",
    Refusal.NOT_SENT: "{}",
    Refusal.NOT_FOLLOWED: "the vehicle did not follow",
    Refusal.UNDONE: "it was no longer allowed when its message was sent for another",
    Refusal.NO_SCREEN: "the pack has no screen of that name",
    Refusal.NOT_RISEN: "this screen did not come up by itself",
    Refusal.CAME_SINCE: "what it is there for came after the finger",
    Refusal.NOT_ACKNOWLEDGED: "this screen must be acknowledged first",
}
_DOUBTS = {
    Doubt.UNSEEN: "no value has come yet",
    Doubt.STALE: "the last value is too old",
    Doubt.OUT_OF_RANGE: "the value is out of its range",
}


def unmet(condition: Typed, lookup: Lookup) -> tuple[str | Doubt, ...] | None:
    """What the words against a touch have blanks for, where its condition is false or in doubt: that of
    which it is said, as it is written, and the doubt. None where it holds."""
    holds = condition.evaluate(lookup)
    if holds is True:
        return None
    doubt = holds if isinstance(holds, Doubt) else None
    failing = [each.written for each in condition.needs if each.evaluate(lookup) is holds]
    said = " and ".join(f"`{each}`" for each in failing)
    if doubt is None:
        return (f": it needs {said}" if said else "",)
    return (f"of {said} " if said else "", doubt)


@dataclass(frozen=True)
class RequestRefused:
    """A touch came to nothing. ``name`` is the output or screen that it asked for, ``details`` what the
    words of ``why`` have blanks for."""

    name: str
    why: Refusal
    details: tuple[str | Doubt, ...] = ()

    @property
    def reason(self) -> str:
        """Why, in words."""
        said = (_DOUBTS[each] if isinstance(each, Doubt) else each for each in self.details)
        return _WORDS[self.why].format(*said)
