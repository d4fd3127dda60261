"""What `hmic run` costs a small board: its share of a core while a bus brings so many frames a second, and
how many frames of a recording it can read and decode in a second of the processor, beside python-can alone.

Run: ``python -m tests.bench load [run|replay]``. The bus is a serial CAN adapter (slcan) on a pseudo
terminal, fed with the example van's log; the display is the software display. Only the processor time of the
process that runs is counted, from five seconds after it listens.
"""

from __future__ import annotations

import gc
import os
import re
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import can

from hmic.model.load import load
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.replays import open_replay
from hmic.sources.log import Log
from tests.bench.drive import DUNLIN, LOG

WARMING, MEASURED = 5.0, 10.0
PIECE = 0.01
"""Seconds that are written to the adapter at once."""
TICKS = os.sysconf("SC_CLK_TCK")


def spent(process: int) -> float:
    """Seconds of the processor that a process has taken."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def lines() -> Iterator[bytes]:
    """The log's frames as an adapter writes them, again and again."""
    rows = list(Log(LOG).rows())
    return cycle([f"t{row[1]:03X}{len(row[3])}{row[3].hex().upper()}\r".encode() for row in rows])


def share(rate: int) -> float:
    """The part of a core that a run takes at so many frames a second."""
    own, other = os.openpty()
    for end in (own, other):
        tty.setraw(end)
    with tempfile.TemporaryDirectory() as folder:
        pack = Path(folder) / "van.pack"
        hmic = [sys.executable, "-m", "hmic"]
        subprocess.run([*hmic, "build", str(DUNLIN), "-o", str(pack)], check=True, stdout=subprocess.DEVNULL)
        display = subprocess.Popen([*hmic, "display", str(pack)], stdout=subprocess.PIPE, text=True)
        assert display.stdout is not None
        try:
            told = iter(display.stdout.readline, "")
            port = next(found[0] for line in told if (found := re.search(r"/dev/pts/\d+", line)))
            return _measured(rate, own, os.ttyname(other), port, hmic)
        finally:
            display.terminate()
            display.wait()
            os.close(own)
            os.close(other)


def _measured(rate: int, own: int, adapter: str, port: str, hmic: list[str]) -> float:
    words = ["run", str(DUNLIN), "--port", port, "--can", f"slcan:{adapter}@500000"]
    process = subprocess.Popen([*hmic, *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        _open(own)
        frames, begun, written, before = lines(), time.monotonic(), 0, 0.0
        while (gone := time.monotonic() - begun) < WARMING + MEASURED:
            if gone >= WARMING and not before:
                before = spent(process.pid)
            wanted = int(gone * rate) - written
            os.write(own, b"".join(next(frames) for _ in range(wanted)))
            written += wanted
            time.sleep(PIECE)
        share = (spent(process.pid) - before) / MEASURED
    finally:
        process.terminate()
        said = process.communicate()[0]
    came = re.search(r"(\d+) frames in", said)
    print(f"({came[1] if came else 'no'} of {written} frames came) ", end="")
    return share


def _open(adapter: int) -> None:
    """Waits until the adapter was told to listen, which ends what it is told."""
    told = b""
    while not told.endswith((b"O\r", b"L\r")):
        told += os.read(adapter, 64)


def replay() -> None:
    """Prints frames a second of the processor: read by python-can, by hmic, and decoded for the example."""
    # As every command does.
    gc.set_threshold(200_000, 20, 20)
    design, _ = load(DUNLIN)
    assert design is not None
    print(f"{'frames of a second of the processor':44}{'frames/s':>10}")
    for what in ("read by python-can", "read by hmic", "read and decoded by hmic, nearly all bound"):
        best = 0.0
        for _ in range(3):
            begun, count = time.process_time(), 0
            if what.endswith("python-can"):
                with can.BLFReader(LOG) as reader:
                    count = sum(1 for _ in reader)
            else:
                decoder = load_decoder(design)
                begun = time.process_time()
                frames = open_replay(design, [str(LOG)])
                decodes = "decoded" in what
                count = sum(1 for frame in frames if not decodes or decoder.readings(frame) is not None)
            best = max(best, count / (time.process_time() - begun))
        print(f"{what:44}{best:10.0f}", flush=True)


def main() -> None:
    """Prints what was asked for, or both."""
    what = sys.argv[1:] or ["replay", "run"]
    if "replay" in what:
        replay()
    if "run" in what:
        print(f"{'a run beside its display':44}{'core %':>10}")
        for rate in (0, 500, 2000):
            print(f"{rate:6} frames/s{'':30}{share(rate) * 100:10.1f}", flush=True)


if __name__ == "__main__":
    main()
