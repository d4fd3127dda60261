"""From a command to its answer: whole processes on the example van, interleaved so that a busy computer
slows all alike. Prints the fastest and the middle of several runs, and the least time that the processor
spent on one: a busy computer lengthens that less."""

from __future__ import annotations

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
VAN = str(ROOT / "layouts" / "dunlin")
RUNS = 8


def main() -> None:
    """Each command with the user's cache as a walk through the tool leaves it, and without."""
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder)
        cache, out = base / "cache", base / "out"
        compiled = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(base / "compiled")}
        check = ["-m", "hmic", "check", VAN]
        preview = ["-m", "hmic", "preview", VAN, "--out", str(out)]

        def forget() -> None:
            for file in (cache / "hmic").glob("findings-*"):
                file.unlink()

        def forget_all() -> None:
            shutil.rmtree(cache, ignore_errors=True)

        cases: list[tuple[str, list[str], Callable[[], None], dict[str, str]]] = [
            ("python, nothing else", ["-c", ""], lambda: None, compiled),
            ("check, findings remembered", check, lambda: None, compiled),
            ("check, nothing found yet", check, forget, compiled),
            ("the same, compiling hmic each time", check, forget, {"PYTHONDONTWRITEBYTECODE": "1"}),
            ("check and preview of everything", preview, forget, compiled),
            ("check, an empty cache", check, forget_all, compiled),
        ]
        times: dict[str, list[float]] = {name: [] for name, *_ in cases}
        spent: dict[str, list[float]] = {name: [] for name, *_ in cases}
        for turn in range(RUNS + 1):
            for name, words, before, more in cases:
                before()
                environment = os.environ | more | {"XDG_CACHE_HOME": str(cache), "PYTHONPATH": str(ROOT)}
                start, used = time.perf_counter(), _processor()
                subprocess.run([sys.executable, *words], env=environment, check=True, capture_output=True)
                if turn:
                    times[name].append(time.perf_counter() - start)
                    spent[name].append(_processor() - used)
    print(f"{'seconds':<36}{'fastest':>9}{'middle':>9}{'processor':>11}")
    for name, found in times.items():
        print(f"{name:<36}{min(found):>9.2f}{statistics.median(found):>9.2f}{min(spent[name]):>11.2f}")


def _processor() -> float:
    """Seconds of the processor that ended children have taken."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
