"""YAML with the place of every key and value, checked against the shipped JSON Schemas.

Read from the parser's events, not composed nodes: an own stack bounds nesting and repetition, so
no text can exhaust memory or recursion. Plain scalars follow the YAML 1.2 core schema: ``on``,
``off``, ``yes``, ``no`` and ``12:30`` are words, as a builder expects.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from hmic.cache import Kind, keep, kept
from hmic.causes import NAMELESS, Keys
from hmic.diagnostics import Finding, Span, Subject, did_you_mean, error
from hmic.language.design_bounds import DEEPEST_VALUE, MOST_VALUES, MOST_YAML
from hmic.model.yaml_slips import colon_slip, likely

Scalar = str | int | float | bool | None

_SOUND = Kind("sound", files=64, largest=100)
_SHORTER = "take out what is no part of a design"

_INTEGER = re.compile(r"[-+]?[0-9]{1,18}")
_DECIMAL = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,3})?")
_CONSTANTS: Mapping[str, Scalar] = {"": None, "~": None, "null": None, "true": True, "false": False}


@dataclass(frozen=True)
class Node:
    """A value with its place: a mapping when ``entries`` is set, a list when ``items`` is, else a
    scalar. ``size`` counts the values in it, repeated ones as often as they stand. ``renamed`` says that in
    a formula names of a group are those of another: a shared part's own, and the one it has in a design."""

    span: Span
    scalar: Scalar = None
    items: tuple[Node, ...] | None = None
    entries: Mapping[str, Entry] | None = None
    quoted: bool = False
    size: int = 1
    renamed: tuple[str, str] | None = None

    def get(self, key: str) -> Node | None:
        """The value of a key of a mapping, or None."""
        entry = (self.entries or {}).get(key)
        return None if entry is None else entry.value

    def each(self) -> Iterator[Entry]:
        """The entries of a mapping in the order written; none for another value."""
        yield from (self.entries or {}).values()

    def plain(self) -> Any:
        """The value as dicts, lists and scalars."""
        if self.entries is not None:
            return {key: entry.value.plain() for key, entry in self.entries.items()}
        if self.items is not None:
            return [item.plain() for item in self.items]
        return self.scalar


@dataclass(frozen=True)
class Entry:
    """A key of a mapping and its value."""

    key: str
    span: Span
    value: Node


def keys_of(node: Node) -> Keys:
    """The place of every key in a value, with the keys that lead to it."""
    found: dict[tuple[int, int], tuple[str, ...]] = {}
    rest: list[tuple[Node, tuple[str, ...]]] = [(node, ())]
    while rest:
        value, path = rest.pop()
        for entry in value.each():
            # What is repeated by a mark stands in its first place.
            found.setdefault((entry.span.line, entry.span.column), (*path, entry.key))
            rest.append((entry.value, (*path, entry.key)))
        rest.extend((item, (*path, str(place))) for place, item in enumerate(value.items or ()))
    return sorted(found.items())


def parse_yaml(text: str, file: str) -> tuple[Node | None, list[Finding]]:
    """The tree of one YAML document, and what is wrong with it. None when it cannot be read; an
    empty document is an empty mapping. Never raises for any text."""
    top = Span(file, 1, 1, 1, 2)
    if len(text) > MOST_YAML:
        return None, [error("M226", f"this file is longer than {MOST_YAML} characters", top, _SHORTER)]
    reading = _Reading(file)
    # The C parser stops at a NUL as if the text ended there.
    if "\0" in text:
        return None, [_unprintable(text, text.index("\0"), file)]
    try:
        for event in yaml.parse(text, Loader=_loader()):
            reading.take(event)
            if reading.stopped:
                return None, reading.findings
    except yaml.reader.ReaderError as problem:
        return None, [*reading.findings, _unprintable(text, problem.position, file)]
    except yaml.YAMLError as problem:
        return None, [*reading.findings, _in_own_words(problem, text, file)]
    return reading.root or Node(top, entries={}), reading.findings


def check_schema(node: Node, name: str) -> list[Finding]:
    """What in the tree breaks the shipped schema ``name`` (``design``, ``signals``, ``themes``)."""
    plain = node.plain()
    # jsonschema takes 60 ms to import, an eighth of a whole check: files found sound are remembered.
    content = json.dumps([schema(name), plain]).encode()
    if kept(_SOUND, content) is True:
        return []
    from jsonschema import Draft202012Validator

    problems = list(Draft202012Validator(schema(name)).iter_errors(plain))
    # What is wrong as a whole is not told piece by piece.
    whole = {tuple(each.absolute_path) for each in problems if each.validator not in _OF_KEYS}
    findings: list[Finding] = []
    for problem in problems:
        path = tuple(problem.absolute_path)
        if all(path[:length] not in whole for length in range(len(path))):
            findings.extend(_violation(problem, node))
    if not findings:
        keep(_SOUND, content, True)
    return list(dict.fromkeys(findings))


