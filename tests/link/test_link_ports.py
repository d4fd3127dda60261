"""Serial ports and pseudo terminals, joined to each other; no hardware needed."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from hmic.diagnostics import DesignError
from hmic.link.any_link import Link, LinkLost
from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.link.serial_port import SerialPort, open_port

EVERY_BYTE = bytes(range(256))


def gather(link: Link, size: int) -> bytes:
    out = b""
    end = time.monotonic() + 2
    while len(out) < size and time.monotonic() < end:
        out += link.read()
    return out


def code(name: str, baud: int = 115200) -> tuple[str, str]:
    with pytest.raises(DesignError) as caught:
        open_port(name, baud)
    (finding,) = caught.value.findings
    return finding.code, finding.remedy or ""


def test_every_byte_passes_unchanged_both_ways() -> None:
    display = PseudoTerminal()
    port = open_port(display.path, 115200)
    assert port.write(EVERY_BYTE) == 256
    assert gather(display, 256) == EVERY_BYTE
    assert display.write(EVERY_BYTE) == 256
    assert gather(port, 256) == EVERY_BYTE
    assert port.read() == b"" == display.read()
    port.close()
    display.close()


def test_the_terminal_outlives_its_peer() -> None:
    display = PseudoTerminal()
    for _ in range(3):
        port = open_port(display.path, 9600)
        port.write(b"hello")
        assert gather(display, 5) == b"hello"
        port.close()
        assert display.read() == b""
    display.close()
    display.close()
    with pytest.raises(LinkLost):
        display.read()
    assert display.descriptor() is None


def test_nobody_reading_never_blocks_and_keeps_the_newest() -> None:
    display = PseudoTerminal()
    for number in range(2000):
        display.write(b"%05d\n" % number * 4)
    port = open_port(display.path, 115200)
    display.write(b"last\n")
    assert gather(port, 1 << 16).endswith(b"last\n")
    port.close()
    display.close()


def test_a_full_port_takes_what_it_can() -> None:
    display = PseudoTerminal()
    port = open_port(display.path, 115200)
    taken = 0
    for _ in range(100):
        taken += port.write(bytes(1000))
    assert 0 < taken < 100_000
    assert len(gather(display, taken)) == taken
    port.close()
    display.close()


def test_a_vanished_port_is_a_lost_link() -> None:
    display = PseudoTerminal()
    port = open_port(display.path, 115200)
    display.close()
    with pytest.raises(LinkLost, match="is gone"):
        for _ in range(10):
            port.write(b"x")
            port.read()
    port.close()
    with pytest.raises(LinkLost):
        port.read()


def test_no_such_port() -> None:
    found, remedy = code("/dev/no-such-port")
    assert found == "W640" and "port" in remedy


def test_busy_port() -> None:
    display = PseudoTerminal()
    port = open_port(display.path, 115200)
    assert code(display.path)[0] == "W641"
    port.close()
    assert isinstance(open_port(display.path, 115200), SerialPort)
    display.close()


def test_a_file_or_a_strange_rate_is_no_port(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_text("x")
    assert code(str(plain))[0] == "W643"
    assert code(str(tmp_path))[0] == "W643"
    assert code("strange://here")[0] == "W643"
    display = PseudoTerminal()
    assert code(display.path, -5)[0] == "W643"
    display.close()


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may use every port")
def test_no_permission_names_the_group(tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    shut.write_text("")
    shut.chmod(0)
    found, remedy = code(str(shut))
    assert found == "W642" and shut.group() in remedy


def test_permission_remedy_names_the_group(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import serial

    def refuse(*_: object, **__: object) -> None:
        raise serial.SerialException(13, "no")

    port = tmp_path / "port"
    port.write_text("")
    monkeypatch.setattr(serial, "Serial", refuse)
    found, remedy = code(str(port))
    assert found == "W642" and f"usermod -aG {port.group()}" in remedy


def test_url_ports() -> None:
    port = open_port("loop://", 115200)
    port.write(b"round")
    assert gather(port, 5) == b"round"
    port.close()
