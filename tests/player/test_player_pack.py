"""The player's check of a pack against the Python reader's: the same packs, sound or mangled."""

from __future__ import annotations

import random
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.pack.reader import read
from hmic.pack.records import CRC_AT, HEADER, SECTION, TABLE_AT, Section, checksum
from hmic.pack.writer import write
from hmic.paint.operations import Mask
from tests.pack.test_pack_format import example
from tests.pack.test_pack_operations import ALL, drawing
from tests.tools.changed import replace
from tests.tools.drawings import drawings
from tests.tools.player import fault

ODD = (0, 1, 2, 3, 15, 16, 63, 64, 127, 128, 129, 143, 144, 194, 224, 237, 240, 254, 255)


def mended(data: bytes | bytearray) -> bytes:
    out = bytearray(data)
    out[CRC_AT : CRC_AT + 4] = checksum(out).to_bytes(4, "little")
    return bytes(out)


def agreed(data: bytes) -> bool:
    """Whether both take a pack; they must agree."""
    try:
        read(data)
        taken = True
    except DesignError:
        taken = False
    found = fault(data)
    assert (found == 0) == taken, f"the player finds {found}, the reader {'nothing' if taken else 'a fault'}"
    return taken


def test_sound_packs_are_taken() -> None:
    assert agreed(write(example()))
    assert agreed(write(drawing(*ALL)))


@settings(max_examples=150, derandomize=True, suppress_health_check=list(HealthCheck))
@given(drawings(), st.integers(0, 1 << 32))
def test_mangled_packs_are_judged_alike(whole: object, seed: int) -> None:
    """Bytes changed in the header, in a record of any section, or anywhere, under a check sum that agrees."""
    chance = random.Random(seed)
    data = write(whole)  # type: ignore[arg-type]
    assert agreed(data)
    spans = [(0, HEADER.size)]
    for place in range(len(Section)):
        _, _, at, length, _ = SECTION.unpack_from(data, TABLE_AT + SECTION.size * place)
        if length:
            spans.append((at, at + length))
    for _ in range(60):
        broken = bytearray(data)
        for _ in range(chance.choice((1, 1, 1, 2, 4))):
            low, high = chance.choice(spans)
            broken[chance.randrange(low, high)] = chance.choice((*ODD, chance.randrange(256)))
        if chance.random() < 0.1:
            one, other = chance.sample(range(384, len(broken) - 8), 2)
            broken[one : one + 8] = broken[other : other + 8]
        agreed(mended(broken))


@pytest.mark.parametrize("which", ["format", "all"])
def test_every_byte_set_to_odd_values(which: str) -> None:
    data = write(example() if which == "format" else drawing(*ALL))
    taken = 0
    for at in range(len(data)):
        if CRC_AT <= at < CRC_AT + 4 or (not any(data[at - 8 : at + 9]) and at % 5):
            continue
        for value in (0, 1, 2, 255, data[at] ^ 1, data[at] ^ 128):
            broken = bytearray(data)
            broken[at] = value
            taken += agreed(mended(broken))
    assert taken


def test_names_are_the_same_text_to_both() -> None:
    """Every pair of first bytes, and the ends of each length of UTF-8 (RFC 3629)."""
    whole = example()
    data = write(replace(whole, screens=(replace(whole.screens[0], name="abcd"),)))
    at = data.index(b"dayabcd") + 3
    tails = (b"ab", b"\x80a", b"\x80\x80", b"\xbf\xbf", b"\x90\x80", b"\x8f\xbf", b"\xa0\x80", b"\x9f\xbf")
    for first in range(256):
        for second in (*range(0x00, 0x100, 7), 0x7F, 0x80, 0x8F, 0x90, 0x9F, 0xA0, 0xBF, 0xC0):
            for tail in tails[:1] if first < 0xC2 else tails:
                agreed(mended(data[:at] + bytes((first, second)) + tail + data[at + 4 :]))


def test_damage_is_told_by_the_check_sum() -> None:
    data = write(example())
    assert fault(data[:-1]) == fault(data + b"\0") == fault(data[:100]) == fault(b"") == 1
    assert fault(data[:400] + bytes((data[400] ^ 1,)) + data[401:]) == 1


def test_more_channels_than_bits_do_not_fit() -> None:
    whole = drawing(*ALL)
    data = write(replace(whole, channels=(*whole.channels, *(3,) * 13)))
    assert fault(data, marks=3) == 0
    assert fault(data, marks=2) == 3


def test_a_large_plane_is_walked_through() -> None:
    plane = Mask(4096, 300, bytes(v % 16 for v in range(4096)) * 300)
    assert agreed(write(replace(example(), masks=(*example().masks, plane))))


def test_the_check_takes_a_time_that_grows_with_the_pack() -> None:
    """FORMAT: none of the checks needs more time than reading the pack. Four times as many screens, with
    all that they hold, take less than eight times the time; what looks at pairs would take sixteen."""

    def took(times: int) -> float:
        whole = drawing(*ALL)
        screens = tuple(replace(whole.screens[0], name=f"s{number}") for number in range(times))
        data = write(replace(whole, screens=screens))

        def once() -> float:
            begun = time.process_time()
            assert fault(data) == 0
            return time.process_time() - begun

        return min(once() for _ in range(7))

    assert took(1600) < 8 * took(400)
