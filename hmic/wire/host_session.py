"""The host's end of the line. No I/O and no clock: bytes and time in, bytes and events out."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.wire.events import HostEvent


class HostSession:
    """Greets, shows, updates and transfers. Times are seconds of any steady clock.

    ``nonce`` (32 bits) is new at every start of the host; ``rate`` is the line's bytes a second.
    Call ``receive`` (with b"" if there is nothing) and ``outgoing`` whenever bytes come, after
    ``show``/``update``/``transfer``, and at ``next_deadline``.
    """

    def __init__(self, nonce: int, rate: float = 11520.0) -> None: ...

    def receive(self, data: bytes, now: float) -> list[HostEvent]: ...

    def outgoing(self, now: float) -> bytes: ...

    def next_deadline(self) -> float | None: ...

    def show(self, screen: int, theme: int, brightness: int, channel_count: int) -> None: ...

    def update(self, raw: Sequence[int], now: float) -> None: ...

    def transfer(self, pack: bytes) -> None: ...

    def cancel_transfer(self) -> None: ...
