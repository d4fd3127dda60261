"""From the trees of single sentences to the nodes of ``syntax``."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from hmic.diagnostics import Finding, Span, error
from hmic.language import syntax
from hmic.language.grammar import Node, end_of, start_of
from hmic.language.lines import BLANK
from hmic.language.syntax import Operator, PhraseKind, WidgetKind, phrase_kinds
from hmic.language.vocabulary import RESERVED

DEEPEST = 60
"""Levels in one value: far beyond what a person can read, and safe for every reader behind us."""
DIGITS = 15

TEXT_SLOTS = phrase_kinds("format called means confirmed refused off on")


@dataclass
class Sentence:
    """Where a tree's sentence stands, the parameters and counters in reach, and what was found."""

    file: str
    line: int
    column: int
    scope: frozenset[str] = frozenset()
    findings: list[Finding] = field(default_factory=list)

    def span(self, node: Any) -> Span:
        """The span of a tree or token."""
        start, end = (
            (start_of(node), end_of(node)) if hasattr(node, "data") else (node.start_pos, node.end_pos)
        )
        return Span(self.file, self.line, self.column + start, self.line, self.column + end)


def too_deep(tree: Node) -> Node | None:
    """The outermost value that has more than ``DEEPEST`` levels, or None."""
    stack: list[tuple[Node, int, Node]] = [(tree, 0, None)]
    while stack:
        node, depth, value = stack.pop()
        if depth > DEEPEST:
            return value or tree
        if value is None and str(node.data) in _VALUES:
            value = node
        stack.extend((child, depth + 1, value) for child in node.children if hasattr(child, "data"))
    return None


def quantity(sentence: Sentence, token: Any) -> syntax.Quantity:
    """A number token, with its unit."""
    text = str(token)
    cut = next((i for i, char in enumerate(text) if not (char in "-." or "0" <= char <= "9")), len(text))
    digits, unit = text[:cut], text[cut:].strip(BLANK)
    span = sentence.span(token)
    if sum(char.isdigit() for char in digits) > DIGITS:
        message = f"this number has more than {DIGITS} digits"
        sentence.findings.append(error("L114", message, span, "round it to what the value can tell"))
        return syntax.Quantity(Fraction(0), unit, span)
    return syntax.Quantity(Fraction(digits), unit, span)


def text_of(sentence: Sentence, token: Any) -> syntax.Text:
    """A quoted token, its quotes and strokes removed."""
    inner = str(token)[1:-1]
    if "\\" in inner:
        inner = re.sub(r'\\(["\\n])', lambda found: found[1].replace("n", "\n"), inner)
    return syntax.Text(inner, sentence.span(token))


def expression(sentence: Sentence, node: Any) -> syntax.Expression:
    """A value of any kind. The tree must have passed ``too_deep``."""
    if not hasattr(node, "data"):
        return _token(sentence, node)
    span = sentence.span(node)
    children = node.children
    rule = str(node.data)
    if rule == "bare":
        name = str(children[0])
        if name in _ON_OFF and name not in sentence.scope:
            meant = _ON_OFF[name]
            sentence.findings.append(
                error("L112", f"'{name}' is said '{meant}' here", span, f"write '{meant}'")
            )
            return syntax.Flag(meant == "on", span)
        return syntax.Name(name, span)
    if rule == "group":
        return expression(sentence, children[0])
    if rule == "signal":
        index = expression(sentence, children[1]) if len(children) > 1 else None
        return syntax.Signal(str(children[0]), index, span)
    if rule == "call":
        arguments = tuple(expression(sentence, child) for child in children[1:])
        return syntax.Call(str(children[0]), arguments, span)
    if rule == "inverse":
        return syntax.Not(expression(sentence, children[0]), span)
    if rule == "negative":
        return syntax.Negative(expression(sentence, children[1]), span)
    if rule == "convert":
        return syntax.Convert(expression(sentence, children[0]), str(children[1]), span)
    left, right = expression(sentence, children[0]), expression(sentence, children[-1])
    operator = {"either": "or", "both": "and"}.get(rule) or "_".join(str(children[1]).split())
    return syntax.Operation(Operator(operator), left, right, span)


_ON_OFF = {"true": "on", "false": "off", "yes": "on", "no": "off"}


def _token(sentence: Sentence, token: Any) -> syntax.Expression:
    if token.type == "QUANTITY":
        return quantity(sentence, token)
    if token.type == "STRING":
        return text_of(sentence, token)
    return syntax.Flag(str(token) == "on", sentence.span(token))


def phrases(sentence: Sentence, nodes: Iterable[Any]) -> tuple[syntax.Phrase, ...]:
    """Phrase trees in the order written."""
    return tuple(_phrase(sentence, node) for node in nodes)


def _phrase(sentence: Sentence, node: Any) -> syntax.Phrase:
    kind = PhraseKind(node.data)
    words: list[str] = []
    values: list[syntax.Expression] = []
    for child in node.children:
        if not hasattr(child, "data") and child.type in _WORD_TOKENS:
            words.append(str(child))
        else:
            values.append(expression(sentence, child))
    if kind == PhraseKind.STATE and words[0] == "flashing":
        words = [words[1], "flashing"]
    if kind == PhraseKind.SHADED:
        words = [*words[-2:], *words[:-2]]
    if kind in TEXT_SLOTS:
        values = [_wording(sentence, values[0])]
    return syntax.Phrase(kind, tuple(words), tuple(values), sentence.span(node))


_WORD_TOKENS = frozenset(("NAME", "DIRECTION", "ALIGNMENT", "FLASHING", "OUTWARD"))


