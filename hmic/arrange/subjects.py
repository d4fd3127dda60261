"""What follows a widget's name; each widget's module says which kind it takes, as ``SUBJECT``."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from hmic.diagnostics import Finding, lacking
from hmic.language.syntax import Signal, Text, Widget

SubjectKind = StrEnum("SubjectKind", "NONE TEXT VALUE SIGNAL PICTOGRAM")


def wrong_subject(widget: Widget, wanted: SubjectKind) -> Iterator[Finding]:
    """A308 where something else follows the name of a widget."""
    kind, subject = widget.kind, widget.subject
    fine, message, remedy = {
        SubjectKind.NONE: (
            subject is None and widget.word is None,
            f"a {kind} shows nothing but itself",
            f"write `{kind}` and its phrases",
        ),
        SubjectKind.TEXT: (isinstance(subject, Text), f"a {kind} needs a text", f'write {kind} "..."'),
        SubjectKind.PICTOGRAM: (
            widget.word is not None,
            f"a {kind} needs a pictogram",
            f"write {kind} battery",
        ),
        SubjectKind.SIGNAL: (
            isinstance(subject, Signal),
            f"a {kind} needs a signal that is an output",
            "write its dotted name",
        ),
        SubjectKind.VALUE: (
            subject is not None and not isinstance(subject, Text),
            f"a {kind} needs a signal",
            f"write {kind} pack.voltage ...",
        ),
    }[wanted]
    if not fine:
        yield lacking("A308", message, widget.head, remedy)
