"""The language server over standard input and output, as an editor speaks to it."""

from __future__ import annotations

import asyncio
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("pygls")

from lsprotocol import types
from pygls.lsp.client import LanguageClient

from hmic.language.tidy import tidy

ROOT = Path(__file__).parents[2]


async def session(folder: Path) -> dict[str, Any]:
    """Opens a file, breaks it, asks about it, and closes; gives what the server said."""
    client = LanguageClient("test", "1")
    told: asyncio.Queue[types.PublishDiagnosticsParams] = asyncio.Queue()

    @client.feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def diagnostics(params: types.PublishDiagnosticsParams) -> None:
        told.put_nowait(params)

    async def about(name: str) -> types.PublishDiagnosticsParams:
        while True:
            params = await asyncio.wait_for(told.get(), 20)
            if params.uri.endswith(name):
                return params

    await client.start_io(sys.executable, "-m", "hmic", "editor", cwd=str(ROOT))
    said: dict[str, Any] = {}
    await client.initialize_async(
        types.InitializeParams(capabilities=types.ClientCapabilities(), root_uri=folder.as_uri())
    )
    client.initialized(types.InitializedParams())
    path = folder / "drive.layout"
    uri = path.as_uri()
    text = path.read_text(encoding="utf-8").replace("reading vehicle.speed", "reading vehicle.sped")
    client.text_document_did_open(
        types.DidOpenTextDocumentParams(types.TextDocumentItem(uri, "hmic", 1, text))
    )
    said["wrong"] = await about("drive.layout")
    lines = text.split("\n")
    line = next(at for at, row in enumerate(lines) if "vehicle.sped" in row)
    place = types.Position(line, lines[line].index("vehicle.sped") + len("vehicle.sp"))
    document = types.TextDocumentIdentifier(uri)
    said["completion"] = await client.text_document_completion_async(types.CompletionParams(document, place))
    title = types.Position(line, lines[line].index("arcmin"))
    said["hover"] = await client.text_document_hover_async(types.HoverParams(document, title))
    charge = next(at for at, row in enumerate(lines) if "pack.charge" in row)
    signal = types.Position(charge, lines[charge].index("pack.charge") + 2)
    said["definition"] = await client.text_document_definition_async(types.DefinitionParams(document, signal))
    said["formatting"] = await client.text_document_formatting_async(
        types.DocumentFormattingParams(document, types.FormattingOptions(4, True))
    )
    change = types.TextDocumentContentChangeWholeDocument(text.replace("vehicle.sped", "vehicle.speed"))
    client.text_document_did_change(
        types.DidChangeTextDocumentParams(types.VersionedTextDocumentIdentifier(2, uri), [change])
    )
    said["mended"] = await about("drive.layout")
    red = text.replace("vehicle.sped", "vehicle.speed").replace(
        'as "0 km/h",', 'as "0 km/h", colour danger,', 1
    )
    client.text_document_did_change(
        types.DidChangeTextDocumentParams(
            types.VersionedTextDocumentIdentifier(3, uri),
            [types.TextDocumentContentChangeWholeDocument(red)],
        )
    )
    found = (await about("drive.layout")).diagnostics
    (warning,) = [each for each in found if each.code == "C448"]
    wanted = types.CodeActionParams(document, warning.range, types.CodeActionContext(found))
    said["remedies"] = await client.text_document_code_action_async(wanted)
    said["red"] = red.split("\n")
    await client.shutdown_async(None)
    client.exit(None)
    await client.stop()
    (edit,) = said["formatting"] or [None]
    said["tidied"] = edit.new_text if edit is not None else text
    said["text"] = text
    return said


def test_an_editor_session(tmp_path: Path) -> None:
    folder = tmp_path / "van é"
    shutil.copytree(ROOT / "layouts" / "dunlin", folder, ignore=shutil.ignore_patterns("logs"))
    said = asyncio.run(asyncio.wait_for(session(folder), 60))
    errors = [item for item in said["wrong"].diagnostics if item.severity is types.DiagnosticSeverity.Error]
    assert [item.code for item in errors] == ["M201"]
    assert "did you mean 'vehicle.speed'?" in errors[0].message
    assert [item.label for item in said["completion"]] == ["vehicle.speed"]
    assert "arcmin from 700 mm" in said["hover"].contents.value
    assert said["definition"].uri.endswith("signals.yaml")
    assert said["tidied"] == tidy(said["text"], "drive.layout")[0]
    assert "M201" not in {item.code for item in said["mended"].diagnostics}
    (remedy,) = [each for each in said["remedies"] if each.title.startswith("C448")]
    assert remedy.title == "C448: write colour ink" and remedy.is_preferred
    ((edit,),) = remedy.edit.changes.values()
    line = said["red"][edit.range.start.line]
    assert line[edit.range.start.character : edit.range.end.character] == "colour danger"
    assert edit.new_text == "colour ink"
    assert not (folder / "drive.layout").read_text(encoding="utf-8").count("vehicle.sped ")
