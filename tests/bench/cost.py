"""What `hmic check` costs as a design grows: time of the processor, and how many times as long it takes as
the smallest would have it if every part cost the same. Nothing that was found before is remembered."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from hmic.cli.main import main as hmic
from tests.tools.large_designs import Files, derived, from_can, outputs, screens, shown, signals, written

SIGNALS = (10, 100, 1000, 4000)
SCREENS = (1, 10, 100)
CASES: dict[str, tuple[Callable[[int], Files], tuple[int, ...]]] = {
    "signals": (signals, SIGNALS),
    "signals, each with a wrong key": (lambda count: signals(count, ", colour: red"), SIGNALS),
    "signals of messages": (from_can, SIGNALS),
    "signals of messages that are not there": (lambda count: from_can(count, "Other{n}"), SIGNALS),
    "signals worked out": (derived, SIGNALS),
    "signals worked out of none": (lambda count: derived(count, "more.other_{n} * 2"), SIGNALS),
    "outputs": (outputs, SIGNALS),
    "outputs of no signal": (lambda count: outputs(count, "more.other_{n}"), SIGNALS),
    "signals, each shown": (shown, SIGNALS),
    "signals shown by a wrong name": (lambda count: shown(count, "more.other_{n}"), SIGNALS),
    "screens": (screens, SCREENS),
    "screens with no signal that is there": (lambda count: screens(count, "pack.", "pakc."), SCREENS),
    "screens with no area that is there": (lambda count: screens(count, "    in ", "    in x"), SCREENS),
    "screens with no word that is known": (lambda count: screens(count, "caution", "cuation"), SCREENS),
}


def main() -> None:
    """Each kind of design in each size. The cost of a design with nothing more is taken off first."""
    with tempfile.TemporaryDirectory() as cache:
        os.environ["XDG_CACHE_HOME"] = cache
        _print()


def _print() -> None:
    seconds(signals(0))
    alone = seconds(signals(0))
    print(f"{'seconds':<40}" + "".join(f"{size:>8}" for size in SIGNALS) + "   times linear")
    for name, (make, sizes) in CASES.items():
        times = [seconds(make(size)) for size in sizes]
        shown_times = "".join(f"{taken:>8.2f}" for taken in times).ljust(8 * len(SIGNALS))
        # The smaller ones are too short to be measured.
        known, most = max(0.01, times[-2] - alone), times[-1] - alone
        print(f"{name:<40}{shown_times}   {most / known * sizes[-2] / sizes[-1]:.1f}", flush=True)
    print(f"the design alone: {alone:.2f} s; sizes of screens: {', '.join(map(str, SCREENS))}")


def seconds(files: Files) -> float:
    """Of the processor, to check a design."""
    with tempfile.TemporaryDirectory() as folder:
        design = written(Path(folder) / "design", files)
        shutil.rmtree(Path(os.environ["XDG_CACHE_HOME"]), ignore_errors=True)
        start = time.process_time()
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            hmic(["check", str(design)])
        return time.process_time() - start


if __name__ == "__main__":
    main()
