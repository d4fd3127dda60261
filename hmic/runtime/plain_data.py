"""Frozen data as JSON by their types, and back again, strictly.

A dataclass or named tuple is the list of its values, in order; where several may stand, its name comes first.
What is given as a number, a text, a list is nothing else. What many values share stands in lists of its own,
and is told by its place there: the closures that formulas are made of (``made``), each after those it is made
of, and values of the classes in ``SHARED``. So nothing in a file is ever run: a closure is made by a maker
that is listed, of what that maker takes.
"""

from __future__ import annotations

import hashlib
import math
import re
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any, NamedTuple, Union

from hmic.model.byte_formula import ELEMENT, ByteFormula, Unusable, byte_formula
from hmic.model.made import MAKERS, PLAIN, Sort, how
from hmic.model.terms import Typed

LARGEST_INTEGER = 1 << 64
DEEPEST, MOST_WORK = 300, 200_000
"""Of a formula: closures within each other, and closures that are run when it is worked out."""
_FRACTION = re.compile(r"-?[0-9]{1,80}(/[1-9][0-9]{0,79})?")
_ENDLESS = {"inf": math.inf, "-inf": -math.inf}

LEFT_OUT: dict[tuple[type, str], Any] = {}
"""Values that a file does not hold, by class and name, and what stands in their place when it is read."""
SHARED: list[type] = [Typed]
RULES: dict[Any, Callable[[Any], bool]] = {}
"""What must hold of a value of a class, or of what a maker is given, beyond the types of its parts."""


