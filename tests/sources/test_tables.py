# ruff: noqa: E501
"""Tables of frames: what the header and the rows say, and what is refused because neither does."""

from __future__ import annotations

from pathlib import Path

import pytest
from can.io.csv import CSVReader
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.sources.frame import Row
from hmic.sources.log import Log

FRAMES = [(0x2C1, False, bytes.fromhex("0800DE01FAC600A2")), (0x18DA30F1, True, bytes.fromhex("021003"))]

HEADERS = {
    "single bytes": "Time Stamp,ID,Extended,Dir,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8\n"
    "27100,000002C1,false,Rx,0,8,08,00,DE,01,FA,C6,00,A2,\n"
    "37100,18DA30F1,true,Rx,0,3,02,10,03,00,00,00,00,00,\n",
    "bytes of one digit": "Time Stamp,ID,Extended,Bus,LEN,D1,D2,D3,D4,D5,D6,D7,D8\n"
    "27100,2C1,FALSE,0,8,8,0,DE,1,FA,C6,0,A2,\n37100,18DA30F1,TRUE,0,3,2,10,3,0,0,0,0,0,\n",
    "semicolons": "TimestampEpoch;BusChannel;ID;IDE;DLC;DataLength;Dir;EDL;BRS;DataBytes\n"
    "1578922367.777150;0;2c1;0;8;8;0;0;0;0800de01fac600a2\n1578922367.787150;0;18da30f1;1;3;3;0;0;0;021003\n",
    "tabs": "Ch\tT/R\tTime (ms)\tFlags\tCAN ID\tLen\tData\tName\n"
    "0\tRX\t27.1\t\t0x000002c1\t8\t0x08 00 de 01 fa c6 00 a2 \tx\t\n"
    "0\tRX\t37.1\t\t0x18da30f1\t3\t0x02 10 03 \tx\t\n",
    "blanks": "NO    Time Scale        Frame Type      Frame Format        Frame ID    Length          Data \n"
    "0      21:11:45:171      Data frame      Standard frame      000002c1      8      08 00 de 01 fa c6 00 a2\n"
    "1      21:11:45:181      Data frame      Extended frame      18da30f1      3      02 10 03       \n",
    "decimal": "timestamp (s),id (dec),data\n0.5,705,8 0 222 1 250 198 0 162\n0.51,416952561,2 16 3\n",
    "dates": "date time,arbitration_id (hex),dlc,data (hex)\n"
    '2025-07-06 23:59:59.995,2C1,8,"08,00,DE,01,FA,C6,00,A2"\n2025-07-07T00:00:00.005,18DA30F1,3,"02,10,03"\n',
    "decimal comma": "Time;CAN-ID;Payload\n0,500;2C1h;[08-00-DE-01-FA-C6-00-A2]\n0,510;18DA30F1h;[02-10-03]\n",
}


def read(path: Path, text: str) -> list[Row]:
    path.write_text(text)
    return list(Log(path).rows())


def told(path: Path) -> list[str]:
    log = Log(path)
    list(log.rows())
    return [f"{finding.code} {finding.message}" for finding in log.findings]


@pytest.mark.parametrize("way", HEADERS)
def test_columns_are_found_by_their_names(tmp_path: Path, way: str) -> None:
    path = tmp_path / "table.anything"
    text = HEADERS[way].replace("date time", "time")
    rows = read(path, "# written by a logger\n\n" + text)
    assert [row[1:4] for row in rows] == FRAMES
    assert rows[1][0] - rows[0][0] == pytest.approx(0.01, abs=1e-6)


def test_the_table_of_python_can_is_read_as_it_does(tmp_path: Path) -> None:
    text = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
    text += "10.5,0x2c1,0,0,0,8,CADeAfrGAKI=\n10.6,0x123,0,1,0,4,\n10.7,0x18da30f1,1,0,0,3,AhAD\n"
    (tmp_path / "a.csv").write_text(text)
    expected = [
        (m.arbitration_id, m.is_extended_id, bytes(m.data))
        for m in CSVReader(tmp_path / "a.csv")
        if not m.is_remote_frame
    ]
    assert [row[1:4] for row in read(tmp_path / "b", text)] == expected == FRAMES


