"""Closures that know how they were made, so that a file can hold them and they can be made again.

What an expression computes with is made by a *maker* (a function that gives a closure) or is a *plain*
function. Both are listed here by name, each with its sort, which says what it may be given to. So a file that
names them can ask for nothing but what is listed, and not for a plain number where a formula belongs.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from typing import Any, NamedTuple, ParamSpec, TypeVar, cast

P = ParamSpec("P")
R = TypeVar("R", bound=Callable[..., Any])


class Sort(StrEnum):
    """What a closure is of: of what and to what."""

    VALUE = "value"
    """A value of a lookup of signals."""
    CHECK = "check"
    """A value or its doubt of what came."""
    ONE = "one"
    """An item of one scalar."""
    TWO = "two"
    """An item of two items, doubts among them."""
    SURE = "sure"
    """An item of two scalars."""
    SUM = "sum"
    """A number of two numbers."""
    MANY = "many"
    """A number of a list of numbers."""


class How(NamedTuple):
    """By which maker a closure was made, and of what."""

    maker: str
    given: tuple[Any, ...]


class Maker(NamedTuple):
    """``takes``: what each thing that it is given must be: a sort of closure, a list of them, or
    a plain type, which a file holds as it is."""

    make: Callable[..., Callable[..., Any]]
    sort: Sort
    takes: tuple[Any, ...]


MAKERS: dict[str, Maker] = {}
PLAIN: dict[str, tuple[Callable[..., Any], Sort]] = {}
_NAMES: dict[Callable[..., Any], str] = {}


def maker(sort: Sort, *takes: Any) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Lists a function that makes closures of a sort; they remember what it was given."""

    def listed(make: Callable[P, R]) -> Callable[P, R]:
        name = make.__name__

        @wraps(make)
        def remembered(*given: P.args, **named: P.kwargs) -> R:
            assert not named, "what was given is remembered by place"
            closure = make(*given, **named)
            cast(Any, closure).made = How(name, given)
            return closure

        MAKERS[name] = Maker(remembered, sort, takes)
        return remembered

    return listed


def plain(sort: Sort, name: str = "") -> Callable[[R], R]:
    """Lists a function that is a closure as it stands."""

    def listed(function: R) -> R:
        known = name or function.__name__
        PLAIN[known] = function, sort
        _NAMES[function] = known
        return function

    return listed


def how(closure: Callable[..., Any]) -> How | str:
    """How a closure was made, or the name of a plain one."""
    name = _NAMES.get(closure)
    if name is not None:
        return name
    made = closure.made  # type: ignore[attr-defined]
    assert isinstance(made, How)
    return made
