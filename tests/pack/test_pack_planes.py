"""The two run-length codes."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.pack.planes import (
    PACKBITS,
    PLAIN,
    RUNS,
    PlaneError,
    decode_map,
    decode_mask,
    encode_map,
    encode_mask,
)

REFERENCE = Path(__file__).parents[1] / "reference" / "13_packbits.csv"


@st.composite
def planes(draw: st.DrawFn, values: list[int]) -> tuple[int, int, bytes]:
    width, height = draw(st.integers(0, 300)), draw(st.integers(0, 40))
    pieces = st.lists(st.tuples(st.sampled_from(values), st.integers(1, 150)), min_size=1, max_size=20)
    row = b"".join(bytes((value,)) * length for value, length in draw(pieces))
    shift = draw(st.sampled_from((0, 0, 1, 7)))
    rows = [
        (row[shift * number % len(row) :] + row * (width // len(row) + 1))[:width] for number in range(height)
    ]
    return width, height, b"".join(rows)


@settings(max_examples=200, derandomize=True)
@given(planes([0, 0, 15, 15, 1, 7, 14]))
def test_masks_round_trip(plane: tuple[int, int, bytes]) -> None:
    width, height, values = plane
    form, data = encode_mask(values, width)
    assert decode_mask(form, data, width, height) == values
    assert len(data) <= (width + 1) // 2 * height


@settings(max_examples=200, derandomize=True)
@given(planes([0, 1, 2, 128, 129, 255]))
def test_maps_round_trip(plane: tuple[int, int, bytes]) -> None:
    width, height, values = plane
    form, data = encode_map(values, width)
    assert decode_map(form, data, width, height) == values
    assert len(data) <= width * height


@settings(max_examples=300, derandomize=True)
@given(st.binary(max_size=60), st.integers(0, 40), st.integers(0, 40), st.sampled_from((0, 1, 2, 3)))
def test_any_bytes_decode_or_are_refused(data: bytes, width: int, height: int, form: int) -> None:
    for decode in (decode_mask, decode_map):
        try:
            assert len(decode(form, data, width, height)) == width * height
        except PlaneError as reason:
            assert str(reason)


def test_packbits_as_published() -> None:
    """The example of Technical Note TN1023 and the TIFF 6.0 rules, from tests/reference/13_packbits.csv."""
    text = "".join(line for line in REFERENCE.read_text().splitlines(True) if not line.startswith("#"))
    rows = list(csv.DictReader(io.StringIO(text)))
    raw, packed = (bytes.fromhex(rows[0][name]) for name in ("raw_hex", "packed_hex"))
    assert decode_map(PACKBITS, packed, len(raw), 1) == raw
    assert encode_map(raw, len(raw)) == (PACKBITS, packed)
    assert decode_map(PACKBITS, b"\x7f" + bytes(range(128)), 128, 1) == bytes(range(128))
    assert decode_map(PACKBITS, b"\x81\x05", 128, 1) == b"\x05" * 128
    with pytest.raises(PlaneError, match="128"):
        decode_map(PACKBITS, b"\x80\xff\x01", 2, 1)


def test_mask_code_by_hand() -> None:
    # 3 clear, one of coverage 8, 5 full; then the same row; then 2 soft and 7 clear.
    first = bytes((0, 0, 0, 8, 15, 15, 15, 15, 15))
    last = bytes((1, 14)) + bytes(7)
    data = bytes.fromhex("02 88 44  ff  90 e1 06")
    assert decode_mask(RUNS, data, 9, 3) == first * 2 + last
    assert encode_mask(first * 2 + last, 9) == (RUNS, data)
    # 17 rows: the start of row 16 stands first, and that row is given in full.
    assert encode_mask(bytes(9 * 17), 9) == (RUNS, bytes.fromhex("14000000 08") + b"\xff" * 15 + b"\x08")
    assert decode_mask(PLAIN, b"\x21\x03", 3, 1) == b"\x01\x02\x03"


@pytest.mark.parametrize(
    ("data", "width", "height", "words"),
    [
        ("02", 9, 1, "end inside"),
        ("09", 9, 1, "crosses"),
        ("08 00", 9, 1, "left over"),
        ("ff", 9, 1, "above"),
        ("91 11", 3, 1, "end inside"),
        ("91 11 11", 3, 1, "half byte"),
        ("15000000 08" + "ff" * 15 + "08", 9, 17, "start of row 16"),
        ("14000000 08" + "ff" * 16, 9, 17, "above"),
        ("1400", 9, 17, "starts"),
        ("", 0, 40, "no pixels"),
        ("08", 9, 0, "no pixels"),
    ],
)
def test_broken_mask_code(data: str, width: int, height: int, words: str) -> None:
    with pytest.raises(PlaneError, match=words):
        decode_mask(RUNS, bytes.fromhex(data), width, height)
