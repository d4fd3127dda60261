# ruff: noqa: E501
"""What a survey finds, against other ways to find it: statistics, cantools, crccheck, and frames made so."""

from __future__ import annotations

import json
import math
import random
import statistics
import tracemalloc
from html.parser import HTMLParser
from itertools import islice, pairwise
from pathlib import Path
from typing import Any

import can
import cantools
import crccheck.crc
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.cli.main import main
from hmic.model.checksums import NAMED, Crc8
from hmic.model.j1939 import group_of
from hmic.sources.frame import Row
from hmic.survey.describe import Descriptions
from hmic.survey.facts import MessageSeen, Survey
from hmic.survey.survey import survey
from hmic.survey.terminal_table import summary

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
LOG = DUNLIN / "logs" / "ten_minutes.blf"
HEAD = 'VERSION ""\nNS_ :\nBS_:\nBU_: A\n'


def surveyed(rows: list[Row], dbc: str = "", folder: Path | None = None) -> Survey:
    files = []
    if folder is not None:
        (folder / "a.dbc").write_text(HEAD + dbc, encoding="utf-8")
        files = [folder / "a.dbc"]
    return survey([("made", rows, "", True)], Descriptions(files))


def only(found: Survey) -> MessageSeen:
    (message,) = found.messages
    return message


def rows_of(payloads: list[bytes], identifier: int = 0x120, extended: bool = False, gap: float = 0.01) -> list[Row]:
    return [(at * gap, identifier, extended, payload, None) for at, payload in enumerate(payloads)]


# Periods ----------------------------------------------------------------------------------------


@given(st.lists(st.floats(1e-4, 5.0), min_size=1, max_size=300))
def test_periods_are_those_of_the_statistics_module(gaps: list[float]) -> None:
    times = [0.0]
    for gap in gaps:
        times.append(times[-1] + gap)
    found = only(surveyed([(at, 1, False, b"\0", None) for at in times])).period
    apart = [after - before for before, after in pairwise(times)]
    low, high = statistics.median_low(apart), statistics.median_high(apart)
    assert low * 0.998 <= found.median <= high * 1.002
    assert found.longest == pytest.approx(max(apart))


def test_periods_do_not_reach_from_one_recording_into_the_next() -> None:
    rows = rows_of([b"\0"] * 50)
    found = survey([("a", rows, "", True), ("b", rows, "", True)], Descriptions([]))
    assert only(found).count == 100 and only(found).period.longest == pytest.approx(0.01)
    assert found.frames == 100 and found.seconds == pytest.approx(2 * 0.49)


@given(st.lists(st.tuples(st.sampled_from(["", "car", "drive"]), st.floats(0, 1e4)), min_size=1, max_size=6))
def test_buses_were_heard_beside_each_other(drives: list[tuple[str, float]]) -> None:
    """Recordings of one bus follow each other; those of two buses are of the same drive."""
    found = survey([("made", [(0.0, 1, False, b"", None), (end, 1, False, b"", None)], bus, True) for bus, end in drives], Descriptions([]))
    assert found.seconds == pytest.approx(max(sum(end for bus, end in drives if bus == each) for each, _ in drives))


def test_buses_are_kept_apart() -> None:
    one, two = rows_of([b"\1"] * 9), rows_of([b"\2"] * 9)
    mixed = [(*row[:4], bus) for pair in zip(one, two, strict=True) for row, bus in zip(pair, "ab", strict=True)]
    assert [(m.bus, m.count) for m in surveyed(mixed).messages] == [("a", 9), ("b", 9)]
    named = survey([("x", one, "car", True), ("y", two, "drive", True)], Descriptions([]))
    assert [(m.bus, m.count) for m in named.messages] == [("car", 9), ("drive", 9)]


# Bits, counters, checksums ----------------------------------------------------------------------


