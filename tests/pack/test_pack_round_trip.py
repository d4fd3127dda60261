"""Drawing -> pack -> drawing, and what a reader does with bytes that are no pack."""

from __future__ import annotations

import hashlib
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.pack.inspect import account, totals
from hmic.pack.reader import read
from hmic.pack.records import CRC_AT, PLANE, Section, checksum, identity
from hmic.pack.writer import write
from hmic.paint.operations import (
    NO_CHANNEL,
    Box,
    Drawing,
    Fill,
    Ink,
    Mask,
    ScreenDrawing,
    Stencil,
    Theme,
    When,
    Zone,
)
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.drawings import drawings, moments


def unhurried(examples: int) -> settings:
    """Settings that do not depend on how busy the machine is."""
    checks = list(HealthCheck)
    return settings(max_examples=examples, suppress_health_check=checks, derandomize=True)


def small() -> Drawing:
    """A panel of 40 x 20 with one lamp."""
    theme = Theme("day", ((0, 0, 0), (128, 128, 128), (255, 0, 0)), 80)
    screen = ScreenDrawing(
        "lamp",
        (Fill(Box(0, 0, 40, 20), Ink(0)), Stencil(Box(4, 4, 3, 2), 0, Ink(2), When(0, 4, 4), True)),
        (0,),
        (Zone(Box(0, 0, 40, 20)),),
    )
    return Drawing(
        40, 20, 16, (theme,), (Mask(3, 2, bytes((0, 8, 15, 15, 8, 0))),), (), (), (2,), (screen,), 0
    )


def mended(data: bytes) -> bytes:
    """The data with a check sum that agrees."""
    out = bytearray(data)
    out[CRC_AT : CRC_AT + 4] = checksum(bytes(out)).to_bytes(4, "little")
    return bytes(out)


@unhurried(150)
@given(drawings())
def test_round_trip_and_same_bytes(drawing: Drawing) -> None:
    data = write(drawing)
    assert read(data) == drawing
    assert write(read(data)) == data


@unhurried(60)
@given(st.data())
def test_a_read_pack_paints_as_its_drawing(data: st.DataObject) -> None:
    drawing = data.draw(drawings())
    near, far = Painter(drawing), Painter(read(write(drawing)))
    for _ in range(3):
        moment = data.draw(moments(drawing))
        assert near.paint(moment).tobytes() == far.paint(moment).tobytes()


@unhurried(60)
@given(drawings())
def test_every_byte_is_accounted_for_once(drawing: Drawing) -> None:
    data = write(drawing)
    entries = account(data, read(data))
    at = 0
    for entry in entries:
        assert entry.offset == at and entry.length > 0 and entry.what
        if entry.what == "padding":
            assert not any(data[at : at + entry.length])
        at += entry.length
    assert at == len(data) == sum(size for _, _, size in totals(entries))


def test_equal_masks_share_their_data() -> None:
    drawing = small()
    twice = replace(drawing, masks=drawing.masks * 2)
    assert read(write(twice)) == twice
    shapes = [entry for entry in account(write(twice), twice) if entry.section == "planes"]
    assert len([entry for entry in shapes if entry.what != "padding"]) == 1


def test_a_reader_does_not_ask_whether_names_differ() -> None:
    """A display that asked would need memory or time that grows with the square of the screens."""
    one, other = replace(small().screens[0], name="a"), replace(small().screens[0], name="b")
    data = write(replace(small(), screens=(one, other)))
    at = data.index(b"dayab")
    same = mended(data[: at + 4] + b"a" + data[at + 5 :])
    assert [screen.name for screen in read(same).screens] == ["a", "a"]


def test_data_may_lie_within_those_of_another_but_not_beyond_or_askew() -> None:
    long = Mask(16, 1, bytes(range(16)))
    short = Mask(8, 1, bytes(range(8, 16)))
    data = write(replace(small(), masks=(long, short)))
    record = next(entry.offset for entry in account(data, read(data)) if entry.what.startswith("mask 1"))
    assert PLANE.unpack_from(data, record)[5:] == (8, 4)
    # The second's bytes are the last four of the first's: point there, and take the copy away.
    planes = next(entry.offset for entry in account(data, read(data)) if entry.section == "planes")
    shared = bytearray(data)
    shared[record + 8] = 4
    shared[planes + 8 : planes + 12] = bytes(4)
    table = 64 + 16 * (Section.PLANES - 1)
    shared[table + 8 : table + 16] = b"\x08\0\0\0" * 2
    assert read(mended(bytes(shared))).masks == (long, short)
    for offset, length in ((2, 4), (5, 3), (4, 8), (12, 4)):
        shared[record + 8 : record + 16] = bytes((offset, 0, 0, 0, length, 0, 0, 0))
        with pytest.raises(DesignError, match="data of mask 1"):
            read(mended(bytes(shared)))


def test_what_fills_up_data_is_zero() -> None:
    data = write(replace(small(), masks=(Mask(2, 1, b"\x01\x02"), *small().masks)))
    planes = next(entry.offset for entry in account(data, read(data)) if entry.section == "planes")
    assert data[planes : planes + 8] == b"\x21\0\0\0" + bytes.fromhex("80 0F 8F 00")
    with pytest.raises(DesignError, match="fills up"):
        read(mended(data[: planes + 3] + b"\1" + data[planes + 4 :]))


