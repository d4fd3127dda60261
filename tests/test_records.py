"""``hmic.records.dataclass`` against the standard library's own."""

from __future__ import annotations

import dataclasses
import pickle
import threading
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.records import dataclass


@dataclass(frozen=True)
class Sparing:
    """The class under test."""

    number: float
    words: tuple[str, ...] = ()
    held: dict[str, int] = dataclasses.field(default_factory=dict, compare=False)

    def doubled(self) -> float:
        return self.number * 2


@dataclasses.dataclass(frozen=True)
class Plain:
    """The same by the standard library."""

    number: float
    words: tuple[str, ...] = ()
    held: dict[str, int] = dataclasses.field(default_factory=dict, compare=False)


@dataclass(frozen=True)
class Deeper(Sparing):
    last: int = 7


@dataclass(frozen=True)
class Own:
    number: int

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Own) and self.number % 10 == other.number % 10

    def __hash__(self) -> int:
        return self.number % 10


values = st.tuples(st.integers() | st.floats(allow_nan=False), st.lists(st.text(max_size=3)).map(tuple))


@given(values, values)
def test_it_compares_shows_and_hashes_as_the_other(one: tuple[Any, Any], other: tuple[Any, Any]) -> None:
    a, b = Sparing(*one), Sparing(*other)
    x, y = Plain(*one), Plain(*other)
    assert (a == b) is (x == y)
    assert (hash(a) == hash(b)) is (hash(x) == hash(y))
    assert repr(a) == repr(x).replace("Plain", "Sparing")
    assert a != one and a != x


def test_defaults_are_made_for_each() -> None:
    one, other = Sparing(1.0), Sparing(1.0)
    one.held["a"] = 1
    assert other.held == {} and one == other and one.words == ()


def test_nothing_can_be_set_or_deleted() -> None:
    held = Sparing(1.0)
    for act in (
        lambda: setattr(held, "number", 2),
        lambda: setattr(held, "new", 2),
        lambda: delattr(held, "number"),
        lambda: setattr(Deeper(1.0), "number", 2),
    ):
        with pytest.raises(dataclasses.FrozenInstanceError):
            act()
    assert held.number == 1.0


def test_the_tools_of_dataclasses_know_it() -> None:
    assert [each.name for each in dataclasses.fields(Deeper)] == ["number", "words", "held", "last"]
    assert dataclasses.replace(Deeper(1.0), last=8) == Deeper(1.0, (), {}, 8)
    assert dataclasses.asdict(Sparing(1.0, ("a",))) == {"number": 1.0, "words": ("a",), "held": {}}
    match Deeper(3.0, ("b",)):
        case Deeper(number, words):
            assert (number, words) == (3.0, ("b",))
    assert pickle.loads(pickle.dumps(Deeper(2.0))) == Deeper(2.0)


def test_methods_that_a_class_has_of_its_own_stay() -> None:
    assert Own(3) == Own(13) and Own(3) != Own(4) and hash(Own(13)) == 3
    assert Sparing(2.0).doubled() == 4.0


@pytest.mark.parametrize("make", [lambda: Sparing(), lambda: Sparing(1, 2, 3, 4), lambda: Sparing(nope=1)])
def test_a_wrong_call_is_told_by_its_class(make: Callable[[], object]) -> None:
    with pytest.raises(TypeError, match=r"Sparing\.__init__"):
        make()


def test_two_threads_may_make_the_first_at_once() -> None:
    for _ in range(50):

        @dataclass(frozen=True)
        class Fresh:
            number: int

        start, made = threading.Barrier(4), []

        def make(kind: Any = Fresh, start: Any = start, made: list[Any] = made) -> None:
            start.wait()
            made.append(kind(3))

        threads = [threading.Thread(target=make) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert made == [Fresh(3)] * 4
