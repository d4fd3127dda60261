"""The player's sources as a folder of their own, made for one design or for any."""

from __future__ import annotations

from pathlib import Path

from hmic.pack.header import header
from hmic.pack.records import HEADER
from hmic.paint.operations import Drawing

SOURCES = Path(__file__).parent
MODULE = SOURCES / "player.wasm"
"""The same sources as a WebAssembly module."""
ANY_CHANNELS = 1024
BAND_LINES, CHANNEL_BYTES = 16, 6
"""Lines of the panel that are painted at a time; bytes of a channel, three values of 16 bits."""
STATE, STACK = 3100, 1024
"""Bytes of ``hmic_display`` on a 32-bit core (``tests/player/test_player_written.py`` holds it), of stack."""

_MAKEFILE = """\
# make: a display on this computer. It plays a pack on a pseudo terminal; `kill -USR1` saves a picture.
CC ?= cc
CFLAGS ?= -O2
FLAGS = -std=c99 -Wall -Wextra -Isrc

player: host/main.c $(wildcard src/*.c src/*.h)
\t$(CC) $(FLAGS) $(CFLAGS) $(LDFLAGS) host/main.c $(wildcard src/*.c) -o $@

board.o: board/board.c $(wildcard src/*.h)
\t$(CC) $(FLAGS) $(CFLAGS) -c $< -o $@

.PHONY: clean
clean:
\trm -f player board.o
"""

_CMAKE = """\
cmake_minimum_required(VERSION 3.13)
project(hmic_player C)
file(GLOB sources CONFIGURE_DEPENDS "${CMAKE_CURRENT_SOURCE_DIR}/src/*.c")
add_library(hmic_player STATIC ${sources})
target_include_directories(hmic_player PUBLIC src)
set_property(TARGET hmic_player PROPERTY C_STANDARD 99)
if(UNIX)
  add_executable(player host/main.c)
  target_link_libraries(player hmic_player)
endif()
"""

_LIBRARY = """\
name=hmic_player
version={version}
author=hmic
maintainer=hmic
sentence=Shows screens that hmic compiled, fed by a serial line.
paragraph=No heap, no recursion, no globals. See PORTING.md.
category=Display
url=https://example.invalid/hmic
architectures=*
includes=hmic_display.h
"""


def files(
    drawing: Drawing | None, pack: bytes | None, baud: int, version: str, *, turned: int = 0
) -> dict[str, bytes]:
    """Paths in the folder and what they hold; ``pack`` becomes part of the program where it is given.
    ``version`` is that of hmic, ``turned`` how the panel is mounted."""
    made = {f"src/{path.name}": path.read_bytes() for path in sorted(SOURCES.glob("hmic_*.[ch]"))}
    made["host/main.c"] = (SOURCES / "host" / "main.c").read_bytes()
    made["board/board.c"] = (SOURCES / "board" / "board.c").read_bytes()
    made["PORTING.md"] = (SOURCES / "PORTING.md").read_bytes()
    made["Makefile"] = _MAKEFILE.encode()
    made["CMakeLists.txt"] = _CMAKE.encode()
    made["library.properties"] = _LIBRARY.format(version=version).encode()
    if drawing is not None:
        made["src/hmic_settings.h"] = settings(drawing, pack, baud, turned).encode()
    if pack is not None:
        made["src/hmic_design_pack.c"] = pack_source(pack).encode()
    return made


def memory(drawing: Drawing) -> int:
    """Bytes of working memory that the player takes for a drawing, bands of 16 lines and all, but for the
    stack (at most 1 KiB) and what the port needs."""
    return STATE + CHANNEL_BYTES * max(1, len(drawing.channels)) + band_bytes(drawing)


def band_bytes(drawing: Drawing) -> int:
    """Bytes of the pixels that are painted at a time."""
    return drawing.width * BAND_LINES * (2 if drawing.depth == 16 else 3)


_DECLARED = """
#include <stdint.h>
extern const uint8_t hmic_design_pack[];
extern const uint32_t hmic_design_pack_size;
"""


def settings(drawing: Drawing, pack: bytes | None, baud: int, turned: int) -> str:
    """``hmic_settings.h`` for a design."""
    kinds = HEADER.unpack(header(drawing, 0))[21]
    room = f"\n   {len(pack)} bytes of flash for its pack, twice, and" if pack is not None else ""
    return f"""\
/* What the player is built for: one design. It takes{room}
   {memory(drawing)} bytes of working memory with bands of {BAND_LINES} lines, beside the stack. */
#ifndef HMIC_SETTINGS_H
#define HMIC_SETTINGS_H

/* Operation kinds that the design uses, bit k for kind k of FORMAT.md. */
#define HMIC_KINDS 0x{kinds:04X}u

#define HMIC_WIDTH {drawing.width}
#define HMIC_HEIGHT {drawing.height}
#define HMIC_DEPTH {drawing.depth}
#define HMIC_MOST_CHANNELS {max(1, len(drawing.channels))}
#define HMIC_BAUD {baud}
/* Degrees clockwise by which the panel is mounted turned; hmic_turned.h helps a port with it. */
#define HMIC_TURNED {turned}

/* 1: the pack is part of the program, in hmic_design_pack.c. */
#define HMIC_WITH_PACK {int(pack is not None)}
{_DECLARED if pack is not None else ""}
#endif
"""


def pack_source(pack: bytes) -> str:
    """A pack as a C array."""
    rows = (
        "    " + ", ".join(f"0x{byte:02X}" for byte in pack[at : at + 16]) + ","
        for at in range(0, len(pack), 16)
    )
    body = "\n".join(rows)
    return f"""\
#include "hmic_settings.h"

const uint32_t hmic_design_pack_size = {len(pack)};
const uint8_t hmic_design_pack[] = {{
{body}
}};
"""
