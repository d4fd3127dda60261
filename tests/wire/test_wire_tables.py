"""Every table of PROTOCOL.md is read and held against the code; those of section 11 are measurements."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import hmic.wire
from hmic.link import half_duplex
from hmic.wire import (
    bounds,
    cobs,
    content,
    display_session,
    display_touches,
    display_transfer,
    frames,
    host_greeting,
    host_rate,
    host_scene,
    host_session,
    host_transfer,
    host_values,
    likeness,
    messages,
    sent,
    sent_units,
    sizes,
    squeeze,
    updates,
    varint,
)
from hmic.wire.crc import START, crc16
from hmic.wire.events import DisplayFacts, Outcome, Phase
from hmic.wire.sizes import CHANGE_HEAD, FRAME_SECONDS, MAX_BODY
from tests.tools.tables import Table, tables

TEXT = (Path(hmic.wire.__file__).parent / "PROTOCOL.md").read_text(encoding="utf-8")
TABLES = tables(TEXT[: TEXT.index("## 11. Measured")])
READ_ELSEWHERE = {("in", "on", "to", "doing"), ("message", "seal", "body", "on the line")}
"""By test_wire_protocol.py."""


def table(*head: str) -> list[Table]:
    return [each for each in TABLES if each.head == head]


def test_no_table_is_left_out() -> None:
    read = {
        ("part", "bytes", ""), ("frames", "seal"), ("kind", "name", "fields"), ("interval", "seconds", "why"),
        ("bits", ""), ("mark", "stands for"), *READ_ELSEWHERE,
    }  # fmt: skip
    assert {each.head for each in TABLES} == read
    assert len(TABLES) == 16


def test_a_frame_has_the_parts_of_the_table() -> None:
    ((body, size, _), (check, two, _)) = table("part", "bytes", "")[0].rows
    assert (body, size, check, two) == ("body", f"1..{MAX_BODY}", "check", "2")
    for length in (1, 40, MAX_BODY):
        whole = cobs.decode_reduced(frames.encode(b"\7" * length)[:-1])
        assert whole == b"\7" * length + crc16(b"\7" * length).to_bytes(2, "little")
    with pytest.raises(ValueError):
        frames.encode(b"\7" * (MAX_BODY + 1))


def test_seals_are_made_of_what_the_table_says() -> None:
    rows = dict(table("frames", "seal")[0].rows)
    plain, session, values = rows
    assert rows[plain] == f"0x{START:04X}, the plain start"
    parts = re.findall(r"(\w[\w ]*) \((\d)\)", rows[session])
    assert parts == [("host nonce", "4"), ("display nonce", "4"), ("session", "2")]
    made = crc16(b"\4\3\2\1" + b"\x08\7\6\5" + b"\x0a\x09", START)
    assert updates.session_seal(0x01020304, 0x05060708, 0x090A) == made
    assert re.findall(r"(\w+)[\w ]* \((\d)\)", rows[values]) == [
        ("scene", "4"),
        ("number", "4"),
        ("late", "2"),
        ("each", "2"),
    ]
    assert updates.value_seal(made, 1, 2, 5, [3, 4]) == crc16(b"\1\0\0\0\2\0\0\0\5\0\3\0\4\0", made)
    named = {name for key in rows for name in key.split(", ") if key != session}
    assert named == {"Greet", "Answer", "Alone", "Turn", "Over", "Change", "Fill", "Pulse", "Resume"}


SAMPLES: dict[str, messages.Message] = {
    "Greet": messages.Greet(1, 2, 3),
    "Show": messages.Show(300, 4, True, 5, 6, 7, 8),
    "Resume": messages.Resume(300, 4),
    "Host Beat": messages.HostBeat(),
    "Heard": messages.Heard(300),
    "Rate": messages.Rate(9600),
    "Turn": messages.Turn(),
    "Offer": messages.Offer(1, 300, bytes(32)),
    "Block": messages.Block(1, 2, 300, b"data"),
    "Finish": messages.Finish(1),
    "Drop": messages.Drop(1),
    "Compare": messages.Compare(1, 300),
    "Squeezed": messages.Squeezed(1, 2, 300, 4, b"data"),
    "Copy": messages.Copy(1, 2, 300, 4, 500),
    "Continue": messages.Offer(1, 300, bytes(32), fresh=False),
    "Answer": messages.Answer(1, 2, 3, DisplayFacts(4, 5, 6, 7, bytes(8), 8, 9, 10, 128, 11, 12)),
    "Display Beat": messages.DisplayBeat(300, 1, 2),
    "Touch": messages.Touch(300, 1, None, Phase.HOLD, 2, 3, 4),
    "Want": messages.Want(300, 1),
    "Alone": messages.Alone(),
    "Rated": messages.Rated(9600),
    "Over": messages.Over(),
    "Need": messages.Need(1, 2, True, 300, (4, 5)),
    "Result": messages.Result(1, Outcome.DIFFERS),
    "Hashes": messages.Hashes(1, 300, 2, (bytes(6), bytes(6))),
}
BYTES = {"SHA-256 (32 bytes)": 32, "its identity (8 bytes)": 8, "then if 1 its identity (8 bytes)": 8}
REST = ("data", "packed data", "6 bytes for each piece", "up to 24 runs")


@pytest.mark.parametrize(
    "row", [row for each in table("kind", "name", "fields") for row in each.rows], ids=str
)
def test_messages_have_the_fields_of_the_tables(row: tuple[str, str, str]) -> None:
    """The body of a sample is read by the types that the table gives, to its end."""
    kind, name, fields = row
    if name not in SAMPLES:
        assert name in ("Change", "Fill") and fields == "section 6"
        return
    body = messages.encode(SAMPLES[name])
    assert body[0] == int(kind, 16) == messages.Kind[name.upper().replace(" ", "_")]
    place = 1
    for field in re.split(r", (?!0: )|; ", fields) if fields != "-" else []:
        fixed = re.search(r" u(8|16|32)\b", field)
        if field in REST:
            place = len(body)
        elif field in BYTES:
            place += BYTES[field]
        elif fixed:
            place += int(fixed[1]) // 8
        else:
            read = varint.decode(body, place)
            assert read is not None, field
            place = read[1]
    assert place == len(body)


def test_intervals_are_those_of_the_code() -> None:
    told = {
        name: float(re.findall(r"[\d.]+", seconds)[0])
        for name, seconds, _ in table("interval", "seconds", "why")[0].rows
    }
    assert told == {
        "Greet, Alone, Display Beat": host_greeting.GREET_EVERY,
        "Host Beat, Pulse or value frame": host_session.LIFE_EVERY,
        "value frame": FRAME_SECONDS,
        "host silent": display_session.HOST_SILENT_AFTER,
        "display silent": host_greeting.DISPLAY_SILENT_AFTER,
        "Want again": display_session.ASK_EVERY,
        "doubt": display_session.DOUBT_AFTER,
        "late": sent.LATE_AFTER,
        "others anew": sent.RETURN_AFTER,
        "fewer late": sent.TELL_AGAIN,
        "frame broken off": display_session.BROKEN_OFF,
        "Resume under way": host_values.UNDER_WAY,
        "Show again": host_scene.SHOW_AGAIN,
        "Touch again": display_touches.TOUCH_AGAIN,
    }
    assert display_session.BEAT_EVERY == host_greeting.GREET_EVERY
    assert bounds.frame_seconds(1e9) == FRAME_SECONDS


def test_bits_are_laid_out_as_the_tables_say() -> None:
    change, fill = (dict(each.rows) for each in table("bits", ""))
    widths = re.search(r": ([\d, or]+) bits for ([\d, or]+)$", change["2"])
    assert widths is not None
    assert tuple(map(int, re.findall(r"\d+", widths[1]))) == updates.WIDTHS
    assert re.findall(r"\d+", widths[2]) == [f"{choice:02b}" for choice in range(len(updates.WIDTHS))]
    assert int(change["1"]) == 1 and CHANGE_HEAD == 1 + 2
    assert list(change) == ["1", "2", "items", "up to 7"]
    assert list(fill) == ["1, or 17", "4", "steps", "up to 7"]
    assert updates.LOW_BITS == 4 and updates.MOST_ONES > 7
    # One item at position 1, up by one; two values alike.
    assert updates.encode_changes([0, 0], [0, 1], 99)[0] == bytes((0b1_00_10_0_0_1,))
    assert updates.encode_fill([5, 6, 6], [5, 6, 7], 2, 3, 2, limit=99)[0] == bytes((8, 0b1_0000_110))
    assert updates.encode_fill([5, 6, 6], [5, 6, 7], 2, 3, 0, limit=99)[0] == bytes((8, 0, 1, 0b0_0000_110))


def test_marks_of_packed_data_are_those_of_the_table() -> None:
    (plain, next_), (back, copy) = table("mark", "stands for")[0].rows
    assert (plain, back) == (f"00..{squeeze.LITERALS - 1:02x}", f"{squeeze.LITERALS:02x}..ff")
    assert next_ == "the next mark + 1 bytes"
    assert copy.startswith(
        "a copy of 3 + (mark >> 2 & 31) bytes, from 1 + ((mark & 3) << 8 | next byte) bytes back"
    )
    for mark in range(0x80, 0x100):
        length, reach = 3 + (mark >> 2 & 31), 1 + ((mark & 3) << 8 | 5)
        before = bytes(at & 255 for at in range(1, 1 + reach))
        literal = b"".join(
            bytes((len(part) - 1,)) + part for part in (before[at : at + 128] for at in range(0, reach, 128))
        )
        whole = squeeze.unsqueeze(literal + bytes((mark, 5)), reach + length)
        if reach + length <= squeeze.MOST:
            assert whole == before + bytes(before[at % reach] for at in range(length))


@pytest.mark.parametrize(
    ("phrase", "number"),
    [
        ("as many as fit {} s (one at least", bounds.TURN_REPLY),
        ("gives a turn at least each {} s", half_duplex.CALM_TURN_EVERY),
        ("and each {} s until", half_duplex.TURN_EVERY),
        ("until {} s after the display said anything", half_duplex.CALM_AFTER),
        ("up to {} runs", messages.MAX_RUNS),
        ("**Rate** first of all in a session, each {} s", host_rate.RATE_EVERY),
        ("It sends **Want** at once and each {} s", display_session.ASK_EVERY),
        ("doubles that time, up to {} s", host_values.UNDER_WAY_LIMIT),
        ("When Wants of one number have come for {} s", host_values.DISTURBED_AT_MOST),
        ("never {} s apart, the host shows anew", host_values.CALM_AFTER),
        ("keeps the values of the last {} value frames", sent.KEPT),
        ("The first {} positions of a list are the most urgent", sizes.URGENT),
        ("more than {} s of bytes wait for the line: they gather", sizes.VALUE_LEAD),
        ("or {} bytes of body if that is more", sizes.LEAST_ROOM),
        ("The display keeps up to {}, sends each at once", display_touches.TOUCH_QUEUE),
        ("is sent in *units* of {} bytes", sizes.UNIT),
        ("**Squeezed**: 1 to {} units", content.SQUEEZED_UNITS),
        ("**Copy**: 1 to {} units", content.COPY_UNITS),
        ("0. **Compare**, each {} s", host_transfer.COMPARE_EVERY),
        ("from piece `first` on, {} pieces", likeness.MOST_HASHES),
        ("A piece is {} bytes", likeness.PIECE),
        ("1. **Offer**, each {} s", host_transfer.OFFER_EVERY),
        ("Sent upon Offer, {} s after a block", display_transfer.REPORT_AFTER),
        ("At most {} blocks", sent_units.SERIALS),
        ("4. **Finish**, each {} s", host_transfer.FINISH_EVERY),
        ("stand for at most {} bytes", squeeze.MOST),
        ("sends no block while more than {} s of bytes wait", sizes.BLOCK_LEAD),
        ("makes none longer than {} s or one unit", sizes.BLOCK_SECONDS),
        ("blocks may take {} s", sizes.BARE_BLOCK_SECONDS),
    ],
)
def test_numbers_in_the_text_are_those_of_the_code(phrase: str, number: float) -> None:
    before, after = phrase.split("{}")
    found = re.findall(re.escape(before) + r"([\d.]+)" + re.escape(after), " ".join(TEXT.split()))
    assert [float(each) for each in found] == [number], phrase


def test_words_for_numbers_in_the_text_are_those_of_the_code() -> None:
    text = " ".join(TEXT.split())
    assert "and three times at most" in text and host_rate.RATE_TRIES == 3
    assert "that gets no Hashes six times" in text and host_transfer.COMPARE_TRIES == 6
    assert "for a quarter of the time of a whole push" in text and host_transfer.COMPARE_SHARE == 0.25
