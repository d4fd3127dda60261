"""Layout files read ahead, while the rest of the program is still being loaded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from hmic.beside import beside
from hmic.diagnostics import Finding
from hmic.language.parser import parse
from hmic.language.syntax import Layout
from hmic.model.files import Folder

Parsed = Mapping[tuple[str, str], tuple[Layout, list[Finding]]]
"""What ``parse`` finds for a text and the name of its file."""


def read_ahead(folder: Path) -> Callable[[], Parsed]:
    """Begins to read a design's layout files; gives what waits for them. What is wrong with a file is
    told by whoever loads the design."""
    return beside(lambda: _parsed(Folder(folder)))


def _parsed(opened: Folder) -> Parsed:
    texts = ((name, opened.text(name)) for name in opened.names() if Path(name).suffix == ".layout")
    return {(text, name): parse(text, name) for name, text in texts if text is not None}