@pytest.mark.parametrize(
    ("times", "gap", "says"),
    [
        (["27100", "77100", "127100"], 0.05, "taken as µs"),
        (["13", "13", "14"], 0.0005, "taken as ms"),
        (["13", "13", "14"] + ["14"] * 9, 0.001 / 11, "taken as ms"),
        (["0.0", "0.1", "0.2"], 0.1, ""),
        (["1.0", "1.0", "1.0"] + ["1.05"] * 4000, 0.00005 / 4002, "taken as ms"),
        (["1578922367777150", "1578922367787150", "1578922367797150"], 0.01, ""),
        (["1578922367777", "1578922367787", "1578922367797"], 0.01, ""),
        (["-1767062175875212", "-1767062175865212", "-1767062175855212"], 0.01, ""),
        # Milliseconds since a device started, which could be whole seconds since 1970.
        (["1052620673", "1052620673", "1052620674", "1052620674"], 0.00033, "taken as ms"),
    ],
)
def test_the_unit_of_times_is_the_finest_that_a_bus_can_carry(
    tmp_path: Path, times: list[str], gap: float, says: str
) -> None:
    path = tmp_path / "a"
    rows = read(path, "time,id,data\n" + "".join(f"{at},0x10A,FF\n" for at in times))
    assert (rows[-1][0] - rows[0][0]) / (len(rows) - 1) == pytest.approx(gap, rel=0.02, abs=1e-6)
    findings = told(path)
    assert says in "".join(findings) and [each[:4] for each in findings] == ["R719"] * bool(says)


def test_a_table_without_times_is_told(tmp_path: Path) -> None:
    rows = read(tmp_path / "a", "ID,Data Bytes\n000002C1,08 00 \n000002C4,03 7E \n")
    assert [row[0] for row in rows] == [0.0, 0.001]
    assert "it has no times" in told(tmp_path / "a")[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time,id,d1,d2\n0.1,514,0A,00\n0.2,514,0B,00\n", "whether identifiers are hexadecimal"),
        ("time,id (hex),d1,d2\n0.1,514,16,22\n0.2,514,16,23\n", "may be hexadecimal or decimal"),
    ],
)
def test_a_base_that_nothing_tells_is_refused(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "a").write_text(text)
    with pytest.raises(DesignError) as raised:
        Log(tmp_path / "a")
    (finding,) = raised.value.findings
    assert finding.code == "R702" and says in finding.message and finding.remedy


def test_identifiers_without_a_letter_are_decimal_if_many(tmp_path: Path) -> None:
    text = "time,id,data\n" + "".join(f"0.{at},{1000 + at},FF\n" for at in range(9))
    assert [row[1] for row in read(tmp_path / "a", text)] == list(range(1000, 1009))
    assert "taken as decimal" in told(tmp_path / "a")[0]


def test_bad_rows_cost_themselves(tmp_path: Path) -> None:
    text = "time (s),id,len,d1,d2\n0.1,1FF,2,0A,0B\nx,1FF,2,0A,0B\n0.3,1FF,8,0A,0B\n0.4,1FF\n\n"
    text += "0.5,20000000,1,0A,0B\n"
    text += "0.6,1FE,1,0A,0B\n0.7,nan,1,0A,0B\nnan,1FF,1,0A,0B\n"
    assert [row[1:4] for row in read(tmp_path / "a", text)] == [
        (0x1FF, False, b"\x0a\x0b"),
        (0x1FE, False, b"\x0a"),
    ]
    (finding,) = told(tmp_path / "a")
    assert "R713" in finding and "has 6 lines" in finding and "line 3: " in finding


def test_tables_of_something_else_are_no_logs(tmp_path: Path) -> None:
    for text in (
        "time,speed,rpm\n1,2,3\n2,3,4\n",
        "ID,Frame Name,Signal\n1,a,b\n",
        "Id\tDescription\tQty\n1\ta\t2\n",
    ):
        (tmp_path / "a").write_text(text * 3)
        with pytest.raises(DesignError):
            Log(tmp_path / "a")


@given(st.data())
def test_no_spoilt_table_raises_anything_else(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    text = bytearray(HEADERS[data.draw(st.sampled_from(sorted(HEADERS)))].encode())
    for _ in range(data.draw(st.integers(1, 6))):
        text[data.draw(st.integers(0, len(text) - 1))] = data.draw(
            st.sampled_from(b",;\t\n\"'0x9aF .-\0\xff")
        )
    path = tmp_path_factory.mktemp("spoilt") / "log"
    path.write_bytes(text)
    try:
        for _, identifier, extended, payload, _ in Log(path).rows():
            assert 0 <= identifier <= (0x1FFFFFFF if extended else 0x7FF) and len(payload) <= 64
    except DesignError as fault:
        assert all(finding.remedy for finding in fault.findings)
