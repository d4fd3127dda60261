"""A link that is opened, lost and opened again: what every loop over a port does alike."""

from __future__ import annotations

from collections.abc import Callable

from hmic.diagnostics import DesignError
from hmic.link.any_link import Link, LinkLost

REOPEN = 0.5
"""Seconds between two attempts to open a port that vanished."""

POLL = 0.005
"""Seconds between two looks at a link that cannot be waited on, or has no room; 58 bytes at
115200 Bd."""


class Line:
    """A line over links that ``open_link`` opens, the first at once (what it raises comes through).

    It is *open*, or *away* from a loss until a link could be opened again. While away nothing comes in,
    and what is put on it is lost, as on a cut wire. Nothing waits; ``now`` is in seconds of one steady
    clock.
    """

    def __init__(self, open_link: Callable[[], Link]) -> None:
        self._open_link = open_link
        self._link: Link | None = open_link()
        self._unsent = b""
        self._retry = 0.0
        self._loss: str | None = None
        self._back = False

    @property
    def is_open(self) -> bool:
        """Not away."""
        return self._link is not None

    @property
    def unsent(self) -> int:
        """Bytes that were put on the line and that it has not taken yet."""
        return len(self._unsent)

    def read(self, now: float) -> bytes:
        """What has come in; opens the link again where it is away and that is due."""
        if self._link is None and now >= self._retry:
            self._open_again(now)
        if self._link is None:
            return b""
        try:
            return self._link.read()
        except LinkLost as lost:
            self._lose(lost, now)
            return b""

    def write(self, data: bytes, now: float) -> int:
        """Puts ``data`` behind what is unsent and hands on what the link takes: its number of bytes."""
        if self._link is None:
            return 0
        self._unsent += data
        if not self._unsent:
            return 0
        try:
            taken = self._link.write(self._unsent)
        except LinkLost as lost:
            self._lose(lost, now)
            return 0
        self._unsent = self._unsent[taken:]
        return taken

    def set_rate(self, baud: int, now: float) -> None:
        """Runs at ``baud`` once all that was written has left; nothing while away."""
        if self._link is None:
            return
        try:
            self._link.set_rate(baud)
        except LinkLost as lost:
            self._lose(lost, now)

    def take_loss(self) -> str | None:
        """Why the link was lost since this was last asked; None when it was not."""
        loss, self._loss = self._loss, None
        return loss

    def take_return(self) -> bool:
        """Whether a link was opened again since this was last asked."""
        back, self._back = self._back, False
        return back

    def descriptor(self) -> int | None:
        """What can be waited on for input; None while away or where a link has none."""
        return self._link.descriptor() if self._link is not None else None

    def next_look(self, now: float) -> float | None:
        """The latest moment to read or write again though nothing has come; None where waiting on the
        descriptor will do."""
        if self._link is None:
            return max(now, self._retry)
        return now + POLL if self._unsent or self._link.descriptor() is None else None

    def close(self) -> None:
        """Lets go of the link, for good. May be called again."""
        link, self._link = self._link, None
        self._unsent, self._retry = b"", float("inf")
        if link is not None:
            link.close()

    def _lose(self, lost: LinkLost, now: float) -> None:
        self.close()
        self._retry = now + REOPEN
        self._loss = lost.reason

    def _open_again(self, now: float) -> None:
        try:
            self._link = self._open_link()
        except (DesignError, LinkLost):
            self._retry = now + REOPEN
        else:
            self._back = True
