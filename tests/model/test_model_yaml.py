"""YAML with places: the tree, the messages, and that nothing breaks it."""

from pathlib import Path

import jsonschema
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.model.yaml_source import check_schema, parse_yaml, schema

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
NAMES = ("design", "signals", "themes")


def tree(text):
    node, findings = parse_yaml(text, "x.yaml")
    assert node is not None and not findings, findings
    return node


def place(span):
    return (span.line, span.column, span.end_line, span.end_column)


def test_every_key_and_value_has_its_place():
    root = tree('a: 1\nbé:\n  - "two"\n  - {c: x y}\n')
    assert place(root.entries["a"].span) == (1, 1, 1, 2)
    assert place(root.get("a").span) == (1, 4, 1, 5)
    items = root.get("bé").items
    assert place(items[0].span) == (3, 5, 3, 10)
    assert place(items[1].entries["c"].span) == (4, 6, 4, 7)
    assert place(items[1].get("c").span) == (4, 9, 4, 12)
    assert root.plain() == {"a": 1, "bé": ["two", {"c": "x y"}]}


def test_words_stay_words():
    # YAML 1.2 core schema, chapter 10.3: only true and false are booleans, there are no sexagesimals.
    root = tree('{a: on, b: off, c: yes, d: N, e: 12:30, f: 1_000, g: "5", h: 0x10, i: 2026-01-02}')
    assert root.plain() == {
        "a": "on",
        "b": "off",
        "c": "yes",
        "d": "N",
        "e": "12:30",
        "f": "1_000",
        "g": "5",
        "h": "0x10",
        "i": "2026-01-02",
    }
    assert tree("[1, -2.5, 1e3, .5, true, null, ~, ]").plain() == [1, -2.5, 1000.0, 0.5, True, None, None]


@pytest.mark.parametrize("name", NAMES)
def test_the_example_reads_as_pyyaml_reads_it(name):
    # PyYAML's own loader is the second reader; the example quotes what YAML 1.1 would change.
    text = (DUNLIN / f"{name}.yaml").read_text(encoding="utf-8")
    ours, theirs = tree(text).plain(), yaml.safe_load(text)

    def keyed(value):
        if isinstance(value, dict):
            return {str(key): keyed(item) for key, item in value.items()}
        return [keyed(item) for item in value] if isinstance(value, list) else value

    assert ours == keyed(theirs)
    assert check_schema(tree(text), name) == []


@pytest.mark.parametrize(
    ("text", "code", "line", "column", "said"),
    [
        ("a: 1\na: 2\n", "M227", 2, 1, "twice"),
        ("a: b: c\n", "M226", 1, 5, "colon"),
        ("a: [1, 2\nb: 3\n", "M226", 2, 2, "bracket"),
        ("a:\n\t- b\n", "M226", 2, 1, "tab"),
        ("b: 1\na: 'x\n", "M226", 2, 4, "quote"),
        ("a: %x\n", "M226", 1, 4, "'%'"),
        ("a: 1\n---\nb: 2\n", "M226", 2, 1, "second document"),
        ("a: \x01\n", "M226", 1, 4, "cannot be shown"),
        ("a: 1\n\0", "M226", 2, 1, "cannot be shown"),
        ("a: &m [*m]\n", "M226", 1, 8, "not complete"),
        ("a: *m\n", "M226", 1, 4, "*m"),
        ("[" * 100, "M226", 1, 21, "deeper"),
        ("? [a]\n: 1\n", "M226", 1, 3, "single word"),
    ],
)
def test_mistakes(text, code, line, column, said):
    _, findings = parse_yaml(text, "x.yaml")
    first = findings[0]
    assert (first.code, first.span.line, first.span.column) == (code, line, column)
    assert said in first.message and first.remedy


def test_a_mark_may_be_repeated_but_not_without_end():
    assert tree("a: &m [1, 2]\nb: *m\n").plain() == {"a": [1, 2], "b": [1, 2]}
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, 12)]
    node, findings = parse_yaml("\n".join(lines), "x.yaml")
    assert node is None and "values in this" in findings[-1].message


