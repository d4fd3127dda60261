"""Remedies as edits: of phrases in a layout, of values in a YAML file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hmic.arrange.compose import ArrangedScreen
from hmic.diagnostics import Edit, Mend, Span
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.design import Design


def write(span: Span, text: str, *, unasked: bool = False) -> Mend:
    """Text in place of a stretch."""
    return Mend((Edit(span, text),), unasked)


def phrase(widget: Widget, kind: PhraseKind, text: str, *, unasked: bool = False) -> Mend:
    """A phrase in place of the widget's own of that kind, or put in behind its last on the first line."""
    own = widget.one(kind)
    if own is not None:
        return write(own.span, text, unasked=unasked)
    first = [each.span for each in widget.phrases if each.span.end_line == widget.head.line]
    last = max([widget.head, *first], key=lambda span: (span.end_line, span.end_column))
    end = replace(last, line=last.end_line, column=last.end_column)
    return write(end, f", {text}", unasked=unasked)


def widget_at(span: Span, screen: ArrangedScreen) -> Widget | None:
    """The widget whose sentence begins at a place, or has a phrase there."""
    widgets = (piece.widget for piece in screen.pieces)
    return next(
        (each for each in widgets if span == each.head or any(span == it.span for it in each.phrases)), None
    )


def setting(
    design: Design, file: str, path: Sequence[str | int], text: str, *, unasked: bool = False
) -> Mend | None:
    """Text in place of a value of a YAML file; None where it does not stand there."""
    span = _stretch(design.sources.get(file, ""), file, path)
    return None if span is None else Mend((Edit(span, text, f"write {_said(file, path, text)}"),), unasked)


def _said(file: str, path: Sequence[str | int], text: str) -> str:
    """A value with its key, and what it is of."""
    key = next(step for step in reversed(path) if isinstance(step, str))
    match list(path):
        case ["themes", theme, *_]:
            where = f"in theme '{theme}'"
        case ["limits", name, _]:
            where = f"for '{name}' in {file}"
        case ["signals", name, _]:
            where = f"for {name} in {file}"
        case _:
            where = f"in {file}"
    return f"`{key}: {text}` {where}"


def joined(mends: Sequence[Mend | None]) -> Mend | None:
    """Several as one; None where one is none."""
    whole = [mend for mend in mends if mend is not None]
    if not whole or len(whole) < len(mends):
        return None
    edits = dict.fromkeys(edit for mend in whole for edit in mend.edits)
    return Mend(tuple(edits), all(mend.unasked for mend in whole))


def _stretch(text: str, file: str, path: Sequence[str | int]) -> Span | None:
    import yaml

    try:
        node = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except yaml.YAMLError:
        return None
    for step in path:
        if isinstance(node, yaml.MappingNode):
            node = next((value for key, value in node.value if key.value == step), None)
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
        else:
            return None
    if node is None:
        return None
    start, end = node.start_mark, node.end_mark
    return Span(file, start.line + 1, start.column + 1, end.line + 1, end.column + 1)
