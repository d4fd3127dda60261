# ruff: noqa: E501
"""Logs of lines in every form, told by their content. What python-can reads too must come out alike; the
other forms are written here as their programs' documents show them (can-utils, CRTD)."""

from __future__ import annotations

import gzip
import io
from pathlib import Path

import can
import pytest
from can.io.asc import ASCReader
from can.io.canutils import CanutilsLogReader
from can.io.trc import TRCReader
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.sources.frame import Row
from hmic.sources.log import Log

DATA = bytes(range(1, 9))


def read(path: Path, text: str | bytes) -> list[Row]:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return list(Log(path).rows())


def whole(rows: list[Row]) -> list[tuple[int, bool, bytes]]:
    return [row[1:4] for row in rows]


def codes(path: Path) -> list[str]:
    log = Log(path)
    list(log)
    return [finding.code for finding in log.findings]


def of_library(reader: object) -> list[tuple[float, int, bool, bytes]]:
    """The data frames as python-can gives them, from the first one's time on."""
    frames = [
        message
        for message in reader  # type: ignore[attr-defined]
        if not message.is_remote_frame and not message.is_error_frame
    ]
    start = frames[0].timestamp
    return [(m.timestamp - start, m.arbitration_id, m.is_extended_id, bytes(m.data)) for m in frames]


CANDUMP = """\
(1436509052.249713) vcan0 044#2A366C2BBA
(1436509052.449847) vcan0 0F6#7ADFE07BD2
(1436509052.650004) can1 000012AB#
(1436509052.850047) vcan0 092#R
(1436509052.850100) vcan0 092#R4
(1436509053.050210) can1 1FFFFFFF#0102030405060708
(1436509053.250281) can1 123##50011223344
(1436509053.350281) vcan0 20000080#0000000000000000
(1436509053.450281) can1 7FF#AA T
"""

SCREENS = {
    "plain": "  can0  123   [3]  11 22 33\n  can0  1F334455   [2]  AA BB\n",
    "letters": "  can0  123   [3]  11 22 33   '.\"3'\n  can0  1F334455   [2]  AA BB   '..'\n",
    "absolute": " (1436509052.249713)  can0  123   [3]  11 22 33\n (1436509052.349713)  can0  1F334455   [2]  AA BB\n",
    "zero": " (000.000000)  can0  123   [3]  11 22 33   '.\"3'\n (000.100000)  can0  1F334455   [2]  AA BB   '..'\n",
    "dates": " (2021-04-01 12:00:59.950000)  can0  123   [3]  11 22 33\n"
    " (2021-04-01 12:01:00.050000)  can0  1F334455   [2]  AA BB\n",
    "directions": " (000.000000)  can0  RX - -  123   [3]  11 22 33\n (000.100000)  can0  TX B -  1F334455   [2]  AA BB\n",
    "old": "<0x123> [3] 11 22 33 \n<0x1f334455> [2] aa bb \n",
}


def test_a_log_of_candump(tmp_path: Path) -> None:
    path = tmp_path / "candump"
    rows = read(path, CANDUMP)
    lines = [line for line in CANDUMP.splitlines() if "##" not in line and "20000080" not in line]
    expected = of_library(CanutilsLogReader(io.StringIO("\n".join(lines) + "\n")))
    classic = [row for row in rows if row[3] != b"\x00\x11\x22\x33\x44"]
    assert whole(classic) == [each[1:] for each in expected]
    assert [row[0] for row in classic] == pytest.approx([each[0] for each in expected])
    # Flags of CAN FD are a digit of their own before the bytes.
    assert (0x123, False, b"\x00\x11\x22\x33\x44") in whole(rows)
    assert [row[4] for row in rows] == ["vcan0", "vcan0", "can1", "can1", "can1", "can1"]
    assert codes(path) == []


@pytest.mark.parametrize("way", SCREENS)
def test_what_candump_shows(tmp_path: Path, way: str) -> None:
    path = tmp_path / "copied from a terminal.txt"
    rows = read(path, SCREENS[way])
    assert whole(rows) == [(0x123, False, b"\x11\x22\x33"), (0x1F334455, True, b"\xaa\xbb")]
    timed = "(" in SCREENS[way]
    assert rows[1][0] - rows[0][0] == pytest.approx(0.1 if timed else 0.001, abs=1e-6)
    assert codes(path) == ([] if timed else ["R719"])


