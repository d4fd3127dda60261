"""Packed pieces, and finding in a new pack what the display has."""

from __future__ import annotations

from random import Random
from zlib import crc32

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.wire.crc import crc16
from hmic.wire.likeness import PIECE, hash_of, sources
from hmic.wire.sizes import UNIT
from hmic.wire.squeeze import MOST, squeeze, unsqueeze

scraps = st.lists(
    st.sampled_from([b"\0" * 40, b"abcabd", b"\xff\x7f", bytes(range(64))]) | st.binary(max_size=20),
    max_size=30,
).map(lambda parts: b"".join(parts)[:MOST])


@given(scraps)
def test_pieces_round_trip(data: bytes) -> None:
    packed = squeeze(data)
    assert unsqueeze(packed, len(data)) == data
    assert len(packed) <= len(data) + -(-len(data) // 128)
    assert unsqueeze(packed, len(data) + 1) is None


@given(st.binary(max_size=200), st.integers(-1, MOST + 1))
def test_unpacking_is_total_and_bounded(data: bytes, length: int) -> None:
    plain = unsqueeze(data, length)
    assert plain is None or len(plain) == length <= MOST


def test_unpacking_refuses_what_reaches_outside() -> None:
    assert unsqueeze(b"\x80\x00", 3) is None
    assert unsqueeze(b"\x00a\x80\x01", 4) is None
    assert unsqueeze(b"\x00a\x80\x00", 4) == b"aaaa"
    assert unsqueeze(b"\x00a\x80\x00", 3) is None
    assert unsqueeze(b"\x00a\x80", 4) is None
    assert unsqueeze(b"\x03abc", 4) is None
    with pytest.raises(ValueError, match="1024"):
        squeeze(bytes(MOST + 1))


def hashes(pack: bytes) -> list[bytes]:
    return [hash_of(pack[at : at + PIECE]) for at in range(0, len(pack), PIECE)]


def test_the_hash() -> None:
    # Check values of the catalogue of Greg Cook: CRC-32/ISO-HDLC cbf43926, CRC-16/IBM-3740 29b1.
    assert hash_of(b"123456789") == bytes.fromhex("2639f4cb b129")
    assert (crc32(b"123456789"), crc16(b"123456789")) == (0xCBF43926, 0x29B1)


@settings(max_examples=60)
@given(st.integers(0, 1 << 30), st.data())
def test_what_is_found_is_the_same(seed: int, data: st.DataObject) -> None:
    dice = Random(seed)
    old = dice.randbytes(data.draw(st.integers(0, 9000)))
    new = bytearray(old)
    for _ in range(data.draw(st.integers(0, 3))):
        at = dice.randrange(len(new) + 1)
        new[at : at + dice.randrange(3)] = dice.randbytes(dice.randrange(3))
    if data.draw(st.booleans()):
        new = new[: dice.randrange(len(new) + 1)] + dice.randbytes(700)
    pack = bytes(new)
    found = sources(pack, len(old), hashes(old))
    assert len(found) == -(-len(pack) // UNIT)
    for unit, source in enumerate(found):
        if source is not None:
            piece = pack[unit * UNIT : (unit + 1) * UNIT]
            assert old[source : source + len(piece)] == piece


def test_most_of_it_is_found_after_an_edit_or_a_move() -> None:
    old = Random(1).randbytes(100_000 + 40)
    same = sources(old, len(old), hashes(old))
    assert same == [unit * UNIT for unit in range(len(same))]
    edited = bytearray(old)
    edited[5000:5003] = b"xyz"
    assert sum(source is None for source in sources(bytes(edited), len(old), hashes(old))) == PIECE // UNIT
    moved = old[:30_000] + b"seventeen letters" + old[30_000:]
    missing = sum(source is None for source in sources(moved, len(old), hashes(old)))
    assert missing <= 2 * PIECE // UNIT + 2
    assert not any(sources(b"", 0, []))
