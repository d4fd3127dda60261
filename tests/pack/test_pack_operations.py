"""What a pack holds of slides, pointers, traces, flows, pictures and letters, and what it refuses."""

from __future__ import annotations

import pytest

from hmic.diagnostics import DesignError
from hmic.pack import planes
from hmic.pack.inspect import account
from hmic.pack.operation_records import RecordError, decode, encode
from hmic.pack.reader import read
from hmic.pack.records import CRC_AT, PICTURE, checksum
from hmic.pack.writer import write
from hmic.paint.operations import (
    Axis,
    Box,
    Drawing,
    Flow,
    Glyph,
    Image565,
    Ink,
    Letter,
    Letters,
    LetterSet,
    Mask,
    Operation,
    Outline,
    Picture,
    Pointer,
    ScreenDrawing,
    Slide,
    Theme,
    Trace,
)
from tests.tools.changed import replace

BOX = Box(0, 0, 40, 20)
SQUARE = ((0, 0), (64, 0), (64, 64), (0, 64))
MARK = Letter(Glyph(0, 0, 0), 3)
# Channel 0 has as many steps as there are columns, levels, letters and one, and polygons.
SLIDE = Slide(BOX, 0, Axis.RIGHTWARD, 0, Ink(2))
POINTER = Pointer(BOX, 0, 0, Ink(2))
TRACE = Trace(BOX, 1, 3, 0, 3, 2, Ink(2))
FLOW = Flow(BOX, Axis.DOWNWARD, 0, 5, 12, 4, 18, Ink(2))
PICTURE_SHOWN = Picture(BOX, 0)
LETTERS = Letters(BOX, 1, 3, 0, Ink(2))
ALL = (SLIDE, POINTER, TRACE, FLOW, PICTURE_SHOWN, LETTERS)


def drawing(*operations: Operation, **change: object) -> Drawing:
    """A panel of 40 x 20 with four channels of three steps and one table of each kind."""
    theme = Theme("day", ((0, 0, 0), (128, 128, 128), (255, 0, 0)), 80)
    screen = ScreenDrawing("all", operations, (0, 1, 2, 3), ())
    masks = (Mask(3, 2, bytes((0, 8, 15, 15, 8, 0))),)
    outline = Outline(4, (SQUARE,) * 3)
    letter_set = LetterSet(5, (MARK, MARK), (MARK, MARK, MARK))
    picture = Image565(2, 1, b"\x01\x02\x03\x04", b"\x0f\x07")
    tables = ((theme,), masks, (), (), (3,) * 4, (screen,), 0, (outline,), (letter_set,), (picture,))
    return replace(Drawing(40, 20, 24, *tables), **change)  # type: ignore[arg-type]


def refusal(bad: Drawing, code: str = "P505") -> str:
    with pytest.raises(DesignError) as caught:
        write(bad)
    assert {finding.code for finding in caught.value.findings} == {code}
    return str(caught.value)


def test_all_of_them_round_trip_and_are_accounted_for() -> None:
    whole = drawing(*ALL)
    data = write(whole)
    assert read(data) == whole
    told = " | ".join(entry.what for entry in account(data, read(data)))
    for words in (
        *("picture 0, 2 x 1", "data of picture 0, plain", "data of the coverage of picture 0, plain"),
        *("letter set 0, 5 high", "2 letters of letter set 0", "outline 0, 3 polygons"),
        *("12 corners of outline 0", ": slide", ": pointer", ": trace", ": flow", ": picture", ": letters"),
    ):
        assert words in told


