"""Every command of the guide, in its order: the display is one in software, a recording of the example
vehicle stands for the drive and for its bus, as far as there is no adapter."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path

import can
import pytest

from hmic.cli.main import main
from tests.tools.short_log import short_log

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "hmic" / "GUIDE.md").read_text(encoding="utf-8")
COMMANDS = [
    line for block in re.findall(r"```sh\n(.*?)```", GUIDE, re.DOTALL) for line in block.splitlines() if line
]
MODULE = [sys.executable, "-m"]


@contextmanager
def display(folder: Path) -> Iterator[str]:
    """An empty display in software, of the guide's panel; gives its port."""
    command = [*MODULE, "hmic", "display", "--store", "flash.bin", "--panel", "800x480x16"]
    child = subprocess.Popen(command, cwd=folder, env=environment(), stdout=subprocess.PIPE, text=True)
    try:
        assert child.stdout is not None
        found = next(re.search(r"/dev/pts/[0-9]+", line) for line in child.stdout if "/dev/pts/" in line)
        assert found is not None
        yield found[0]
    finally:
        _end(child)


def _end(child: subprocess.Popen[str]) -> str:
    """What it tells on its way out when it is interrupted; none is left running."""
    try:
        if child.poll() is None:
            child.send_signal(signal.SIGINT)
        return child.communicate(timeout=30)[1]
    finally:
        child.kill()


def environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)}


def run_for(words: list[str], folder: Path, seconds: float, until: Callable[[], bool] | None = None) -> None:
    """A command that goes on until it is interrupted, which is no fault: not before so many seconds have
    passed, and not before ``until`` is so, for at most another 60."""
    child = subprocess.Popen(
        [*MODULE, *words], cwd=folder, env=environment(), stderr=subprocess.PIPE, text=True
    )
    with suppress(subprocess.TimeoutExpired):
        child.wait(seconds)
    latest = time.monotonic() + 60
    while until is not None and not until() and child.poll() is None and time.monotonic() < latest:
        time.sleep(0.2)
    told = _end(child)
    assert child.returncode == 0, (words, told)


def has_recorded(record: Path, seconds: float) -> bool:
    """Whether a record goes on for so long."""
    text = record.read_text(encoding="utf-8") if record.exists() else ""
    times = re.findall(r'^{"t":([0-9.]+),', text, re.MULTILINE)
    return bool(times) and float(times[-1]) > seconds


def listened(words: list[str]) -> int:
    """A survey of a bus on which a sender speaks, for two seconds in place of thirty."""
    done = threading.Event()

    def send() -> None:
        with can.Bus("can0", interface="virtual") as bus:
            while not done.wait(0.01):
                bus.send(can.Message(arbitration_id=0x120, data=bytes(8), is_extended_id=False))

    sender = threading.Thread(target=send)
    sender.start()
    try:
        return main([{"can0": "virtual:can0", "30": "2"}.get(word, word) for word in words])
    finally:
        done.set()
        sender.join()


def test_the_first_evening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert len(COMMANDS) >= 14
    monkeypatch.chdir(tmp_path)
    shutil.copy(ROOT / "layouts" / "dunlin" / "dunlin.dbc", "car.dbc")
    with display(tmp_path) as port:
        for line in COMMANDS:
            program, *words = shlex.split(line.replace("/dev/ttyUSB0", port))
            if program == "python":
                run_for([*["virtual" if word == "socketcan" else word for word in words[1:]]], tmp_path, 4)
                shutil.copy(short_log(), "drive.blf")
            elif words[0] == "run":
                stand_in = ["--replay", "drive.blf"] if "can0" in words else []
                kept = [word for word in words if word not in ("--can", "can0")]
                # `trace --at 0:10` looks at it later.
                until = partial(has_recorded, tmp_path / "first.record", 10) if "--record" in words else None
                run_for(["hmic", *kept, *stand_in], tmp_path, 3, until)
            elif "--can" in words:
                assert listened(words) == 0, line
                assert "120" in capsys.readouterr().out
            else:
                assert main(words) == 0, (line, capsys.readouterr().err)
                time.sleep(0.1)
    for made in ("first-pictures", "mycar-pictures", "drive.html", "then.png", "first.record"):
        assert (tmp_path / made).exists(), made
