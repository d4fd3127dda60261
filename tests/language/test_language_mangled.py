"""No text, however mangled, makes a traceback, and every span stays inside the text."""

from __future__ import annotations

import dataclasses
import random
import re
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import Span, as_text
from hmic.language.parser import parse, parse_expression

ROOT = Path(__file__).parents[2]
ROUNDS = 10_000
SIGNS = "\"\\#()[]{}.,:;=<>!&|+-*/%°·²\t\r\n \u00a0\u200b\ufeff\u2028\x00\ud800é漢🚐0123456789abcxyzABC_'“"


def screens() -> list[str]:
    """The example files, one screen or part a piece."""
    pieces = []
    for path in sorted((ROOT / "layouts" / "dunlin").glob("*.layout")):
        text = path.read_text(encoding="utf-8")
        pieces += [piece for piece in re.split(r"^(?=screen|part|swipe)", text, flags=re.MULTILINE) if piece]
    return pieces


def mangled(text: str, other: str, chance: random.Random) -> str:
    """One to three changes of characters, words or lines."""
    for _ in range(chance.randint(1, 3)):
        way = chance.randrange(9)
        at = chance.randrange(len(text) + 1)
        if way == 0:
            text = text[:at] + text[at + chance.randint(1, 3) :]
        elif way == 1:
            text = text[:at] + chance.choice(SIGNS) + text[at:]
        elif way == 2:
            text = text[:at] + chr(chance.randrange(0x110000)) + text[at + 1 :]
        elif way == 3:
            text = text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :]
        elif way == 4:
            lines = text.split("\n")
            one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
            lines[one], lines[two] = lines[two], lines[one]
            text = "\n".join(lines)
        elif way == 5:
            lines = text.split("\n")
            del lines[chance.randrange(len(lines))]
            text = "\n".join(lines)
        elif way == 6:
            lines = text.split("\n")
            lines.insert(chance.randrange(len(lines) + 1), chance.choice(other.split("\n")))
            text = "\n".join(lines)
        else:
            words = re.split(r"( +|\n)", text)
            one, two = chance.randrange(len(words)), chance.randrange(len(words))
            if way == 7:
                words[one], words[two] = words[two], words[one]
            else:
                words.insert(one, words[two])
            text = "".join(words)
    return text


def check(text: str) -> None:
    layout, findings = parse(text, "m.layout")
    lines = text.split("\n")
    stack: list[object] = [layout]
    while stack:
        node = stack.pop()
        if isinstance(node, Span):
            assert 1 <= node.line <= node.end_line <= len(lines), (node, text)
            assert 1 <= node.column <= len(lines[node.line - 1]) + 1, (node, text)
            assert 1 <= node.end_column <= len(lines[node.end_line - 1]) + 1, (node, text)
        elif isinstance(node, tuple):
            stack.extend(node)
        elif dataclasses.is_dataclass(node):
            stack.extend(getattr(node, item.name) for item in dataclasses.fields(node))
    for finding in findings:
        assert finding.span is not None
        assert 1 <= finding.span.line <= len(lines), (finding, text)
        assert 1 <= finding.span.column <= len(lines[finding.span.line - 1]) + 1, (finding, text)


def test_ten_thousand_mangled_screens() -> None:
    chance = random.Random(20)
    pieces = screens()
    troubled = 0
    for _ in range(ROUNDS):
        text = mangled(chance.choice(pieces), chance.choice(pieces), chance)
        check(text)
        troubled += bool(parse(text, "m.layout")[1]) if chance.random() < 0.02 else 0
    assert troubled > 50


WORDS = st.sampled_from(
    sorted(
        {word for piece in screens() for word in re.findall(r"\S+|\n +", piece)} | {"\n    ", "\n        "}
    )
)


@settings(max_examples=150)
@given(st.lists(st.one_of(WORDS, st.text(max_size=4)), max_size=40))
def test_any_words(words: list[str]) -> None:
    check('screen s "S"\n    ' + " ".join(words))


@settings(max_examples=150)
@given(st.text())
def test_any_text(text: str) -> None:
    check(text)
    _, findings = parse_expression(text, "s.yaml", 3, 5)
    as_text(findings, {"s.yaml": text})


def test_deep_and_long_texts() -> None:
    for text in (
        "(" * 5000,
        "in a " * 3000,
        'screen s "S"\n    in a reading ' + "(" * 400 + "a.b" + ")" * 400,
        'screen s "S"\n    in a reading ' + "not " * 200 + "a.b",
        'screen s "S"\n    in a reading ' + "-" * 900 + "a.b",
        'screen s "S"\n    in a reading ' + "a.b[" * 200 + "1" + "]" * 200,
        'screen s "S"\n    in a reading a.b' + ", text" * 150,
        'screen s "S"\n' + "\n".join(" " * depth + "each n from 1 to 2" for depth in range(1, 400)),
        'screen s "S"\n' + "\n".join(" " * depth + "called" for depth in range(1, 400)),
        "\n" * 5000,
    ):
        check(text)
