"""One report for one cause: what is found only because of an earlier error is left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from hmic.diagnostics import Finding, Severity, Span

# What a sentence lacks: it may stand in the very words that could not be read.
_LACKS = frozenset(
    ("A305", "A308", "A309", "A321", "A323", "A327", "A330", "A343", "A360", "A363", "A370", "A371", "A372",
     "A373", "C444", "M215")
)  # fmt: skip


def rooted(loaded: Sequence[Finding], sources: Mapping[str, str]) -> list[Finding]:
    """The findings of loading a design that have a cause of their own: what the model finds wrong in
    words that could not be read is left out."""
    unread = [item for item in loaded if item.code[0] == "L"]
    rest = _own([item for item in loaded if item.code[0] != "L"], unread, sources)
    return [item for item in loaded if item.code[0] == "L" or item in rest]


def rooted_arranging(
    loaded: Sequence[Finding], arranged: Sequence[Finding], sources: Mapping[str, str]
) -> list[Finding]:
    """The findings of arranging that have a cause of their own. Loading has looked up every name
    already, and followed every part into its parts."""
    errors = [item for item in loaded if item.severity is Severity.ERROR]
    told = {"M201"} if errors else set()
    if any(item.code == "M246" for item in errors):
        told.add("A334")
    rest = [item for item in _own(arranged, errors, sources) if item.code not in told]
    return [item for item in rest if item.code != "A361" or not _declared_badly(item, errors, sources)]


_UNREADABLE = frozenset(("M221", "M222", "M223", "M226"))
"""Nothing can be known of a file that one of these is about."""


def _declared_badly(item: Finding, errors: Sequence[Finding], sources: Mapping[str, str]) -> bool:
    """Whether the output that is missed is declared in a line, or a file, that has an error."""
    for cause in errors:
        if cause.code in _UNREADABLE and (cause.span is None or cause.span.file == "signals.yaml"):
            return True
        if cause.span is not None and cause.span.file == "signals.yaml":
            line = sources.get(cause.span.file, "").split("\n")[cause.span.line - 1]
            name = line.strip().split(":")[0].strip()
            if name and f"'{name}'" in item.message:
                return True
    return False


def rooted_checks(
    earlier: Sequence[Finding], checks: Sequence[Finding], sources: Mapping[str, str]
) -> list[Finding]:
    """What the checks find in sentences that could be read whole: what one lacks may stand in the words
    that could not be read."""
    unread = {
        line for item in earlier if item.severity is Severity.ERROR for line in _sentence(item.span, sources)
    }
    return [item for item in checks if item.span is None or _line(item.span) not in unread]


def _own(later: Sequence[Finding], errors: Sequence[Finding], sources: Mapping[str, str]) -> list[Finding]:
    """Without those that overlap an error, and those that something is missing in a sentence that
    could not be read whole."""
    places = [item.span for item in errors if item.span is not None]
    unread = {line for item in errors if item.code[0] == "L" for line in _sentence(item.span, sources)}
    return [
        item
        for item in later
        if item.span is None
        or not (
            any(_overlap(item.span, place) for place in places)
            or (item.code in _LACKS and _line(item.span) in unread)
            or (item.code == "A330" and _below(item.span, unread, sources))
        )
    ]


def _line(span: Span) -> tuple[str, int]:
    return span.file, span.line


def _overlap(one: Span, other: Span) -> bool:
    if one.file != other.file:
        return False
    one_start, one_end = (one.line, one.column), (one.end_line, one.end_column)
    start, end = (other.line, other.column), (other.end_line, other.end_column)
    return one_start < end and start < one_end


def _sentence(span: Span | None, sources: Mapping[str, str]) -> list[tuple[str, int]]:
    """The lines of a finding's sentence: its own and the one it stands below."""
    if span is None:
        return []
    lines = sources.get(span.file, "").split("\n")[: span.line]
    own = _depth(lines[-1])
    above = (
        at for at in range(len(lines) - 1, 0, -1) if lines[at - 1].strip() and _depth(lines[at - 1]) < own
    )
    return [(span.file, span.line), *((span.file, at) for at in (next(above, span.line),))]


def _below(span: Span, unread: set[tuple[str, int]], sources: Mapping[str, str]) -> bool:
    """Whether a line above, that this one stands below, could not be read: it may name a counter."""
    lines = sources.get(span.file, "").split("\n")[: span.line]
    depth = _depth(lines[-1])
    for at in range(len(lines) - 1, 0, -1):
        if lines[at - 1].strip() and _depth(lines[at - 1]) < depth:
            depth = _depth(lines[at - 1])
            if (span.file, at) in unread:
                return True
    return False


def _depth(line: str) -> int:
    return len(line) - len(line.lstrip())
