"""A microcontroller with a panel, emulated: the player as a bare-metal program on a Cortex-M or RISC-V core,
its UART on a pseudo terminal. By hand, from the repository's folder:

    python -m tests.tools.player_board layouts/roost [--core cortex_m4] [--picture FILE] [--store FILE]

It prints the path of its port for ``hmic push`` and ``hmic run``; SIGUSR1 saves what the panel shows.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import select
import signal
import sys
import time
import tty
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

import unicorn
from PIL import Image
from unicorn import arm_const as arm
from unicorn import riscv_const as riscv

from hmic.paint.operations import Drawing
from hmic.player.written import settings
from tests.tools.designs import LAYOUTS, design_drawing
from tests.tools.player import SOURCES, WARNINGS, as_rgb, run, sources

BARE = Path(__file__).parents[1] / "player" / "bare"


@dataclass(frozen=True)
class Core:
    """How a core is compiled for, and what the emulator calls it. ``thumb``: bit 0 of an address says so."""

    target: tuple[str, ...]
    machine: tuple[int, int, int]
    stack: int
    counter: int
    thumb: bool

    def length(self, half: int) -> int:
        """Bytes of the instruction that begins with a half word: in Arm's Thumb encoding 11101, 11110 and
        11111 begin one of two of them, in RISC-V's the low bits 11."""
        return 4 if (half >> 11 >= 0b11101 if self.thumb else half & 3 == 3) else 2


def _cortex(name: str, model: int) -> Core:
    target = ("-target", "thumb-freestanding-eabi", f"-mcpu={name}")
    machine = (unicorn.UC_ARCH_ARM, unicorn.UC_MODE_THUMB | unicorn.UC_MODE_MCLASS, model)
    return Core(target, machine, arm.UC_ARM_REG_SP, arm.UC_ARM_REG_PC, True)


CORES = {
    "cortex_m4": _cortex("cortex_m4", arm.UC_CPU_ARM_CORTEX_M4),
    "cortex_m0plus": _cortex("cortex_m0plus", arm.UC_CPU_ARM_CORTEX_M0),
    "rv32imc": Core(
        ("-target", "riscv32-freestanding-none", "-mcpu=generic_rv32+m+c"),
        (unicorn.UC_ARCH_RISCV, unicorn.UC_MODE_RISCV32, riscv.UC_CPU_RISCV32_SIFIVE_E31),
        riscv.UC_RISCV_REG_SP,
        riscv.UC_RISCV_REG_PC,
        False,
    ),
}
CODE, FLASH, RAM, REGISTERS = 0, 0x10000000, 0x20000000, 0x40000000
CODE_SIZE, FLASH_SIZE, RAM_SIZE, SECTOR = 512 << 10, 1 << 20, 512 << 10, 4096
NAMES = ["waiting", "received", "send", "clock", "noise", "offset", "size", "erase", "program"]
NAMES += ["left", "top", "width", "height", "show", "light", "wait"]
"""Those of ``tests/player/bare/registers.c``, a word each."""
WAIT = 0.005


def built_image(core: str, drawing: Drawing, baud: int = 115200, port: str = "registers") -> Path:
    """The linked program for a design, -Os as in the table of PLAYER.md; made once for the same sources.
    ``port``: the file of ``tests/player/bare/`` that has the board's functions."""
    words = [sys.executable, "-m", "ziglang", "cc", *CORES[core].target]
    words += [*WARNINGS, "-ffreestanding", "-fno-builtin", "-Os", "-g", "-nostdlib"]
    bare = [BARE / name for name in ("bare.ld", "start.h", "start.c", f"{port}.c")]
    paths = (*sources(), *SOURCES.glob("*.h"), SOURCES / "web" / "memory.c", *bare)
    files = {path.name: path.read_bytes() for path in paths}
    files["hmic_settings.h"] = settings(drawing, None, baud, 0).encode()
    digest = hashlib.sha256(repr((words, sorted(files.items()))).encode()).hexdigest()
    place = Path(gettempdir()) / f"hmic-player-{os.getuid()}"
    place.mkdir(mode=0o700, exist_ok=True)
    made = place / f"{digest[:16]}-{core}.elf"
    if not made.exists():
        with TemporaryDirectory(dir=place) as name:
            folder = Path(name)
            for file, data in files.items():
                (folder / file).write_bytes(data)
            part = folder / "image.elf"
            parts = [str(folder / file) for file in sorted(files) if file.endswith(".c")]
            run([*words, f"-Wl,-T,{folder / 'bare.ld'}", *parts, "-lcompiler_rt", "-o", str(part)])
            part.replace(made)
    return made


