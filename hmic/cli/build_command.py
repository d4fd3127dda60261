"""Compiles a design into one screen pack, the file that a display plays."""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.designs import compile_or_stop
from hmic.cli.writing import write_result


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("-o", "--output", type=Path, required=True, help="the pack to write")


def run(arguments: argparse.Namespace) -> int:
    """Writes the pack and prints a table of sizes, of delays, and of what it asks of the display."""
    from hmic.check.budget import budget
    from hmic.pack.inspect import section_sizes
    from hmic.pack.records import identity

    compiled = compile_or_stop(arguments.design)
    design, arranged = compiled.design, compiled.arranged
    data = compiled.pack
    sections = section_sizes(data)
    write_result(arguments.output, data)
    print(f"{arguments.output}: {len(data)} bytes, identity {identity(data).hex()}")
    for name, size in sections.items():
        print(f"  {name:<16}{size:>8} bytes  {100 * size / len(data):5.1f} %")
    panel, found = design.panel, budget(design, arranged, len(data))
    print("\nof the display")
    for name, need, there in (
        ("flash", found.flash, panel.flash),
        ("working memory", found.memory, panel.memory),
    ):
        print(f"  {name:<16}{need:>8} of {there} bytes ({100 * need / there:.0f} %)")
    seconds = f"{found.push_seconds:.1f}"
    print(f"  {'full push':<16}{seconds:>8} s at {panel.baud} Bd (squeezed, and after small edits, less)")
    for screen, budgeted in zip(arranged.drawing.screens, found.screens, strict=True):
        print(
            f"\nscreen {screen.name}: {len(screen.operations)} operations, {len(screen.channels)} channels, "
            f"{len(screen.zones)} touch zones"
        )
        print(
            f"  {'line':<34}{100 * budgeted.load:>6.1f} % when all moves, each "
            f"{1000 * budgeted.batch:.0f} ms; longest update {budgeted.longest} bytes; "
            f"all anew in {budgeted.anew:.2f} s"
        )
        for delay in budgeted.delays:
            late, pushed = _told(delay.milliseconds), _told(delay.pushed)
            print(f"  {delay.what:<34}{late:>8} at most, limit {delay.limit:.0f} ms; during a push {pushed}")
    return 0


def _told(milliseconds: float | None) -> str:
    return "no bound" if milliseconds is None else f"{milliseconds:.0f} ms"
