"""Slips in the keys of a YAML tree put right for what reads it next, so that each is told once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from hmic.diagnostics import Finding, Span, closest, error
from hmic.model.files import Folder
from hmic.model.yaml_slips import no_colon, no_space
from hmic.model.yaml_source import Entry, Node, check_schema, parse_yaml, plain_scalar, schema


def read_yaml(opened: Folder, file: str, name: str) -> Node | None:
    """A YAML file of the folder, checked against the shipped schema ``name``; what is wrong goes to the
    folder's findings."""
    text = opened.text(file)
    if text is None:
        return None
    node, findings = parse_yaml(text, file)
    opened.findings.extend(findings)
    if node is None:
        return None
    node, findings = checked(node, name)
    opened.findings.extend(findings)
    return node


def checked(node: Node, name: str) -> tuple[Node, list[Finding]]:
    """The tree with its slips put right, and what is wrong with it: the slips and what breaks the
    shipped schema ``name``."""
    findings: list[Finding] = []
    mended = _mended(node, schema(name), schema(name), findings)
    return mended, [*findings, *check_schema(mended, name)]


def _mended(node: Node, rules: Mapping[str, Any], root: Mapping[str, Any], findings: list[Finding]) -> Node:
    rules = _resolved(rules, root)
    if node.items is not None:
        inner = rules.get("items", {})
        return replace(node, items=tuple(_mended(item, inner, root, findings) for item in node.items))
    if node.entries is None:
        return node
    known: Mapping[str, Any] = rules.get("properties", {})
    result: dict[str, Entry] = {}
    for entry in node.each():
        entry = _mended_key(entry, known, rules, node, findings)
        if entry.key not in result:
            inner = _rules_of(entry.key, rules)
            result[entry.key] = replace(entry, value=_mended(entry.value, inner, root, findings))
    return replace(node, entries=result)


def _resolved(rules: Any, root: Mapping[str, Any]) -> Mapping[str, Any]:
    """The rules that a reference stands for."""
    target = rules.get("$ref") if isinstance(rules, dict) else None
    if isinstance(target, str) and target.startswith("#/"):
        found: Any = root
        for step in target[2:].split("/"):
            found = found.get(step, {}) if isinstance(found, dict) else {}
        return found if isinstance(found, dict) else {}
    return rules if isinstance(rules, dict) else {}


def _rules_of(key: str, rules: Mapping[str, Any]) -> Any:
    known = rules.get("properties", {})
    if key in known:
        return known[key]
    for pattern, inner in rules.get("patternProperties", {}).items():
        if re.search(pattern, key):
            return inner
    return rules.get("additionalProperties", {})


def _mended_key(
    entry: Entry, known: Mapping[str, Any], rules: Mapping[str, Any], node: Node, findings: list[Finding]
) -> Entry:
    if entry.key in known:
        return entry
    if entry.value.scalar is None and entry.value.items is None and entry.value.entries is None:
        split = next(_split(entry, known), None)
        if split is not None and node.get(split[0].key) is None:
            mended, finding = split
            findings.append(finding)
            return mended
    if rules.get("additionalProperties") is not False or rules.get("patternProperties"):
        # Any key may stand here; one that lacks may be meant.
        near = closest(entry.key, [key for key in rules.get("required", ()) if node.get(key) is None])
    else:
        near = near_key(entry.key, known)
    if near is None or node.get(near) is not None:
        return entry
    message = f"there is no key '{entry.key}' here"
    findings.append(error("M228", message, entry.span, f"did you mean '{near}'?"))
    return replace(entry, key=near)


def near_key(word: str, known: Mapping[str, Any]) -> str | None:
    """The key that was meant: by its letters, or as its first word (``stale`` for ``stale_after``)."""
    near = closest(word, known)
    first = re.split(r"[\W_]", word)[0]
    return near or (first if first in known else None)


def _split(entry: Entry, known: Mapping[str, Any]) -> Iterator[tuple[Entry, Finding]]:
    """``to:Message.Signal`` and ``unit V``: a key and its value in one."""
    tight = re.fullmatch(r"([^:]*[^:\s]):(\S.*)", entry.key)
    if tight is not None and (not known or tight.group(1) in known):
        finding = no_space(tight.group(1), tight.group(2), entry.span)
        yield _pair(entry, tight.group(1), tight.group(2)), finding
    for key in sorted(known, key=len, reverse=True):
        if entry.key.startswith(key + " "):
            value = entry.key[len(key) :].strip()
            yield _pair(entry, key, value), no_colon(key, value, entry.span)


def _pair(entry: Entry, key: str, value: str) -> Entry:
    span = entry.span
    end = span.column + len(key)
    place = Span(span.file, span.line, end + 1, span.end_line, span.end_column)
    quoted = len(value) > 1 and value[0] == value[-1] and value[0] in "\"'"
    scalar = value[1:-1] if quoted else plain_scalar(value)
    return Entry(key, replace(span, end_column=end), Node(place, scalar=scalar, quoted=quoted))
