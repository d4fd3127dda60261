"""The kinds of the language are those of its grammar and of its words."""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import Path

import lark
import pytest

import hmic
from hmic.arrange.canvas import Alignment
from hmic.language import grammar
from hmic.language.grammar import Start
from hmic.language.syntax import Flow, Operator, PhraseKind, Side, WidgetKind
from hmic.language.tokens import TERMINALS, piece_at

ROOM = Path(grammar.__file__).parent
TEXT = (ROOM / "grammar.lark").read_text(encoding="utf-8")


def names_of(rule: str) -> set[str]:
    """What the branches of a rule are called in a tree, by lark: one without a name, of a rule that
    stands for its branches, is the rule that it holds."""
    built = lark.Lark(TEXT, parser="lalr", lexer="basic", start=list(Start), maybe_placeholders=False)
    found = [each for each in built.rules if each.origin.name == rule]
    assert found
    return {
        each.alias or (each.expansion[0].name if each.options.expand1 else each.origin.name) for each in found
    }


def test_phrases_are_those_of_the_grammar() -> None:
    assert names_of("plain") | names_of("named") | names_of("way") == set(PhraseKind)


@pytest.mark.parametrize(
    ("kinds", "terminals"),
    [
        (WidgetKind, ("KIND", "PICTURED", "SCREENS", "_TRACE")),
        (Flow, ("FLOW",)),
        (Side, ("SIDE",)),
        (Alignment, ("ALIGNMENT",)),
    ],
)
def test_words_are_read_where_the_grammar_has_their_terminal(
    kinds: type[StrEnum], terminals: tuple[str, ...]
) -> None:
    """Each kind's word is one of these terminals, and no other word of any kind is."""
    words = {str(kind) for each in (WidgetKind, PhraseKind, Flow, Side, Alignment) for kind in each}
    read = {word for word in words if (piece_at(word, 0, terminals) or ("", 0))[1] == len(word)}
    assert read == set(kinds)


def test_every_operator_can_be_written() -> None:
    signs = {"PLUS", "MINUS", "TIMES", "COMPARE", "_AND", "_OR"}
    for operator in Operator:
        written = operator.replace("_", " ")
        piece = piece_at(written, 0, signs)
        assert piece is not None and piece[1] == len(written)


@pytest.mark.parametrize("file", ["language/mistakes.py", "editor/completion.py", "editor/context.py"])
def test_terminals_are_named_as_the_grammar_names_them(file: str) -> None:
    text = (Path(hmic.__file__).parent / file).read_text(encoding="utf-8")
    named = set(re.findall(r'"(_?[A-Z][A-Z_]{2,})"', text))
    assert named - TERMINALS - {"DBC"} == set()
