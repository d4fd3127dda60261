"""What was found in a design, remembered while neither the design nor hmic changes."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import astuple, fields
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

from hmic import __version__, places
from hmic.cache import Kind, keep, kept
from hmic.diagnostics import Basis, Edit, Finding, Mend, Severity, Span, Unjudged
from hmic.model.files import LARGEST
from hmic.plain_files import read_plain

_FINDINGS = Kind("findings", files=32, largest=500_000)
# Files of a design that findings can depend on; logs are not among them.
SUFFIXES = frozenset((".yaml", ".layout", ".dbc", ".kcd", ".arxml", ".sym", ".png", ".svg", ".ttf", ".otf"))
MOST_FILES = 400
MOST_ENTRIES = 10_000
"""Files and folders that are gone through: a home folder named by mistake has more."""


def stamp(folder: Path, language: str | None) -> bytes | None:
    """The hash of everything that the findings follow from: the design's files whole, hmic's own by their
    times and sizes. None when that cannot be told, or is too much for a folder of one design."""
    digest = sha256()

    def add(*pieces: bytes) -> None:
        for piece in pieces:
            digest.update(len(piece).to_bytes(8, "big") + piece)

    add(__version__.encode(), (language or "").encode())
    try:
        files = _files(folder)
        if not files:
            return None
        for path in files:
            add(os.path.relpath(path, folder).encode(), read_plain(path, LARGEST))
        for path in sorted([*Path(__file__).parents[1].rglob("*.*"), *places.fonts_folder().iterdir()]):
            if path.suffix != ".pyc":
                facts = path.stat()
                add(f"{path}{facts.st_mtime_ns}{facts.st_size}".encode())
        add(_libraries())
    except OSError:
        return None
    return digest.digest()


def _files(folder: Path) -> list[Path]:
    """The files of a design and its shared parts; none where more stands in the folders than in those of a
    design."""
    found: set[Path] = set()
    entries = (path for place in folders_of(folder) for path in place.rglob("*"))
    for count, path in enumerate(entries):
        if count == MOST_ENTRIES or len(found) > MOST_FILES:
            return []
        if path.suffix.lower() in SUFFIXES:
            found.add(path)
    return sorted(found)


def folders_of(folder: Path) -> list[Path]:
    """The folders whose files a design can depend on: its own and those of its shared parts. Raises OSError
    where it has no design.yaml."""
    # Most designs have no parts, and reading YAML takes as long as all else of a remembered check.
    if b"uses" not in read_plain(folder / "design.yaml", LARGEST):
        return [folder]
    from hmic.model.shared_parts import parts_of

    return [folder, *(folder / part.folder for part in parts_of(folder))]


class Recalled(NamedTuple):
    """What was found, and what was left to a person."""

    findings: tuple[Finding, ...]
    unjudged: tuple[Unjudged, ...]


def recall(stamped: bytes | None) -> Recalled | None:
    """What is kept for a stamp, or None."""
    record = kept(_FINDINGS, stamped) if stamped is not None else None
    try:
        if not isinstance(record, dict):
            return None
        findings = tuple(_finding(each) for each in record["findings"])
        return Recalled(findings, tuple(Unjudged(each[0], tuple(each[1])) for each in record["unjudged"]))
    except (IndexError, KeyError, TypeError, ValueError):
        return None


def remember(stamped: bytes | None, findings: Sequence[Finding], unjudged: Sequence[Unjudged] = ()) -> None:
    """Keeps findings for a stamp, with what was left to a person."""
    if stamped is not None:
        records = [_record(finding) for finding in findings]
        keep(_FINDINGS, stamped, {"findings": records, "unjudged": list(unjudged)})


def _libraries() -> bytes:
    """Which copies of the libraries that findings can depend on are installed; their versions would
    take 20 ms to ask for."""
    from importlib.machinery import PathFinder

    found = []
    for name in ("lark", "yaml", "jsonschema", "PIL", "cantools"):
        spec = PathFinder.find_spec(name)
        if spec is not None and spec.origin is not None:
            facts = Path(spec.origin).stat()
            found.append(f"{spec.origin} {facts.st_mtime_ns} {facts.st_size}")
    return "\n".join(found).encode()


def _record(finding: Finding) -> dict[str, Any]:
    place = None if finding.span is None else astuple(finding.span)
    also = [astuple(span) for span in finding.also]
    # What it rests on has been asked already.
    record = {each.name: getattr(finding, each.name) for each in fields(Finding) if each.compare}
    mend = finding.mend and [
        finding.mend.unasked,
        [[astuple(edit.span), edit.text] for edit in finding.mend.edits],
    ]
    record |= {"severity": finding.severity.value, "span": place, "also": also, "mend": mend}
    return json.loads(json.dumps(record))  # type: ignore[no-any-return]


def _finding(record: dict[str, Any]) -> Finding:
    place = record["span"]
    span = None if place is None else Span(*place)
    also = tuple(Span(*place) for place in record["also"])
    basis = None if record["basis"] is None else Basis(record["basis"])
    mend = record["mend"] and Mend(
        tuple(Edit(Span(*at), text) for at, text in record["mend"][1]), record["mend"][0]
    )
    told = {"severity": Severity(record["severity"]), "span": span, "also": also, "basis": basis}
    return Finding(**(record | told | {"mend": mend}))


def texts_of(folder: Path, findings: Sequence[Finding]) -> dict[str, str]:
    """The text of each file that a finding points at, where it can be read."""
    texts: dict[str, str] = {}
    for name in {finding.span.file for finding in findings if finding.span}:
        for path in (folder / name, Path(name)):
            try:
                texts[name] = read_plain(path, LARGEST).decode()
                break
            except (OSError, UnicodeDecodeError):
                continue
    return texts
