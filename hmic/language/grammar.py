"""The one place that knows lark: a sentence in, a tree or the place where it goes wrong out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from hmic.language.tokens import piece_at, start_after

if TYPE_CHECKING:
    from lark import Lark, Tree


class Start(StrEnum):
    """The start rules of the grammar: what a line is read as."""

    TOP = "top_line"
    BODY = "body_line"
    PLAN = "plan_line"
    CONTENT = "content_line"
    PHRASE = "phrase_line"
    TRACE = "trace_line"
    EXPRESSION = "expression_line"


Node = Any
"""A ``lark.Tree[Token]``; lark is imported only when a sentence is read."""


@dataclass(frozen=True)
class Slip:
    """A sentence goes wrong at ``place`` (counting from 0; the text's length means that it ends too
    early), where only the terminals ``allowed`` of the grammar could stand."""

    place: int
    allowed: frozenset[str]


@lru_cache(maxsize=4096)
def read_sentence(rule: Start, text: str) -> Node | Slip:
    """One sentence by a start rule of the grammar. Equal sentences share one tree: do not change it."""
    tree, stop = _parse(rule, text)
    if stop is None:
        return tree
    allowed = stop.parser.accepts()
    return Slip(stop.place, frozenset(allowed - {"$END"} if stop.foreign else allowed))


def fitting(rule: Start, text: str) -> Node | None:
    """The tree of a sentence, or None when it goes wrong: cheaper than a ``Slip``."""
    return _parse(rule, text)[0]


class _Stop(NamedTuple):
    """Where a sentence goes wrong, and the parser as it stands there. ``foreign``: no piece that may stand
    there starts there."""

    place: int
    parser: Any
    foreign: bool


@lru_cache(maxsize=4096)
def _parse(rule: Start, text: str) -> tuple[Node | None, _Stop | None]:
    """The parser is asked, piece by piece, what may come next."""
    from lark import Token, UnexpectedToken

    parser: Any = _parser().parse_interactive("", start=rule)
    place, last = start_after(text, 0), None
    try:
        while place < len(text):
            piece = piece_at(text, place, parser.choices())
            if piece is None:
                return None, _Stop(place, parser, foreign=True)
            name, end = piece
            last = Token(name, text[place:end], place, 1, place + 1, 1, end + 1, end)
            parser.feed_token(last)
            place = start_after(text, end)
        return parser.feed_eof(last), None
    except UnexpectedToken:
        return None, _Stop(place, parser, foreign=False)


@lru_cache(maxsize=1)
def _parser() -> Lark:
    import lark

    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    return lark.Lark(
        grammar,
        parser="lalr",
        lexer="basic",
        start=list(Start),
        propagate_positions=True,
        maybe_placeholders=False,
    )


def start_of(node: Tree[Any]) -> int:
    """Where a tree's first token starts in its sentence, from 0."""
    return int(node.meta.start_pos)


def end_of(node: Tree[Any]) -> int:
    """Where a tree's last token ends, exclusive."""
    return int(node.meta.end_pos)
