"""The line between host and display: frames, messages, sessions, transfer. See PROTOCOL.md."""

from hmic.wire.display_session import DisplaySession
from hmic.wire.events import (
    UNIT,
    Activated,
    Connected,
    Disconnected,
    DisplayEvent,
    DisplayFacts,
    HostEvent,
    Mismatched,
    Outcome,
    Phase,
    Progress,
    Shown,
    Silent,
    Stored,
    StoreDoor,
    Touched,
    Transferred,
    Values,
    identity_of,
)
from hmic.wire.host_session import HostSession

__all__ = [
    "UNIT",
    "Activated",
    "Connected",
    "Disconnected",
    "DisplayEvent",
    "DisplayFacts",
    "DisplaySession",
    "HostEvent",
    "HostSession",
    "Mismatched",
    "Outcome",
    "Phase",
    "Progress",
    "Shown",
    "Silent",
    "StoreDoor",
    "Stored",
    "Touched",
    "Transferred",
    "Values",
    "identity_of",
]