class Wrong(Exception):
    """What is not as it must be, and where: the way to it from within."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.way: list[str] = []

    @property
    def place(self) -> str:
        """The way to it."""
        return "".join(reversed(self.way)).lstrip(".")


class Form(NamedTuple):
    """How values of a type are written and read. ``text`` tells one form from another."""

    write: Callable[[Any, Shelf], Any]
    read: Callable[[Any, Shelf], Any]
    text: str


class Shelf:
    """The closures and the shared values that the rest refers to."""

    def __init__(self) -> None:
        self.closures: list[Any] = []
        self.rows: list[Any] = []
        self._places: dict[int, int] = {}
        self._kept: list[Any] = []
        self._sorts: list[Sort] = []
        self._costs: list[tuple[int, int]] = []

    def put(self, closure: Callable[..., Any]) -> int:
        """The place of a closure, with those that it is made of before it."""
        place = self._places.get(id(closure))
        if place is None:
            made = how(closure)
            if isinstance(made, str):
                row: Any = [made]
            else:
                takes = MAKERS[made.maker].takes
                row = [
                    made.maker,
                    *(_taken(each).write(it, self) for each, it in zip(takes, made.given, strict=True)),
                ]
            place = self._keep(closure, self.closures, row)
        return place

    def share(self, value: Any) -> int:
        """The place of a shared value."""
        place = self._places.get(id(value))
        if place is None:
            kind = type(value)
            place = self._keep(value, self.rows, [kind.__name__, _record(kind).write(value, self)])
        return place

    def _keep(self, value: Any, rows: list[Any], row: Any) -> int:
        # What is kept alive has a number that nothing else gets.
        self._kept.append(value)
        self._places[id(value)] = len(rows)
        rows.append(row)
        return len(rows) - 1

    def read(self, closures: Any, shared: Any) -> None:
        """Makes what two lists of a file say. Raises Wrong."""
        for number, row in enumerate(_list(closures)):
            with _at(f"closures[{number}]"):
                self.closures.append(self._made(_list(row)))
        kinds = {kind.__name__: _record(kind) for kind in SHARED}
        for number, row in enumerate(_list(shared)):
            with _at(f"shared[{number}]"):
                if len(_list(row)) != 2 or not isinstance(row[0], str) or row[0] not in kinds:
                    raise Wrong(f"one of {', '.join(kinds)} is wanted")
                self.rows.append(kinds[row[0]].read(row[1], self))

    def closure(self, place: Any, sort: Sort) -> Any:
        """The closure at a place, which must be of a sort. Raises Wrong."""
        self._at_hand(place, self.closures)
        if self._sorts[place] is not sort:
            raise Wrong(f"a closure of the sort '{sort}' is wanted, '{self._sorts[place]}' stands there")
        return self.closures[place]

    def shared(self, place: Any, kind: type) -> Any:
        """The shared value of a class at a place. Raises Wrong."""
        self._at_hand(place, self.rows)
        if type(self.rows[place]) is not kind:
            raise Wrong(f"a {kind.__name__} is wanted, something else stands there")
        return self.rows[place]

    @staticmethod
    def _at_hand(place: Any, rows: list[Any]) -> None:
        if type(place) is not int or not 0 <= place < len(rows):
            raise Wrong(f"there is nothing at place {place!r}"[:80])

    def _made(self, row: list[Any]) -> Any:
        name = row[0] if row else None
        if not isinstance(name, str) or (name not in MAKERS and name not in PLAIN):
            raise Wrong("it names no maker of closures")
        if name in PLAIN:
            closure, sort = PLAIN[name]
            self._cost((), sort)
            return closure
        maker = MAKERS[name]
        if len(row) != len(maker.takes) + 1:
            raise Wrong(f"'{name}' takes {len(maker.takes)} values")
        pairs = list(zip(maker.takes, row[1:], strict=True))
        given = [_taken(takes).read(value, self) for takes, value in pairs]
        if not RULES.get(name, _anything)(given):
            raise Wrong(f"'{name}' cannot be made of what it is given")
        inner = [each for takes, value in pairs for each in _places(takes, value)]
        self._cost(inner, maker.sort)
        return maker.make(*given)

    def _cost(self, inner: Any, sort: Sort) -> None:
        """How deep and how much work a closure is, from those that it is made of."""
        depth = 1 + max((self._costs[each][0] for each in inner), default=0)
        work = 1 + sum(self._costs[each][1] for each in inner)
        if depth > DEEPEST or work > MOST_WORK:
            raise Wrong("a formula is larger than any that a design has")
        self._costs.append((depth, work))
        self._sorts.append(sort)


def _anything(_: Any) -> bool:
    return True


def _places(takes: Any, value: Any) -> list[int]:
    return [value] if isinstance(takes, Sort) else list(value) if isinstance(takes, list) else []


class _at:
    """Whatever is wrong within is wrong at a place."""

    def __init__(self, place: str) -> None:
        self._place = place

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: Any, fault: Any, trace: Any) -> None:
        if isinstance(fault, Wrong):
            fault.way.append(self._place)


@cache
def shape(kind: Any) -> str:
    """A word that stands for how values of a type are written: another where anything of that changes."""
    takes = {name: [_taken(each).text for each in maker.takes] for name, maker in MAKERS.items()}
    whole = [
        form(kind).text,
        *(_record(each).text for each in SHARED),
        *(_RECORDS[name] for name in sorted(_RECORDS)),
    ]
    whole += [f"{name} {maker.sort} {takes[name]}" for name, maker in sorted(MAKERS.items())]
    whole += [f"{name} {sort}" for name, (_, sort) in sorted(PLAIN.items())]
    return hashlib.sha256("\n".join(whole).encode()).hexdigest()[:8]


_RECORDS: dict[str, str] = {}


def form(kind: Any) -> Form:
    """The form of a type."""
    return _form(kind)


def _taken(takes: Any) -> Form:
    """The form of what a maker takes."""
    if isinstance(takes, Sort):
        return _closure(takes)
    if isinstance(takes, list):
        return _list_of(_closure(takes[0]), tuple, "list")
    return _form(takes)


@cache
def _closure(sort: Sort) -> Form:
    return Form(
        lambda closure, shelf: shelf.put(closure), lambda place, shelf: shelf.closure(place, sort), f"#{sort}"
    )


def _shared(kind: type) -> Form:
    return Form(
        lambda value, shelf: shelf.share(value),
        lambda place, shelf: shelf.shared(place, kind),
        f"#{kind.__name__}",
    )


@cache
def _form(kind: Any) -> Form:
    if kind in _SCALARS:
        return _SCALARS[kind]
    if kind in SHARED:
        return _shared(kind)
    if kind is ByteFormula:
        return Form(_write_bytes, _read_bytes, "bytes formula")
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (Union, types.UnionType):
        return _either(inner)
    if origin is tuple:
        return (
            _list_of(_form(inner[0]), tuple, "list")
            if inner[1:] == (...,)
            else _row(tuple(map(_form, inner)))
        )
    if origin is frozenset:
        return _list_of(_form(inner[0]), frozenset, "set")
    if origin in (Mapping, dict):
        return _mapping(_form(inner[0]), _form(inner[1]))
    if origin is Callable or kind is Callable:
        return _closure(Sort.VALUE)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return _enum(kind)
    return _record(kind)


# Scalars ------------------------------------------------------------------------------------------


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise Wrong("a list is wanted")
    return value


def _read_float(value: Any, shelf: Shelf) -> float:
    if isinstance(value, str) and value in _ENDLESS:
        return _ENDLESS[value]
    if type(value) is float:
        return value
    return _read_int(value, shelf)


def _read_int(value: Any, _: Shelf) -> int:
    if type(value) is not int or not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
        raise Wrong("a number is wanted")
    return value


def _write_float(value: Any, _: Shelf) -> Any:
    return str(value) if isinstance(value, float) and math.isinf(value) else value


def _read_fraction(value: Any, _: Shelf) -> Fraction:
    if not isinstance(value, str) or not _FRACTION.fullmatch(value):
        raise Wrong("a fraction is wanted, such as '1/3'")
    return Fraction(value)


def _read_hex(value: Any, _: Shelf) -> bytes:
    try:
        return bytes.fromhex(value)
    except (TypeError, ValueError):
        raise Wrong("bytes are wanted, two figures each") from None


def _only(kind: type, what: str) -> Callable[[Any, Shelf], Any]:
    def read(value: Any, _: Shelf) -> Any:
        if type(value) is not kind:
            raise Wrong(f"{what} is wanted")
        return value

    return read


def _as_it_is(value: Any, _: Shelf) -> Any:
    return value


_SCALARS: dict[Any, Form] = {
    float: Form(_write_float, _read_float, "number"),
    int: Form(_as_it_is, _read_int, "integer"),
    bool: Form(_as_it_is, _only(bool, "true or false"), "flag"),
    str: Form(lambda value, _: str(value), _only(str, "a text"), "text"),
    type(None): Form(_as_it_is, _only(type(None), "nothing"), "none"),
    Fraction: Form(lambda value, _: str(value), _read_fraction, "fraction"),
    bytes: Form(lambda value, _: value.hex(), _read_hex, "bytes"),
}


def _write_bytes(value: ByteFormula, _: Shelf) -> Any:
    return [value.text, len(value.values) if re.search(rf"\b{ELEMENT}\b", value.text) else None]


def _read_bytes(value: Any, shelf: Shelf) -> ByteFormula:
    text, count = _row((_form(str), _form(int | None))).read(value, shelf)
    if count is not None and not 1 <= count <= MOST_ELEMENTS:
        raise Wrong(f"a list has 1 to {MOST_ELEMENTS} elements")
    try:
        return byte_formula(text, count)
    except Unusable as fault:
        raise Wrong(str(fault)) from None


MOST_ELEMENTS = 1024


# What holds others --------------------------------------------------------------------------------


def _list_of(inner: Form, into: Callable[[Any], Any], name: str) -> Form:
    def write(values: Any, shelf: Shelf) -> Any:
        found = [inner.write(each, shelf) for each in values]
        return found if name == "list" else sorted(found)

    def read(values: Any, shelf: Shelf) -> Any:
        found: list[Any] = []
        extend, take = found.append, inner.read
        try:
            for each in _list(values):
                extend(take(each, shelf))
        except Wrong as fault:
            if isinstance(values, list):
                fault.way.append(f"[{len(found)}]")
            raise
        return into(found)

    return Form(write, read, f"{name}({inner.text})")


def _row(forms: tuple[Form, ...]) -> Form:
    def write(values: Any, shelf: Shelf) -> Any:
        return [each.write(value, shelf) for each, value in zip(forms, values, strict=True)]

    def read(values: Any, shelf: Shelf) -> Any:
        if len(_list(values)) != len(forms):
            raise Wrong(f"{len(forms)} values are wanted, {len(values)} stand there")
        return tuple(each.read(value, shelf) for each, value in zip(forms, values, strict=True))

    return Form(write, read, f"row({', '.join(each.text for each in forms)})")


def _mapping(key: Form, value: Form) -> Form:
    pairs = _list_of(_row((key, value)), dict, "list")
    return Form(lambda given, shelf: pairs.write(given.items(), shelf), pairs.read, f"pairs({pairs.text})")


def _enum(kind: type[Enum]) -> Form:
    def read(name: Any, _: Shelf) -> Any:
        if not isinstance(name, str) or name not in kind.__members__:
            raise Wrong(f"one of {', '.join(kind.__members__)} is wanted")
        return kind[name]

    return Form(lambda value, _: value.name, read, f"{kind.__name__}({', '.join(kind.__members__)})")


def _either(kinds: tuple[Any, ...]) -> Form:
    """One of several: nothing, a plain value, or a record told by its name."""
    forms = {each: _form(each) for each in kinds}
    named = {each.__name__: form for each, form in forms.items() if _is_named(each)}
    plain = [form for each, form in forms.items() if not _is_named(each) and each is not type(None)]
    nothing = type(None) in forms
    if len(named) == 1:
        # With nothing to be told from.
        plain, named = [*plain, *named.values()], {}
    own = {each: form for each, form in forms.items() if isinstance(each, type)}

    def write(value: Any, shelf: Shelf) -> Any:
        kind = type(value)
        if kind.__name__ in named:
            return [kind.__name__, named[kind.__name__].write(value, shelf)]
        if kind in own:
            return own[kind].write(value, shelf)
        if kind is int and float in own:
            return value
        (only,) = (it for each, it in forms.items() if not isinstance(each, type) or isinstance(value, each))
        return only.write(value, shelf)

    def read(value: Any, shelf: Shelf) -> Any:
        if (
            named
            and isinstance(value, list)
            and len(value) == 2
            and isinstance(value[0], str)
            and value[0] in named
        ):
            with _at(f".{value[0]}"):
                return named[value[0]].read(value[1], shelf)
        if value is None and nothing:
            return None
        fault: Wrong | None = None
        for each in plain:
            try:
                return each.read(value, shelf)
            except Wrong as why:
                fault = why if fault is None or why.way else fault
        raise fault if fault is not None else Wrong(f"one of {', '.join(sorted(named))} is wanted")

    return Form(write, read, f"either({', '.join(sorted(each.text for each in forms.values()))})")


def _is_named(kind: Any) -> bool:
    return isinstance(kind, type) and kind not in _SCALARS and kind not in SHARED


def _record(kind: Any) -> Form:
    """A dataclass or a named tuple. Its own form may hold it again, so its parts are looked up when the first
    value comes."""
    if kind in _KNOWN:
        return _KNOWN[kind]
    assert is_dataclass(kind) or hasattr(kind, "_fields"), kind
    name = kind.__name__
    parts: list[tuple[str, Form]] = []
    names: list[str] = []
    takes: list[Callable[[Any, Shelf], Any]] = []

    def write(value: Any, shelf: Shelf) -> Any:
        return [form.write(getattr(value, key), shelf) for key, form in parts]

    def read(value: Any, shelf: Shelf) -> Any:
        if len(_list(value)) != len(parts):
            raise Wrong(f"{name} has {len(parts)} values, {len(value)} stand there")
        given: list[Any] = []
        try:
            for take, each in zip(takes, value, strict=True):
                given.append(take(each, shelf))
        except Wrong as fault:
            fault.way.append(f".{parts[len(given)][0]}")
            raise
        made = kind(*given) if not left else kind(**dict(zip(names, given, strict=True)), **left)
        if not rule(made):
            raise Wrong(f"such a {name} makes no sense")
        return made

    _KNOWN[kind] = found = Form(write, read, name)
    hints = typing.get_type_hints(kind)
    keys = [each.name for each in fields(kind)] if is_dataclass(kind) else list(kind._fields)
    left = {key: LEFT_OUT[kind, key] for key in keys if (kind, key) in LEFT_OUT}
    rule = RULES.get(kind, _anything)
    parts += [(key, _form(hints[key])) for key in keys if key not in left]
    takes.extend(form.read for _, form in parts)
    names.extend(key for key, _ in parts)
    _RECORDS[name] = f"{name}: " + ", ".join(f"{key} {form.text}" for key, form in parts)
    return found


_KNOWN: dict[Any, Form] = {}
