"""The design that an open file belongs to, as far as it can be understood."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from hmic.diagnostics import Finding
from hmic.model.design import Design

SETTINGS = "design.yaml"
SUFFIXES = (".layout", ".yaml")

Examine = Callable[[Path, Mapping[str, str]], tuple[Design | None, list[Finding]]]
"""Checks the design in a folder, some of its files replaced by unsaved texts: the design as far as it
goes, and everything found."""


@dataclass(frozen=True)
class View:
    """A design as an editor sees it. ``design`` is the last that could be understood, so that names can
    still be completed while a file is half written; ``texts`` are the files' texts by name."""

    root: Path
    design: Design | None
    texts: Mapping[str, str]
    findings: tuple[Finding, ...] = ()


def root_of(path: Path) -> Path | None:
    """The design's folder of a file: its own, or the one above (for words/de.yaml); None for a file of
    no design or of a kind that hmic does not read."""
    if path.suffix not in SUFFIXES:
        return None
    return next(
        (folder for folder in (path.parent, path.parent.parent) if (folder / SETTINGS).is_file()), None
    )


def look(root: Path, open_texts: Mapping[str, str], before: View | None, examine: Examine) -> View:
    """The design with the texts that are open in the editor."""
    design, findings = examine(root, open_texts)
    known = design if design is not None else before.design if before is not None else None
    texts = {**(known.sources if known is not None else {}), **open_texts}
    return View(root, known, texts, tuple(findings))


def by_file(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """The findings by file, at each of their places; one that has none stands with the settings."""
    found: dict[str, list[Finding]] = {}
    for item in findings:
        for span in (item.span, *item.also):
            found.setdefault(span.file if span else SETTINGS, []).append(replace(item, span=span, also=()))
    return found
