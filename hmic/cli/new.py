"""Writes a small design to start from: it checks, previews and runs as it is."""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.writing import write_whole
from hmic.diagnostics import DesignError, error


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("directory", type=Path, metavar="DIR", help="folder to make; it must not exist yet")


def run(arguments: argparse.Namespace) -> int:
    """Writes the files and says what to do next."""
    from hmic.cli import starter

    folder: Path = arguments.directory
    try:
        taken = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except OSError as fault:
        message, remedy = f"cannot write {folder}: {fault.strerror}", "choose a place you may write to"
        raise DesignError([error("U910", message, None, remedy)]) from None
    if taken:
        message = f"{folder} exists already, and nothing of it is overwritten"
        raise DesignError([error("U940", message, None, "choose another name")])
    for name, text in starter.FILES.items():
        write_whole(folder / name, text.encode())
        print(folder / name)
    print(f"\nNext: hmic check {folder}\n      hmic preview {folder} --out pictures")
    return 0