@given(st.lists(st.binary(max_size=9), min_size=1, max_size=60))
def test_bits_that_move_are_those_seen_at_both_values(payloads: list[bytes]) -> None:
    message = only(surveyed(rows_of(payloads)))
    both = [
        8 * byte + bit
        for byte in range(9)
        for bit in range(8)
        if {payload[byte] >> bit & 1 for payload in payloads if len(payload) > byte} == {0, 1}
    ]
    assert list(message.moving) == both
    assert dict(message.lengths) == {n: sum(len(p) == n for p in payloads) for n in {len(p) for p in payloads}}


CRC8 = [
    each
    for each in vars(crccheck.crc).values()
    if isinstance(each, type) and issubclass(each, crccheck.crc.Crc8Base) and each._width == 8
]


@pytest.mark.parametrize("other", CRC8, ids=lambda each: each.__name__)
def test_a_crc_of_any_kind_is_found(other: Any) -> None:
    """Also through 2 % of frames that were lost; by name where it has one."""
    chance = random.Random(other.__name__)
    payloads = []
    for at in range(3000):
        body = bytes([chance.randrange(256), chance.randrange(40), 7, at % 15])
        payloads.append(body[:2] + bytes([other.calc(body)]) + body[2:])
    kept = [payload for payload in payloads if chance.random() > 0.005]
    message = only(surveyed(rows_of(kept)))
    (checksum,) = message.checksums
    assert (checksum.byte, checksum.held, checksum.frames) == (2, len(kept), len(kept))
    named = Crc8(other._poly, other._initvalue, other._reflect_input, other._xor_output)
    if named in NAMED.values():
        assert checksum.method == named
    assert isinstance(checksum.method, Crc8) and checksum.method.polynomial == other._poly
    assert [(c.start, c.length, c.low, c.high) for c in message.counters] == [(32, 4, 0, 14)]


@pytest.mark.parametrize("method", ["sum", "xor", "CRC-8/SAE-J1850"])
def test_a_checksum_over_the_identifier_too(method: str) -> None:
    chance = random.Random(1)
    payloads = []
    for _ in range(500):
        body = chance.randbytes(5)
        whole = bytes([0x57]) + body
        check = {"sum": sum(whole) & 0xFF, "CRC-8/SAE-J1850": crccheck.crc.Crc8SaeJ1850.calc(whole)}.get(method)
        if check is None:
            check = 0
            for byte in whole:
                check ^= byte
        payloads.append(body + bytes([check]))
    (found,) = only(surveyed(rows_of(payloads, 0x457))).checksums
    assert (found.byte, found.method, found.with_identifier) == (5, NAMED[method], True)


@pytest.mark.parametrize(("length", "low", "high"), [(2, 0, 3), (3, 0, 7), (4, 0, 15), (4, 1, 14), (8, 0, 255)])
def test_counters_of_any_width_are_found(length: int, low: int, high: int) -> None:
    chance = random.Random(length)
    shift = 8 - length
    payloads = [
        bytes([chance.randrange(256), (low + at % (high - low + 1)) << shift | chance.randrange(1 << shift)])
        for at in range(2000)
    ]
    (found,) = only(surveyed(rows_of(payloads))).counters
    assert (found.start, found.length, found.low, found.high) == (8 + shift, length, low, high)
    assert found.held == found.steps == 1999


@settings(max_examples=40)
@given(st.integers(0, 2**32))
def test_noise_has_neither(seed: int) -> None:
    chance = random.Random(seed)
    message = only(surveyed(rows_of([chance.randbytes(8) for _ in range(300)])))
    assert message.counters == () and message.checksums == ()


# Fields -----------------------------------------------------------------------------------------


