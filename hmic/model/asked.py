"""What is asked of a vehicle's controllers: which controller, by which service, how the answer is read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from hmic.model.byte_formula import ByteFormula

CURRENT = 0x01
"""Service 01 of SAE J1979: current data."""
BY_IDENTIFIER = 0x22
"""Service 22 of ISO 14229: read data by identifier."""
ASKED = re.compile(
    r"(?:[a-z][a-z0-9_]*/)?(?:obd (?P<obd>[0-9A-Fa-f]{2})"
    r"|(?P<controller>[a-z][a-z0-9_]*) "
    r"(?:01 (?P<parameter>[0-9A-Fa-f]{2})|22 (?P<identifier>[0-9A-Fa-f]{4})))"
)
"""A source that is a question, with its bus in front."""
STANDARD = 0x7FF
"""The highest identifier of a frame that has 11 bits."""


class Controller(NamedTuple):
    """A controller that is asked alone: the identifiers of frames to it and of those that it answers by."""

    name: str
    request: int
    response: int

    @property
    def asks(self) -> tuple[int, bool]:
        """Of the frames to it: the identifier, and whether it has 29 bits."""
        return self.request, self.request > STANDARD

    @property
    def answers(self) -> tuple[int, bool]:
        """Of the frames that it answers by."""
        return self.response, self.response > STANDARD


@dataclass(frozen=True)
class AskedSource:
    """A value asked for on a bus every ``every`` ms: parameter or identifier ``number`` of a service, of all
    controllers or of one. ``formula`` gives it out of the bytes of the answer; without one it is that of
    SAE J1979."""

    number: int
    every: int
    bus: str = ""
    service: int = CURRENT
    controller: Controller | None = None
    formula: ByteFormula | None = None

    @property
    def text(self) -> str:
        """As signals.yaml writes it, without its bus."""
        if self.controller is None:
            return f"obd {self.number:02X}"
        digits = 4 if self.service == BY_IDENTIFIER else 2
        return f"{self.controller.name} {self.service:02X} {self.number:0{digits}X}"
