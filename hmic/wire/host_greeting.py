"""How a host makes sessions."""

from __future__ import annotations

from hmic.wire import messages, states, updates
from hmic.wire.crc import START
from hmic.wire.events import Connected, DisplayFacts, Mismatched
from hmic.wire.states import Cause, Host, Machine

GREET_EVERY = 0.25
"""Seconds between greetings without answer."""

DISPLAY_SILENT_AFTER = 1.25
"""Seconds: five beats of the display."""


class Greeting:
    """Greets until the display answers, and anew when the session has ended. ``facts`` are those of the
    last answer, ``seal`` that of the session."""

    def __init__(self, nonce: int) -> None:
        self._machine = Machine(states.HOST)
        self._nonce = nonce
        self._session = 1
        self._greet_due = float("-inf")
        self._told_version: int | None = None
        self.facts: DisplayFacts | None = None
        self.seal = START
        self.heard_at = 0.0

    @property
    def state(self) -> Host:
        """A state of PROTOCOL.md's table."""
        return self._machine.state

    @property
    def together(self) -> bool:
        """Whether a session stands."""
        return self.state == Host.TOGETHER

    def greet(self, now: float) -> messages.Greet | None:
        """A Greet when it is due."""
        if now < self._greet_due:
            return None
        self._greet_due = now + GREET_EVERY
        return messages.Greet(messages.VERSION, self._nonce, self._session)

    def take(self, answer: messages.Answer) -> Connected | Mismatched | None:
        """Begin a session, if this answers the present Greet in this version."""
        if (answer.host, answer.session) != (self._nonce, self._session) or self.together:
            return None
        facts = answer.facts
        if facts is None:
            told, self._told_version = self._told_version, answer.version
            return None if told == answer.version else Mismatched(answer.version)
        self._machine.move(Cause.ANSWER)
        self.facts = facts
        self.seal = updates.session_seal(self._nonce, facts.nonce, self._session)
        return Connected(facts)

    def silent(self, now: float) -> bool:
        """Whether the display has fallen silent."""
        return self.together and now >= self.heard_at + DISPLAY_SILENT_AFTER

    def part(self, cause: Cause) -> None:
        """The session is over."""
        self._machine.move(cause)
        self._session = (self._session + 1) & 0xFFFF
        self._greet_due = float("-inf")

    def deadline(self) -> float:
        """When there is something to do if nothing comes."""
        return self.heard_at + DISPLAY_SILENT_AFTER if self.together else self._greet_due
