"""The pieces of sentences, held against lark's own contextual lexer with a pattern for each terminal
(lark 1.3; the patterns are written out here once more)."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import lark
from hypothesis import given
from hypothesis import strategies as st

from hmic.language import grammar
from hmic.language.grammar import Slip, Start, read_sentence

HERE = Path(grammar.__file__).parent
LAYOUTS = Path(__file__).parents[2] / "layouts"
BLANK = r"[ \t\u00a0\u202f]"
LETTERS = r"(?:[^\W\d_]|[%‰°])+(?:\^?[0-9])?"
UNIT = rf"{LETTERS}(?:[·⋅\/]{LETTERS})*(?![\w.\[])"
NO_UNIT = (
    "and|or|not|is|in|of|to|from|by|on|off|as|at|across|down|rows|when|while|with|within|over|every|above|below"
)
AFTER_NUMBER = (
    "text|called|marks|peak|filled|colour|flashing|means|upward|downward|rightward|leftward|shaped|difference|goes"
    "|sets|toggles|steps|allowed|held|confirmed|refused|acknowledges|sized|named|flowing|turned|showing|marked"
    "|aligned|shown|corner|otherwise|sweep|figures|fine|needle|centred|also|target"
)
PATTERNS = {
    "KIND.3": r"(?:label|reading|words|clock|bar|level|cells|button|switch|choice|stepper|slider|dial|chart"
    r"|list|picture)(?![\w.])",
    "PICTURED.3": r"(?:lamp|symbol|shape)(?![\w.])",
    "FLOW.3": r"(?:across|down|freely)(?![\w.])",
    "SIDE.3": r"(?:left|right|up|down)(?![\w.])",
    "DIRECTION.3": r"(?:upward|downward|rightward|leftward)(?![\w.])",
    "ALIGNMENT.3": r"(?:left|centre|right)(?![\w.])",
    "FLASHING.3": r"flashing(?![\w.])",
    "SWITCHED.3": r"(?:on|off)(?![\w.])",
    "COMPARE.3": rf"<=|>=|<|>|is{BLANK}+not(?![\w.])|is(?![\w.])",
    "_IN_STEPS_OF.4": rf"in{BLANK}+steps{BLANK}+of(?![\w.])",
    "_COMMA": ",",
    "_OPEN": r"\(",
    "_CLOSE": r"\)",
    "_INDEX": r"\[",
    "_INDEX_END": r"\]",
    "PLUS": r"\+",
    "MINUS": "-",
    "TIMES": r"[*\/]",
    "EMPTY": r"\.(?![\w.])",
    "STRING": r'"(?:[^"\\]|\\["\\])*"',
    "SIGNAL.2": r"[^\W\d]\w*(?:\.[^\W\d]\w*)+(?![\w.])",
    "NAME": r"[^\W\d]\w*(?![\w.])",
    "UNIT": rf"(?!(?:{NO_UNIT})(?![\w.])){UNIT}",
    "QUANTITY.2": r"-?[0-9]+(?:\.[0-9]+)?(?![0-9])"
    rf"(?:{BLANK}*(?!(?:{NO_UNIT}|{AFTER_NUMBER})(?![\w.])){UNIT})?",
}


@cache
def other() -> lark.Lark:
    """The grammar with these patterns, read by lark's lexer."""
    text = (HERE / "grammar.lark").read_text()
    declared = " ".join(re.findall(r"(?m)^%declare (.*)$", text)).split()
    named = {name.partition(".")[0] for name in PATTERNS}
    own = {f"{name}.3": rf"{name[1:].lower()}(?![\w.])" for name in declared if name not in named}
    lines = [f"{name}: /{pattern}/" for name, pattern in (PATTERNS | own).items()]
    rules = re.sub(r"(?m)^%declare .*$", "", text)
    return lark.Lark(
        "\n".join([rules, *lines, f"%ignore /{BLANK}+/"]),
        parser="lalr",
        lexer="contextual",
        start=list(Start),
        propagate_positions=True,
        maybe_placeholders=False,
    )


def shape(node: Any) -> Any:
    if isinstance(node, lark.Token):
        return node.type, str(node), node.start_pos, node.end_pos
    return str(node.data), [shape(child) for child in node.children]


def by_lark(rule: str, text: str) -> Any:
    try:
        return shape(other().parse(text, start=rule))
    except lark.UnexpectedInput as slip:
        token = getattr(slip, "token", None)
        return len(text) if token is not None and token.type == "$END" else slip.pos_in_stream


def here(rule: str, text: str) -> Any:
    found = read_sentence(rule, text)
    return found.place if isinstance(found, Slip) else shape(found)


def sentences() -> list[str]:
    files = [path.read_text() for path in LAYOUTS.rglob("*.layout")]
    lines = {line.strip() for text in files for line in text.split("\n")}
    return sorted(line for line in lines if line and not line.startswith("#"))


def test_every_sentence_of_the_examples_reads_alike_by_every_rule() -> None:
    whole = 0
    for line in sentences():
        for rule in Start:
            found = here(rule, line)
            assert found == by_lark(rule, line), (rule, line)
            whole += not isinstance(found, int)
    assert whole > len(sentences()) / 2


WORDS = sorted({word for line in sentences() for word in line.replace(",", " , ").split(" ")})
ODD = ["in steps of", "is not", "-3", "3 °C", "9 kW/h", "a.b", "a.b[", "]", "..", '"x', "text", "up", "·"]


@given(
    st.sampled_from(Start),
    st.lists(st.sampled_from([*WORDS, *ODD]) | st.text(max_size=3), min_size=1, max_size=9),
    st.sampled_from([" ", "", "\u00a0"]),
)
def test_what_nobody_writes_reads_alike_and_goes_wrong_in_the_same_place(
    rule: str, words: list[str], between: str
) -> None:
    text = between.join(words)
    assert here(rule, text) == by_lark(rule, text)


@given(st.sampled_from(sentences()), st.data())
def test_sentences_with_a_slip_go_wrong_in_the_same_place(line: str, data: st.DataObject) -> None:
    words = line.split(" ")
    at = data.draw(st.integers(0, len(words) - 1))
    words[at : at + 1] = data.draw(st.lists(st.sampled_from([*WORDS, *ODD]), max_size=2))
    rule = data.draw(st.sampled_from(Start))
    text = " ".join(words)
    assert here(rule, text) == by_lark(rule, text)
