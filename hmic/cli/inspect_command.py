"""Shows what a screen pack holds: every byte belongs to one named thing."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from hmic.cli.writing import read_pack


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("file", type=Path, help="a screen pack")
    parser.add_argument("--bytes", action="store_true", help="also every piece with its place")
    parser.add_argument("--json", action="store_true", help="everything as JSON on standard output")


def run(arguments: argparse.Namespace) -> int:
    """Prints the sections and what stands in them."""
    from hmic.pack.inspect import account, totals
    from hmic.pack.records import identity

    data, drawing = read_pack(arguments.file)
    entries = account(data, drawing)
    if arguments.json:
        record = {
            "size": len(data),
            "identity": identity(data).hex(),
            "panel": {"width": drawing.width, "height": drawing.height, "depth": drawing.depth},
            "baud": drawing.baud,
            "themes": [theme.name for theme in drawing.themes],
            "channels": len(drawing.channels),
            "screens": [
                {
                    "name": screen.name,
                    "operations": len(screen.operations),
                    "channels": len(screen.channels),
                    "zones": len(screen.zones),
                }
                for screen in drawing.screens
            ],
            "bytes": [
                {
                    "offset": entry.offset,
                    "length": entry.length,
                    "section": entry.section,
                    "what": entry.what,
                }
                for entry in entries
            ],
        }
        print(json.dumps(record, indent=1, ensure_ascii=False))
        return 0
    print(f"{arguments.file}: {len(data)} bytes, identity {identity(data).hex()}")
    rate = f", for a line of {drawing.baud} Bd" if drawing.baud else ""
    print(f"panel {drawing.width} x {drawing.height}, {drawing.depth} bits a pixel{rate}")
    for section, count, size in totals(entries):
        print(f"  {section:<14} {count:>6} pieces {size:>8} bytes  {100 * size / len(data):5.1f} %")
    for screen in drawing.screens:
        print(
            f"  screen {screen.name:<12} {len(screen.operations):>4} operations, "
            f"{len(screen.channels):>4} channels, {len(screen.zones):>2} touch zones"
        )
    if not arguments.bytes:
        print("every byte is accounted for; --bytes shows each piece")
        return 0
    for entry in entries:
        print(f"{entry.offset:>8} {entry.length:>7}  {entry.section:<12} {entry.what}")
    return 0
