"""The name that was meant, and those most alike, against the plain words of the rule: every name held
against the word; and lists of any length in bounded time."""

from __future__ import annotations

import time
from difflib import SequenceMatcher

import hypothesis.strategies as st
from hypothesis import given

from hmic.diagnostics import LONGEST, MANY, NEAREST, Span, alike, as_text, closest, did_you_mean, error
from tests.tools.growth import LINEAR, growth

WORDS = st.text("abcAB._é", max_size=9)


def distance(left: str, right: str) -> int:
    """Optimal string alignment, by its recursive definition."""
    if not left or not right:
        return len(left) + len(right)
    best = min(
        distance(left[1:], right) + 1,
        distance(left, right[1:]) + 1,
        distance(left[1:], right[1:]) + (left[0] != right[0]),
    )
    if len(left) > 1 < len(right) and left[:2] == right[1::-1]:
        best = min(best, distance(left[2:], right[2:]) + 1)
    return best


@given(st.text("abA.", max_size=5), st.lists(st.text("abA.", max_size=5), max_size=4))
def test_the_nearest_name(word: str, names: list[str]) -> None:
    far = {name: distance(word.lower(), name.lower()) for name in names}
    near = [
        name
        for name in sorted(far, key=lambda name: (far[name], name))
        if far[name] <= max(1, len(word) // 3)
    ]
    assert closest(word, names) == (near[0] if near else None)


@given(WORDS, st.lists(WORDS, max_size=3 * NEAREST))
def test_the_names_most_alike(word: str, names: list[str]) -> None:
    def shared(name: str) -> float:
        return SequenceMatcher(None, word.lower(), name.lower(), False).ratio()

    assert alike(word, names) == sorted(set(names), key=lambda name: (-shared(name), name))[:NEAREST]


def test_in_a_long_list_a_slip_is_found_where_the_beginning_is_right() -> None:
    names = [f"group{n // 100}.value_{n}" for n in range(5000)]
    assert closest("group7.vlaue_750", names) == "group7.value_750"
    assert did_you_mean("group7.value_75x", names) == "did you mean 'group7.value_750'?"
    assert did_you_mean("grp.zzzzzzzzz", names, "signals").startswith("the nearest of 5000 signals: group")


def test_long_names_are_neither_compared_nor_listed() -> None:
    long = "x" * (LONGEST + 1)
    assert did_you_mean("a" * 300_000, ["short", long]) == "known names: short"
    assert closest("x" * 300_000, ["x" * LONGEST]) == "x" * LONGEST
    start = time.process_time()
    for _ in range(200):
        did_you_mean("meter per second " * 30_000, [f"unit{n}" * 9 for n in range(MANY)])
    assert time.process_time() - start < 20


def test_findings_of_one_file_are_written_in_a_time_that_grows_with_their_number() -> None:
    def work(count: int) -> None:
        source = "a line of a file, long enough\n" * count
        as_text([error("X1", "wrong", Span("f", n, 3, n, 5)) for n in range(1, count)], {"f": source})

    assert growth(work, 2000) < LINEAR


def test_of_a_line_that_goes_on_and_on_the_place_is_shown() -> None:
    line = "".join(f"{n}," for n in range(100_000))
    at = line.index("77777,")
    _, shown, marks, *_ = as_text([error("X1", "wrong", Span("f", 1, at + 1, 1, at + 6))], {"f": line}).split(
        "\n"
    )
    assert len(shown) < 450 and shown[marks.index("=") : marks.rindex("=") + 1] == "77777"
    _, shown, marks, *_ = as_text([error("X1", "wrong", Span("f", 1, 1, 1, 90_000))], {"f": line}).split("\n")
    assert len(shown) < 450 and len(marks) < 450