def test_fields_read_as_cantools_decodes_them() -> None:
    """Ten seconds of the example drive, every value of every field."""
    database = cantools.database.load_file(DUNLIN / "dunlin.dbc")
    with can.BLFReader(LOG) as reader:
        frames = list(islice(reader, 12_000))
    found = survey(
        [("a", [(f.timestamp, f.arbitration_id, f.is_extended_id, bytes(f.data), None) for f in frames], "", True)],
        Descriptions([DUNLIN / "dunlin.dbc"]),
    )
    values: dict[tuple[str, str], list[float]] = {}
    for frame in frames:
        message = database.get_message_by_frame_id(frame.arbitration_id)
        decoded = message.decode(frame.data, decode_choices=False, allow_truncated=True)
        for name, value in decoded.items():  # type: ignore[union-attr]
            values.setdefault((message.name, name), []).append(float(value))
    compared = 0
    for message in found.messages:
        for field in message.fields:
            mine = values[message.name, field.name]
            absent = {each.value for each in field.sentinels}
            rest = [value for value in mine if not any(math.isclose(value, each) for each in absent)]
            assert field.count == len(mine)
            assert sum(each.count for each in field.sentinels) == len(mine) - len(rest)
            if rest:
                assert (field.low, field.high) == pytest.approx((min(rest), max(rest)))
            compared += 1
    assert compared > 150 and compared == len(values)


BYTES = "BO_ 288 M: 8 A\n"


@pytest.mark.parametrize(
    ("signal", "payloads"),
    [
        ("0|12@1+ (0.1,-5)", [bytes([at, 3, 0, 0, 0, 0, 0, 0]) for at in range(200)]),
        ("7|12@0- (1,0)", [bytes([at, at, 0, 0, 0, 0, 0, 0]) for at in range(256)]),
        ("20|33@1- (2,1)", [bytes([7, 7, at, 3, at, 1, 2, at % 3]) for at in range(200)]),
        ("3|64@1+ (1,0)", [bytes(8)] * 9),
        ("39|32@0- (1,0)", [bytes([0, 0, 0, 0, at, 0, at, 1]) for at in range(256)]),
    ],
)
def test_every_kind_of_field_reads_as_cantools_decodes_it(tmp_path: Path, signal: str, payloads: list[bytes]) -> None:
    dbc = f'{BYTES} SG_ S : {signal} [0|0] "V" A\n'
    message = only(surveyed(rows_of(payloads), dbc, tmp_path))
    database = cantools.database.load_string(HEAD + dbc, "dbc", strict=False)
    try:
        values = [database.decode_message(288, each)["S"] for each in payloads]  # type: ignore[index,call-overload]
    except (cantools.database.DecodeError, cantools.database.Error):
        assert message.fields == ()
        return
    (field,) = message.fields
    absent = {each.value for each in field.sentinels}
    rest = [value for value in values if value not in absent]
    assert (field.low, field.high) == pytest.approx((min(rest), max(rest)))


def test_values_that_stand_for_none_are_told(tmp_path: Path) -> None:
    dbc = (
        f'{BYTES} SG_ Heat : 0|8@1+ (1,-40) [0|0] "degC" A\n SG_ Speed : 8|16@1+ (0.01,0) [0|0] "km/h" A\n'
        ' SG_ Whole : 24|8@1+ (1,0) [0|0] "" A\n SG_ Gear : 32|4@1+ (1,0) [0|0] "" A\n'
        'VAL_ 288 Heat 254 "Sensor fault" ;\nVAL_ 288 Gear 0 "P" 3 "D" 15 "SNA" ;\n'
    )
    payloads = [
        bytes([254 if at % 7 == 0 else 60 + at % 20, *((0xFF, 0xFF) if at % 9 == 0 else (at % 99, 3)), at, (0, 3, 15)[at % 3]])
        for at in range(256)
    ]
    heat, speed, whole, gear = only(surveyed(rows_of(payloads), dbc, tmp_path)).fields
    assert (heat.low, heat.high) == (20, 39)
    assert [(each.raw, each.label) for each in heat.sentinels] == [(254, "Sensor fault")]
    assert [(each.raw, each.label) for each in speed.sentinels] == [(0xFFFF, "")]
    assert speed.high == pytest.approx((3 * 256 + 98) / 100)
    # All bits set is a value like others where the values lead up to it.
    assert whole.sentinels == () and whole.high == 255
    assert [each[:2] for each in gear.states] == [(0, "P"), (3, "D"), (15, "SNA")]
    assert [each.raw for each in gear.sentinels] == [15]