def loaded(image: Path) -> bytes:
    """What stands in the code memory: the first segment that an ELF file loads."""
    data = image.read_bytes()
    at = int.from_bytes(data[28:32], "little")
    place, size = (int.from_bytes(data[at + part : at + part + 4], "little") for part in (4, 16))
    return data[place : place + size]


class Board:
    """The core and what stands behind its registers. ``blocks`` counts what was executed, by address
    and bytes, once ``count`` was called."""

    def __init__(self, image: Path, core: str, drawing: Drawing) -> None:
        self.width, self.height = drawing.width, drawing.height
        self.pixel = 2 if drawing.depth == 16 else 3
        self.frame = bytearray(self.width * self.height * self.pixel)
        self.flash = bytearray(b"\xff" * FLASH_SIZE)
        self.incoming, self.outgoing = bytearray(), bytearray()
        self.clock: Callable[[], int] = lambda: int(1000 * time.monotonic()) & 0xFFFFFFFF
        self.light = 0
        self.blocks: Counter[tuple[int, int]] = Counter()
        self.marked: Counter[tuple[int, int]] = Counter()
        self._held = dict.fromkeys(NAMES, 0)
        self._code = loaded(image)
        self._core = CORES[core]
        architecture, mode, model = self._core.machine
        self._machine = unicorn.Uc(architecture, mode)
        self._machine.ctl_set_cpu_model(model)
        self._machine.mem_map(CODE, CODE_SIZE, unicorn.UC_PROT_READ | unicorn.UC_PROT_EXEC)
        self._machine.mem_map(FLASH, FLASH_SIZE, unicorn.UC_PROT_READ)
        self._machine.mem_map(RAM, RAM_SIZE, unicorn.UC_PROT_READ | unicorn.UC_PROT_WRITE)
        self._machine.mmio_map(REGISTERS, 4096, self._read, None, self._write, None)
        self._machine.mem_write(CODE, self._code)
        self._machine.mem_write(FLASH, bytes(self.flash))
        # Memory holds anything at power-up, and the player asks for none to be cleared.
        self._machine.mem_write(RAM, b"\xa5" * RAM_SIZE)
        self._machine.reg_write(self._core.stack, int.from_bytes(self._code[:4], "little"))
        self._at = int.from_bytes(self._code[4:8], "little")
        self._failure: BaseException | None = None

    def keep(self, flash: bytes) -> None:
        """Puts in what the flash held before power-up."""
        self.flash[:] = flash
        self._machine.mem_write(FLASH, flash)

    def turn(self) -> None:
        """Runs until the core sleeps."""
        self._machine.emu_start(self._at | self._core.thumb, 0xFFFFFFFE)
        if self._failure is not None:
            raise self._failure
        # The core stands at the instruction that put it to sleep, which is done.
        self._at = self._machine.reg_read(self._core.counter)
        self._at += self._length(self._at)

    def image(self) -> Image.Image:
        return Image.frombytes("RGB", (self.width, self.height), as_rgb(bytes(self.frame), self.pixel))

    def memory_from(self, address: int) -> bytes:
        """What the working memory holds from an address on."""
        return bytes(self._machine.mem_read(address, RAM + RAM_SIZE - address))

    def count(self, mark: int = -1) -> None:
        """Counts from now on; slower by far. ``marked`` is what was counted as the core last came to
        ``mark``."""

        def block(_machine: object, address: int, size: int, _data: object) -> None:
            if address == mark:
                self.marked = self.blocks.copy()
            self.blocks[address, size] += 1

        self._machine.hook_add(unicorn.UC_HOOK_BLOCK, block)

    def executed(self, blocks: Counter[tuple[int, int]]) -> int:
        """Instructions in so many blocks."""
        return sum(times * self._in_block(*block) for block, times in blocks.items())

    def _in_block(self, at: int, size: int) -> int:
        end, number = at + size, 0
        while at < end:
            at, number = at + self._length(at), number + 1
        return number

    def _length(self, at: int) -> int:
        return self._core.length(int.from_bytes(self._code[at : at + 2], "little"))

    def _read(self, _machine: object, offset: int, _size: int, _data: object) -> int:
        name = NAMES[offset // 4]
        if name == "waiting":
            return len(self.incoming)
        if name == "received":
            return self.incoming.pop(0)
        if name == "clock":
            return self.clock()
        return int.from_bytes(os.urandom(4), "little") if name == "noise" else self._held[name]

    def _write(self, machine: unicorn.Uc, offset: int, _size: int, value: int, _data: object) -> None:
        name = NAMES[offset // 4]
        self._held[name] = value
        try:
            if name == "send":
                self.outgoing.append(value)
            elif name == "wait":
                machine.emu_stop()
            elif name == "light":
                self.light = value
            elif name == "erase":
                assert value % SECTOR == 0, "erased within a sector"
                self._set(value, b"\xff" * SECTOR)
            elif name == "program":
                self._program(machine.mem_read(value, self._held["size"]))
            elif name == "show":
                self._show(machine, value)
        except Exception as failure:  # told once the core has stopped
            self._failure = failure
            machine.emu_stop()

    def _set(self, offset: int, data: bytes) -> None:
        self.flash[offset : offset + len(data)] = data
        self._machine.mem_write(FLASH + offset, data)

    def _program(self, data: bytes) -> None:
        at = self._held["offset"]
        assert at // 256 == (at + len(data) - 1) // 256, "programmed beyond a page"
        old = self.flash[at : at + len(data)]
        self._set(at, bytes(one & other for one, other in zip(old, data, strict=True)))

    def _show(self, machine: unicorn.Uc, address: int) -> None:
        left, top, width, height = (self._held[name] for name in ("left", "top", "width", "height"))
        assert left + width <= self.width and top + height <= self.height, "pushed beyond the panel"
        row = width * self.pixel
        pixels = machine.mem_read(address, row * height)
        for number in range(height):
            to = ((top + number) * self.width + left) * self.pixel
            self.frame[to : to + row] = pixels[number * row : (number + 1) * row]


def serve(board: Board, picture: Path) -> None:
    """Plays on a pseudo terminal, whose path it prints, until SIGTERM or SIGINT."""
    wanted: set[int] = set()
    for number in (signal.SIGUSR1, signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda number, _frame: wanted.add(number))
    line, other = os.openpty()
    # The other end is kept open, so that the line outlives each program on it.
    tty.setraw(other)
    # Whoever reads this may send a signal at once.
    print(os.ttyname(other), flush=True)
    while not wanted & {signal.SIGTERM, signal.SIGINT}:
        board.turn()
        if board.outgoing:
            del board.outgoing[: os.write(line, board.outgoing)]
        if signal.SIGUSR1 in wanted:
            wanted.discard(signal.SIGUSR1)
            part = picture.with_suffix(".part")
            board.image().save(part, "PNG")
            part.replace(picture)
        if select.select([line], [], [], WAIT)[0]:
            board.incoming += os.read(line, 4096)


def main() -> None:
    """The program that the module's text tells of."""
    parser = argparse.ArgumentParser(prog="tests.tools.player_board")
    parser.add_argument("design", type=Path, nargs="?", default=LAYOUTS / "roost")
    parser.add_argument("--core", choices=CORES, default="cortex_m4")
    parser.add_argument("--picture", type=Path, default=Path("board.png"))
    parser.add_argument("--store", type=Path)
    told = parser.parse_args()
    drawing = design_drawing(told.design)
    board = Board(built_image(told.core, drawing), told.core, drawing)
    if told.store and told.store.exists():
        board.keep(told.store.read_bytes())
    try:
        serve(board, told.picture)
    finally:
        if told.store:
            told.store.write_bytes(board.flash)


if __name__ == "__main__":
    main()
