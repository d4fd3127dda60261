"""A syntax tree whose names begin with another word: a shared part that a design takes under another name."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

from hmic.diagnostics import Span
from hmic.language import syntax


def renamed(tree: Any, old: str, new: str) -> Any:
    """A tree in which signals of the group ``old``, and parts that are called so, have the name ``new``."""
    if isinstance(tree, tuple):
        return tuple(renamed(each, old, new) for each in tree)
    if not is_dataclass(tree) or isinstance(tree, Span):
        return tree
    node: Any = tree
    inner = {each.name: renamed(getattr(node, each.name), old, new) for each in fields(node)}
    changed: Any = replace(node, **inner)
    match changed:
        case syntax.Signal():
            return replace(changed, name=beginning(changed.name, old, new))
        case syntax.Use():
            return replace(changed, part=beginning(changed.part, old, new))
        case syntax.Part():
            return replace(changed, name=beginning(changed.name, old, new))
    return changed


def begins(name: str, word: str) -> bool:
    """Whether a name is of a group: ``charger.state``, ``charger_panel``, ``charger`` are of ``charger``, and
    what is asked of the controller ``charger``."""
    return name == word or name.startswith((f"{word}.", f"{word}_", f"{word} "))


def beginning(name: str, old: str, new: str) -> str:
    """A name of the group ``old`` as one of ``new``; any other as it is."""
    return new + name[len(old) :] if begins(name, old) else name
