"""The player's code and memory on small cores, and its time beside the Python painter's.

Run from the repository's folder: python -m tests.bench player
"""

from __future__ import annotations

import ctypes
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

from hmic.pack.reader import read
from hmic.paint.operations import LIVE, Drawing, Moment
from hmic.paint.painter import Painter
from tests.bench.general_library import beside_a_general_library
from tests.bench.instructions import instructions
from tests.tools.changed import replace
from tests.tools.designs import example_pack
from tests.tools.player import SOURCES, Area, Areas, PlayerPainter, library, sources

TARGETS = {
    "Cortex-M4": ["-target", "thumb-freestanding-eabi", "-mcpu=cortex_m4"],
    "Cortex-M0+": ["-target", "thumb-freestanding-eabi", "-mcpu=cortex_m0plus"],
    "RV32IMC": ["-target", "riscv32-freestanding-none", "-mcpu=generic_rv32+m+c"],
}
PARTS = ["pack", "planes", "paint", "wire", "sha256", "store", "transfer", "values", "session"]
PARTS += ["touch", "display"]
ZIG = [sys.executable, "-m", "ziglang", "cc", "-std=c99", "-ffreestanding", "-Os", f"-I{SOURCES}"]
GCC = ["arm-none-eabi-gcc", "-mcpu=cortex-m4", "-mthumb", "-std=c99", "-ffreestanding", "-Os", f"-I{SOURCES}"]
FRAMES = 40


def code_bytes(command: list[str], folder: Path) -> dict[str, int]:
    """Code and constants of each part, optimised for size."""
    found = {}
    for source in sources():
        made = folder / f"{source.stem}.o"
        subprocess.run([*command, "-c", str(source), "-o", str(made)], check=True, capture_output=True)
        told = subprocess.run(["size", str(made)], check=True, capture_output=True, text=True).stdout
        found[source.stem.removeprefix("hmic_")] = int(told.splitlines()[1].split()[0])
    return found


def tables_of(target: list[str], folder: Path) -> list[str]:
    """The largest tables of constants and their bytes."""
    found = []
    for source in sources():
        made = folder / f"{source.stem}.o"
        subprocess.run([*ZIG, *target, "-c", str(source), "-o", str(made)], check=True, capture_output=True)
        told = subprocess.run(["nm", "-S", str(made)], check=True, capture_output=True, text=True).stdout
        symbols = [line.split() for line in told.splitlines()]
        found += [(int(words[1], 16), words[3]) for words in symbols if len(words) == 4 and words[2] == "r"]
    return [f"{name} {size}" for size, name in sorted(found, reverse=True)[:5]]


def state_bytes(target: list[str], folder: Path) -> int:
    probe = folder / "probe.c"
    probe.write_text('#include "hmic_display.h"\nchar probe[sizeof(hmic_display)];\n')
    subprocess.run([*ZIG, *target, "-c", str(probe), "-o", str(folder / "probe.o")], check=True)
    told = subprocess.run(["nm", "-S", str(folder / "probe.o")], check=True, capture_output=True, text=True)
    return next(int(line.split()[1], 16) for line in told.stdout.splitlines() if line.endswith("probe"))


def stack_of(target: list[str], folder: Path) -> list[tuple[int, list[str]]]:
    """The deepest ways of calls and their bytes of stack: pushed registers and room made, by the assembler
    text of Thumb. Calls through the port are the board's."""
    own: dict[str, int] = {}
    calls: dict[str, set[str]] = {}
    for source in sources():
        made = folder / f"{source.stem}.s"
        subprocess.run([*ZIG, *target, "-S", str(source), "-o", str(made)], check=True, capture_output=True)
        name = ""
        for line in made.read_text().splitlines():
            if found := re.match(r"^(\w+):", line):
                name = found[1] if not found[1].startswith("L") else name
                own.setdefault(name, 0)
                calls.setdefault(name, set())
            elif found := re.match(r"\s+push(?:\.w)?\s+{(.*)}", line):
                own[name] += 4 * sum(_registers(part) for part in found[1].split(","))
            elif found := re.match(r"\s+sub(?:\.w)?\s+sp,(?: sp,)? #(\d+)", line):
                own[name] += int(found[1])
            elif found := re.match(r"\s+(?:bl|b|b\.w)\s+(\w+)$", line):
                calls[name].add(found[1])

    def deepest(function: str) -> tuple[int, list[str]]:
        below = max((deepest(each) for each in calls[function] & own.keys()), default=(0, []))
        return own[function] + below[0], [function, *below[1]]

    return sorted((deepest(name) for name in own if name.startswith("hmic_display")), reverse=True)


