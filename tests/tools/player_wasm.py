"""``python -m tests.tools.player_wasm`` builds hmic/player/player.wasm again."""

from __future__ import annotations

import sys
from pathlib import Path

from hmic.player.written import MODULE
from tests.tools.player import SOURCES, WARNINGS, run, sources

STACK = 16384


def build(path: Path) -> None:
    """Builds the module. The same sources and compiler give the same bytes anywhere."""
    link = [f"-Wl,-z,stack-size={STACK}", "-Wl,--no-entry", "-Wl,--import-memory"]
    run(
        [
            *(sys.executable, "-m", "ziglang", "cc", "-target", "wasm32-freestanding", "-mcpu=mvp"),
            *(*WARNINGS, "-Os", "-ffreestanding", "-fno-builtin", "-nostdlib", "-g0", f"-I{SOURCES}"),
            *(*link, "-Wl,--export=__heap_base", "-Wl,--strip-all"),
            *map(str, (*sources(), *sorted((SOURCES / "web").glob("*.c")))),
            *("-o", str(path)),
        ]
    )


if __name__ == "__main__":
    build(MODULE)
    print(f"{MODULE}: {MODULE.stat().st_size} bytes")