@cache
def schema(name: str) -> dict[str, Any]:
    """A shipped JSON Schema."""
    path = Path(__file__).parent / "schema" / f"{name}.json"
    loaded: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def _loader() -> type[yaml.SafeLoader] | type[yaml.CSafeLoader]:
    return getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass
class _Open:
    """A collection being read; ``flow``: in brackets of its own."""

    span: Span
    mapping: bool
    flow: bool
    anchor: str | None
    items: list[Node] = field(default_factory=list)
    entries: dict[str, Entry] = field(default_factory=dict)
    key: tuple[str, Span] | None = None


@dataclass
class _Reading:
    file: str
    findings: list[Finding] = field(default_factory=list)
    stack: list[_Open] = field(default_factory=list)
    anchors: dict[str, Node] = field(default_factory=dict)
    root: Node | None = None
    documents: int = 0
    stopped: bool = False

    def take(self, event: Any) -> None:
        """One parser event."""
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.stop(event, "a second document starts here", "remove the line `---`")
        elif isinstance(event, yaml.ScalarEvent):
            self.add(_scalar_node(event, self.span(event)), event.anchor)
        elif isinstance(event, yaml.AliasEvent):
            name = str(event.anchor)
            known = self.anchors.get(name)
            if known is None:
                remedy = did_you_mean(name, self.anchors, "marks")
                self.stop(event, f"'*{name}' repeats a mark that is not complete here", remedy)
            else:
                self.add(known, None)
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            mapping = isinstance(event, yaml.MappingStartEvent)
            self.stack.append(_Open(self.span(event), mapping, bool(event.flow_style), event.anchor))
            if len(self.stack) > DEEPEST_VALUE:
                message = f"values nest deeper than {DEEPEST_VALUE} levels"
                self.stop(event, message, "close some of the brackets")
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self.close(event)

    def span(self, event: Any) -> Span:
        """The event's place."""
        start, end = event.start_mark, event.end_mark
        return Span(self.file, start.line + 1, start.column + 1, end.line + 1, end.column + 1)

    def stop(self, event: Any, message: str, remedy: str) -> None:
        """Give up with a finding."""
        self.findings.append(error("M226", message, self.span(event), remedy))
        self.stopped = True

    def close(self, event: Any) -> None:
        """A collection is complete."""
        done = self.stack.pop()
        parts = done.items if not done.mapping else [entry.value for entry in done.entries.values()]
        span = done.span.to(parts[-1].span) if parts else done.span
        if done.flow:
            span = done.span.to(self.span(event))
        size = 1 + sum(part.size for part in parts)
        if size > MOST_VALUES:
            message = f"there are more than {MOST_VALUES} values in this"
            self.findings.append(error("M226", message, done.span, _SHORTER))
            self.stopped = True
        if done.mapping:
            self.add(Node(span, entries=done.entries, size=size), done.anchor)
        else:
            self.add(Node(span, items=tuple(done.items), size=size), done.anchor)

    def add(self, node: Node, anchor: str | None) -> None:
        """A value is complete: it becomes a key, a value, an item or the whole."""
        if anchor is not None:
            self.anchors[anchor] = node
        if not self.stack:
            self.root = node
            return
        within = self.stack[-1]
        if not within.mapping:
            within.items.append(node)
        elif within.key is None:
            if node.items is not None or node.entries is not None:
                self.findings.append(error("M226", "a key must be a single word", node.span, _KEY))
            within.key = (_key_text(node), node.span)
        else:
            key, span = within.key
            within.key = None
            first = within.entries.get(key)
            if first is not None:
                line = first.span.line
                remedy = f"keep one of them, or give it another name; the first stands in line {line}"
                path = tuple(each.key[0] for each in self.stack if each.key is not None)
                # The second may be a misspelt other.
                breaks = tuple(Subject(self.file, (*path, each)) for each in (key, NAMELESS))
                self.findings.append(error("M227", f"'{key}' is given twice", span, remedy, breaks=breaks))
            else:
                within.entries[key] = Entry(key, span, node)


_KEY = "write `key: value`"


def _key_text(node: Node) -> str:
    if isinstance(node.scalar, bool):
        return "true" if node.scalar else "false"
    return "" if node.scalar is None else str(node.scalar)


