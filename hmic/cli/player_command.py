"""Writes the display side in C, to be compiled for a board of your own or for this computer."""

from __future__ import annotations

import argparse
from pathlib import Path

EPILOG = """\
What is written compiles as it is: `make -C DIR` gives a display on this computer, which prints its port and
saves player.png on SIGUSR1. For a board, fill in board/board.c. Real boards were not tried.
"""

BAUD = 115200


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write to")
    design = parser.add_mutually_exclusive_group()
    design.add_argument(
        "--for",
        dest="design",
        type=Path,
        metavar="DESIGN",
        help="a folder with design.yaml: the panel and what its screens need",
    )
    design.add_argument(
        "--with-pack",
        type=Path,
        metavar="DESIGN",
        help="the same, and its pack becomes part of the program, as a C array",
    )


def run(arguments: argparse.Namespace) -> int:
    """Writes the folder and says what it takes."""
    from hmic import __version__
    from hmic.cli.writing import write_whole
    from hmic.player.written import files, memory

    drawing, pack, baud, turned = None, None, BAUD, 0
    folder = arguments.design or arguments.with_pack
    if folder is not None:
        from hmic.cli.designs import compile_or_stop

        compiled = compile_or_stop(folder)
        drawing, baud = compiled.arranged.drawing, compiled.design.panel.baud
        turned = compiled.design.panel.turned
        pack = compiled.pack if arguments.with_pack else None
    made = files(drawing, pack, baud, __version__, turned=turned)
    for name, data in made.items():
        write_whole(arguments.out / name, data)
    out = arguments.out
    print(f"{out}: {len(made)} files; `make -C {out}` compiles a display for this computer")
    if drawing is not None:
        print(f"  working memory {memory(drawing)} bytes beside the stack, in bands of 16 lines")
    return 0
