"""Sets layout files in order: four spaces a level, columns aligned, long sentences broken.

What a file means, its comments and its own line breaks stay. A file with mistakes in its sentences is
left as it is, and they are shown.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.findings import show
from hmic.cli.writing import read_whole, write_whole
from hmic.diagnostics import DesignError, error
from hmic.plain_files import is_plain


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("path", type=Path, metavar="DESIGN|FILE", help="folder, or one .layout file")
    parser.add_argument("--check", action="store_true", help="write nothing; exit 1 if a file would change")


def run(arguments: argparse.Namespace) -> int:
    """Names each file that changed; 1 with mistakes, or with ``--check`` when a file would change."""
    from hmic.language.tidy import tidy

    changed = 0
    failed = False
    for path in _files(arguments.path):
        text = _text(path)
        result, findings = tidy(text, str(path))
        if findings:
            failed = True
            show(findings, {str(path): text})
        elif result != text:
            changed += 1
            print(f"{path}: would change" if arguments.check else f"{path}: tidied")
            if not arguments.check:
                write_whole(path, result.encode())
    if not changed and not failed:
        print(f"{arguments.path}: in order")
    return 1 if failed or (arguments.check and changed) else 0


def _files(path: Path) -> list[Path]:
    if path.suffix == ".layout":
        return [path]
    try:
        found = sorted(item for item in path.iterdir() if item.suffix == ".layout" and is_plain(item))
    except OSError:
        remedy = "give a design's folder or a file that ends in .layout"
        raise DesignError([error("U950", f"'{path}' is no layout file", None, remedy)]) from None
    if not found:
        remedy = "give the folder with design.yaml"
        raise DesignError([error("U950", f"there is no layout file in '{path}'", None, remedy)])
    return found


def _text(path: Path) -> str:
    data = read_whole(path, "the layout file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        remedy = "save the file as UTF-8"
        raise DesignError([error("U951", f"'{path}' is not UTF-8 text", None, remedy)]) from None
