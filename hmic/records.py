"""Frozen dataclasses that cost little until they are used.

``dataclasses`` compiles six methods for each frozen class, 0.5 ms each time the program starts. Here five
are shared functions, and ``__init__`` is compiled at the first instance. All else is the standard library's:
fields, ``replace``, ``match``.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(cls=None, /, **options):
        """``dataclasses.dataclass``; sparing with ``frozen=True`` and plain fields."""
        if cls is None:
            return lambda given: dataclass(given, **options)
        if options != {"frozen": True} or hasattr(cls, "__post_init__"):
            return dataclasses.dataclass(cls, **options)
        own = {name for name, value in cls.__dict__.items() if (name, value) != ("__hash__", None)}
        dataclasses.dataclass(cls, init=False, repr=False, eq=False)
        for method in _methods(cls, dataclasses.fields(cls)):
            if method.__name__ not in own:
                setattr(cls, method.__name__, method)
        return cls


Fields = tuple[dataclasses.Field[Any], ...]


def _methods(cls: Any, fields: Fields) -> tuple[Callable[..., Any], ...]:
    """The methods of a frozen dataclass, as functions that know its fields."""
    names = frozenset(each.name for each in fields)
    values = _values(tuple(each.name for each in fields if each.compare))

    def __init__(self: Any, *given: Any, **named: Any) -> None:
        # Of two threads that both come by here, the later replaces the same by the same.
        cls.__init__ = _constructor(cls, fields)
        cls.__init__(self, *given, **named)

    def __repr__(self: Any) -> str:
        inner = ", ".join(f"{each.name}={getattr(self, each.name)!r}" for each in fields if each.repr)
        return f"{type(self).__qualname__}({inner})"

    def __eq__(self: Any, other: object) -> Any:
        return values(self) == values(other) if type(other) is type(self) else NotImplemented

    def __hash__(self: Any) -> int:
        return hash(values(self))

    def __setattr__(self: Any, name: str, value: Any) -> None:
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
        super(cls, self).__setattr__(name, value)

    def __delattr__(self: Any, name: str) -> None:
        if type(self) is cls or name in names:
            raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
        super(cls, self).__delattr__(name)

    return __init__, __repr__, __eq__, __hash__, __setattr__, __delattr__


def _values(names: tuple[str, ...]) -> Callable[[Any], Any]:
    """What two of a class are compared by."""
    return attrgetter(*names) if names else lambda self: ()


def _constructor(cls: Any, fields: Fields) -> Any:
    """An ``__init__`` that sets these fields."""
    known: dict[str, Any] = {"_set": object.__setattr__, "_none": object()}
    parameters, lines = ["self"], []
    for each in fields:
        value = name = each.name
        if each.default is not dataclasses.MISSING:
            known[f"_{name}_default"] = each.default
            parameters.append(f"{name}=_{name}_default")
        elif each.default_factory is not dataclasses.MISSING:
            known[f"_{name}_factory"] = each.default_factory
            parameters.append(f"{name}=_none")
            value = f"_{name}_factory() if {name} is _none else {name}"
        else:
            parameters.append(name)
        lines.append(f"\n _set(self, {name!r}, {value})")
    exec(f"def __init__({', '.join(parameters)}):{''.join(lines) or ' pass'}", known)
    made = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    return made


__all__ = ["dataclass"]
