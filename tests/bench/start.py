"""From a command to its answer: whole processes on the example van, interleaved so that a busy computer
slows all alike. Prints the fastest and the middle of several runs, and the least time that the processor
spent on one: a busy computer lengthens that less. Then the same of `hmic run`, from its start to the first
value on the line: from the folder, and by a host file."""

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

from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.model.channels import LIVE
from hmic.runtime import host_file
from hmic.runtime.binding import BoundDesign
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from tests.tools.no_store import NoStore

ROOT = Path(__file__).parents[2]
VAN = str(ROOT / "layouts" / "dunlin")
RUNS = 8
WITHIN = 60.0
"""Seconds in which a run must have told a value."""


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
        _first_values(base, times, spent, compiled)
    print(f"{'seconds':<36}{'fastest':>9}{'middle':>9}{'processor':>11}")
    for name, found in times.items():
        print(f"{name:<36}{min(found):>9.2f}{statistics.median(found):>9.2f}{min(spent[name]):>11.2f}")


def _first_values(
    base: Path, times: dict[str, list[float]], spent: dict[str, list[float]], more: dict[str, str]
) -> None:
    file, where = base / "dunlin.host", os.environ | more | {"PYTHONPATH": str(ROOT)}
    bind = [sys.executable, "-m", "hmic", "bind", VAN, "-o", str(file)]
    subprocess.run(bind, env=where, check=True, capture_output=True)
    bound = host_file.read(file.read_bytes(), file.name).bound
    cases = {"run from the folder, first value": VAN, "run by a host file, first value": str(file)}
    for name in cases:
        times[name], spent[name] = [], []
    for turn in range(RUNS + 1):
        for name, what in cases.items():
            used = _processor()
            seconds = _first_value(what, bound, where)
            if turn:
                times[name].append(seconds)
                spent[name].append(_processor() - used)


def _first_value(what: str, bound: BoundDesign, where: dict[str, str]) -> float:
    """Seconds from the start of a simulated run until a display on its line has a live value."""
    panel, terminal = bound.design.panel, PseudoTerminal()
    facts = DisplayFacts(
        nonce=7,
        identity=bound.identity,
        width=panel.width,
        height=panel.height,
        depth=panel.depth,
        channel_capacity=4096,
        screen_count=len(bound.screens),
        pack_capacity=1 << 20,
    )
    session = DisplaySession(facts, NoStore())
    words = [sys.executable, "-m", "hmic", "run", what, "--port", terminal.path, "--simulate"]
    start = time.perf_counter()
    run = subprocess.Popen(words, env=where, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    try:
        while (now := time.perf_counter()) < start + WITHIN:
            for event in session.receive(terminal.read(), now):
                if isinstance(event, Values) and any(raw >= LIVE for raw in event.raw):
                    return now - start
            terminal.write(session.outgoing(now))
            time.sleep(0.001)
        raise SystemExit(f"no value came of {' '.join(words)}")
    finally:
        run.terminate()
        run.wait()
        terminal.close()


def _processor() -> float:
    """Seconds of the processor that ended children have taken."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
