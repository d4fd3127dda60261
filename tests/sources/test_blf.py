"""BLF logs against python-can, which writes and reads them by its own code, and cut at every place."""

from __future__ import annotations

import random
import struct
import zlib
from pathlib import Path

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError
from hmic.sources.log import Log


def messages(count: int, seed: int) -> list[can.Message]:
    chance = random.Random(seed)
    made = []
    for at in range(count):
        extended, fd = chance.random() < 0.5, chance.random() < 0.3
        length = chance.choice([0, 3, 8, 12, 20, 64]) if fd else chance.randrange(9)
        remote = not fd and chance.random() < 0.05
        made.append(
            can.Message(
                timestamp=1.7e9 + at / 1000,
                arbitration_id=chance.randrange(0x1FFFFFFF if extended else 0x7FF),
                is_extended_id=extended,
                is_fd=fd,
                is_remote_frame=remote,
                data=None if remote else chance.randbytes(length),
                channel=chance.randrange(3),
            )
        )
    return made


def write(path: Path, made: list[can.Message], **given_settings: int) -> None:
    with can.BLFWriter(path, **given_settings) as writer:
        for message in made:
            writer.on_message_received(message)


@pytest.mark.parametrize("level", [-1, 0])
def test_frames_are_those_that_python_can_reads(tmp_path: Path, level: int) -> None:
    path = tmp_path / "a.blf"
    # So many that a container ends within an object.
    write(path, messages(9000, 1), compression_level=level)
    (tmp_path / "named as it likes").write_bytes(path.read_bytes())
    log = Log(tmp_path / "named as it likes")
    rows = list(log.rows())
    with can.BLFReader(path) as reader:
        expected = [message for message in reader if not message.is_remote_frame]
    assert len(rows) == len(expected) > 8000
    for (at, identifier, extended, data, channel), message in zip(rows, expected, strict=True):
        assert (identifier, extended, data) == (
            message.arbitration_id,
            message.is_extended_id,
            bytes(message.data),
        )
        assert at == pytest.approx(message.timestamp - expected[0].timestamp, abs=1e-6)
        # The file counts channels from 1.
        assert channel == str(message.channel + 1)
    assert log.findings == []


def test_a_log_that_is_cut_is_told_by_its_header(tmp_path: Path) -> None:
    path = tmp_path / "whole.blf"
    write(path, messages(4000, 2))
    content = path.read_bytes()
    whole = [row[1:4] for row in Log(path).rows()]
    cut = tmp_path / "cut.blf"
    for length in range(150, len(content), 997):
        cut.write_bytes(content[:length])
        try:
            log = Log(cut)
        except DesignError as fault:
            findings = list(fault.findings)
        else:
            found = [row[1:4] for row in log.rows()]
            assert found == whole[: len(found)]
            findings = log.findings
        broken = [finding for finding in findings if finding.code == "R704"]
        assert len(broken) == 1
        assert f"it says {len(content)} bytes and 4000 objects, there are {length} and" in broken[0].message


def test_a_log_that_was_not_closed_is_played(tmp_path: Path) -> None:
    path = tmp_path / "a.blf"
    write(path, messages(100, 3))
    content = bytearray(path.read_bytes())
    content[16:36] = bytes(20)
    path.write_bytes(content)
    log = Log(path)
    assert len(list(log.rows())) > 80 and log.findings == []


def test_a_container_that_unpacks_to_very_much_is_not_unpacked(tmp_path: Path) -> None:
    packed = zlib.compress(bytes(300 << 20), 9)
    container = struct.pack("<4sHHIIH6xI4x", b"LOBJ", 16, 1, 32 + len(packed), 10, 2, 0xFFFFFFFF) + packed
    path = tmp_path / "a.blf"
    path.write_bytes(b"LOGG" + struct.pack("<I8xQQI", 144, 0, 0, 0) + bytes(104) + container)
    with pytest.raises(DesignError) as raised:
        Log(path)
    assert [finding.code for finding in raised.value.findings] == ["R704"]


@given(st.data())
def test_no_spoilt_file_raises_anything_else(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("spoilt")
    write(folder / "a.blf", messages(20, 4), compression_level=data.draw(st.sampled_from([0, 1])))
    content = bytearray((folder / "a.blf").read_bytes())
    for _ in range(data.draw(st.integers(1, 5))):
        content[data.draw(st.integers(4, len(content) - 1))] = data.draw(st.integers(0, 255))
    (folder / "a.blf").write_bytes(content)
    try:
        for _, identifier, extended, payload, _ in Log(folder / "a.blf").rows():
            assert 0 <= identifier <= (0x1FFFFFFF if extended else 0x7FF) and len(payload) <= 64
    except DesignError as fault:
        assert all(finding.remedy for finding in fault.findings)