def _scalar_node(event: Any, span: Span) -> Node:
    text: str = event.value
    plain = event.style in (None, "") and event.tag is None
    if not plain:
        return Node(span, scalar=text, quoted=event.style in ("'", '"'))
    return Node(span, scalar=plain_scalar(text))


def plain_scalar(text: str) -> Scalar:
    """What a text without quotes is."""
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _INTEGER.fullmatch(text):
        return int(text)
    if len(text) <= 40 and _DECIMAL.fullmatch(text) and abs(float(text)) < 1e300:
        return float(text)
    return text


def _unprintable(text: str, position: int, file: str) -> Finding:
    before = text[:position]
    line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    span = Span(file, line, column, line, column + 1)
    return error("M226", "a character that cannot be shown stands here", span, "delete it")


def _in_own_words(problem: yaml.YAMLError, text: str, file: str) -> Finding:
    """The YAML parser's complaint as a builder would put it."""
    what = str(getattr(problem, "problem", "") or "")
    context = str(getattr(problem, "context", "") or "")
    mark = getattr(problem, "problem_mark", None) or getattr(problem, "context_mark", None)
    if "quoted scalar" in context:
        mark = getattr(problem, "context_mark", None) or mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    lines = text.split("\n")
    here = lines[line] if line < len(lines) else ""
    char = here[column : column + 1]
    span = Span(file, line + 1, column + 1, line + 1, column + 2)
    odd = [number for number, text in enumerate(lines[: line + 1]) if text.replace('\\"', "").count('"') % 2]
    message, remedy = "this does not read as YAML", "compare it with the lines above, sign by sign"
    if "cannot start" in what and char == "\t":
        message, remedy = "a tab indents this line", "use spaces"
    elif odd and "quoted scalar" not in context:
        message, remedy = "a quote that was opened is not closed", "add the closing quote"
        column = lines[odd[-1]].rindex('"') + 1
        span = Span(file, odd[-1] + 1, column, odd[-1] + 1, column + 1)
    elif "cannot start" in what:
        message = f"a value cannot start with {char!r}"
        remedy = f'put it in quotes: "{here[column:].split(",")[0].rstrip(" }]")}"'
    elif "quoted scalar" not in context and (slip := colon_slip(lines, line, file, _known_keys(file))):
        return slip
    elif "mapping values" in what:
        message = "a colon stands where no key can be, or this line is indented too far"
        remedy = "line it up with the keys of its level; put a value that holds a colon in quotes"
    elif "quoted scalar" in context:
        message, remedy = "a quote that was opened is not closed", "add the closing quote"
    elif "flow" in context:
        sign = "}" if "mapping" in context else "]"
        opened = getattr(problem, "context_mark", None)
        where = f" in line {opened.line + 1}" if opened is not None and opened.line != line else ""
        message = f"a bracket that was opened{where} is not closed before this: '{sign}' is missing"
        remedy = f"add `{sign}`, or the comma between two values"
    elif "block" in context:
        message = "this line is indented differently from the lines of its level"
        remedy = "line it up with them"
    elif "':'" in what:
        message, remedy = "a key stands without its colon", "write `key: value`"
    return error("M226", message, span, remedy)


def _known_keys(file: str) -> set[str]:
    """The keys of the schema of a file, at any depth."""
    found: set[str] = set()
    todo: list[Any] = [schema(Path(file).stem)] if Path(file).stem in _SCHEMAS else []
    while todo:
        item = todo.pop()
        if isinstance(item, dict):
            named = item.get("properties")
            found.update(named if isinstance(named, dict) else ())
        todo.extend(item.values() if isinstance(item, dict) else item if isinstance(item, list) else ())
    return found


_SCHEMAS = ("design", "signals", "themes")


def _at(node: Node, path: list[str | int]) -> tuple[Node, Span]:
    """The value at a path, and the place to point at: its key where it has one."""
    span = node.span
    for step in path:
        if isinstance(step, int) and node.items is not None:
            node = node.items[step]
            span = node.span
        else:
            entry = (node.entries or {})[str(step)]
            node, span = entry.value, entry.span
    return node, span


