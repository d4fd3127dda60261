"""Why a touch comes to nothing: a reason to decide by, and the words that a person reads."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from hmic.model.expressions import Doubt, Lookup, Typed

_NOT_ALLOWED = "not allowed now{}"
_NOT_KNOWN = "whether it is allowed is not known: {}{}"


class Refusal(Enum):
    """A reason against a touch. ``words`` have blanks for the details of a ``RequestRefused``; two reasons
    may have the same."""

    words: str

    def __new__(cls, words: str) -> Refusal:
        reason = object.__new__(cls)
        reason._value_ = len(cls.__members__)
        reason.words = words
        return reason

    LATE = "the touch came {} s late"
    GAVE_WAY = "screen '{}', which the finger saw, had given way to another"
    HELD_TOO_SHORT = "must be held for {} s"
    CONTROL_FORBIDS = _NOT_ALLOWED
    CONTROL_IN_DOUBT = _NOT_KNOWN
    OUTPUT_FORBIDS = _NOT_ALLOWED
    OUTPUT_IN_DOUBT = _NOT_KNOWN
    LIST_TURNED = "the list had just turned"
    SENDS_NOTHING = "this run sends nothing to the vehicle"
    READING_IN_DOUBT = "what it reads now is not known: {}"
    AT_ITS_END = "it is at its end already"
    NO_OUTPUT = "the design declares no such output"
    OUT_OF_RANGE = "it takes {}"
    NO_FLAG = "it is on or off"
    OTHER_WORD = "it takes another word"
    TOO_SOON = "it was asked for less than {} s ago"
    NO_BUS = "there is no bus to send it on"
    BESIDE_IN_DOUBT = "'{}' goes in the same message, and of it {}"
    BESIDE_AWAITED = "'{}' goes in the same message, and its answer is awaited"
    NOT_ENCODED = "the DBC does not allow it: {}"
    NOT_SENT = "{}"
    NOT_FOLLOWED = "the vehicle did not follow"
    UNDONE = "it was no longer allowed when its message was sent for another"
    NO_SCREEN = "the pack has no screen of that name"
    NOT_RISEN = "this screen did not come up by itself"
    CAME_SINCE = "what it is there for came after the finger"
    NOT_ACKNOWLEDGED = "this screen must be acknowledged first"


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
        return self.why.words.format(*said)