def test_times_from_line_to_line_add_up(tmp_path: Path) -> None:
    gaps = [0.0, 0.1, 0.02] * 6
    text = "".join(f" ({gap:010.6f})  can0  123   [1]  {at:02X}\n" for at, gap in enumerate(gaps))
    path = tmp_path / "delta.log"
    rows = read(path, text)
    assert rows[-1][0] == pytest.approx(sum(gaps))
    assert codes(path) == ["R719"]


def test_remote_requests_and_errors_on_a_screen_are_no_data(tmp_path: Path) -> None:
    text = "  can0  123   [1]  11\n  can0  123   [8]  remote request\n"
    text += "  can0  20000088   [8]  00 00 00 00 00 00 00 00   ERRORFRAME\n  can0  124   [0]\n"
    path = tmp_path / "a"
    assert whole(read(path, text)) == [(0x123, False, b"\x11"), (0x124, False, b"")]
    assert "R713" not in codes(path)


ASC = """\
date Sam Sep 30 15:06:13.191 2017
base {base}  timestamps {times}
internal events logged
// version 9.0.0
Begin Triggerblock Sam Sep 30 15:06:13.191 2017
   0.000000 Start of measurement
   0.015991 CAN 1 Status:chip status error active
   0.100000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%
   0.200000 2  {standard}              Rx   d {length} {bytes}  Length = 0 BitCount = 64 ID = 64
   0.300000 1  {extended}x       Tx   d {length} {bytes}
   0.400000 1  {standard}              Rx   r
   0.500000 1  ErrorFrame
   0.600000 1  {extended}x       Rx   d 0
End TriggerBlock
"""


@pytest.mark.parametrize("times", ["absolute", "relative"])
@pytest.mark.parametrize("base", ["hex", "dec"])
def test_asc_in_both_bases(tmp_path: Path, base: str, times: str) -> None:
    form = "{:X}" if base == "hex" else "{}"
    text = ASC.format(
        base=base,
        times=times,
        standard=form.format(0x64),
        extended=form.format(0x18EBFF00),
        length=8,
        bytes=" ".join(("{:02X}" if base == "hex" else "{}").format(byte) for byte in DATA),
    )
    rows = read(tmp_path / "a.txt", text)
    expected = of_library(ASCReader(io.StringIO(text)))
    assert whole(rows) == [each[1:] for each in expected] and len(rows) == 3
    if times == "absolute":
        assert [row[0] for row in rows] == pytest.approx([each[0] for each in expected])
    else:
        # Every line counts from the one before, also those that are no frames (python-can gives 0.3 and 0.6).
        assert [row[0] for row in rows] == pytest.approx([0.0, 0.3, 1.8])
    assert [row[4] for row in rows] == ["2", "1", "1"]
    assert codes(tmp_path / "a.txt") == []


def test_asc_of_can_fd(tmp_path: Path) -> None:
    text = ASC.split("Begin")[0].format(base="hex", times="absolute")
    data = " ".join(f"{byte:02x}" for byte in range(12))
    text += f"  30.005071 CANFD   2 Rx        300  Some_Name_12      1 0 9 12 {data}  102203  133   303000\n"
    text += f"  30.300981 CANFD   3 Tx     50005x                    1 0 9 12 {data}  140000   73   200050\n"
    text += "  30.806898 CANFD   5 Tx ErrorFrame Not Acknowledge error, dominant error flag fffe c7 31ca\n"
    rows = read(tmp_path / "a.log", text)
    assert whole(rows) == [(0x300, False, bytes(range(12))), (0x50005, True, bytes(range(12)))]
    assert [each[1:] for each in of_library(ASCReader(io.StringIO(text.rpartition("  30.8")[0])))] == whole(
        rows
    )