def _registers(part: str) -> int:
    first, _, last = part.strip().partition("-")
    return int(last[1:]) - int(first[1:]) + 1 if last else 1


def milliseconds(act: Callable[[], object]) -> float:
    times = []
    for _ in range(FRAMES):
        begun = time.perf_counter()
        act()
        times.append(1000 * (time.perf_counter() - begun))
    # The least: whatever else the machine does only adds to it.
    return min(times)


def screen_row(
    name: str,
    player: PlayerPainter,
    painter: Painter,
    drawing: Drawing,
    moment: Moment,
    listed: Sequence[int],
) -> str:
    width, height = drawing.width, drawing.height
    pixels = ctypes.create_string_buffer(width * height * 3)
    paint, told, _raw = library().hmic_paint, *player.told(moment)
    state = ctypes.byref(player.pack), ctypes.byref(told)

    def bands(lines: int) -> None:
        for top in range(0, height, lines):
            paint(*state, Area(0, top, width, min(top + lines, height)), pixels)

    shares, times = [], []
    for channel in listed[:40]:
        other = list(moment.raw)
        other[channel] = LIVE + (other[channel] - LIVE + 1) % drawing.channels[channel]
        after, _kept = player.told(replace(moment, raw=tuple(other)))
        areas = Areas()
        begun = time.perf_counter()
        library().hmic_changed(state[0], state[1], ctypes.byref(after), ctypes.byref(areas))
        for area in areas.list[: areas.count]:
            paint(state[0], ctypes.byref(after), area, pixels)
        times.append(1000 * (time.perf_counter() - begun))
        shares.append(sum((a.right - a.left) * (a.bottom - a.top) for a in areas.list[: areas.count]))
    python = milliseconds(lambda: painter.paint(moment))
    whole, banded = milliseconds(lambda: bands(height)), milliseconds(lambda: bands(16))
    speed = width * height / whole / 1000
    share = 100 * median(shares) / width / height if shares else 0
    one = 100 * median(times) / whole if times else 0
    return f"| {name} | {python:.1f} | {whole:.2f} | {speed:.0f} | {banded:.2f} | {share:.2f} | {one:.1f} |"


def painting() -> None:
    print("\n| screen | Python, ms | player, ms | Mpixel/s | in bands of 16 | a value: % pixels | % time |")
    print("|---|---|---|---|---|---|---|")
    chance = random.Random(4)
    for name in ("dunlin", "roost"):
        data = example_pack(name)
        drawing, player = read(data), PlayerPainter(data)
        painter = Painter(drawing)
        for number, screen in enumerate(drawing.screens):
            raw = tuple(LIVE + chance.randrange(steps) for steps in drawing.channels)
            moment, title = Moment(number, 0, raw), f"{name} {screen.name}"
            print(screen_row(title, player, painter, drawing, moment, screen.channels))


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        table = {target: code_bytes([*ZIG, *words], folder) for target, words in TARGETS.items()}
        if shutil.which(GCC[0]):
            table["Cortex-M4, gcc"] = code_bytes(GCC, folder)
        print("bytes of code and constants, zig cc -Os (clang), gcc -Os where it is installed\n")
        print(f"| part | {' | '.join(table)} |")
        print("|---" * (len(table) + 1) + "|")
        for part in PARTS:
            print(f"| {part} | {' | '.join(str(sizes[part]) for sizes in table.values())} |")
        print(f"| all | {' | '.join(str(sum(sizes.values())) for sizes in table.values())} |")
        states = [state_bytes(words, folder) for words in TARGETS.values()]
        print(f"| RAM beside values and pixels | {' | '.join(map(str, states))} |")
        tables = ", ".join(tables_of(TARGETS["Cortex-M4"], folder))
        print(f"\nlargest tables on Cortex-M4, in bytes: {tables}")
        for size, way in stack_of(TARGETS["Cortex-M4"], folder)[:1]:
            print(f"\ndeepest stack on Cortex-M4: {size} bytes, by {' > '.join(way)}")
    instructions()
    painting()
    beside_a_general_library([(name, read(example_pack(name))) for name in ("dunlin", "roost")], milliseconds)


if __name__ == "__main__":
    main()