def _violation(problem: Any, root: Node) -> Iterator[Finding]:
    """What breaks a schema; it leaves unknown what stands at its path."""
    path = list(problem.absolute_path)
    keys = tuple(map(str, path))
    file = root.span.file
    node, key_span = _at(root, path)
    rule, rules = problem.validator, problem.schema
    name = _named(path)
    if rule == "required":
        lacking = [key for key in problem.validator_value if key not in problem.instance]
        known = rules.get("properties", {})
        message = f"{name} lacks {', '.join(repr(key) for key in lacking)}"
        remedy = "add " + ", ".join(_sample(key, known.get(key, {})) for key in lacking)
        if _without_heading(node, lacking, rules):
            remedy = f"write `{lacking[0]}:` in a line of its own above it"
        left = tuple(Subject(file, (*keys, key)) for key in lacking)
        # It may stand there under the name of another, which is there twice.
        rests_on = (Subject(file, (*keys, NAMELESS)),)
        yield error("M229", message, _first_line(key_span), remedy, rests_on=rests_on, breaks=left)
    elif rule == "additionalProperties":
        known = list(rules.get("properties", {}))
        lacking = [key for key in rules.get("required", ()) if node.get(key) is None]
        for entry in node.each() if not _without_heading(node, lacking, rules) else ():
            if entry.key not in known:
                remedy = did_you_mean(entry.key, known, "keys")
                message = f"{name} knows no '{entry.key}'"
                left = (Subject(file, (*keys, entry.key)),)
                yield error("M228", message, entry.span, remedy, breaks=left)
    elif node.entries is not None and isinstance(problem.instance, str):
        entry = node.entries[problem.instance]
        wanted = rules.get("title", "a name of another form")
        message = f"'{entry.key}' cannot be a name here: it must be {wanted}"
        meant = re.sub(r"[^a-z0-9_.]", "_", entry.key.lower())
        left = tuple(Subject(file, (*keys, key)) for key in (entry.key, meant))
        fits = re.search(rules.get("pattern", "$"), meant) is not None
        yield error("M230", message, entry.span, f"write `{meant}`" if fits else _such(rules), breaks=left)
    else:
        shown = "nothing" if node.scalar is None and node.items is None else _shown(problem.instance)
        span = node.span if node.entries is None and node.scalar is not None else key_span
        message = f"{name} must be {_wanted(rule, problem)}; here it is {shown}"
        code = "M231" if rule in _BOUNDS else "M230"
        such = _such(rules, problem.instance)
        yield error(code, message, _first_line(span), such, breaks=(Subject(file, keys),))


def _without_heading(node: Node, lacking: Sequence[str], rules: Mapping[str, Any]) -> bool:
    """Whether several keys are unknown where one lacks: they stand where it should hold them."""
    unknown = [entry for entry in node.each() if entry.key not in rules.get("properties", {})]
    return len(lacking) == 1 and len(unknown) > 1


_OF_KEYS = frozenset({"required", "additionalProperties", "propertyNames"})
"""Rules that say something of the keys of a value, nothing of what stands below the others."""
_BOUNDS = {"minimum": "at least", "maximum": "at most", "exclusiveMinimum": "more than"}
_TYPES = {
    "object": "a mapping of keys to values",
    "array": "a list in brackets",
    "string": "a text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
}


def _wanted(rule: str, problem: Any) -> str:
    if rule in _BOUNDS:
        return f"{_BOUNDS[rule]} {problem.validator_value}"
    title = problem.schema.get("title")
    if isinstance(title, str):
        return title
    if rule == "enum":
        return " or ".join(str(choice) for choice in problem.validator_value)
    if rule == "const":
        return json.dumps(problem.validator_value)
    if rule == "type" and isinstance(problem.validator_value, str):
        return _TYPES.get(problem.validator_value, "of another kind")
    return "of another form"


def _named(path: list[str | int]) -> str:
    if not path:
        return "the file"
    if isinstance(path[-1], int):
        return f"value {path[-1] + 1} of '{path[-2]}'" if len(path) > 1 else f"value {path[-1] + 1}"
    return f"'{path[-1]}'"


def _shown(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else text[:37] + "..."


def _such(rules: Mapping[str, Any], given: object = None) -> str | None:
    examples = rules.get("examples")
    if not examples:
        return None
    meant = likely(given, examples[0])
    if meant is not None and (not isinstance(meant, str) or re.search(rules.get("pattern", "$"), meant)):
        return f"write `{_flow(meant)}`"
    return f"write, say, `{_flow(examples[0])}`"


def _sample(key: str, rules: Mapping[str, Any]) -> str:
    examples = rules.get("examples")
    return f"`{key}: {_flow(examples[0])}`" if examples else f"`{key}:`"


def _flow(value: object) -> str:
    """A value as it stands in a YAML line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(item) for item in value) + "]"
    if isinstance(value, str) and re.fullmatch(r"[\w./][\w./ ·°²-]*", value):
        return value
    return json.dumps(value, ensure_ascii=False)


def _first_line(span: Span) -> Span:
    """A place that spans many lines points at its start."""
    if span.end_line == span.line:
        return span
    return replace(span, end_line=span.line, end_column=span.column + 1)
