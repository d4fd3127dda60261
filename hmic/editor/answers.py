"""What the language server answers to an editor. Loaded with the server: it needs the editor's library."""

from __future__ import annotations

import asyncio
import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from lsprotocol import types

from hmic.diagnostics import Severity, Span
from hmic.editor.completion import complete, matching
from hmic.editor.context import context_at
from hmic.editor.hover import definition, hover
from hmic.editor.project import View, by_file
from hmic.editor.server import Desk, lines_of, message_of, path_of, to_column, to_units
from hmic.language.tidy import tidy

if TYPE_CHECKING:
    from pygls.lsp.server import LanguageServer

PAUSE = 0.2
"""Seconds without a key before the design is checked again."""
TRIGGERS = (".", " ", '"', ":")
_SEVERITIES = {
    Severity.ERROR: types.DiagnosticSeverity.Error,
    Severity.WARNING: types.DiagnosticSeverity.Warning,
    Severity.NOTE: types.DiagnosticSeverity.Information,
}
_KINDS = {
    "signal": types.CompletionItemKind.Variable,
    "role": types.CompletionItemKind.Color,
    "ramp": types.CompletionItemKind.Color,
    "unit": types.CompletionItemKind.Unit,
    "function": types.CompletionItemKind.Function,
    "key": types.CompletionItemKind.Property,
    "word": types.CompletionItemKind.Keyword,
}


