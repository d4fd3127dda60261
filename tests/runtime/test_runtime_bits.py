"""The bits of a field, held against cantools wherever that gives a value."""

from __future__ import annotations

import math
import struct
from typing import Any

from cantools.database import DecodeError
from cantools.database.can import Message
from cantools.database.can.signal import Signal
from cantools.database.conversion import BaseConversion
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.model.dbc_bits import Lack, place_of, raw_value
from hmic.model.dbc_places import MOST_BITS


@st.composite
def fields(draw: st.DrawFn, name: str, selecting: str | None) -> Signal:
    real = draw(st.integers(0, 9)) == 0
    length = draw(st.sampled_from([16, 32, 64])) if real else draw(st.integers(1, 20) | st.integers(1, 64))
    pages = draw(st.sets(st.integers(0, 3), min_size=1)) if selecting is not None else None
    return Signal(
        name,
        draw(st.integers(0, 63)),
        length,
        draw(st.sampled_from(["little_endian", "big_endian"])),
        draw(st.booleans()),
        conversion=BaseConversion.factory(is_float=real),
        multiplexer_ids=None if pages is None else sorted(pages),
        multiplexer_signal=selecting,
    )


@st.composite
def messages(draw: st.DrawFn) -> list[Signal]:
    plain = [draw(fields(f"P{at}", None)) for at in range(draw(st.integers(0, 3)))]
    if draw(st.booleans()):
        return plain or [draw(fields("P0", None))]
    outer = Signal("Page", draw(st.integers(0, 56)), draw(st.integers(1, 3)), is_multiplexer=True)
    inner = Signal(
        "Inner",
        draw(st.integers(0, 56)),
        2,
        is_multiplexer=True,
        multiplexer_ids=[1],
        multiplexer_signal="Page",
    )
    paged = [draw(fields(f"M{at}", draw(st.sampled_from(["Page", "Inner"])))) for at in range(3)]
    return [*plain, outer, inner, *paged]


def library(signals: list[Signal], data: bytes, length: int) -> dict[str, Any] | None:
    """What cantools gives; None where it refuses the message or the frame."""
    try:
        message = Message(1, "M", length, signals, strict=False)
        got = message.decode(data, decode_choices=False, scaling=False, allow_truncated=True)
    except (DecodeError, ValueError, KeyError):
        return None
    assert isinstance(got, dict)
    return got


def alike(one: Any, other: Any) -> bool:
    return bool(one == other or (isinstance(one, float) and math.isnan(one) and math.isnan(other)))


@settings(max_examples=400)
@given(messages(), st.binary(max_size=12), st.integers(1, 8))
def test_bits_are_the_library_s_wherever_it_gives_a_value(
    signals: list[Signal], data: bytes, length: int
) -> None:
    by_name = {signal.name: signal for signal in signals}
    ours = {name: raw_value(place_of(field, by_name), data) for name, field in by_name.items()}
    whole = library(signals, data, length)
    for name, field in by_name.items():
        chain = [field]
        while chain[-1].multiplexer_signal is not None:
            chain.append(by_name[chain[-1].multiplexer_signal])
        if whole is not None and name in whole:
            assert alike(ours[name], whole[name])
        elif whole is not None and len(data) <= length:
            assert isinstance(ours[name], Lack)
        elif field.multiplexer_ids is None:
            # The library refuses: the field stands alone in a message as long as the frame.
            alone = library([field], data, max(1, len(data)))
            if alone is not None and name in alone:
                assert alike(ours[name], alone[name])
            else:
                assert ours[name] is Lack.TOO_SHORT
        elif any(isinstance(ours[each.name], Lack) for each in chain[1:]):
            assert isinstance(ours[name], Lack)
        elif ours[chain[1].name] not in field.multiplexer_ids:
            assert ours[name] in (Lack.OTHER_PAGE, Lack.UNKNOWN_PAGE)


def test_two_fields_on_the_same_bits_and_one_beyond_the_end_cost_nobody_else() -> None:
    signals = [Signal("A", 0, 8), Signal("B", 4, 8), Signal("C", 7, 16, "big_endian"), Signal("Far", 60, 16)]
    by_name = {signal.name: signal for signal in signals}
    data = bytes([0x21, 0x43, 0, 0, 0, 0, 0, 0])
    assert library(signals, data, 8) is None
    got = [raw_value(place_of(field, by_name), data) for field in signals]
    assert got == [0x21, 0x32, 0x2143, Lack.TOO_SHORT]


def test_an_unknown_page_drops_only_what_is_on_pages() -> None:
    signals = [
        Signal("Plain", 8, 8),
        Signal("Page", 0, 8, is_multiplexer=True),
        Signal("One", 16, 8, multiplexer_ids=[1], multiplexer_signal="Page"),
        Signal("Two", 16, 8, multiplexer_ids=[2], multiplexer_signal="Page"),
    ]
    by_name = {signal.name: signal for signal in signals}

    def got(page: int) -> list[object]:
        return [raw_value(place_of(field, by_name), bytes([page, 5, 9])) for field in signals]

    assert library(signals, bytes([7, 5, 9]), 3) is None
    assert got(7) == [5, 7, Lack.UNKNOWN_PAGE, Lack.UNKNOWN_PAGE]
    assert got(2) == [5, 2, Lack.OTHER_PAGE, 9]


def test_a_field_that_no_frame_can_hold_has_no_place() -> None:
    for wrong in (
        Signal("S", 0, MOST_BITS + 1),
        Signal("S", 0, 4294967296),
        Signal("S", 0, 24, conversion=BaseConversion.factory(is_float=True)),
        Signal("S", 0, 8, is_multiplexer=True, multiplexer_ids=[1], multiplexer_signal="S"),
        Signal("S", 0, 8, multiplexer_ids=[1], multiplexer_signal="Nowhere"),
    ):
        assert raw_value(place_of(wrong, {"S": wrong}), bytes(64)) is Lack.UNREADABLE
    unmarked = Signal("Page", 0, 8)
    paged = Signal("S", 8, 8, multiplexer_ids=[0], multiplexer_signal="Page")
    assert library([unmarked, paged], bytes(2), 2) == {"Page": 0}
    assert raw_value(place_of(paged, {"S": paged, "Page": unmarked}), bytes(2)) is Lack.UNREADABLE
    real = Signal("S", 0, 32, conversion=BaseConversion.factory(is_float=True))
    assert raw_value(place_of(real, {"S": real}), struct.pack("<f", 1.5)) == 1.5
