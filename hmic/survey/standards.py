"""What standards say of an identifier: parameter groups of SAE J1939, diagnostics by ISO 15765."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.model.j1939 import destination_of, group_of, source_of
from hmic.survey.facts import Standard, StandardKind

GROUPS = {
    0: "torque and speed control 1",
    57344: "cab message 1",
    59392: "acknowledgement",
    59904: "request",
    60160: "transport protocol, data",
    60416: "transport protocol, connection",
    60928: "address claimed",
    61184: "proprietary A",
    61440: "retarder controller 1",
    61441: "brake controller 1",
    61442: "transmission controller 1",
    61443: "engine controller 2",
    61444: "engine controller 1",
    61445: "transmission controller 2",
    65132: "tachograph",
    65215: "wheel speeds",
    65217: "vehicle distance, high resolution",
    65226: "active trouble codes",
    65227: "former trouble codes",
    65247: "engine controller 3",
    65248: "vehicle distance",
    65253: "engine hours",
    65257: "fuel consumption",
    65259: "component identification",
    65260: "vehicle identification",
    65262: "engine temperature 1",
    65263: "engine fluid levels and pressures 1",
    65265: "cruise control and vehicle speed",
    65266: "fuel economy",
    65269: "ambient conditions",
    65270: "inlet and exhaust conditions 1",
    65271: "vehicle electrical power 1",
    65272: "transmission fluids",
    65276: "dash display",
}
"""Parameter groups of SAE J1939-71 by number, in our words (from memory; the recordings of trucks that were
tried agree)."""
FEW = 2
"""Known groups that must come before a bus counts as one of J1939."""
_DIAGNOSTIC = {0x7DF: "diagnostic question to all"}
_SERVICES = frozenset((*range(0x01, 0x0B), *range(0x10, 0x3F), 0x83, 0x84, 0x85, 0x86, 0x87))


def is_j1939(identifiers: Sequence[int]) -> bool:
    """Whether identifiers of 29 bits on one bus look like those of J1939: some of its groups come."""
    return len({group_of(each) for each in identifiers} & GROUPS.keys()) >= FEW


def standard_of(identifier: int, extended: bool, frames: Sequence[bytes], j1939: bool) -> Standard | None:
    """What a standard says of an identifier and some of its frames."""
    if extended and identifier >> 16 & 0x3FF in (0xDA, 0xDB):
        to_all = identifier >> 16 & 0xFF == 0xDB
        way = "to all" if to_all else f"from {identifier & 0xFF:02X} to {identifier >> 8 & 0xFF:02X}"
        return Standard(StandardKind.DIAGNOSTICS, f"diagnostic message {way}")
    if not extended and (identifier == 0x7DF or (0x7E0 <= identifier <= 0x7EF)):
        side = "question to" if identifier < 0x7E8 else "answer of"
        name = _DIAGNOSTIC.get(identifier, f"diagnostic {side} controller {identifier & 7}")
        return Standard(StandardKind.DIAGNOSTICS, name)
    if extended and j1939:
        group = group_of(identifier)
        name, priority = GROUPS.get(group, ""), identifier >> 26 & 7
        return Standard(
            StandardKind.J1939, name, group, priority, source_of(identifier), destination_of(identifier)
        )
    if not extended and identifier >= 0x600 and _speaks_of_services(frames):
        return Standard(StandardKind.DIAGNOSTICS, "questions or answers of a diagnosis")
    return None


def _speaks_of_services(frames: Sequence[bytes]) -> bool:
    """Whether frames are parts of ISO 15765-2 messages, and single ones are questions or answers of
    ISO 14229."""
    some = [frame for frame in frames[:200] if frame]
    fitting = singles = 0
    for frame in some:
        kind, low = frame[0] >> 4, frame[0] & 0xF
        if kind == 0 and 1 <= low <= 7 and len(frame) > low:
            service = frame[1]
            fits = service in _SERVICES or service == 0x7F or service - 0x40 in _SERVICES
            singles += fits
            fitting += fits
        else:
            fitting += (kind == 1 and low == 0) or kind == 2 or (kind == 3 and low <= 2)
    return len(some) >= 3 and singles > 0 and fitting == len(some)