@pytest.mark.parametrize(
    ("operation", "words"),
    [
        (replace(SLIDE, axis=Axis.MAPPED), "axis is mapped"),
        (replace(SLIDE, mask=1), "mask 1 does not exist"),
        (replace(SLIDE, channel=4), "does not list"),
        (replace(POINTER, outline=1), "outline 1 does not exist"),
        (replace(TRACE, columns=0), "columns"),
        (replace(TRACE, columns=4), "channel 4, which its screen does not list"),
        (replace(TRACE, columns=41), "1 to 40"),
        (replace(TRACE, columns=2), "more than the 2 columns"),
        (replace(TRACE, head=9), "does not list"),
        (replace(TRACE, levels=2), "more than 2 levels"),
        (replace(TRACE, levels=0), "levels"),
        (replace(TRACE, thickness=0), "thickness"),
        (replace(TRACE, thickness=21), "thickness"),
        (replace(FLOW, axis=Axis.MAPPED), "axis is mapped"),
        (replace(FLOW, pitch=0, mark=0), "pitch"),
        (replace(FLOW, pitch=1025), "1024"),
        (replace(FLOW, mark=13), "mark"),
        (replace(FLOW, pace=19), "38 px/s; 36 px/s are possible"),
        (replace(FLOW, offset=-1), "-1"),
        (replace(PICTURE_SHOWN, picture=1), "picture 1 does not exist"),
        (replace(LETTERS, count=0), "letters"),
        (replace(LETTERS, count=4), "channel 4, which its screen does not list"),
        (replace(LETTERS, letter_set=1), "letter set 1 does not exist"),
        (replace(LETTERS, count=1 << 16), "65535"),
    ],
)
def test_an_operation_no_display_could_draw(operation: Operation, words: str) -> None:
    assert words in refusal(drawing(operation))