@pytest.mark.parametrize(
    ("name", "text", "code", "line", "column", "said", "remedy"),
    [
        ("design", "panle: {}\n", "M228", 1, 1, "knows no 'panle'", "did you mean 'panel'?"),
        ("design", "fonts: {}\n", "M229", 1, 1, "lacks 'panel', 'start'", "`start: drive`"),
        ("design", "panel: {eye distance: 700}\n", "M230", 1, 23, "a length in mm", "`700 mm`"),
        ("design", "panel: {colour depth: 18}\n", "M230", 1, 23, "16 or 24", "`24`"),
        ("design", "panel: {baud: 300}\n", "M231", 1, 15, "at least 9600", "`115200`"),
        ("design", "panel: {pixels: [8, 600]}\n", "M231", 1, 18, "value 1 of 'pixels'", ""),
        ("signals", "signals: {voltage: {}}\n", "M230", 1, 11, "cannot be a name", "pack.voltage"),
        ("signals", "signals: {a.b: {flag: 1}}\n", "M230", 1, 23, "true", "true"),
        ("signals", "signals: {a.b: {range: [1, x]}}\n", "M230", 1, 28, "number", ""),
        ("signals", "signals: {a.b: {stale: 500}}\n", "M230", 1, 24, "a time", "500 ms"),
        ("signals", "signals: {a.b: {words: {P: 0}}}\n", "M230", 1, 25, "whole number", "0"),
        ("themes", "themes: {day: {roles: {ink: red}}}\n", "M230", 1, 29, "six hexadecimal", '"#f3efe6"'),
        ("themes", "themes: {day: {ramps: {x: ['#000000']}}}\n", "M230", 1, 24, "two or more", "#"),
    ],
)
def test_what_breaks_a_schema(name, text, code, line, column, said, remedy):
    findings = check_schema(tree(text), name)
    found = [f for f in findings if f.code == code and (f.span.line, f.span.column) == (line, column)]
    assert any(said in f.message and remedy in (f.remedy or "") for f in found), findings


def test_a_sound_file_is_remembered_and_a_changed_one_checked(tmp_path, monkeypatch):
    text = (DUNLIN / "themes.yaml").read_text(encoding="utf-8")
    assert check_schema(tree(text), "themes") == []
    (path,) = (tmp_path / "cache").rglob("sound-*")
    assert path.read_bytes().endswith(b"true")
    wrong = tree(text.replace("brightness: 100", "brightness: 101"))
    assert [finding.code for finding in check_schema(wrong, "themes")] == ["M231"]
    monkeypatch.setattr("jsonschema.Draft202012Validator", None)
    assert check_schema(tree(text), "themes") == []


@pytest.mark.parametrize("name", NAMES)
def test_schemas_are_valid_and_describe_every_key(name):
    jsonschema.Draft202012Validator.check_schema(schema(name))

    def properties(rules):
        for key, inner in rules.get("properties", {}).items():
            yield key, inner
            yield from properties(inner)
        for part in ("additionalProperties", "items"):
            if isinstance(rules.get(part), dict):
                yield from properties(rules[part])

    found = list(properties(schema(name)))
    assert len(found) >= 9
    assert all(inner.get("description") for _, inner in found), found
    for key, inner in found:
        for example in inner.get("examples", []):
            if key not in ("themes", "roles"):
                jsonschema.Draft202012Validator(inner).validate(example)


texts = [(DUNLIN / f"{name}.yaml").read_text(encoding="utf-8") for name in NAMES]
pieces = st.sampled_from(
    [*": {}[]\"'#&*!|>%@`,-?\t\n\0\x07é", "- ", ": ", "*a", "&a ", "!!str ", "---\n", "\n "]
)


@st.composite
def mangled(draw):
    which = draw(st.integers(0, 2))
    text = texts[which][: draw(st.integers(0, 2500))]
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, len(text)))
        cut = draw(st.integers(0, 5))
        text = text[:at] + draw(pieces) + text[at + cut :]
    return which, text


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(mangled())
def test_no_text_raises(case):
    which, text = case
    node, findings = parse_yaml(text, "x.yaml")
    lines = text.split("\n")
    if node is not None:
        findings = findings + check_schema(node, NAMES[which])
    else:
        assert findings
    for finding in findings:
        assert finding.code.startswith("M2") and finding.span is not None
        assert 1 <= finding.span.line <= len(lines) + 1
        assert "yaml" not in finding.message.lower().replace("does not read as yaml", "")


@settings(max_examples=100)
@given(st.text(max_size=60))
def test_no_short_text_raises(text):
    node, findings = parse_yaml(text, "x.yaml")
    assert node is not None or findings