TRC = {
    "1.0": """;   Start time: 18.12.2021 14:28:07.062
;----+-   ---+---  ----+---  +  -+ -- -- ...
     1)     17535  00000100  8  01 02 03 04 05 06 07 08
     2)     17540  FFFFFFFF  4  00 00 00 08 -- -- -- -- BUSHEAVY
     3)     19295      0704  2  AA BB
     4)     48937      0704  1  RTR
""",
    "1.1": """;$FILEVERSION=1.1
;$STARTTIME=44548.6028595139
;---+--   ----+----  --+--  ----+---  +  -+ -- -- -- -- -- -- --
     1)     17535.4  Tx     00000100  8  01 02 03 04 05 06 07 08
     2)     17540.3  Warng  FFFFFFFF  4  00 00 00 08  BUSHEAVY
     3)     19295.4  Rx         0704  2  AA BB
     4)     48937.6  Rx         0704  1  RTR
""",
    "1.3": """;$FILEVERSION=1.3
;$STARTTIME=44548.6028595139
;---+-- ------+------ +- --+-- ----+--- +- -+-- -+ -- -- -- -- -- -- --
     1)     17535.400 1  Tx    00000100 -  8    01 02 03 04 05 06 07 08
     2)     17540.300 1  Warng FFFFFFFF -  4    00 00 00 08 BUSHEAVY
     3)     19295.400 2  Rx        0704 -  2    AA BB
     4)     48937.600 1  Rx        0704 -  1    RTR
""",
    "2.0": """;$FILEVERSION=2.0
;$STARTTIME=44548.6028595139
;$COLUMNS=N,O,T,I,d,l,D
      1     17535.400 DT 00000100 Tx 8  01 02 03 04 05 06 07 08
      2     17540.300 ST          Rx    00 00 00 08
      3     19295.400 FD     0704 Rx 12 00 01 02 03 04 05 06 07 08 09 0A 0B
      4     48937.600 RR     0704 Rx 1
""",
    "2.1": """;$FILEVERSION=2.1
;$STARTTIME=44548.6028595139
;$COLUMNS=N,O,T,B,I,d,R,L,D
      1     17535.400 DT 1  00000100 Tx -  8    01 02 03 04 05 06 07 08
      2     17540.300 ST 1      -    -  -  4    00 00 00 08
      3     19295.400 FB 2      0704 Rx -  9    00 01 02 03 04 05 06 07 08 09 0A 0B
      4     48937.600 RR 1      0704 Rx -  1
""",
}


@pytest.mark.parametrize("version", TRC)
def test_trc_of_every_version(tmp_path: Path, version: str) -> None:
    text = TRC[version]
    rows = read(tmp_path / "trace.dat", text)
    kept = [line for line in text.splitlines() if "Warng" not in line and " ST " not in line]
    expected = of_library(TRCReader(io.StringIO("\n".join(kept) + "\n")))
    assert whole(rows) == [each[1:] for each in expected] and len(rows) == 2
    assert [row[0] for row in rows] == pytest.approx([each[0] for each in expected])
    assert codes(tmp_path / "trace.dat") == []


def test_trc_1_2_has_a_bus_and_no_reserved_column(tmp_path: Path) -> None:
    text = TRC["1.3"].replace("=1.3", "=1.2").replace(" - ", "   ")
    rows = read(tmp_path / "trace.trc", text)
    assert whole(rows) == [(0x100, True, DATA), (0x704, False, b"\xaa\xbb")]
    assert [row[4] for row in rows] == ["1", "2"]


OTHERS = {
    "CRTD": "1542473901.020305 CXX Info Type:crtd\n1542473901.020305 1R11 213 00 00 00\n"
    "1542473901.030305 2T29 18DA30F1 02 10 03\n1542473901.040305 1CER Error\n",
    "named": "Timestamp: 1479121434.850202        ID: 0213    000    DLC: 3    00 00 00\n"
    "Timestamp: 1479121434.860202    ID: 18da30f1    X Rx                DL:  3    02 10 03                Channel: can0\n",
    "tabs": "@ TEXT @ 3 @ 64 @ 0 @ 930 @ 1500 @ 00:00:01.500 @\n$LocalTime=10:51:34.569\n"
    "59,999000\t1\t00000004\t213\t3\t00 00 00               \t00000000\t   \t\n"
    "0,009000\t1\t00000004\t18DA30F1\t3\t02 10 03               \t00000000\t   \t\n",
}


@pytest.mark.parametrize("form", OTHERS)
def test_other_forms(tmp_path: Path, form: str) -> None:
    rows = read(tmp_path / "x", OTHERS[form])
    assert whole(rows) == [(0x213, False, bytes(3)), (0x18DA30F1, True, b"\x02\x10\x03")]
    assert rows[1][0] - rows[0][0] == pytest.approx(0.01)
    assert codes(tmp_path / "x") == []


