"""The one place that knows lark: a sentence in, a tree or the place where it goes wrong out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lark import Lark, Tree

RULES = (
    "top_line",
    "body_line",
    "plan_line",
    "content_line",
    "phrase_line",
    "trace_line",
    "expression_line",
)

Node = Any
"""A ``lark.Tree[Token]``; lark is imported only when a sentence is read."""


@dataclass(frozen=True)
class Slip:
    """A sentence goes wrong at ``place`` (counting from 0; the text's length means that it ends too
    early), where only the terminals ``allowed`` of the grammar could stand."""

    place: int
    allowed: frozenset[str]


@lru_cache(maxsize=4096)
def read_sentence(rule: str, text: str) -> Node | Slip:
    """One sentence by a start rule of the grammar. Equal sentences share one tree: do not change it."""
    tree, slip = _parse(rule, text)
    if slip is None:
        return tree
    token = getattr(slip, "token", None)
    place = len(text) if token is not None and token.type == "$END" else slip.pos_in_stream
    return Slip(min(place or 0, len(text)), _allowed(slip))


def fitting(rule: str, text: str) -> Node | None:
    """The tree of a sentence, or None when it goes wrong: cheaper than a ``Slip``."""
    return _parse(rule, text)[0]


@lru_cache(maxsize=4096)
def _parse(rule: str, text: str) -> tuple[Node | None, Any]:
    from lark import UnexpectedInput

    try:
        return _parser().parse(text, start=rule), None
    except UnexpectedInput as slip:
        return None, slip.with_traceback(None)


def _allowed(slip: Any) -> frozenset[str]:
    """The terminals that can truly be shifted here: the parser's table also lists some that a later
    reduction would refuse."""
    from lark import Token, UnexpectedInput

    candidates = getattr(slip, "expected", None) or getattr(slip, "allowed", None) or ()
    found = set()
    for name in sorted(candidates):
        trial = slip.state.copy(deepcopy_values=False)
        try:
            trial.feed_token(Token(name, ""), is_end=name == "$END")
        except (UnexpectedInput, KeyError):
            continue
        found.add(name)
    return frozenset(found)


@lru_cache(maxsize=1)
def _parser() -> Lark:
    import lark

    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    return lark.Lark(
        grammar,
        parser="lalr",
        lexer="contextual",
        start=list(RULES),
        propagate_positions=True,
        maybe_placeholders=False,
    )


def start_of(node: Tree[Any]) -> int:
    """Where a tree's first token starts in its sentence, from 0."""
    return int(node.meta.start_pos)


def end_of(node: Tree[Any]) -> int:
    """Where a tree's last token ends, exclusive."""
    return int(node.meta.end_pos)
