"""Logs that other packages read."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from hmic.diagnostics import DesignError
from hmic.sources.log import Log


def test_the_package_for_mf4_is_named_with_the_command_that_brings_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    path = tmp_path / "a.log"
    path.write_bytes(b"MDF     4.10" + bytes(200))
    with pytest.raises(DesignError) as raised:
        Log(path)
    (finding,) = raised.value.findings
    assert finding.code == "R702" and "'a.log' is an MF4 file" in finding.message
    assert finding.remedy == "pip install asammdf"


def test_mf4_of_a_bus(tmp_path: Path) -> None:
    pytest.importorskip("asammdf")
    import can

    path = tmp_path / "a.mf4"
    with can.Logger(path) as logger:
        for at in range(50):
            data = bytes([at] * (at % 9))
            logger.on_message_received(
                can.Message(
                    timestamp=1.7e9 + at / 100, arbitration_id=0x100 + at, data=data, is_extended_id=False
                )
            )
    log = Log(path)
    rows = list(log.rows())
    assert [row[1:4] for row in rows] == [(0x100 + at, False, bytes([at] * (at % 9))) for at in range(50)]
    assert rows[-1][0] == pytest.approx(0.49, abs=1e-3) and log.findings == []


def test_spoilt_mf4(tmp_path: Path) -> None:
    pytest.importorskip("asammdf")
    path = tmp_path / "a.mf4"
    path.write_bytes(b"MDF     4.10    " + bytes(range(200)))
    with pytest.raises(DesignError) as raised:
        list(Log(path))
    assert [finding.code for finding in raised.value.findings] == ["R704"]