EVERY = {
    "candump": CANDUMP,
    "asc": "",
    **SCREENS,
    **{f"trc {name}": text for name, text in TRC.items()},
    **OTHERS,
}
EVERY["asc"] = ASC.format(
    base="hex", times="absolute", standard="64", extended="18EBFF00", length=1, bytes="07"
)


@pytest.mark.parametrize("form", EVERY)
def test_every_form_is_read_packed_and_by_any_name(tmp_path: Path, form: str) -> None:
    plain = read(tmp_path / "a.csv", EVERY[form])
    assert read(tmp_path / "a.blf", gzip.compress(EVERY[form].encode())) == plain
    assert read(tmp_path / "a.txt", EVERY[form].replace("\n", "\r\n")) == plain
    assert read(tmp_path / "b.txt", EVERY[form].encode("utf-16")) == plain


@pytest.mark.parametrize("form", EVERY)
def test_a_cut_text_gives_the_frames_before_the_cut(tmp_path: Path, form: str) -> None:
    text = EVERY[form] * (2 if form in ("candump", *SCREENS) else 1)
    plain = whole(read(tmp_path / "a", text))
    for length in range(0, len(text), 3):
        path = tmp_path / "cut"
        path.write_text(text[:length])
        try:
            found = whole(list(Log(path).rows()))
        except DesignError:
            continue
        assert found == plain[: len(found)]


@given(st.data())
def test_no_spoilt_text_raises_anything_else(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    text = bytearray(EVERY[data.draw(st.sampled_from(sorted(EVERY)))].encode())
    for _ in range(data.draw(st.integers(1, 6))):
        text[data.draw(st.integers(0, len(text) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.mktemp("spoilt") / "log"
    path.write_bytes(text)
    try:
        for at, identifier, extended, payload, _ in Log(path).rows():
            assert at >= 0 and 0 <= identifier <= (0x1FFFFFFF if extended else 0x7FF) and len(payload) <= 64
    except DesignError as fault:
        assert all(finding.remedy for finding in fault.findings)


def test_a_line_without_end_costs_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.log"
    path.write_text(CANDUMP + "x" * 3_000_000 + "\n" + "(1436509054.0) vcan0 044#2A\n")
    log = Log(path)
    assert whole(list(log.rows()))[-1] == (0x44, False, b"\x2a")
    assert "R713" in [finding.code for finding in log.findings]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"PK\x03\x04" + bytes(99), "zip archive"),
        (b"\x0a\x0d\x0d\x0a" + bytes(99), "capture of a network"),
        (bytes(range(256)) * 9, "it is no text"),
        (b"Dear reader,\nthis is a letter.\n" * 9, "none of its first lines"),
    ],
)
def test_what_is_no_log_is_told_why(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "a.log"
    path.write_bytes(content)
    with pytest.raises(DesignError) as raised:
        Log(path)
    (finding,) = raised.value.findings
    assert finding.code == "R702" and says in finding.message and finding.remedy


def test_notes_with_a_frame_in_them_are_no_log(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("what I saw\n" * 20 + "(1737142294.156466) can0 421#0000300000004A00 - check engine\n")
    with pytest.raises(DesignError, match="none of its first lines"):
        Log(path)


def test_the_library_writes_what_is_read_alike(tmp_path: Path) -> None:
    """Remote and error frames between data frames, of every length, through each writer."""
    messages = [
        can.Message(
            timestamp=1e9 + at / 100, arbitration_id=at * 73 % 2048, data=bytes(at % 9), is_extended_id=False
        )
        for at in range(40)
    ]
    messages.insert(7, can.Message(timestamp=1e9, arbitration_id=5, is_remote_frame=True, dlc=3))
    for suffix in (".log", ".asc", ".trc", ".csv"):
        path = tmp_path / f"a{suffix}"
        with can.Logger(path) as logger:
            for message in messages:
                logger.on_message_received(message)
        plain = tmp_path / "anything"
        plain.write_bytes(path.read_bytes())
        expected = [(m.arbitration_id, False, bytes(m.data)) for m in messages if not m.is_remote_frame]
        assert whole(list(Log(plain).rows())) == expected, suffix
