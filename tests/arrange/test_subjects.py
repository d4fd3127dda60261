"""What may follow the name of a widget: each kind with each of the others."""

from __future__ import annotations

import pytest

from hmic.arrange.subjects import SubjectKind, wrong_subject
from hmic.arrange.widgets import WIDGETS
from hmic.diagnostics import Span
from hmic.language.syntax import Expression, Operation, Operator, Signal, Text, Widget, WidgetKind

SPAN = Span("road.layout", 1, 1, 1, 9)
SIGNAL = Signal("pack.voltage", None, SPAN)
SUBJECTS: dict[str, tuple[Expression | None, str | None]] = {
    "nothing": (None, None),
    "text": (Text("Battery", SPAN), None),
    "pictogram": (None, "battery"),
    "signal": (SIGNAL, None),
    "quotient": (Operation(Operator.OVER, SIGNAL, SIGNAL, SPAN), None),
}
TAKES = {
    SubjectKind.NONE: ["nothing"],
    SubjectKind.TEXT: ["text"],
    SubjectKind.PICTOGRAM: ["pictogram"],
    SubjectKind.SIGNAL: ["signal"],
    SubjectKind.VALUE: ["signal", "quotient"],
}


@pytest.mark.parametrize("kind", list(SubjectKind))
@pytest.mark.parametrize("name", SUBJECTS)
def test_each_kind_takes_its_own(kind: SubjectKind, name: str) -> None:
    subject, word = SUBJECTS[name]
    widget = Widget(WidgetKind.READING, word, subject, (), (), SPAN, SPAN)
    found = list(wrong_subject(widget, kind))
    assert [(each.code, each.span) for each in found] == ([] if name in TAKES[kind] else [("A308", SPAN)])
    assert all("a reading " in each.message and each.remedy for each in found)


def test_every_widget_says_its_kind() -> None:
    assert all(isinstance(module.SUBJECT, SubjectKind) for module in WIDGETS.values())
