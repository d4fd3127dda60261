"""From a save to the new picture in a real browser, and the memory that an hour of saves takes.

    python -m tests.bench live [SAVES]

Each save moves one text of the example's start screen. Measured from the end of the write until the page has
painted it; what the checks find comes later, and is measured too. The server's memory is told every tenth of
the saves: an hour's worth, one every 20 s, is the 180 that are made unless another number is given.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.tools.browser import CHROMIUM, browser

ROOT = Path(__file__).parents[2]
SAVES = 180


def main() -> None:
    """Prints the middle, the 95th and the longest of 100, and the memory."""
    saves = int(sys.argv[1]) if len(sys.argv) > 1 else SAVES
    if CHROMIUM is None:
        print("Chromium is not installed: apt-get install chromium")
        return
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room) / "dunlin"
        shutil.copytree(ROOT / "layouts" / "dunlin", folder, ignore=shutil.ignore_patterns("logs"))
        command = [sys.executable, "-m", "hmic", "preview", str(folder), "--live"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            try:
                assert server.stdout is not None
                _measure(server.stdout.readline().strip(), server.pid, folder / "drive.layout", saves)
            finally:
                server.terminate()


def _measure(address: str, process: int, file: Path, saves: int) -> None:
    text = file.read_text(encoding="utf-8")
    assert "text 100 arcmin" in text
    shown: list[float] = []
    checked: list[float] = []
    with browser() as started:
        page = started.new_page()
        page.goto(address)
        page.wait_for_selector("body[data-checked=true]")
        print(f"memory {_memory(process):.0f} MB before the first save")
        for number in range(saves):
            beside, size = file.with_suffix(".new"), 96 + number % 2
            beside.write_text(text.replace("text 100 arcmin", f"text {size} arcmin"), encoding="utf-8")
            before = page.evaluate("document.body.dataset.version")
            beside.replace(file)
            begun = time.perf_counter()
            while page.evaluate("document.body.dataset.version") == before:
                time.sleep(0.002)
            shown.append(1000 * (time.perf_counter() - begun))
            while page.evaluate("document.body.dataset.checked") != "true":
                time.sleep(0.002)
            checked.append(1000 * (time.perf_counter() - begun))
            if (number + 1) % max(1, saves // 10) == 0:
                print(f"memory {_memory(process):.0f} MB after {number + 1} saves")
    for name, times in (("picture", shown), ("checks", checked)):
        ordered = sorted(times)
        most = ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]
        middle = statistics.median(ordered)
        told = f"{middle:5.0f} ms in the middle, {most:5.0f} at the 95th of 100"
        print(f"{name:<8} {told}, {ordered[-1]:5.0f} at most")


def _memory(process: int) -> float:
    status = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    return int(status.split("VmRSS:")[1].split()[0]) / 1000