class Answers:
    """One answer for each thing that an editor tells or asks."""

    def __init__(self, server: LanguageServer, desk: Desk) -> None:
        self._server = server
        self._desk = desk

    def register(self) -> None:
        """Has the server ask here."""
        triggers = types.CompletionOptions(trigger_characters=list(TRIGGERS))
        for feature, options, answer in (
            (types.TEXT_DOCUMENT_DID_OPEN, None, self.written),
            (types.TEXT_DOCUMENT_DID_CHANGE, None, self.written),
            (types.TEXT_DOCUMENT_DID_SAVE, None, self.written),
            (types.TEXT_DOCUMENT_DID_CLOSE, None, self.closed),
            (types.TEXT_DOCUMENT_COMPLETION, triggers, self.completion),
            (types.TEXT_DOCUMENT_HOVER, None, self.hover),
            (types.TEXT_DOCUMENT_DEFINITION, None, self.definition),
            (types.TEXT_DOCUMENT_FORMATTING, None, self.formatting),
            (types.TEXT_DOCUMENT_CODE_ACTION, None, self.remedies),
        ):
            # pygls notes things on what it is given, which a method does not take.
            self._server.feature(feature, options)(partial(answer))

    async def written(
        self,
        params: types.DidOpenTextDocumentParams
        | types.DidChangeTextDocumentParams
        | types.DidSaveTextDocumentParams,
    ) -> None:
        """The editor holds a new text of a file."""
        uri = params.text_document.uri
        path = path_of(uri)
        root = self._desk.root_of(path) if path is not None else None
        if path is None or root is None:
            return
        self._desk.texts[path] = self._server.workspace.get_text_document(uri).source
        await self._check(root)

    async def closed(self, params: types.DidCloseTextDocumentParams) -> None:
        """What stands on the disk counts again."""
        path = path_of(params.text_document.uri)
        if path is None or self._desk.texts.pop(path, None) is None:
            return
        if root := self._desk.root_of(path):
            await self._check(root)

    def completion(self, params: types.CompletionParams) -> list[types.CompletionItem]:
        """What may stand there."""
        place = self._place(params)
        if place is None:
            return []
        view, file, line, column = place
        word = context_at(view.texts.get(file, ""), line, column).word
        lines = lines_of(view, file)
        edit = types.Range(_spot(lines, line, column - len(word)), _spot(lines, line, column))
        return [
            types.CompletionItem(
                label=item.text,
                kind=_KINDS.get(item.kind, types.CompletionItemKind.Text),
                detail=item.detail or item.kind,
                sort_text=f"{number:04}",
                text_edit=types.TextEdit(edit, item.text),
            )
            for number, item in enumerate(matching(complete(view, file, line, column), word))
        ]

    def hover(self, params: types.HoverParams) -> types.Hover | None:
        """What is known of the word there."""
        place = self._place(params)
        text = hover(*place) if place is not None else None
        return types.Hover(types.MarkupContent(types.MarkupKind.Markdown, text)) if text else None

    def definition(self, params: types.DefinitionParams) -> types.Location | None:
        """Where the word there is declared."""
        place = self._place(params)
        span = definition(*place) if place is not None else None
        if place is None or span is None:
            return None
        view = place[0]
        return types.Location(_address(view, span.file), _area(span, lines_of(view, span.file)))

    def formatting(self, params: types.DocumentFormattingParams) -> list[types.TextEdit]:
        """The file set in order; nothing while it has mistakes."""
        text = self._server.workspace.get_text_document(params.text_document.uri).source
        result, findings = tidy(text, params.text_document.uri)
        if findings or result == text or not params.text_document.uri.endswith(".layout"):
            return []
        whole = types.Range(types.Position(0, 0), types.Position(text.count("\n") + 1, 0))
        return [types.TextEdit(whole, result)]

    def remedies(self, params: types.CodeActionParams) -> list[types.CodeAction]:
        """The remedies of what was found there that can be applied."""
        path = path_of(params.text_document.uri)
        seen = self._desk.view(path) if path is not None else None
        if seen is None:
            return []
        view, file = seen
        wanted, lines = params.range, lines_of(view, file)
        found = []
        for item in by_file(view.findings).get(file, []):
            area = _area(item.span, lines)
            if item.mend is None or area.end < wanted.start or wanted.end < area.start:
                continue
            changes: dict[str, list[types.TextEdit]] = {}
            for edit in item.mend.edits:
                its_lines = lines_of(view, edit.span.file)
                change = types.TextEdit(_area(edit.span, its_lines), edit.text)
                changes.setdefault(_address(view, edit.span.file), []).append(change)
            found.append(
                types.CodeAction(
                    title=f"{item.code}: {item.mend.says}",
                    kind=types.CodeActionKind.QuickFix,
                    is_preferred=item.mend.unasked,
                    edit=types.WorkspaceEdit(changes=changes),
                )
            )
        return found

    async def _check(self, root: Path) -> None:
        """Checks after a pause in which nothing more was written."""
        turns = self._desk.turns
        turns[root] = turn = turns.get(root, 0) + 1
        await asyncio.sleep(PAUSE)
        if turns[root] != turn:
            return
        view = await asyncio.get_running_loop().run_in_executor(None, self._desk.look, root)
        if turns[root] == turn:
            self._publish(view)

    def _publish(self, view: View) -> None:
        """Tells the findings of each file, also of those that have none any more."""
        found = by_file(view.findings)
        for file in sorted(set(found) | self._desk.told.get(view.root, set())):
            lines = lines_of(view, file)
            diagnostics = [
                types.Diagnostic(
                    range=_area(item.span, lines),
                    message=message_of(item),
                    severity=_SEVERITIES[item.severity],
                    code=item.code,
                    source="hmic",
                )
                for item in found.get(file, [])
            ]
            uri = _address(view, file)
            self._server.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri, diagnostics))
        self._desk.told[view.root] = set(found)

    def _place(
        self, params: types.CompletionParams | types.HoverParams | types.DefinitionParams
    ) -> tuple[View, str, int, int] | None:
        """The design, file, line and column (characters) that are asked about."""
        path = path_of(params.text_document.uri)
        seen = self._desk.view(path) if path is not None else None
        if seen is None:
            return None
        view, file = seen
        lines, position = lines_of(view, file), params.position
        text = lines[position.line] if position.line < len(lines) else ""
        return view, file, position.line, to_column(text, position.character)


def _address(view: View, file: str) -> str:
    """The address of a file; that of a shared part is named from the design's folder."""
    return Path(os.path.normpath(view.root / file)).as_uri()


def _spot(lines: list[str], line: int, column: int) -> types.Position:
    text = lines[line] if line < len(lines) else ""
    return types.Position(line, to_units(text, column))


def _area(span: Span | None, lines: list[str]) -> types.Range:
    if span is None:
        return types.Range(types.Position(0, 0), types.Position(0, 0))
    start = _spot(lines, span.line - 1, span.column - 1)
    return types.Range(start, _spot(lines, span.end_line - 1, span.end_column - 1))
