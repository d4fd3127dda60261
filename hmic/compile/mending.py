"""Remedies applied: the edits of findings, one after the other, each kept only if it takes its finding away
and brings no other."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from hmic.diagnostics import Edit, Finding, Mend
from hmic.plain_files import read_plain, write_plain

LARGEST = 64_000_000
"""Bytes of a file that is mended."""
Examine = Callable[[Mapping[str, str]], Sequence[Finding]]
"""Everything found in a design, some of its files replaced by these texts."""


@dataclass(frozen=True)
class Mended:
    """The texts that are new, by file name, the findings that they took away, and those that are left."""

    texts: Mapping[str, str]
    gone: tuple[Finding, ...]
    left: tuple[Finding, ...]


def edited(text: str, edits: Iterable[Edit]) -> str:
    """A text with the edits of one file made, from its end to its start. Raises ``ValueError`` where two
    meet, or one does not lie in it."""
    lines = text.split("\n")
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line) + 1)
    spots = []
    for edit in edits:
        span = edit.span
        if not 1 <= span.line <= span.end_line <= len(lines):
            raise ValueError(f"no line {span.line}")
        spots.append(
            (starts[span.line - 1] + span.column - 1, starts[span.end_line - 1] + span.end_column - 1, edit)
        )
    spots.sort(key=lambda spot: spot[:2], reverse=True)
    bound = len(text)
    for first, last, edit in spots:
        if not first <= last <= bound:
            raise ValueError("two edits meet")
        text = text[:first] + edit.text + text[last:]
        bound = first
    return text


def mended(
    findings: Sequence[Finding],
    sources: Mapping[str, str],
    examine: Examine,
    wanted: Callable[[Finding, Mend], bool],
) -> Mended:
    """All that can be mended, of ``findings`` in texts ``sources``, and is ``wanted``."""
    texts: dict[str, str] = {}
    gone: list[Finding] = []
    tried: set[tuple[str, str]] = set()
    left = list(findings)
    while (finding := _next(left, tried, wanted)) is not None:
        tried.add((finding.code, finding.message))
        after = _with(finding, {**sources, **texts})
        if after is None:
            continue
        found = examine({**texts, **after})
        if not _codes(found) - _codes(left) and _codes(left)[finding.code] > _codes(found)[finding.code]:
            texts |= after
            gone.append(finding)
            left = list(found)
    return Mended(texts, tuple(gone), tuple(left))


def write(folder: Path, texts: Mapping[str, str]) -> None:
    """Writes new texts as the person's own editor does, each file whole or not at all. Raises OSError."""
    for file, text in sorted(texts.items()):
        before = read_plain(folder / file, LARGEST)
        lines = text.replace("\n", "\r\n") if b"\r\n" in before else text
        write_plain(folder / file, lines.encode("utf-8-sig" if before.startswith(BOM_UTF8) else "utf-8"))


def _next(
    findings: Sequence[Finding], tried: set[tuple[str, str]], wanted: Callable[[Finding, Mend], bool]
) -> Finding | None:
    return next(
        (
            item
            for item in findings
            if item.mend is not None
            and wanted(item, item.mend)
            and (item.code, item.message) not in tried
        ),
        None,
    )


def _codes(findings: Iterable[Finding]) -> Counter[str]:
    """What is wrong, as far as it counts: every place of a finding."""
    return Counter(item.code for item in findings for _ in range(1 + len(item.also)))


def _with(finding: Finding, sources: Mapping[str, str]) -> dict[str, str] | None:
    """The texts that its edits change; None where one of them cannot be made."""
    assert finding.mend is not None
    by_file: dict[str, list[Edit]] = {}
    for edit in finding.mend.edits:
        by_file.setdefault(edit.span.file, []).append(edit)
    try:
        return {file: edited(sources[file], edits) for file, edits in by_file.items()}
    except (KeyError, ValueError):
        return None
