"""The language server: a thin layer of pygls over the pure functions of this room.

Places in the protocol count from 0, columns in UTF-16 units; here they are characters.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlparse

from hmic.diagnostics import Finding, Severity, Span, held_against
from hmic.editor.completion import complete, matching
from hmic.editor.context import context_at
from hmic.editor.hover import definition, hover
from hmic.editor.project import Examine, View, by_file, look, root_of
from hmic.language.tidy import tidy
from hmic.model.files import LARGEST
from hmic.plain_files import read_plain

PAUSE = 0.2
"""Seconds without a key before the design is checked again."""


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
        source = f" ({finding.source})" if finding.source else ""
        lines.append(f"measured {held}{source}")
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

    def open_texts(self, root: Path) -> Mapping[str, str]:
        """The texts of a design that the editor holds, by file name."""
        return {
            path.relative_to(root).as_posix(): text
            for path, text in list(self.texts.items())  # the editor may open one meanwhile
            if root_of(path) == root
        }

    def look(self, root: Path) -> View:
        """The design anew."""
        view = look(root, self.open_texts(root), self.views.get(root), self._examine)
        self.views[root] = view
        return view

    def view(self, path: Path) -> tuple[View, str] | None:
        """The design of a file as last checked, with the texts of now, and the file's name in it."""
        root = root_of(path)
        if root is None:
            return None
        view = self.views.get(root) or self.look(root)
        texts = {**view.texts, **self.open_texts(root)}
        return View(root, view.design, texts, view.findings), path.relative_to(root).as_posix()


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
    from lsprotocol import types
    from pygls.lsp.server import LanguageServer

    server = LanguageServer("hmic", version)
    desk = Desk(examine)
    severities = {
        Severity.ERROR: types.DiagnosticSeverity.Error,
        Severity.WARNING: types.DiagnosticSeverity.Warning,
        Severity.NOTE: types.DiagnosticSeverity.Information,
    }
    kinds = {
        "signal": types.CompletionItemKind.Variable,
        "role": types.CompletionItemKind.Color,
        "ramp": types.CompletionItemKind.Color,
        "unit": types.CompletionItemKind.Unit,
        "function": types.CompletionItemKind.Function,
        "key": types.CompletionItemKind.Property,
        "word": types.CompletionItemKind.Keyword,
    }

    def spot(lines: list[str], line: int, column: int) -> types.Position:
        text = lines[line] if line < len(lines) else ""
        return types.Position(line, to_units(text, column))

    def area(span: Span | None, lines: list[str]) -> types.Range:
        if span is None:
            return types.Range(types.Position(0, 0), types.Position(0, 0))
        start = spot(lines, span.line - 1, span.column - 1)
        return types.Range(start, spot(lines, span.end_line - 1, span.end_column - 1))

    def publish(view: View) -> None:
        found = by_file(view.findings)
        for file in sorted(set(found) | desk.told.get(view.root, set())):
            lines = lines_of(view, file)
            diagnostics = [
                types.Diagnostic(
                    range=area(item.span, lines),
                    message=message_of(item),
                    severity=severities[item.severity],
                    code=item.code,
                    source="hmic",
                )
                for item in found.get(file, [])
            ]
            uri = (view.root / file).as_uri()
            server.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri, diagnostics))
        desk.told[view.root] = set(found)

    async def checked(root: Path) -> None:
        """Checks after a pause in which nothing more was written."""
        desk.turns[root] = turn = desk.turns.get(root, 0) + 1
        await asyncio.sleep(PAUSE)
        if desk.turns[root] != turn:
            return
        view = await asyncio.get_running_loop().run_in_executor(None, desk.look, root)
        if desk.turns[root] == turn:
            publish(view)

    async def changed(uri: str) -> None:
        path = path_of(uri)
        root = root_of(path) if path is not None else None
        if path is None or root is None:
            return
        desk.texts[path] = server.workspace.get_text_document(uri).source
        await checked(root)

    def asked(uri: str, position: types.Position) -> tuple[View, str, int, int] | None:
        path = path_of(uri)
        seen = desk.view(path) if path is not None else None
        if seen is None:
            return None
        view, file = seen
        lines = lines_of(view, file)
        text = lines[position.line] if position.line < len(lines) else ""
        return view, file, position.line, to_column(text, position.character)

    @server.feature(types.TEXT_DOCUMENT_DID_OPEN)
    async def did_open(params: types.DidOpenTextDocumentParams) -> None:
        await changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    async def did_change(params: types.DidChangeTextDocumentParams) -> None:
        await changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_SAVE)
    async def did_save(params: types.DidSaveTextDocumentParams) -> None:
        await changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    async def did_close(params: types.DidCloseTextDocumentParams) -> None:
        path = path_of(params.text_document.uri)
        if path is not None and desk.texts.pop(path, None) is not None and (root := root_of(path)):
            await checked(root)

    @server.feature(
        types.TEXT_DOCUMENT_COMPLETION, types.CompletionOptions(trigger_characters=[".", " ", '"', ":"])
    )
    def completion(params: types.CompletionParams) -> list[types.CompletionItem]:
        place = asked(params.text_document.uri, params.position)
        if place is None:
            return []
        view, file, line, column = place
        word = context_at(view.texts.get(file, ""), line, column).word
        start = column - len(word)
        lines = lines_of(view, file)
        edit = types.Range(spot(lines, line, start), spot(lines, line, column))
        return [
            types.CompletionItem(
                label=item.text,
                kind=kinds.get(item.kind, types.CompletionItemKind.Text),
                detail=item.detail or item.kind,
                sort_text=f"{number:04}",
                text_edit=types.TextEdit(edit, item.text),
            )
            for number, item in enumerate(matching(complete(view, file, line, column), word))
        ]

    @server.feature(types.TEXT_DOCUMENT_HOVER)
    def told(params: types.HoverParams) -> types.Hover | None:
        place = asked(params.text_document.uri, params.position)
        text = hover(*place) if place is not None else None
        return types.Hover(types.MarkupContent(types.MarkupKind.Markdown, text)) if text else None

    @server.feature(types.TEXT_DOCUMENT_DEFINITION)
    def defined(params: types.DefinitionParams) -> types.Location | None:
        place = asked(params.text_document.uri, params.position)
        span = definition(*place) if place is not None else None
        if place is None or span is None:
            return None
        view = place[0]
        return types.Location((view.root / span.file).as_uri(), area(span, lines_of(view, span.file)))

    @server.feature(types.TEXT_DOCUMENT_FORMATTING)
    def formatting(params: types.DocumentFormattingParams) -> list[types.TextEdit]:
        text = server.workspace.get_text_document(params.text_document.uri).source
        result, findings = tidy(text, params.text_document.uri)
        if findings or result == text or not params.text_document.uri.endswith(".layout"):
            return []
        whole = types.Range(types.Position(0, 0), types.Position(text.count("\n") + 1, 0))
        return [types.TextEdit(whole, result)]

    return server