def test_identity_is_the_head_of_the_sha_256() -> None:
    data = write(small())
    assert identity(data) == hashlib.sha256(data).digest()[:8]


def code_of(data: bytes) -> str:
    with pytest.raises(DesignError) as caught:
        read(data)
    (finding,) = caught.value.findings
    assert finding.remedy
    return finding.code


def test_findings_for_what_is_no_pack() -> None:
    data = write(small())
    assert code_of(b"") == "P501"
    assert code_of(b"\x89PNG\r\n\x1a\n" + bytes(400)) == "P501"
    assert code_of(mended(data[:8] + b"\x02\x00" + data[10:])) == "P501"
    assert code_of(data[:100]) == "P502"
    assert code_of(data[:-1]) == "P502"
    assert code_of(data + b"\x00") == "P502"
    assert code_of(data[:400] + bytes((data[400] ^ 1,)) + data[401:]) == "P502"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"width": 0}, "pixels wide"),
        ({"depth": 8}, "depth"),
        ({"start": 1}, "start screen"),
        ({"channels": (0,)}, "steps"),
        ({"channels": ()}, "does not exist"),
        ({"masks": ()}, "mask 0 does not exist"),
        ({"masks": (Mask(3, 2, bytes(5)),)}, "5 values"),
        ({"masks": (Mask(1, 1, b"\x10"),)}, "above 15"),
        ({"masks": (Mask(5000, 0, b""),)}, "4096"),
        ({"width": 39}, "leaves the panel"),
        ({"themes": ()}, "themes"),
        ({"themes": (Theme("day", ((0, 0, 0), (1, 1, 1)), 80),)}, "colours 2 to 2 of 2"),
        ({"themes": (Theme("day\n", ((0, 0, 0),) * 3, 80),)}, "control character"),
        ({"themes": (Theme("day\x7f", ((0, 0, 0),) * 3, 80),)}, "control character"),
        ({"themes": (Theme("d\x9fay", ((0, 0, 0),) * 3, 80),)}, "control character"),
        ({"themes": (Theme("\ud800", ((0, 0, 0),) * 3, 80),)}, "Unicode"),
        ({"themes": (Theme("day", ((0, 0, 300),) * 3, 80),)}, "outside 0 to 255"),
        ({"screens": (ScreenDrawing("a", (), (), ()),) * 2}, "same name"),
        (
            {"screens": (ScreenDrawing("a", (Fill(Box(0, 0, 1, 1), Ink(0, 0)),), (), ()),)},
            "does not list",
        ),
        (
            {"screens": (ScreenDrawing("a", (Fill(Box(0, 0, 1, 1), Ink(0), When(0, 4, 3)),), (0,), ()),)},
            "raw value 4 to 3",
        ),
    ],
)
def test_a_drawing_no_display_could_draw_is_not_packed(change: dict[str, object], words: str) -> None:
    with pytest.raises(DesignError) as caught:
        write(replace(small(), **change))  # type: ignore[arg-type]
    assert {finding.code for finding in caught.value.findings} == {"P505"}
    assert words in str(caught.value)


def only_findings(data: bytes) -> Drawing | None:
    try:
        return read(data)
    except DesignError as failure:
        assert failure.findings and all(finding.code.startswith("P50") for finding in failure.findings)
        return None


@unhurried(200)
@given(st.binary(max_size=600), st.booleans())
def test_random_bytes_only_make_findings(data: bytes, headed: bool) -> None:
    assert only_findings(write(small())[:8] + data if headed else data) is None


@unhurried(40)
@given(drawings(), st.integers(0, 1 << 32))
def test_damage_with_a_mended_check_sum_only_makes_findings(drawing: Drawing, seed: int) -> None:
    chance = random.Random(seed)
    data = write(drawing)
    for _ in range(25):
        broken = bytearray(data)
        for _ in range(chance.choice((1, 1, 2, 5))):
            broken[chance.randrange(8, len(broken))] = chance.choice(
                (0, 1, 127, 128, 255, chance.randrange(256))
            )
        if chance.random() < 0.2:
            del broken[chance.randrange(384, len(broken) + 1) :]
            broken[12:16] = len(broken).to_bytes(4, "little")
        result = only_findings(mended(bytes(broken)))
        # What is accepted is a drawing in every respect: it can be painted and packed again.
        if result is not None:
            assert read(write(result)) == result
            assert account(mended(bytes(broken)), result)


def test_a_small_pack_cannot_ask_for_a_large_memory() -> None:
    side = 4096
    planes = tuple(Mask(side, 16, bytes((value,)) * (side * 16)) for value in range(4))
    data = write(replace(small(), masks=(*small().masks, *planes)))
    assert len(data) < 10_000
    table = read(data)
    assert len(table.masks) == 5
    height = (16).to_bytes(2, "little")
    tall = data.replace(side.to_bytes(2, "little") + height, side.to_bytes(2, "little") + b"\x00\x08")
    with pytest.raises(DesignError, match="in all"):
        read(mended(tall))


def test_no_condition_channel_means_no_limits() -> None:
    data = write(small())
    first = next(entry for entry in account(data, read(data)) if entry.section == "operations")
    at = first.offset + 16
    assert data[at - 2 : at] == NO_CHANNEL.to_bytes(2, "little")
    broken = bytearray(data)
    broken[at] ^= 1
    assert code_of(mended(bytes(broken))) == "P503"
