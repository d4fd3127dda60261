"""PROTOCOL.md and the code say the same."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import hmic.wire
from hmic.wire import frames, likeness, messages, squeeze, states, updates
from hmic.wire.crc import START
from hmic.wire.events import DisplayFacts, Outcome, Phase

TEXT = (Path(hmic.wire.__file__).parent / "PROTOCOL.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| ([A-Z][A-Za-z ]+) \| ([0-9a-f]{4}) \| ([0-9a-f ]+) \| ([0-9a-f ]+) \|$", TEXT, re.M)

FACTS = DisplayFacts(
    0xA1B2C3D4, 1024, 600, 16, bytes.fromhex("0123456789abcdef"), 2097152, 512, 3, 512, 256, 921600
)
AFTER = [101, 100, 100, 92, *[100] * 15, 300]
VALUES: dict[str, tuple[list[int], list[int], tuple[tuple[int, int], ...] | None]] = {
    "Fill": ([0] * 20, [100] * 20, None),
    "Change": ([100] * 20, AFTER, ((0, 1), (3, -8), (19, 200))),
    "Pulse": (AFTER, AFTER, ()),
}
MESSAGES = [
    messages.Greet(1, 0x11223344, 1),
    messages.Answer(1, 0x11223344, 1, FACTS, 2),
    messages.Alone(),
    messages.Show(1, 0, True, 2, 0, 80, 20),
    None,
    None,
    None,
    messages.HostBeat(),
    messages.DisplayBeat(1, 2, 0),
    messages.Want(1, 1),
    messages.Resume(3, 0),
    messages.Touch(0, 2, 4, Phase.PRESS, 512, 300, 1),
    messages.Heard(1),
    messages.Rate(921600),
    messages.Rated(921600),
    messages.Turn(),
    messages.Over(),
    messages.Compare(1, 0),
    messages.Hashes(1, 1500, 0, (likeness.hash_of(b"123456789"), bytes(range(6)))),
    messages.Offer(1, 150, bytes(range(32)), fresh=False),
    messages.Offer(1, 150, bytes(range(32))),
    messages.Need(1, 0, False, 0, ()),
    messages.Block(1, 1, 2, bytes(range(22))),
    messages.Need(1, 1, False, 0, (2, 1)),
    messages.Squeezed(1, 2, 0, 1, squeeze.squeeze(bytes(50) + bytes(range(1, 15)))),
    messages.Copy(1, 3, 1, 1, 1000),
    messages.Finish(1),
    messages.Result(1, Outcome.ACTIVATED),
]


def bitwise_crc(data: bytes, state: int) -> int:
    """The CRC as section 1 defines it, a bit at a time."""
    for byte in data:
        state ^= byte << 8
        for _ in range(8):
            state = (state << 1) ^ (0x1021 if state & 0x8000 else 0)
            state &= 0xFFFF
    return state


def unstuffed(line: bytes) -> bytes:
    """Bytes of a line up to its 00, for runs shorter than 254."""
    assert line[-1] == 0 and 0 not in line[:-1]
    out, place = bytearray(), 0
    while place < len(line) - 1:
        if place + line[place] > len(line) - 1:
            return bytes(out) + line[place + 1 : -1] + line[place : place + 1]
        out += line[place + 1 : place + line[place]] + b"\0"
        place += line[place]
    return bytes(out[:-1])


@pytest.mark.parametrize("index", range(len(MESSAGES)))
def test_worked_example(index: int) -> None:
    name, seal_text, body_text, line_text = ROWS[index]
    seal, body, line = int(seal_text, 16), bytes.fromhex(body_text), bytes.fromhex(line_text)
    assert unstuffed(line) == body + bitwise_crc(body, seal).to_bytes(2, "little")
    assert frames.encode(body, seal) == line
    (frame,) = frames.FrameDecoder().receive(line)
    assert frame.body == body and frame.intact(seal)
    message = MESSAGES[index]
    if message is None:
        before, after, items = VALUES[name]
        taken = updates.taken(body, before, 0)
        assert taken is not None and taken.values == after
        if items is None:
            assert updates.encode_fill(before, after, 0, 20, 0, limit=512) == (body, taken)
        else:
            assert updates.encode_changes(before, after, 512) == (body, after)
            assert updates.decode_changes(body, 20) == items
    else:
        assert messages.Kind(body[0]).name == name.replace(" ", "_").upper()
        assert messages.encode(message) == body
        assert messages.decode(body) == message


def test_every_example_is_run() -> None:
    assert len(ROWS) == len(MESSAGES)
    shown = {messages.encode(message)[0] for message in MESSAGES if message is not None}
    assert shown | {messages.Kind.DROP, messages.Kind.FILL} == set(messages.Kind)


def test_seals_of_the_examples() -> None:
    agreed = bytes.fromhex("44332211 d4c3b2a1 0100")
    session = bitwise_crc(agreed, START)
    assert updates.session_seal(0x11223344, 0xA1B2C3D4, 1) == session == int(ROWS[3][1], 16)
    seals = {name: int(seal, 16) for name, seal, _, _ in ROWS}
    for name, number, values in (
        ("Fill", 1, [0] * 20), ("Change", 2, [100] * 20), ("Pulse", 2, AFTER), ("Resume", 3, [100] * 20),
    ):  # fmt: skip
        held = b"".join(value.to_bytes(2, "little") for value in values)
        told = bitwise_crc(bytes.fromhex(f"01000000 0{number}000000 0000") + held, session)
        assert updates.value_seal(session, 1, number, 0, values) == told == seals[name]


def test_kinds_are_those_of_the_table() -> None:
    table = dict(re.findall(r"^\| ([0-9a-f]{2}) \| ([A-Z][A-Za-z ]+) \|", TEXT, re.M))
    assert {int(kind, 16): name for kind, name in table.items()} == {
        kind.value: kind.name.title().replace("_", " ") for kind in messages.Kind
    }


MACHINES = (
    states.HOST, states.DISPLAY, states.RATE, states.SCENE, states.VALUES, states.PROOF, states.TRANSFER,
)  # fmt: skip


def test_tables_and_diagrams_are_the_code() -> None:
    """All of them, in order."""
    told = re.findall(r"^\| in \| on .*?(?=\n\n)", TEXT, re.M | re.S)
    assert told == [states.as_table(table) for table in MACHINES]
    for table in (states.HOST, states.DISPLAY):
        assert f"```\n{states.as_diagram(table)}\n```" in TEXT


def test_the_packed_example() -> None:
    found = re.search(r"Worked: `([0-9a-f ]+)` is `([a-z ]+)`", TEXT)
    assert found is not None
    plain = found[2].replace(" ", "").encode()
    assert squeeze.unsqueeze(bytes.fromhex(found[1]), len(plain)) == plain