def test_a_screen_has_no_more_columns_and_letters_than_a_word_counts() -> None:
    many = (replace(LETTERS, first=0, count=4),) * (0xFFFF // 4)
    assert write(drawing(*many, replace(TRACE, first=0)))
    assert "65536 columns and letters" in refusal(drawing(*many, replace(LETTERS, first=0, count=4)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outlines": (Outline(4, (SQUARE,) * 2),)}, "3 steps, its outline 2 polygons"),
        ({"outlines": (Outline(3, (SQUARE,) * 3),)}, "4 corners in polygon 0, not 3"),
        ({"outlines": (Outline(2, ()),)}, "corners of each"),
        ({"outlines": (Outline(4, (SQUARE[::-1],) * 3),)}, "not convex and clockwise"),
        ({"outlines": (Outline(4, (SQUARE[:1] * 4,) * 3),)}, "not convex and clockwise"),
        ({"outlines": (Outline(3, (((0, 0), (9, 9), (18, 18)),) * 3),)}, "not convex and clockwise"),
        ({"outlines": (Outline(4, (((0, 0), (9, 0), (2, 2), (0, 9)),) * 3),)}, "not convex and clockwise"),
        ({"outlines": (Outline(3, (((0, 0), (32768, 0), (0, 9)),) * 3),)}, "outside 0 to 32767"),
        ({"letter_sets": (LetterSet(5, (MARK,), (MARK, MARK, MARK)),)}, "its letters allow 2"),
        ({"letter_sets": (LetterSet(5, (MARK,) * 2, (MARK,)),)}, "1 marks; 3 belong"),  # type: ignore[arg-type]
        ({"letter_sets": (LetterSet(5, (replace(MARK, advance=-1),) * 2, (MARK,) * 3),)}, "-1"),
        ({"letter_sets": (LetterSet(5, (Letter(Glyph(7, 0, 0), 1),) * 2, (MARK,) * 3),)}, "mask 7"),
        ({"pictures": (Image565(2, 1, b"\x01\x02\x03"),)}, "3 values for 2 x 1"),
        ({"pictures": (Image565(2, 1, bytes(4), b"\x10\x00"),)}, "above 15"),
        ({"pictures": (Image565(2, 1, bytes(4), b"\x01"),)}, "coverage of picture 0 has 1 values"),
        ({"pictures": (Image565(5000, 0, b""),)}, "4096"),
    ],
)
def test_a_table_no_display_could_draw(change: dict[str, object], words: str) -> None:
    assert words in refusal(drawing(*ALL, **change))


def test_more_pixels_than_the_format_allows_are_no_broken_table() -> None:
    large = (Image565(4096, 2049, bytes(2 * 4096 * 2049)),)
    assert "in all" in refusal(drawing(*ALL, pictures=large), "P506")


def test_a_star_is_not_convex_though_it_turns_one_way() -> None:
    star = ((320, 0), (508, 579), (16, 221), (624, 221), (132, 579))
    assert "not convex" in refusal(drawing(outlines=(Outline(5, (star,)),)))
    pentagon = tuple(star[place] for place in (0, 3, 1, 4, 2))
    assert write(drawing(outlines=(Outline(5, (pentagon,)),)))


def test_a_pointer_with_a_large_box_is_refused() -> None:
    wide = drawing(replace(POINTER, box=Box(0, 0, 2049, 20)), width=3000)
    assert "0 to 2048" in refusal(wide)


def test_equal_pictures_share_their_data() -> None:
    picture = Image565(8, 8, bytes(range(128)), bytes((15, 3)) * 32)
    once, twice = (len(write(drawing(pictures=(picture,) * count))) for count in (1, 2))
    assert once == twice


def test_pixels_are_a_plane_of_high_and_low_bytes() -> None:
    """A blue row over a red one: four runs of PackBits, by hand."""
    pixels = b"\x1f\x00" * 4 + b"\x00\xf8" * 4
    assert planes.encode_pixels(pixels, 4) == (planes.PACKBITS, bytes.fromhex("fd00 fd1f fdf8 fd00"))
    assert planes.decode_pixels(planes.PACKBITS, bytes.fromhex("fd00 fd1f fdf8 fd00"), 4, 2) == pixels
    assert planes.decode_pixels(planes.PLAIN, bytes(range(8)), 2, 2) == bytes((2, 0, 3, 1, 6, 4, 7, 5))


def mended(data: bytes, at: int, new: bytes) -> bytes:
    out = bytearray(data)
    out[at : at + len(new)] = new
    out[CRC_AT : CRC_AT + 4] = checksum(out).to_bytes(4, "little")
    return bytes(out)


def place(data: bytes, section: str) -> int:
    return next(entry.offset for entry in account(data, read(data)) if entry.section == section)


@pytest.mark.parametrize(
    ("section", "skip", "new", "words"),
    [
        ("pictures", 5, b"\xff", "a place for it"),
        ("pictures", 6, b"\x01", "spare byte"),
        ("pictures", 0, b"\xff\x7f", "pixels a side"),
        ("pictures", 4, b"\x01", "no form 1"),
        ("pictures", 8, b"\x01", "not where they should be"),
        ("letter sets", 2, b"\xff", "letters of set 0"),
        ("letter sets", 4, b"\x01", "letters of set 0"),
        ("letter sets", 2, b"\x01", "left over"),
        ("letter sets", 8, b"\x09", "mask 9"),
        ("outlines", 0, b"\x00", "corners of outline 0"),
        ("outlines", 2, b"\xff\xff", "corners of outline 0"),
        ("outlines", 2, b"\x02", "left over"),
        ("corners", 0, b"\xff\xff", "outside 0 to 32767"),
        ("corners", 0, b"\x3f\x00\x3f\x00", "convex"),
        ("operations", 0, b"\x0d", "unknown kind 13"),
        ("operations", 0, b"\x00", "unknown kind 0"),
        ("operations", 22, b"\x04", "axis is mapped"),
        ("operations", 22, b"\x05", "unknown axis 5"),
        ("operations", 23, b"\x01", "spare bytes"),
        ("operations", 1, b"\x01", "flags"),
        ("operations", 4 * 36 + 10, b"\x01", "spare bytes"),
        ("operations", 3 * 36 + 20, b"\x09", "channel 9"),
        ("header", 54, b"\x02", "header"),
        ("header", 60, b"\x07", "first theme 7"),
    ],
)
def test_a_broken_record_only_makes_a_finding(section: str, skip: int, new: bytes, words: str) -> None:
    data = write(drawing(*ALL))
    with pytest.raises(DesignError) as caught:
        read(mended(data, place(data, section) + skip, new))
    (finding,) = caught.value.findings
    assert finding.code in ("P503", "P504") and finding.remedy and words in finding.message


def test_a_small_pack_cannot_ask_for_a_large_picture() -> None:
    picture = Image565(4096, 16, bytes(2 * 4096 * 16), b"\x0f" * (4096 * 16))
    data = write(drawing(pictures=(picture,)))
    assert len(data) < 12_000 and read(data).pictures == (picture,)
    record = place(data, "pictures")
    assert PICTURE.unpack_from(data, record)[:2] == (4096, 16)
    with pytest.raises(DesignError, match="in all"):
        read(mended(data, record + 2, (1366).to_bytes(2, "little")))


@pytest.mark.parametrize("operation", ALL)
def test_records_keep_every_field(operation: Operation) -> None:
    record = encode(operation, 0)
    assert len(record) == 36 and decode(record, (), 0) == operation
    for at in range(36):
        # Any byte changed gives another operation or is refused; none is overlooked.
        changed = record[:at] + bytes((record[at] ^ 1,)) + record[at + 1 :]
        try:
            assert decode(changed, (), 0) != operation
        except RecordError:
            continue
