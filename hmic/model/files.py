"""The files of a design folder: read as text, and never outside the folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from hmic.diagnostics import Finding, Span, Subject, closest, error
from hmic.plain_files import read_plain

SETTINGS = ("design.yaml", "signals.yaml", "themes.yaml")
PART = "part.yaml"
"""What a folder has that is a shared part, and no design."""
LARGEST = 4_000_000
"""Bytes; a design file is far smaller, a file of logs or pictures chosen by mistake is not."""


@dataclass
class Folder:
    """An open design folder: the texts read so far, by file name, and what was wrong. ``unsaved`` are
    texts that an editor holds, in place of the files of these names."""

    root: Path
    sources: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    unsaved: Mapping[str, str] = field(default_factory=dict)

    def names(self, base: str = "") -> list[str]:
        """The names of its files in order, which differs between systems, or of those of a folder named from
        it; none without a folder."""
        unsaved = {path.name for path in map(Path, self.unsaved) if path.parent == Path(base)}
        try:
            there = {item.name for item in (self.root / base).iterdir() if item.is_file()}
        except OSError:
            return []
        return sorted(there | unsaved)

    def shown(self, path: Path) -> str:
        """How findings name a file: from the folder."""
        return Path(os.path.relpath(path, self.root.resolve())).as_posix()

    def text(self, name: str) -> str | None:
        """The text of a file of the folder, or None with a finding."""
        if name in self.unsaved:
            self.sources[name] = self.unsaved[name].removeprefix("\ufeff").replace("\r\n", "\n")
            return self.sources[name]
        data = read_bytes(self.root / name, name, None, self.findings)
        if data is None:
            return None
        try:
            text = data.decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError as problem:
            before = data[: problem.start]
            line, column = before.count(b"\n") + 1, problem.start - before.rfind(b"\n")
            span = Span(name, line, column, line, column + 1)
            remedy = "save the file as UTF-8"
            message = "this byte is not UTF-8 text"
            self.findings.append(error("M223", message, span, remedy, breaks=(Subject(name),)))
            return None
        self.sources[name] = text
        return text


def open_folder(
    path: Path, unsaved: Mapping[str, str] | None = None
) -> tuple[Folder | None, list[Finding]]:
    """The design folder, or None with the reason."""
    try:
        if path.is_dir():
            opened = Folder(path, unsaved=unsaved or {})
            if PART in opened.names() and SETTINGS[0] not in opened.names():
                message = f"the folder '{path}' is a shared part, and no design"
                remedy = "check a design that takes it in by `uses` in design.yaml"
                return None, [error("M220", message, None, remedy)]
            if any(name in SETTINGS or name.endswith(".layout") for name in opened.names()):
                return opened, []
            remedy = "give the folder that holds design.yaml; `hmic new DIR` writes one to start from"
            return None, [error("M220", f"the folder '{path}' holds no design", None, remedy)]
        if path.is_file():
            remedy = f"give the folder it lies in: {path.parent}"
            return None, [error("M220", f"'{path}' is a file, not a design folder", None, remedy)]
        near = closest(path.name, [item.name for item in path.parent.iterdir() if item.is_dir()])
    except (OSError, ValueError):
        near = None
    remedy = f"did you mean '{path.parent / near}'?" if near else "make one with `hmic new DIR`"
    return None, [error("M220", f"there is no folder '{path}'", None, remedy)]


def inside(folder: Folder, relative: str, span: Span, base: str = "") -> Path | None:
    """A path named in a design, resolved; None with a finding when it leaves the folder. ``base`` is the
    folder of a shared part that names it, from the design's."""
    try:
        root = (folder.root / base).resolve()
        target = (root / relative).resolve()
        if target.is_relative_to(root) and not Path(relative).is_absolute():
            return target
    except (OSError, ValueError, RuntimeError):
        pass
    remedy = "copy the file into the folder and name it there"
    whose = "shared part's" if base else "design's"
    folder.findings.append(error("M224", f"'{relative}' leads out of the {whose} folder", span, remedy))
    return None


def read_bytes(path: Path, name: str, span: Span | None, findings: list[Finding]) -> bytes | None:
    """A file's content, or None with a finding; ``name`` is how messages call it."""
    try:
        return read_plain(path, LARGEST)
    except FileNotFoundError:
        message = f"there is no file '{name}'"
        findings.append(error("M221", message, span, _missing_remedy(path), breaks=(Subject(name),)))
    except OSError as problem:
        reason = problem.strerror or "the system refused"
        remedy = "put a file in its place that you may read"
        message = f"'{name}' cannot be read: {reason}"
        findings.append(error("M222", message, span, remedy, breaks=(Subject(name),)))
    return None


def _missing_remedy(path: Path) -> str:
    try:
        names = [item.name for item in path.parent.iterdir() if item.is_file()]
    except OSError:
        names = []
    twin = path.with_suffix(".yml").name
    if path.suffix == ".yaml" and twin in names:
        return f"rename '{twin}' to '{path.name}'"
    near = closest(path.name, names)
    return f"did you mean '{near}'?" if near else "`hmic new DIR` writes one to start from"
