"""The language server: what an editor holds open, and its answers over the pure functions of this room.

Places in the protocol count from 0, columns in UTF-16 units; here they are characters.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlparse

from hmic.diagnostics import Finding, by_what, held_against
from hmic.editor.project import Examine, View, look, name_in, root_of
from hmic.model.files import LARGEST
from hmic.plain_files import read_plain


def path_of(uri: str) -> Path | None:
    """The file of a ``file:`` address, None for another."""
    parts = urlparse(uri)
    return Path(unquote(parts.path)) if parts.scheme == "file" else None


def to_units(text: str, column: int) -> int:
    """A column in characters as one in UTF-16 units."""
    return len(text[:column].encode("utf-16-le", "surrogatepass")) // 2


def to_column(text: str, units: int) -> int:
    """A column in UTF-16 units as one in characters."""
    return len(text.encode("utf-16-le", "surrogatepass")[: units * 2].decode("utf-16-le", "ignore"))


def message_of(finding: Finding) -> str:
    """A finding as one text: what is wrong, what was measured, what to do."""
    lines = [finding.message]
    if held := held_against(finding):
        by = by_what(finding)
        source = f" ({by})" if by else ""
        lines.append(f"measured {held}{source}")
    if finding.assumed:
        lines.append(f"assumed: {finding.assumed}")
    if finding.remedy:
        lines.append(f"remedy: {finding.remedy}")
    return "\n".join(lines)


class Desk:
    """The open texts and what is known of their designs."""

    def __init__(self, examine: Examine) -> None:
        self._examine = examine
        self.texts: dict[Path, str] = {}
        self.views: dict[Path, View] = {}
        self.told: dict[Path, set[str]] = {}
        self.turns: dict[Path, int] = {}

    def root_of(self, path: Path) -> Path | None:
        """The design that a file belongs to."""
        return root_of(path, list(self.views))

    def open_texts(self, root: Path) -> Mapping[str, str]:
        """The texts of a design that the editor holds, by file name."""
        return {
            name_in(root, path): text
            for path, text in list(self.texts.items())  # the editor may open one meanwhile
            if self.root_of(path) == root
        }

    def look(self, root: Path) -> View:
        """The design anew."""
        view = look(root, self.open_texts(root), self.views.get(root), self._examine)
        self.views[root] = view
        return view

    def view(self, path: Path) -> tuple[View, str] | None:
        """The design of a file as last checked, with the texts of now, and the file's name in it."""
        root = self.root_of(path)
        if root is None:
            return None
        view = self.views.get(root) or self.look(root)
        texts = {**view.texts, **self.open_texts(root)}
        return View(root, view.design, texts, view.findings), name_in(root, path)


def lines_of(view: View, file: str) -> list[str]:
    """The lines of a file of the design, also of one that is no text of it (the DBC)."""
    text = view.texts.get(file)
    if text is None:
        try:
            text = read_plain(view.root / file, LARGEST).decode("utf-8", "replace")
        except OSError:
            text = ""
    return text.split("\n")


def make_server(examine: Examine, version: str) -> Any:
    """The server, ready to start. Raises ``ImportError`` without pygls."""
    from pygls.lsp.server import LanguageServer

    from hmic.editor.answers import Answers

    server = LanguageServer("hmic", version)
    Answers(server, Desk(examine)).register()
    return server
