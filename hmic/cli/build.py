"""Compiles a design into one screen pack, the file that a display plays."""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.compiling import compile_or_stop
from hmic.cli.writing import write_whole


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("-o", "--output", type=Path, required=True, help="the pack to write")


def run(arguments: argparse.Namespace) -> int:
    """Writes the pack and prints a table of sizes and of what it asks of the display."""
    from hmic.pack.inspect import account
    from hmic.pack.reader import identity
    from hmic.pack.writer import write

    compiled = compile_or_stop(arguments.design)
    data = write(compiled.arranged.drawing)
    write_whole(arguments.output, data)
    sections: dict[str, int] = {}
    for entry in account(data):
        sections[entry.section] = sections.get(entry.section, 0) + entry.length
    panel = compiled.design.panel
    print(f"{arguments.output}: {len(data)} bytes, identity {identity(data).hex()}")
    for name, size in sections.items():
        print(f"  {name:<14} {size:>8} bytes  {100 * size / len(data):5.1f} %")
    print(f"  {'flash':<14} {len(data):>8} of {panel.flash} bytes ({100 * len(data) / panel.flash:.1f} %)")
    seconds = len(data) * 10 / panel.baud
    print(f"  {'full push':<14} {seconds:>8.1f} s at {panel.baud} Bd, before framing")
    for number, screen in enumerate(compiled.arranged.drawing.screens):
        print(
            f"  screen {number} {screen.name:<12} {len(screen.operations):>4} operations, "
            f"{len(screen.channels):>4} channels, {len(screen.zones):>2} touch zones"
        )
    return 0
