"""The display's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from hmic.wire.events import DisplayEvent, DisplayFacts, Phase, StoreDoor


class DisplaySession:
    """Answers, shows, feels and stores. Times are seconds of any steady clock.

    Call ``receive`` (with b"" if there is nothing) and ``outgoing`` whenever bytes come, after
    ``touch``, and at ``next_deadline``.
    """

    def __init__(self, facts: DisplayFacts, store: StoreDoor) -> None: ...

    def receive(self, data: bytes, now: float) -> list[DisplayEvent]: ...

    def outgoing(self, now: float) -> bytes: ...

    def next_deadline(self) -> float | None: ...

    def touch(self, zone: int | None, phase: Phase, x: int, y: int, now: float) -> bool: ...

    def repack(self, facts: DisplayFacts) -> None: ...
