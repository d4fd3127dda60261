# ruff: noqa: E501
"""Values taken of frames by what is worked out once, against the same field by field, and against cantools."""

from __future__ import annotations

import random
import struct
from typing import Any

import cantools
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.model.dbc_bits import Lack, Place, place_of, raw_value
from hmic.runtime import decoding
from hmic.runtime.decoding import Reading
from hmic.runtime.taking import MOST_KNOWN, taking_of
from hmic.runtime.watched import Field, Watched

HEAD = 'VERSION ""\nBU_: A\n'


def plain(raw: Any) -> Any:
    return raw


def one_by_one(fields: list[Field], data: bytes) -> tuple[list[Reading], tuple[Field, Lack] | None]:
    readings, lacking = [], None
    for field in fields:
        raw = raw_value(field.place, data)
        if not isinstance(raw, Lack):
            readings.append(Reading(field.name, field.element, field.convert(raw)))
        elif raw is not Lack.OTHER_PAGE and lacking is None:
            lacking = field, raw
    return readings, lacking


def same(one: Any, other: Any) -> bool:
    """Equal, and not a number where the other is not."""
    return bool(one == other) or (one != one and other != other)


@st.composite
def messages(draw: Any) -> list[Field]:
    """Fields at any place, of any kind; some by turns, by one selecting field or in stranger ways."""

    def place(page: Any = None, real: bool = True) -> Place:
        length = draw(st.integers(1, 24))
        if real and draw(st.integers(0, 6)) == 0:
            return Place(draw(st.booleans()), draw(st.integers(0, 40)), draw(st.sampled_from((16, 32))), False, True, page)
        return Place(draw(st.booleans()), draw(st.integers(0, 60)), length, draw(st.booleans()), False, page)

    selectors = [place(None, False) for _ in range(draw(st.integers(0, 2)))]
    known = frozenset(draw(st.lists(st.integers(0, 5), min_size=1, max_size=4)))
    fields = []
    for number in range(draw(st.integers(1, 8))):
        page = None
        if selectors and draw(st.booleans()):
            selector = selectors[0] if draw(st.integers(0, 5)) else draw(st.sampled_from(selectors))
            page = selector, frozenset(draw(st.lists(st.sampled_from(sorted(known)), min_size=1, max_size=2))), known
        where = None if draw(st.integers(0, 20)) == 0 else place(page)
        fields.append(Field(f"signal.{number}", draw(st.sampled_from((None, 0, 1))), f"F{number}", where, plain))
    return fields


@settings(deadline=None, max_examples=300)
@given(messages(), st.lists(st.binary(max_size=10), min_size=1, max_size=12))
def test_every_frame_is_taken_as_field_by_field(fields: list[Field], frames: list[bytes]) -> None:
    """Each frame twice: the second time from what is remembered."""
    takings: dict[int, Any] = {}
    for data in [*frames, *frames]:
        taking = takings.setdefault(len(data), taking_of(fields, len(data)))
        wanted = one_by_one(fields, data)
        found = decoding._singly(Watched("x", fields), data) if taking is None else decoding._taken(taking, data)
        assert [(each.name, each.element) for each in found[0]] == [(each.name, each.element) for each in wanted[0]]
        assert all(same(one.value, other.value) for one, other in zip(found[0], wanted[0], strict=True))
        assert found[1] == wanted[1]


def test_cells_in_turns_are_what_cantools_says() -> None:
    """32 cells on eight pages, and a field with its highest byte first beside them."""
    lines = ["BO_ 256 Cells: 8 A", ' SG_ Group M : 0|4@1+ (1,0) [0|7] "" A', ' SG_ Sum : 7|4@0+ (1,0) [0|15] "" A']
    for cell in range(32):
        lines.append(f' SG_ Cell{cell + 1} m{cell // 4} : {8 + cell % 4 * 13}|13@1+ (0.001,0) [0|8] "V" A')
    database: Any = cantools.database.load_string(HEAD + "\n".join(lines) + "\n", "dbc", strict=False)
    (message,) = database.messages
    of = {signal.name: signal for signal in message.signals}
    fields = [Field(name, None, name, place_of(signal, of), plain) for name, signal in of.items()]
    taking = taking_of(fields, 8)
    assert taking is not None and len(taking.pages) == 8
    some = random.Random(5)
    for number in range(400):
        data = bytes([number % 8 | some.randrange(16) << 4]) + some.randbytes(7)
        readings, lacking = decoding._taken(taking, data)
        assert lacking is None and len(readings) == 6
        said = message.decode(data, decode_choices=False, scaling=False)
        assert {each.name: each.value for each in readings} == said
    readings, lacking = decoding._taken(taking, b"\x0f" + bytes(7))
    assert [each.name for each in readings] == ["Group", "Sum"] and lacking is not None and lacking[1] is Lack.UNKNOWN_PAGE


@pytest.mark.parametrize("real", [False, True])
def test_what_is_remembered_has_an_end(real: bool) -> None:
    field = Field("a.b", None, "F", Place(False, 0, 32, False, real), plain)
    taking = taking_of([field], 4)
    assert taking is not None
    (taken,) = taking.always.taken
    for number in range(3 * MOST_KNOWN):
        data = struct.pack("<f", number / 8) if real else number.to_bytes(4, "little")
        (reading,), _ = decoding._taken(taking, data)
        assert reading.value == (number / 8 if real else number) and len(taken.known) <= MOST_KNOWN
