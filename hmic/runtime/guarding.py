"""Whether a message shows that its sender lives: its counter moves, its checksum is right.

A frame that fails is not used, so its values turn stale as if it had not come.
"""

from __future__ import annotations

from hmic.diagnostics import Finding, warning
from hmic.model.buses import address
from hmic.model.checksums import checksum_by
from hmic.model.design import MessageCheck

SEVERAL = 3
"""Frames in a row that must fail before a person is told."""


class Guard:
    """Watches one message. ``place`` is the checksum's byte in the frame, None without one."""

    def __init__(self, check: MessageCheck, place: int | None) -> None:
        self.failed = 0
        self._check = check
        self._place = place
        self._worked_out = checksum_by(check.method)
        self._last: float | None = None
        self._row = 0
        self._findings: list[Finding] = []

    def passes(self, identifier: int, data: bytes, counter: float | None) -> bool:
        """Whether the frame may be used; ``counter`` is what its counter says."""
        problem = self._problem(identifier, data, counter)
        if problem is None:
            self._row = 0
            return True
        self.failed += 1
        self._row += 1
        if self._row == SEVERAL:
            name = address(self._check.bus, self._check.message)
            message = f"message '{name}' is not used: {problem}"
            remedy = "its values turn stale; look at the device that sends it"
            self._findings.append(warning("R714", message, None, remedy))
        return False

    def take_findings(self) -> list[Finding]:
        """What a person should know, once each time that it begins."""
        findings, self._findings = self._findings, []
        return findings

    def _problem(self, identifier: int, data: bytes, now: float | None) -> str | None:
        if self._place is not None:
            if self._place >= len(data):
                return "it is too short for its checksum"
            others = data[: self._place] + data[self._place + 1 :]
            if self._check.with_identifier:
                others = bytes((identifier & 0xFF,)) + others
            if self._worked_out(others) != data[self._place]:
                return "its checksum is wrong"
        if self._check.counter is not None:
            last = self._last
            if now is None:
                # It says nothing of the sender, so the next whole frame is held against the last one.
                return "it is too short for its counter"
            self._last = now
            if now == last:
                return "its counter stands still"
        return None