def test_a_number_with_a_label_for_none_is_told_as_a_number(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What comes of a temperature is its range in degrees, and not a list of its raw values as if they were."""
    dbc = f'{BYTES} SG_ Heat : 0|8@1+ (0.5,-40) [0|0] "degC" A\n SG_ Gear : 8|4@1+ (1,0) [0|0] "" A\n'
    (tmp_path / "a.dbc").write_text(f'{HEAD}{dbc}VAL_ 288 Heat 255 "not available" ;\nVAL_ 288 Gear 0 "P" 3 "D" 15 "SNA" ;\n')
    payloads = [bytes([255 if at % 5 == 0 else 100 + at % 9, (0, 3, 15)[at % 3]]) for at in range(180)]
    (tmp_path / "a.log").write_text("".join(f"({at * 0.02:.6f}) can0 120#{each.hex()}\n" for at, each in enumerate(payloads)))
    words = ["survey", "--dbc", str(tmp_path / "a.dbc"), "--log", str(tmp_path / "a.log")]
    assert main([*words, "--page", str(tmp_path / "a.html")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Heat: 10 to 14 degC; no value: 255 (not available) 36 times" in told
    assert "Gear: 0 P, 3 D; no value: 15 (SNA) 60 times" in told
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert "0 P, 3 D; no value: 15" in page and "100, 101" not in page


@pytest.mark.parametrize(("others", "told"), [(0, "a.dbc explains 1 identifier, 100 % of the frames"), (2, "1 identifier, 33 % of the frames; never came: Wanted, Beside")])
def test_what_it_comes_to_is_said_by_name(tmp_path: Path, others: int, told: str) -> None:
    (tmp_path / "a.dbc").write_text(HEAD + "BO_ 1 Here: 1 A\n" + "".join(f"BO_ {at + 9} {name}: 1 A\n" for at, name in enumerate(["Wanted", "Beside"][:others])))
    rows: list[Row] = [(0.1 * at, 1 + at, False, b"\0", None) for at in range(1 + others)]
    said = summary(survey([("made", rows, "", True)], Descriptions([tmp_path / "a.dbc"])))
    assert told in said[1]
    assert said[2:] == [f"{others} identifiers are explained by none"][: others // 2]


def test_turns_and_their_round(tmp_path: Path) -> None:
    dbc = f'{BYTES} SG_ Page M : 0|8@1+ (1,0) [0|0] "" A\n' + "".join(
        f' SG_ P{at} m{at} : 8|8@1+ (1,0) [0|0] "V" A\n' for at in range(5)
    )
    payloads = [bytes([at % 4, at % 4 * 50 + at // 4 % 3]) for at in range(400)]
    message = only(surveyed(rows_of(payloads), dbc, tmp_path))
    assert message.turns is not None and message.turns.selector == "Page"
    assert message.turns.pages == ((0, 100), (1, 100), (2, 100), (3, 100))
    assert message.turns.round == pytest.approx(0.04, rel=2e-3)
    fields = {field.name: field for field in message.fields}
    assert set(fields) == {"Page", "P0", "P1", "P2", "P3"}
    assert (fields["P3"].low, fields["P3"].high, fields["P3"].page) == (150, 152, "3")


def test_a_known_value_is_found_in_an_unknown_identifier(tmp_path: Path) -> None:
    """Speed, twice: as its description has it, and in tenths of miles an hour where nothing says so."""
    dbc = 'BO_ 288 Motion: 8 A\n SG_ Speed : 0|16@1+ (0.01,0) [0|0] "km/h" A\n SG_ Noise : 16|8@1+ (1,0) [0|0] "" A\n'
    chance = random.Random(3)
    rows: list[Row] = []
    for at in range(6000):
        speed = 60 + 40 * math.sin(at / 700) + 15 * math.sin(at / 91)
        known = round(speed * 100).to_bytes(2, "little") + bytes([chance.randrange(256)])
        other = chance.randbytes(2) + round(speed / 1.609344 * 10).to_bytes(2, "big") + bytes([at % 16])
        rows += [(at / 100, 288, False, known, None), (at / 100 + 0.004, 0x5A0, False, other, None)]
    found = surveyed(rows, dbc, tmp_path)
    unknown = next(message for message in found.messages if not message.name)
    (field,) = unknown.smooth
    assert (field.byte, field.bytes, field.big) == (2, 2, True)
    (like,) = field.like
    assert (like.message, like.field) == ("Motion", "Speed") and like.coefficient > 0.999
    assert like.scale == pytest.approx(0.1609, rel=0.01)


# Standards --------------------------------------------------------------------------------------


def test_j1939_is_told_by_group_and_matched_whatever_its_source(tmp_path: Path) -> None:
    """Identifiers as SAE J1939-21 builds them; EEC1 and CCVS are named in J1939-71."""
    dbc = f'BO_ {0x0CF004FE | 1 << 31} EEC1: 8 A\n SG_ Rpm : 24|16@1+ (0.125,0) [0|0] "rpm" A\n'
    rows = rows_of([bytes([0, 0, 0, at, 16, 0, 0, 0]) for at in range(99)], 0x0CF00400, True)
    rows += rows_of([bytes(8)] * 20, 0x18FEF117, True) + rows_of([bytes(8)] * 3, 0x18EA0021, True)
    engine, cruise, request = sorted(surveyed(rows, dbc, tmp_path).messages, key=lambda each: -each.count)
    assert engine.name == "EEC1" and engine.fields[0].high == pytest.approx((16 * 256 + 98) / 8)
    standard = engine.standard
    assert standard is not None and (standard.group, standard.priority, standard.source) == (61444, 3, 0)
    assert cruise.standard is not None and cruise.standard.name == "cruise control and vehicle speed"
    assert request.standard is not None
    assert (request.standard.name, request.standard.destination, request.standard.source) == ("request", 0, 0x21)
    assert [group_of(each) for each in (0x0CF00400, 0x18FEF117, 0x18EA0021)] == [61444, 65265, 59904]


def test_what_j1939_keeps_is_no_value(tmp_path: Path) -> None:
    """Of 16 bits from 0xFB00 up, of 2 bits from 2 (SAE J1939-71); a field with a sign has no such values."""
    dbc = (
        f'BO_ {0x18FEF1FE | 1 << 31} CCVS: 8 A\n SG_ Speed : 8|16@1+ (0.00390625,0) [0|250.996] "km/h" A\n'
        ' SG_ Brake : 28|2@1+ (1,0) [0|3] "" A\n SG_ Trim : 40|16@1- (1,0) [0|0] "" A\n'
    )
    speeds = [0x5000, 0xFAFF, 0xFB00, 0xFDFF, 0xFE00, 0xFEFF, 0xFF00, 0xFFFF]
    rows = rows_of([bytes([0, *at.to_bytes(2, "little"), 0x30, 0, 0xFF, 0xFF, 0]) for at in speeds], 0x18FEF117, True)
    speed, brake, trim = only(surveyed(rows, dbc, tmp_path)).fields
    assert (speed.low, speed.high) == (0x5000 / 256, 0xFAFF / 256)
    assert [(each.label, each.count) for each in speed.sentinels] == [("error (J1939)", 4), ("not available (J1939)", 2)]
    assert max(value for _, value in speed.trace) == 0xFAFF / 256 and brake.low is None
    assert (trim.low, trim.sentinels) == (-1, ())
    plain = only(surveyed(rows, dbc.replace(str(0x18FEF1FE | 1 << 31), str(0x18FEF117 | 1 << 31)), tmp_path))
    assert plain.fields[0].high == 0xFFFF / 256


def test_diagnostics_are_told() -> None:
    asked = rows_of([bytes.fromhex("020105CCCCCCCCCC")] * 5, 0x7DF)
    answered = rows_of([bytes.fromhex("0341057B00000000")] * 5, 0x7E8)
    own = rows_of([bytes.fromhex("0562F19012340000"), bytes.fromhex("101462F190414243"), bytes.fromhex("2141424344454647")], 0x6A1)
    far = rows_of([bytes.fromhex("0322F19000000000")] * 3, 0x18DA10F1, True)
    found = {m.identifier: m.standard for m in surveyed([*asked, *answered, *own, *far]).messages}
    assert {each.kind for each in found.values() if each is not None} == {"diagnostics"} and None not in found.values()
    plain = surveyed(rows_of([bytes([at, 9, 9]) for at in range(99)], 0x6A1))
    assert only(plain).standard is None


# Bounds and outputs -----------------------------------------------------------------------------


def test_memory_does_not_grow_with_the_length_of_a_recording(tmp_path: Path) -> None:
    dbc = f'{BYTES} SG_ S : 0|16@1+ (1,0) [0|0] "V" A\n'

    def rows(count: int) -> Any:
        return ((at / 1000, 288 + at % 40, False, (at % 60000).to_bytes(8, "little"), None) for at in range(count))

    peaks = []
    for count in (250_000, 500_000):
        (tmp_path / "a.dbc").write_text(HEAD + dbc)
        descriptions = Descriptions([tmp_path / "a.dbc"])
        tracemalloc.start()
        survey([("made", rows(count), "", True)], descriptions)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.5 * peaks[0] < 60e6


def test_very_many_identifiers_are_bounded() -> None:
    rows: list[Row] = [(at / 1000, at, True, b"\1", None) for at in range(6000)]
    assert len(surveyed(rows).messages) == 4096


class Checked(HTMLParser):
    """Counts traces, and that tags close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.traces = 0

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.traces += tag == "polyline"
        if tag not in ("meta", "polyline"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag != "polyline":
            assert self.open.pop() == tag


def test_table_json_and_page_of_the_example(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "drive.html"
    words = ["survey", "--log", str(LOG), "--dbc", str(DUNLIN / "dunlin.dbc"), "--page", str(page)]
    assert main(words) == 0
    table = capsys.readouterr().out
    assert "PackPower" in table and "dunlin.dbc explains" in table and "checksum in byte" in table
    parser = Checked()
    parser.feed(page.read_text(encoding="utf-8"))
    assert parser.open == [] and parser.traces > 100
    assert "http" not in page.read_text(encoding="utf-8")
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    power = next(each for each in found["messages"] if each["name"] == "PackPower")
    assert power["period"]["median"] > 0 and power["checksums"] and power["counters"]


def test_names_of_others_cannot_write_into_the_page(tmp_path: Path) -> None:
    kcd = (
        '<NetworkDefinition xmlns="http://kayak.2codeornot2code.org/1.0"><Document/><Bus name="b">'
        '<Message id="0x120" length="8" name="&lt;script&gt;alert(1)&lt;/script&gt;">'
        '<Signal name="&lt;b&gt;" offset="0" length="8"/></Message></Bus></NetworkDefinition>'
    )
    (tmp_path / "a.kcd").write_text(kcd)
    (tmp_path / "a.log").write_text("".join(f"({at}.0) can0 120#0{at}\n" for at in range(9)))
    page = tmp_path / "p.html"
    assert main(["survey", "--log", str(tmp_path / "a.log"), "--dbc", str(tmp_path / "a.kcd"), "--page", str(page)]) == 0
    text = page.read_text()
    assert "<script>" not in text and "&lt;script&gt;" in text


def test_a_bus_is_listened_to_for_a_while(capsys: pytest.CaptureFixture[str]) -> None:
    import threading

    with can.Bus(channel="survey-live", interface="virtual") as bus:
        stop = threading.Event()

        def send() -> None:
            while not stop.wait(0.01):
                bus.send(can.Message(arbitration_id=0x120, is_extended_id=False, data=b"\1\2"))

        thread = threading.Thread(target=send)
        thread.start()
        try:
            assert main(["survey", "--can", "virtual:survey-live", "--seconds", "0.6", "--json"]) == 0
        finally:
            stop.set()
            thread.join()
    (message,) = json.loads(capsys.readouterr().out)["messages"]
    assert message["identifier"] == 0x120 and message["count"] > 10
    assert message["period"]["median"] == pytest.approx(0.01, abs=0.008)
