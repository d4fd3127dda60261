# ruff: noqa: E501
"""Formulas over the bytes of an answer: Python itself works out the same text, and what cannot stand in one is
told with its place."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hmic.model.byte_formula import LETTERS, ByteFormula, Unusable, byte_formula

PLAIN = st.one_of(
    st.sampled_from(LETTERS[:8]), st.integers(0, 999).map(str), st.sampled_from(["0.5", "0x1F", "byte(3)"]),
    st.tuples(st.sampled_from(["signed", "unsigned"]), st.integers(1, 8), st.integers(1, 8)).map(
        lambda drawn: f"{drawn[0]}({drawn[1]}, {drawn[2]})"
    ),
    st.tuples(st.integers(1, 8), st.integers(0, 7)).map(lambda drawn: f"bit({drawn[0]}, {drawn[1]})"),
)  # fmt: skip


def joined(parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(
        st.tuples(parts, st.sampled_from(["+", "-", "*", "/", "&", "|"]), parts).map(lambda drawn: "({} {} {})".format(*drawn)),
        st.tuples(parts, st.sampled_from([">>", "<<"]), st.integers(0, 20)).map(lambda drawn: "({} {} {})".format(*drawn)),
        parts.map(lambda inner: f"(-{inner})"),
    )  # fmt: skip


FORMULAS = st.recursive(PLAIN, joined, max_leaves=8).filter(lambda text: len(text) <= 200)


def by_python(text: str, data: bytes) -> float | None:
    """The same text by Python's own arithmetic; None where that has no number."""

    def bytes_of(first: int, last: int) -> bytes:
        return data[first - 1 : last] if first <= last else data[last - 1 : first][::-1]

    names = {letter: data[at] for at, letter in enumerate(LETTERS[: len(data)])}
    functions = {
        "unsigned": lambda first, last: int.from_bytes(bytes_of(first, last)),
        "signed": lambda first, last: int.from_bytes(bytes_of(first, last), signed=True),
        "byte": lambda at: data[at - 1],
        "bit": lambda at, bit: 1 if data[at - 1] & 2**bit else 0,
    }
    try:
        number = eval(text, {"__builtins__": {}}, {**names, **functions})
    except (ArithmeticError, TypeError):
        return None
    return number if math.isfinite(number) else None


def by_us(formula: ByteFormula, data: bytes, element: int = 0) -> float | None:
    try:
        number = formula.values[element](data)
    except (ArithmeticError, ValueError):
        return None
    return number if math.isfinite(number) else None


@settings(max_examples=400)
@given(FORMULAS, st.binary(min_size=8, max_size=8))
@example("signed(1, 2) / 10 - 40", bytes.fromhex("FF9C000000000000"))
@example("(A & 0x0F) << 8 | B", bytes.fromhex("F1020000000000FF"))
def test_a_formula_is_worked_out_as_python_does(text: str, data: bytes) -> None:
    formula = byte_formula(text, None)
    wanted, found = by_python(text, data), by_us(formula, data)
    if wanted is None:
        # Python has no bits of a float at all; here one that is whole has the bits of that number.
        assert found is None or any(sign in text for sign in ("&", "|", "<<", ">>"))
    else:
        assert found == wanted
    # Fewer bytes than it needs are never looked at, more make no difference.
    assert formula.needs[0] <= 8 and by_us(formula, data + b"\xaa") == found


def test_each_element_of_a_list_has_its_bytes() -> None:
    cells = byte_formula("unsigned(2 * n + 1, 2 * n + 2) / 1000", 4)
    data = bytes(2) + b"".join(value.to_bytes(2) for value in (3500, 3501, 3502, 4095))
    assert [by_us(cells, data, at) for at in range(4)] == [3.5, 3.501, 3.502, 4.095]
    assert cells.needs == (4, 6, 8, 10)
    numbered = byte_formula("A + n", 2)
    assert [by_us(numbered, b"\x05", at) for at in range(2)] == [6, 7] and numbered.needs == (1, 1)


WRONG = [
    ("", "does not read"), ("A +", "does not read"), ("A B", "does not read"), ("(A", "does not read"),
    ("a", "cannot stand"), ("AA", "cannot stand"), ("n", "cannot stand"), ("True", "cannot stand"),
    ("'A'", "cannot stand"), ("A.real", "cannot stand"), ("A[0]", "cannot stand"), ("max(A, B)", "cannot stand"),
    ("__import__('os')", "cannot stand"), ("(lambda: A)()", "cannot stand"), ("A if B else C", "cannot stand"),
    ("A ** B", "this sign"), ("A ^ B", "this sign"), ("A // B", "this sign"), ("A < B", "cannot stand"),
    ("byte(0)", "the bytes 1 to"), ("byte(4096)", "the bytes 1 to"), ("unsigned(1, 9)", "at most 8"),
    ("byte(A)", "whole number"), ("byte(1.5)", "whole number"), ("byte(1 / 0)", "whole number"),
    ("byte(byte(1))", "whole number"), ("unsigned(1)", "takes 2"), ("byte(1, 2)", "takes 1"),
    ("byte(at=1)", "cannot stand"), ("bit(1, 8)", "bits 0 to 7"), ("A << B", "from 0 to 63"),
    ("A << 64", "from 0 to 63"), ("A << 10 ** 9", "this sign"), ("1e300 * A", "too large"), ("A * 9" * 50, "more than 200"),
    ("(" * 99 + "A" + ")" * 99, None), ("-" * 150 + "A", "deep"), ("A\n+ B", "does not read"), ("A\0", "does not read"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), WRONG, ids=[repr(text[:20]) for text, _ in WRONG])
def test_what_cannot_stand_in_a_formula_is_told(text: str, told: str | None) -> None:
    if told is None:
        assert by_us(byte_formula(text, None), b"\x07") == 7
        return
    with pytest.raises(Unusable) as raised:
        byte_formula(text, None)
    assert told in raised.value.reason and raised.value.remedy and 0 <= raised.value.column <= len(text)


@settings(max_examples=300)
@given(st.text(max_size=220), st.one_of(st.none(), st.integers(1, 5)))
def test_any_text_is_a_formula_or_is_refused(text: str, count: int | None) -> None:
    try:
        formula = byte_formula(text, count)
    except Unusable as refused:
        assert refused.reason and refused.remedy
    else:
        assert len(formula.values) == len(formula.needs) == (count or 1)


def test_a_list_needs_its_number() -> None:
    with pytest.raises(Unusable, match="same of every element"):
        byte_formula("A", 4)