def _wording(sentence: Sentence, value: syntax.Expression) -> syntax.Expression:
    """Words in quotes, or a parameter that stands for them."""
    if not isinstance(value, syntax.Name) or value.name in sentence.scope:
        return value
    if any(finding.code == "L124" and _starts_at(finding, value.span) for finding in sentence.findings):
        return syntax.Text(value.name, value.span)
    message = f"'{value.name}' is shown as it is written, so it needs quotes"
    sentence.findings.append(error("L124", message, value.span, f'write "{value.name}"'))
    return syntax.Text(value.name, value.span)


def _starts_at(finding: Finding, span: Span) -> bool:
    found = finding.span
    return found is not None and (found.line, found.column) == (span.line, span.column)


def widget(sentence: Sentence, node: Node) -> syntax.Widget:
    """A ``widget``, ``pictured``, ``screens`` or ``trace`` tree; the span is the sentence's own line."""
    span = sentence.span(node)
    rest = list(node.children)
    kind, head, word, subject = WidgetKind.TRACE, span, None, None
    if str(node.data) != WidgetKind.TRACE:
        token = rest.pop(0)
        kind, head = WidgetKind(token), sentence.span(token)
    if str(node.data) == "pictured":
        token = rest.pop(0)
        word, head = str(token), head.to(sentence.span(token))
    elif rest and _is_value(rest[0]):
        subject = expression(sentence, rest.pop(0))
        if kind in _SAYING:
            subject = _said(sentence, kind, subject)
        head = subject.span if kind == WidgetKind.TRACE else head.to(subject.span)
    return syntax.Widget(kind, word, subject, phrases(sentence, rest), (), span, head)


_SAYING = frozenset((WidgetKind.LABEL, WidgetKind.BUTTON, WidgetKind.PICTURE))
"""Kinds whose subject is words, not a value."""


def _said(sentence: Sentence, kind: WidgetKind, subject: syntax.Expression) -> syntax.Expression:
    """Words in quotes, a parameter that stands for them, or a value that a later check refuses."""
    if isinstance(subject, syntax.Signal) and kind == WidgetKind.PICTURE:
        message = "the file of a picture stands in quotes"
        sentence.findings.append(error("L124", message, subject.span, f'write "{subject.name}"'))
        return syntax.Text(subject.name, subject.span)
    return _wording(sentence, subject)


_VALUES = frozenset(
    ("bare", "group", "signal", "call", "inverse", "negative", "convert", "arithmetic", "compare", "either",
     "both")
)  # fmt: skip


def _is_value(node: Any) -> bool:
    return not hasattr(node, "data") or str(node.data) in _VALUES


def use(sentence: Sentence, node: Node) -> syntax.Use:
    """``use PART with ...``"""
    arguments: list[tuple[str, syntax.Expression]] = []
    for argument in node.children[1:]:
        name, value = argument.children
        if any(name == other for other, _ in arguments):
            message = f"'{name}' is given twice"
            sentence.findings.append(error("L119", message, sentence.span(name), "keep one of the two"))
            continue
        arguments.append((str(name), expression(sentence, value)))
    return syntax.Use(str(node.children[0]), tuple(arguments), sentence.span(node))


def each(sentence: Sentence, node: Node) -> syntax.Each:
    """``each NAME from A to B``, its body still empty."""
    name, first, last = node.children
    check_free(sentence, name, "the counter")
    return syntax.Each(
        str(name), expression(sentence, first), expression(sentence, last), (), sentence.span(node)
    )


def joint(sentence: Sentence, node: Node) -> syntax.Joint:
    """``joint NAME at ...``"""
    return syntax.Joint(str(node.children[0]), phrases(sentence, node.children[1:]), sentence.span(node))


def pipe(sentence: Sentence, node: Node) -> syntax.Pipe:
    """``pipe from END to END ...``"""
    ends = [child for child in node.children if str(child.data) == "end"]
    rest = [child for child in node.children if str(child.data) != "end"]
    return syntax.Pipe(
        tuple(str(end.children[0]) for end in ends),
        tuple(sentence.span(end) for end in ends),
        phrases(sentence, rest),
        sentence.span(node),
    )


CONTENTS: dict[str, Callable[[Sentence, Node], syntax.Content]] = {
    "widget": widget,
    "pictured": widget,
    "screens": widget,
    "use": use,
    "each": each,
    "joint": joint,
    "pipe": pipe,
}


def content(sentence: Sentence, node: Node) -> syntax.Content:
    """What an area or ``each`` holds, without the lines below it."""
    return CONTENTS[str(node.data)](sentence, node)


def parameters(sentence: Sentence, nodes: Iterable[Node]) -> tuple[tuple[str, syntax.Expression | None], ...]:
    """A part's parameters with their defaults."""
    found: dict[str, syntax.Expression | None] = {}
    for node in nodes:
        name = node.children[0]
        check_free(sentence, name, "a parameter")
        if str(name) in found:
            message = f"the part has two parameters '{name}'"
            sentence.findings.append(
                error("L119", message, sentence.span(name), "give one of them another name")
            )
            continue
        found[str(name)] = expression(sentence, node.children[1]) if len(node.children) > 1 else None
    return tuple(found.items())


def check_free(sentence: Sentence, name: Any, what: str) -> None:
    """A parameter or counter must not read as a word of the language where it is used."""
    if str(name) in RESERVED:
        message = f"{what} cannot be called '{name}': the language uses that word itself"
        remedy = f"call it '{name}_value' or something closer to what it is"
        sentence.findings.append(error("L120", message, sentence.span(name), remedy))
