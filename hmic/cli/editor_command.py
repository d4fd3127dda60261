"""Speaks the language server protocol on standard input and output, for editors: findings while you
type, completion, hover, go to definition, and tidying.

Tell your editor to start `hmic editor` for files that end in .layout, and for the .yaml files of a design.
It needs the extra: pip install "hmic[editor]".
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from hmic import __version__
from hmic.diagnostics import DesignError, Finding, error, sorted_findings
from hmic.model.design import Design


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command: none but what editors add by habit."""
    parser.add_argument("--stdio", action="store_true", help="the only way there is; editors may say it")


def run(arguments: argparse.Namespace) -> int:
    """Serves until the editor ends it."""
    from hmic.editor.server import make_server

    try:
        server = make_server(examined, __version__)
    except ImportError:
        remedy = 'install it with: pip install "hmic[editor]"'
        raise DesignError(
            [error("U961", "the editor's library pygls is not installed", None, remedy)]
        ) from None
    server.start_io()
    return 0


def examined(root: Path, unsaved: Mapping[str, str]) -> tuple[Design | None, list[Finding]]:
    """A design with texts that are not saved yet, and what is found in it."""
    from hmic.compile.compiling import examine

    design, _, findings = examine(root, unsaved=unsaved)
    return design, sorted_findings(findings)
