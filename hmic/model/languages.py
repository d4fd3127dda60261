"""words/<language>.yaml: what the screens say, in another language.

A table maps each text as the layouts and signals.yaml write it to its translation. Texts of labels,
buttons, captions, meanings and questions are replaced in the syntax tree, before anything is
measured; the words of a signal stay what they are to conditions, and are replaced where they are
shown (``Design.said``). An empty translation is one still to be written.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from hmic.diagnostics import DesignError, Finding, Severity, Span, did_you_mean, error
from hmic.language import syntax
from hmic.language.syntax import CONTROLS, PhraseKind, WidgetKind, phrase_kinds
from hmic.model.builtin import NOT_NOW, NOW, OFF, ON
from hmic.model.design import Design
from hmic.model.expressions import ValueKind, walk
from hmic.model.files import Folder
from hmic.model.yaml_source import check_schema, parse_yaml

FOLDER = "words"

_TEXT_WIDGETS = frozenset((WidgetKind.LABEL, WidgetKind.BUTTON))
_TEXT_PHRASES = phrase_kinds("called means confirmed refused off on")
_WORD_WIDGETS = frozenset((WidgetKind.WORDS, WidgetKind.CHOICE))
_GOING = (WidgetKind.BUTTON, WidgetKind.SCREENS)
_ASKING = phrase_kinds("sets toggles by allowed")
MOST_SINGLY = 3
"""Texts without a translation that are told one by one."""
_HOLE = re.compile(r"\{([^{}]*)\}")
# "P" or "12 V" say the same in every language.
_SPEAKS = re.compile(r"[^\W\d_]{2}")


@dataclass
class _Table:
    """A table being applied: what it was asked for, with the places, in order."""

    entries: Mapping[str, str]
    asked: dict[str, list[Span]] = field(default_factory=dict)

    def say(self, text: str, span: Span) -> str:
        self.asked.setdefault(text, []).append(span)
        return self.entries.get(text) or text


def in_language(
    design: Design, folder: Folder, language: str, span: Span | None, shared: Mapping[str, str] | None = None
) -> Design:
    """The design saying everything in ``language``. What neither the table has nor the ``shared`` words of
    its parts stays as it is, with a finding in ``folder``."""
    file = f"{FOLDER}/{language}.yaml"
    try:
        known = sorted(path.stem for path in (folder.root / FOLDER).glob("*.yaml"))
    except OSError:
        known = []
    if language not in known:
        remedy = f"`hmic words DESIGN --language {language}` writes one to fill in"
        if known:
            remedy += f"; or {did_you_mean(language, known, 'languages')}"
        message = f"there is no table '{file}' of what the screens say"
        folder.findings.append(error("M273", message, span, remedy))
        return design
    text = folder.text(file)
    node, findings = parse_yaml(text, file) if text is not None else (None, [])
    folder.findings.extend(findings)
    if node is None:
        return design
    folder.findings.extend(check_schema(node, "words"))
    entries = {item.key: item.value.scalar for item in node.each()}
    said = {key: value for key, value in entries.items() if isinstance(value, str) and value}
    table = _Table({**(shared or {}), **said})
    design = _replaced(design, table)
    places = {item.key: item.span for item in node.each()}
    folder.findings.extend(_compared(table, places, file))
    return design


def texts(design: Design) -> dict[str, list[Span]]:
    """Every text that a table of words is asked for, with where it stands. ``design`` says everything as
    it is written."""
    table = _Table({})
    _replaced(design, table)
    return {text: spans for text, spans in table.asked.items() if _speaks(text)}


def with_missing(table: str, file: str, design: Design, said: Collection[str] = ()) -> tuple[str, int]:
    """A table of words with a line, still empty, at its end for each text of the design that it has no
    line for, nor a shared part, which ``said`` it; and how many. What is there stays as it is, to the letter.
    ``file`` is its name.

    Raises ``DesignError``: the findings of a table that cannot be read, or M279 for one whose form lets
    no line be added.
    """
    before = _entries(table, file)
    known = {*before, *said}
    missing = {text: spans for text, spans in texts(design).items() if text not in known}
    if not missing:
        return table, 0
    lines: list[str] = []
    head = ""
    for text, spans in missing.items():
        if spans[0].file != head:
            head = spans[0].file
            lines += ["", f"# {head}"]
        lines.append(f'{json.dumps(text, ensure_ascii=False)}: ""')
    end = "\r\n" if "\r\n" in table else "\n"
    kept = table if not table or table.endswith("\n") else table + end
    added = kept + end.join([*(lines if kept else lines[1:]), ""])
    try:
        same = _entries(added, file) == before | dict.fromkeys(missing, "")
    except DesignError:
        same = False
    if not same:
        message = "this table is written in a form to which no line can be added"
        remedy = 'write it one text a line, from the margin: `"Speed": "Tempo"`'
        raise DesignError([error("M279", message, Span(file, 1, 1, 1, 2), remedy)])
    return added, len(missing)


def _entries(table: str, file: str) -> dict[str, object]:
    node, findings = parse_yaml(table.removeprefix("\ufeff").replace("\r\n", "\n"), file)
    if node is None or findings:
        raise DesignError(findings)
    return {item.key: item.value.scalar for item in node.each()}


def _speaks(text: str) -> bool:
    return _SPEAKS.search(_HOLE.sub("", text)) is not None


def _lacking(table: _Table, places: Mapping[str, Span], file: str) -> Iterator[Finding]:
    """Texts without a translation: each by itself while they are few, else all in one finding."""
    lacking = {
        text: spans
        for text, spans in table.asked.items()
        if not table.entries.get(text) and _speaks(text)
    }
    language = file.removeprefix(f"{FOLDER}/").removesuffix(".yaml")
    if len(lacking) > MOST_SINGLY:
        first = list(lacking)[:MOST_SINGLY]
        named = ", ".join(f'"{text}"' for text in first)
        more = f"{named} and {len(lacking) - len(first)} more"
        message = f"{len(lacking)} texts have no translation in {file}: {more}"
        remedy = f"fill in the lines of {file} that are empty"
        if not places.keys() >= lacking.keys():
            remedy = f"`hmic words DESIGN --language {language}` adds a line for each, to be filled in"
        yield Finding("M274", Severity.WARNING, message, lacking[first[0]][0], remedy)
        return
    for text, spans in lacking.items():
        standing = dict.fromkeys(f"{span.file}:{span.line}" for span in spans)
        message = f'"{text}" has no translation in {file}; it stands at {", ".join(standing)}'
        line = f"line {places[text].line}" if text in places else "a line"
        remedy = f'{"fill in" if text in places else "add"} {line} `"{text}": "..."` there'
        yield Finding("M274", Severity.WARNING, message, spans[0], remedy)


def _compared(table: _Table, places: Mapping[str, Span], file: str) -> Iterator[Finding]:
    """What the table lacks, what it has for nothing, and where a ``{name}`` differs."""
    yield from _lacking(table, places, file)
    for text, span in places.items():
        if text not in table.asked:
            remedy = did_you_mean(text, table.asked, "texts")
            yield Finding("M275", Severity.NOTE, f'nothing says "{text}"', span, remedy)
        elif set(_HOLE.findall(text)) != set(_HOLE.findall(table.entries.get(text) or text)):
            message = f'"{text}" and its translation do not fill in the same names'
            remedy = "keep each {name} as it is: " + ", ".join(f"{{{name}}}" for name in _HOLE.findall(text))
            yield error("M276", message, span, remedy)


def _replaced(design: Design, table: _Table) -> Design:
    spoken = {name: _spoken(part.areas, design.parts) for name, part in design.parts.items()}
    parts = {
        name: replace(
            part,
            parameters=tuple(
                (own, _argument(default, own in spoken[name], table)) for own, default in part.parameters
            ),
            areas=tuple(_area(area, spoken, table) for area in part.areas),
        )
        for name, part in design.parts.items()
    }
    screens = {
        name: replace(
            screen,
            areas=tuple(_area(area, spoken, table) for area in screen.areas),
            touches=tuple(replace(touch, phrases=_phrases(touch.phrases, table)) for touch in screen.touches),
        )
        for name, screen in design.screens.items()
    }
    said = {
        word: table.say(word, design.signals[name].span)
        for name in _shown_words(design)
        for word in design.signals[name].words.values()
    }
    for word, span in _own_words(design):
        said[word] = table.say(word, span)
    return replace(design, parts=parts, screens=screens, said=said)


def _area(area: syntax.Area, spoken: Mapping[str, frozenset[str]], table: _Table) -> syntax.Area:
    return replace(area, body=tuple(_content(item, spoken, table) for item in area.body))


def _content(item: syntax.Content, spoken: Mapping[str, frozenset[str]], table: _Table) -> syntax.Content:
    match item:
        case syntax.Widget():
            return _widget(item, table)
        case syntax.Use():
            names = spoken.get(item.part, frozenset())
            arguments = tuple(
                (name, _argument(value, name in names, table) or value) for name, value in item.arguments
            )
            return replace(item, arguments=arguments)
        case syntax.Each():
            return replace(item, body=tuple(_content(inner, spoken, table) for inner in item.body))
    return item


def _widget(widget: syntax.Widget, table: _Table) -> syntax.Widget:
    speaks = widget.kind in _TEXT_WIDGETS
    return replace(
        widget,
        subject=_argument(widget.subject, speaks, table),
        phrases=_phrases(widget.phrases, table),
        children=tuple(_widget(child, table) for child in widget.children),
    )


def _phrases(phrases: tuple[syntax.Phrase, ...], table: _Table) -> tuple[syntax.Phrase, ...]:
    return tuple(
        replace(phrase, values=tuple(_argument(value, True, table) or value for value in phrase.values))
        if phrase.kind in _TEXT_PHRASES
        else phrase
        for phrase in phrases
    )


def _argument(value: syntax.Expression | None, speaks: bool, table: _Table) -> syntax.Expression | None:
    if not speaks or not isinstance(value, syntax.Text):
        return value
    return replace(value, text=table.say(value.text, value.span))


def _spoken(areas: Iterable[syntax.Area], parts: Mapping[str, syntax.Part], depth: int = 0) -> frozenset[str]:
    """The parameters of a part that end up as text on the screen."""
    names: set[str] = set()
    body = [item for area in areas for item in area.body]
    for widget in _widgets(body):
        values = [widget.subject] if widget.kind in _TEXT_WIDGETS else []
        for phrase in widget.phrases:
            values.extend(phrase.values if phrase.kind in _TEXT_PHRASES else ())
        names.update(value.name for value in values if isinstance(value, syntax.Name))
    # Parts may be used in a circle, which is another finding's matter.
    for use in syntax.uses(body) if depth < 8 else ():
        part = parts.get(use.part)
        inner = _spoken(part.areas, parts, depth + 1) if part is not None else frozenset()
        names.update(
            value.name for name, value in use.arguments if name in inner and isinstance(value, syntax.Name)
        )
    return frozenset(names)


def _own_words(design: Design) -> Iterator[tuple[str, Span]]:
    """What the tool itself says on these screens, with where."""
    for widget in _widgets(_everything(design)):
        kinds = {phrase.kind for phrase in widget.phrases}
        if widget.kind == WidgetKind.CHART and PhraseKind.UNMARKED not in kinds:
            yield NOW, widget.head
        for phrase in widget.phrases:
            if phrase.kind == PhraseKind.WAY and phrase.words[0] in design.screens:
                yield design.screens[phrase.words[0]].title, phrase.span
        if widget.kind == WidgetKind.SWITCH:
            own = ((PhraseKind.OFF, OFF), (PhraseKind.ON, ON))
            yield from ((word, widget.head) for kind, word in own if kind not in kinds)
        asks = widget.kind in CONTROLS and (widget.kind not in _GOING or kinds & _ASKING)
        if asks:
            yield NOT_NOW, widget.head


def _everything(design: Design) -> list[syntax.Content]:
    holders: list[syntax.Screen | syntax.Part] = [*design.screens.values(), *design.parts.values()]
    return [item for holder in holders for area in holder.areas for item in area.body]


def _shown_words(design: Design) -> list[str]:
    """The signals whose words are shown, in the order of signals.yaml."""
    shown: set[str] = set()
    body = _everything(design)
    for widget in _widgets(body):
        if widget.kind in _WORD_WIDGETS and widget.subject is not None:
            shown.update(node.name for node in walk(widget.subject) if isinstance(node, syntax.Signal))
    for use in syntax.uses(body):
        shown.update(value.name for _, value in use.arguments if isinstance(value, syntax.Signal))
    return [name for name, of in design.signals.items() if of.kind == ValueKind.WORD and name in shown]


def _widgets(body: Iterable[syntax.Content]) -> Iterator[syntax.Widget]:
    """The widgets of a place and their traces."""
    for item in syntax.pieces(body):
        if isinstance(item, syntax.Widget):
            yield item
            yield from item.children
