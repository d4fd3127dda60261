"""A whole display under sanitizers: random and mutated frames, most with a right check."""

from __future__ import annotations

import hashlib
import random
from pathlib import Path

from hmic.pack.writer import write
from hmic.wire import messages
from hmic.wire.updates import encode_changes, encode_fill
from tests.display.test_display_line import two_screens
from tests.player.test_player_safety import needs_gcc
from tests.tools.changed import replace
from tests.tools.player import SOURCES, run, sources
from tests.wire.bad_line import Bench
from tests.wire.bad_peers import HOST_KINDS, body, seen_bodies

HERE = Path(__file__).parent
STREAMS, STEPS = 300, 120
FRAMES = 1_000_000
"""Heard by one display after all else."""


def stream(chance: random.Random, true: list[bytes]) -> bytes:
    """One input: a session opened, then steps of any kind. fuzz_line.c says how they are read."""
    greet = messages.encode(messages.Greet(1, 5, chance.randrange(3)))
    shows = [messages.encode(messages.Show(1 + n, 0, n < 3, n % 3, n % 2, 50, 2)) for n in range(6)]
    resumes = [messages.encode(messages.Resume(number, number % 3)) for number in range(1, 6)]
    fills = [encode_fill((0, 0), (first, 4), 0, 2, 0, limit=64)[0] for first in (1, 5, 0xFFFF)]
    rates = (messages.Rate(38400), messages.Rate(90000))
    others = [messages.encode(each) for each in (*rates, messages.Turn())]
    moves = [*fills, *resumes] + [
        encode_changes((5, 4), (5 + up, 4 + down), 64)[0] for up in (0, 3, -2) for down in (1, -9, 0)
    ]
    usual = (greet, *shows, *others)
    out = bytearray((chance.randrange(2),)) + packed(chance, 1, greet)
    for _ in range(STEPS):
        kind = chance.choice((0, 1, 1, 1, 4, 4, 5, 6, 7))
        if kind == 0:
            data = chance.randbytes(chance.randrange(1, 500))
        elif kind == 4:
            data = (
                chance.choice(moves) if chance.random() < 0.6 else chance.randbytes(chance.randrange(1, 12))
            )
        elif chance.random() < 0.4:
            data = chance.choice(usual)
        else:
            data = body(chance, HOST_KINDS, true)
        out += packed(chance, kind, data if kind < 5 else b"")
    return bytes(out)


def packed(chance: random.Random, kind: int, data: bytes) -> bytes:
    data = data[:511]
    first = (chance.choice((0, 0, 0, 1, 3, 8, 14, 15)) << 4) | kind << 1 | len(data) >> 8
    return bytes((first, len(data) & 255)) + data


@needs_gcc
def test_sanitizers_find_nothing_wrong_whatever_the_line_brings(tmp_path: Path) -> None:
    chance = random.Random(8)
    true, _ = seen_bodies(Bench(1))
    drawing = replace(two_screens(), depth=16)
    pack = tmp_path / "pack"
    pack.write_bytes(write(drawing))
    other = write(replace(drawing, start=1))
    blocks = [messages.encode(messages.Offer(1, len(other), hashlib.sha256(other).digest()))]
    for unit in range(0, -(-len(other) // 64), 4):
        data = other[64 * unit : 64 * unit + 256]
        blocks.append(messages.encode(messages.Block(1, 1 + unit // 4, unit, data)))
    blocks.append(messages.encode(messages.Finish(1)))
    file = tmp_path / "streams"
    streams = [stream(chance, true) for _ in range(STREAMS)]
    for _ in range(20):
        # A true push among the rest, so that packs are switched as well.
        greet = messages.encode(messages.Greet(1, 5, 9))
        pushed = b"".join(packed(chance, 1, each) for each in (greet, *blocks))
        streams.append(stream(chance, true) + pushed + stream(chance, true)[1:])
    file.write_bytes(b"".join(len(each).to_bytes(4, "little") + each for each in streams))
    program = str(tmp_path / "fuzz_line")
    checks = ["-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
    files = [HERE / "fuzz_line.c", *sources()]
    run(["gcc", "-std=c99", *checks, f"-I{SOURCES}", *map(str, files), "-o", program])
    run([program, str(pack), str(file), str(FRAMES)])
