"""The design that an open file belongs to, as far as it can be understood."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

from hmic.diagnostics import Finding
from hmic.model.design import Design
from hmic.model.files import PART
from hmic.model.shared_parts import parts_of

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


NEAR = 3
"""Folders above a shared part's, in whose folders a design that takes it in is looked for."""
MOST_NEAR = 200
"""Folders that are looked at for that."""


def root_of(path: Path, known: Iterable[Path] = ()) -> Path | None:
    """The design's folder of a file: its own, or the one above (for words/de.yaml); of a shared part's file
    that of a design that takes it in, of those ``known`` or else near by. None for a file of no design or of
    a kind that hmic does not read."""
    if path.suffix not in SUFFIXES:
        return None
    folders = path.parent, path.parent.parent
    own = next((folder for folder in folders if (folder / SETTINGS).is_file()), None)
    part = next((folder for folder in folders if (folder / PART).is_file()), None)
    if own is not None or part is None:
        return own
    return next((root for root in (*known, *_near(part)) if part.resolve() in _parts_of(root)), None)


def _near(part: Path) -> Iterator[Path]:
    for above in part.parents[:NEAR]:
        try:
            yield from (each.parent for each in islice(above.glob(f"*/{SETTINGS}"), MOST_NEAR))
        except OSError:
            return


def _parts_of(root: Path) -> set[Path]:
    return {(root / part.folder).resolve() for part in parts_of(root)}


def name_in(root: Path, path: Path) -> str:
    """How findings of a design name a file, of a shared part too."""
    if path.is_relative_to(root):
        return path.relative_to(root).as_posix()
    return Path(os.path.relpath(path.resolve(), root.resolve())).as_posix()


def part_of(design: Design | None, root: Path, file: str) -> str | None:
    """The shared part with a description of its own that a file is of, by name."""
    there = (root / file).resolve().parent
    described = design.described if design is not None else {}
    return next((name for name, path in described.items() if path.parent == there), None)


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
