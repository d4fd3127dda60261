"""Byte stuffing, CRC, varints, frames, messages and change frames against published values, second
implementations and properties."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from crccheck.crc import Crc16Ibm3740  # second implementation: PyPI crccheck
from hypothesis import given
from hypothesis import strategies as st

from hmic.wire import cobs, frames, messages, updates, varint
from hmic.wire.crc import START, crc16
from hmic.wire.events import DisplayFacts, Outcome, Phase

REFERENCE = Path(__file__).parents[1] / "reference"


def reference(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_crc_check_value() -> None:
    # tests/reference/06: Greg Cook's catalogue, row CRC-16/IBM-3740.
    row = next(r for r in reference("06_crc_check_values.csv") if r["name"] == "CRC-16/IBM-3740")
    assert (row["poly"], row["init"], row["refin"], row["refout"], row["xorout"]) == (
        "0x1021", "0xFFFF", "0", "0", "0x0000",
    )  # fmt: skip
    assert crc16(b"123456789") == int(row["check"], 16)


@given(st.binary(max_size=600), st.integers(0, 600))
def test_crc_agrees_with_crccheck_and_continues(data: bytes, cut: int) -> None:
    assert crc16(data) == Crc16Ibm3740.calc(data)
    assert crc16(data[cut:], crc16(data[:cut])) == crc16(data)


@pytest.mark.parametrize(
    "row", reference("06_cobs_vectors.csv"), ids=lambda r: (r["raw_hex"] or "empty")[:24]
)
def test_cobs_published_vectors(row: dict[str, str]) -> None:
    # tests/reference/06: Cheshire and Baker; the cobs-python project's test vectors.
    if row["raw_hex"].startswith("INVALID: "):
        assert cobs.decode(bytes.fromhex(row["raw_hex"][9:])) is None
    else:
        raw, stuffed = bytes.fromhex(row["raw_hex"]), bytes.fromhex(row["encoded_hex"])
        assert cobs.encode(raw) == stuffed
        assert cobs.decode(stuffed) == raw


@pytest.mark.parametrize("row", reference("06_cobs_overhead.csv"), ids=lambda r: r["n"])
def test_cobs_bound(row: dict[str, str]) -> None:
    length = int(row["n"])
    assert cobs.encoded_limit(length) == int(row["max_encoded"])
    assert len(cobs.encode(b"\1" * length)) <= cobs.encoded_limit(length)


@given(st.lists(st.sampled_from([b"\0", b"a", b"b" * 253, b"c" * 254]), max_size=6).map(b"".join))
def test_cobs_round_trip(data: bytes) -> None:
    stuffed = cobs.encode(data)
    assert 0 not in stuffed and len(stuffed) <= cobs.encoded_limit(len(data))
    assert cobs.decode(stuffed) == data


@given(
    st.lists(
        st.sampled_from([b"\0", b"a", b"\2", b"\3", b"b" * 253, b"c" * 254, b"\xff" * 254]), max_size=6
    ).map(b"".join)
)
def test_the_reduced_form_saves_a_byte_or_nothing(data: bytes) -> None:
    stuffed = cobs.encode_reduced(data)
    assert 0 not in stuffed and len(cobs.encode(data)) - 1 <= len(stuffed) <= len(cobs.encode(data))
    assert cobs.decode_reduced(stuffed) == data == cobs.decode_reduced(cobs.encode(data))


@given(st.binary(max_size=40))
def test_cobs_decode_is_total(data: bytes) -> None:
    raw = cobs.decode(data)
    assert raw is None or len(raw) < len(data)


def test_varint_published_values() -> None:
    # tests/reference/12: DWARF section 7.6 and the Protocol Buffers encoding guide.
    for row in reference("12_varint_zigzag_leb128.csv"):
        if row["kind"] == "uleb128/varint":
            value, data = int(row["value"]), bytes.fromhex(row["encoded"])
            if value <= varint.LIMIT:
                assert varint.encode(value) == data
                assert varint.decode(data, 0) == (value, len(data))
            else:
                assert varint.decode(data, 0) is None


@given(st.binary(max_size=8))
def test_varint_reads_only_what_it_writes(data: bytes) -> None:
    read = varint.decode(data, 0)
    if read is not None:
        assert varint.encode(read[0]) == data[: read[1]]


def test_varint_refuses_what_does_not_fit() -> None:
    with pytest.raises(ValueError, match="32 bits"):
        varint.encode(varint.LIMIT + 1)
    assert varint.decode(b"\x80\x00", 0) is None
    assert varint.decode(b"\xff\xff\xff\xff\x1f", 0) is None


bodies = st.binary(min_size=1, max_size=frames.MAX_BODY)


@given(st.lists(bodies, max_size=4), st.binary(max_size=30), st.integers(0, 0xFFFF))
def test_frames_byte_by_byte_equal_whole_with_a_tail(sent: list[bytes], tail: bytes, seal: int) -> None:
    stream = b"".join(frames.encode(body, seal) for body in sent) + tail
    whole, slow = frames.FrameDecoder(), frames.FrameDecoder()
    found = whole.receive(stream)
    assert [frame for byte in stream for frame in slow.receive(bytes((byte,)))] == found
    assert (whole.dropped, whole._held, whole._skipping) == (slow.dropped, slow._held, slow._skipping)
    assert [frame.body for frame in found[: len(sent)]] == sent
    assert all(frame.intact(seal) for frame in found[: len(sent)])


@given(bodies, st.data())
def test_a_flipped_bit_never_passes(body: bytes, data: st.DataObject) -> None:
    line = bytearray(frames.encode(body))
    bit = data.draw(st.integers(0, len(line) * 8 - 1))
    line[bit // 8] ^= 1 << bit % 8
    for frame in frames.FrameDecoder().receive(bytes(line) + b"\0"):
        # Merged or cut frames have 1 chance in 65536 to pass; equal bodies would be no harm.
        assert not frame.intact() or frame.body == body


def test_an_endless_frame_is_dropped_once_in_bounded_memory() -> None:
    decoder = frames.FrameDecoder()
    for _ in range(1000):
        assert decoder.receive(b"\7" * 999) == []
        assert len(decoder._held) <= frames.MAX_STUFFED
    assert decoder.receive(b"\0" + frames.encode(b"after")) == [frames.Frame(b"after", crc16(b"after"))]
    assert decoder.dropped == 1


u8, u16, u32 = st.integers(0, 0xFF), st.integers(0, 0xFFFF), st.integers(0, 0xFFFFFFFF)
facts = st.builds(
    DisplayFacts, u32, u32, u32, u32, st.none() | st.binary(min_size=8, max_size=8), u32, u32, u32,
    st.integers(128, 512), st.integers(1, 0xFFFFFFFF), u32,
)  # fmt: skip
message = st.one_of(
    st.builds(messages.Greet, u8, u32, u16),
    st.builds(messages.Show, u32, u32, st.booleans(), u32, u32, st.integers(0, 100), u16),
    st.builds(messages.Resume, u32, u16),
    st.builds(messages.HostBeat),
    st.builds(messages.Heard, u32),
    st.builds(messages.Rate, u32),
    st.builds(messages.Rated, u32),
    st.builds(messages.Turn),
    st.builds(messages.Over),
    st.builds(messages.Offer, u8, u32, st.binary(min_size=32, max_size=32), st.booleans()),
    st.builds(messages.Block, u8, u8, u32, st.binary(min_size=1, max_size=448)),
    st.builds(messages.Finish, u8),
    st.builds(messages.Drop, u8),
    st.builds(messages.Compare, u8, u32),
    st.builds(messages.Squeezed, u8, u8, u32, u8, st.binary(min_size=1, max_size=448)),
    st.builds(messages.Copy, u8, u8, u32, u8, u32),
    st.builds(
        messages.Hashes, u8, u32, u32, st.lists(st.binary(min_size=6, max_size=6), max_size=80).map(tuple)
    ),
    st.builds(messages.Answer, st.just(messages.VERSION), u32, u16, facts),
    st.builds(messages.DisplayBeat, u32, u32, u16),
    st.builds(messages.Touch, u32, u32, st.none() | u16, st.sampled_from(Phase), u32, u32, u8),
    st.builds(messages.Want, u32, u32),
    st.builds(messages.Alone),
    st.builds(
        messages.Need, u8, u8, st.booleans(), u32, st.lists(u32, max_size=messages.MAX_RUNS).map(tuple)
    ),
    st.builds(messages.Result, u8, st.sampled_from([o for o in Outcome if o <= Outcome.NOT_ACTIVATED])),
)


@given(message)
def test_messages_round_trip(sent: messages.Message) -> None:
    body = messages.encode(sent)
    assert messages.decode(body) == sent
    assert all(messages.decode(body[:cut]) != sent for cut in range(len(body)))


@given(message, st.data())
def test_messages_decode_is_total_and_canonical(sent: messages.Message, data: st.DataObject) -> None:
    body = bytearray(messages.encode(sent))
    place = data.draw(st.integers(0, len(body) - 1))
    body[place:place] = data.draw(st.binary(max_size=3))
    body[place] = data.draw(u8)
    found = messages.decode(bytes(body))
    if found is not None and not (isinstance(found, messages.Answer) and found.facts is None):
        assert messages.encode(found) == bytes(body)


def test_another_version_is_told_whatever_follows() -> None:
    body = bytes((messages.Kind.ANSWER, 9)) + bytes(6) + b"what comes later"
    assert messages.decode(body) == messages.Answer(9, 0, 0, None)
    assert messages.decode(body[:5]) is None


pairs = st.integers(1, 90).flatmap(
    lambda count: st.tuples(
        st.lists(st.integers(0, 30) | u16, min_size=count, max_size=count),
        st.lists(st.integers(0, 30) | u16, min_size=count, max_size=count),
    )
)


@given(pairs, st.integers(16, 512))
def test_changes_round_trip(lists: tuple[list[int], list[int]], limit: int) -> None:
    before, after = lists
    body, values = updates.encode_changes(before, after, limit)
    assert len(body) <= limit and (values != before or before == after)
    assert (body == updates.PULSE) == (before == after)
    items = updates.decode_changes(body, len(before))
    assert items is not None
    rebuilt = list(before)
    for position, difference in items:
        rebuilt[position] += difference
    assert rebuilt == values
    # What did not fit is the tail.
    if values != after:
        last = max(position for position, _ in items)
        assert values[: last + 1] == after[: last + 1] and values[last + 1 :] == before[last + 1 :]


@given(pairs, st.data())
def test_a_cut_or_longer_change_frame_is_another_or_none(
    lists: tuple[list[int], list[int]], data: st.DataObject
) -> None:
    before, after = lists
    body, _ = updates.encode_changes(before, after, 512)
    whole = updates.decode_changes(body, len(before))
    assert updates.decode_changes(body[: data.draw(st.integers(0, len(body) - 1))], len(before)) != whole
    assert updates.decode_changes(body + b"\xff", len(before)) in ((), None)


@given(pairs, st.integers(16, 512), st.data())
def test_fills_round_trip(lists: tuple[list[int], list[int]], limit: int, data: st.DataObject) -> None:
    before, after = lists
    first = data.draw(st.integers(0, len(after) - 1))
    end = data.draw(st.integers(first + 1, len(after)))
    place = data.draw(st.just(first) | st.integers(0, len(after)))
    body, taken = updates.encode_fill(before, after, first, end, place, limit=limit)
    assert len(body) <= limit and first < taken.place <= end
    assert taken.place == end or len(body) > limit - 4
    assert taken.values == [*before[:first], *after[first : taken.place], *before[taken.place :]]
    assert updates.taken(body, before, place) == taken
    assert updates.taken(body, before[: taken.place - 1], place) is None
    assert updates.taken(body + b"\xff", before, place) is None
    assert updates.taken(body[:-1], before, place) != taken


@given(st.binary(max_size=40), st.integers(0, 60))
def test_whatever_is_taken_fits_the_list(body: bytes, count: int) -> None:
    for made in (body, b"\x08" + body):
        for place in (0, count // 2, count):
            after = updates.taken(made, [7] * count, place)
            assert after is None or (len(after.values) == count and 0 <= after.place <= count)
            assert after is None or all(0 <= value <= 0xFFFF for value in after.values)


def test_values_alike_cost_a_bit_each() -> None:
    for value in (1, 300, 0xFFFF):
        body, taken = updates.encode_fill([0] * 947, [value] * 947, 0, 947, 0, limit=512)
        assert taken.place == 947 and len(body) <= 5 + 947 // 8 + 2
    body, taken = updates.encode_fill([0] * 216, [3800 + at % 5 for at in range(216)], 0, 216, 0, limit=512)
    assert taken.place == 216 and len(body) < 216 * 4 / 8


@given(st.binary(max_size=40), st.integers(0, 60))
def test_changes_decode_is_total(body: bytes, count: int) -> None:
    items = updates.decode_changes(body, count)
    if items:
        assert [position for position, _ in items] == sorted({position for position, _ in items})
        assert all(0 <= position < count and change for position, change in items)


@pytest.mark.parametrize(
    ("moves", "size"),
    [
        ({0: 1}, 1),
        ({3: -1}, 1),
        ({0: 1, 1: -1, 2: 1, 3: 1}, 2),
        (dict.fromkeys(range(40), 1), 16),
        ({39: 1}, 2),
        ({0: 1, 3: -8, 18: 7, 19: -1}, 5),
    ],
)
def test_small_changes_cost_a_few_bits(moves: dict[int, int], size: int) -> None:
    before = [100] * 40
    after = [old + moves.get(place, 0) for place, old in enumerate(before)]
    body, values = updates.encode_changes(before, after, 512)
    assert values == after
    assert len(body) == size


def test_the_longest_item_fits_sixteen_bytes() -> None:
    for count in (1, 400, 10_000):
        body, values = updates.encode_changes(
            [0] * count, [0] * (count - 1) + [0xFFFF], 16 if count < 9000 else 24
        )
        assert values[-1] == 0xFFFF
        assert updates.decode_changes(body, count) == ((count - 1, 0xFFFF),)


def test_seals_tell_sessions_and_scenes_apart() -> None:
    seals = {updates.session_seal(7, 9, session) for session in range(500)}
    assert len(seals) == 500
    assert updates.session_seal(7, 9, 1) != updates.session_seal(9, 7, 1) != START
    changes = {updates.value_seal(1, scene, number, 0, ()) for scene in range(20) for number in range(20)}
    assert len(changes) == 400
    held = {updates.value_seal(1, 1, 1, 0, (first, 7, last)) for first in range(20) for last in range(20)}
    assert len(held) == 400
