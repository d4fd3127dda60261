"""Parameter groups of SAE J1939: what an identifier of 29 bits says, which raw values are no measured ones.

The parts of an identifier are those of J1939-21, as cantools has them too; the ranges of raw values those of
J1939-71 (from memory; tests/reference/15_j1939_ranges.csv holds published vectors).
"""

from __future__ import annotations

from enum import Enum
from typing import Any

TO_ALL_FROM = 240
"""PDU format from which a message goes to all, and its second byte is part of the group."""
TO_ALL = 0xFF
"""The destination that means everybody."""
NOBODY = frozenset({0xFE, 0xFF})
"""Source addresses of no sender (null and global): in a description they stand for any."""


PROTOCOL = "j1939"
"""What cantools calls it."""


class NoMeasure(Enum):
    """What a raw value says that is no measured one."""

    ABSENT = "not available"
    WRONG = "an error, or a value that the standard keeps"


def group_of(identifier: int) -> int:
    """The parameter group of an identifier of 29 bits: its priority and source are masked, and the
    destination where it has one."""
    group = identifier >> 8 & 0x3FFFF
    return group if group >> 8 & 0xFF >= TO_ALL_FROM else group & 0x3FF00


def source_of(identifier: int) -> int:
    """The address of its sender."""
    return identifier & 0xFF


def destination_of(identifier: int) -> int | None:
    """The address that it is for; None where its group goes to all."""
    return identifier >> 8 & 0xFF if identifier >> 16 & 0xFF < TO_ALL_FROM else None


def identifier_mask(group: int) -> int:
    """The bits of an identifier that tell its group."""
    return 0x3FFFF00 if group >> 8 & 0xFF >= TO_ALL_FROM else 0x3FF0000


def said_group(message: Any, database: Any) -> bool | None:
    """Whether a description (cantools' own) says of a message that it is a parameter group, None where it
    says nothing: by the attribute `VFrameFormat` of the message, or `ProtocolType` of the whole file."""
    if not message.is_extended_frame:
        return False
    if message.protocol == PROTOCOL:
        return True
    dbc = getattr(database, "dbc", None)
    if dbc is None:
        return None
    of_message = {} if message.dbc is None else message.dbc.attributes
    if "VFrameFormat" in of_message:
        return False
    said = dbc.attributes.get("ProtocolType")
    default = dbc.attribute_definitions.get("ProtocolType")
    value = said.value if said is not None else default.default_value if default is not None else None
    return True if str(value).strip().upper() == "J1939" else None


def is_group(said: bool | None, declared: bool | None) -> bool:
    """Whether a message is a parameter group, by what its description says of it and design.yaml of its bus.
    A description that says of one message that it is none is believed."""
    return False if said is False else bool(said) if declared is None else declared


def no_measure(raw: int, length: int) -> NoMeasure | None:
    """Why a raw value of a field without sign is no measured one; None where it is.

    Of 8 bits and more the highest byte tells: 0xFF not available, 0xFE an error, 0xFB to 0xFD kept by the
    standard. Of 2 to 7 bits all ones are not available, and the value before is an error."""
    if length < 2:
        return None
    if length < 8:
        highest = (1 << length) - 1
        return NoMeasure.ABSENT if raw == highest else NoMeasure.WRONG if raw == highest - 1 else None
    top = raw >> length - 8
    return NoMeasure.ABSENT if top == 0xFF else NoMeasure.WRONG if top > 0xFA else None


def highest_measure(length: int) -> int:
    """The highest raw value of a field without sign that is a measured one."""
    if length < 2:
        return (1 << length) - 1
    return (1 << length) - 3 if length < 8 else (0xFB << length - 8) - 1
