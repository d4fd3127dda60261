"""Formulas over the bytes of an answer: ``(256 * A + B) / 10``, as tables of diagnostic values give them.

Python's grammar reads them; what may stand in one is listed here, and nothing of it is ever run as a program.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

LONGEST = 200
"""Letters of a formula."""
DEEPEST = 100
"""Signs within each other; a sum of many terms is as deep as it has terms."""
MOST_BYTES = 4095
"""Bytes of an answer (ISO 15765-2)."""
WIDEST = 8
"""Bytes of one number."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
"""The first bytes of an answer behind what names the value, as SAE J1979 calls them."""
ELEMENT = "n"
"""The number of an element of a list, from 1."""
_REACH = {"unsigned": 2, "signed": 2, "byte": 1, "bit": 2}

Value = Callable[[bytes], float]
"""It may raise ArithmeticError or ValueError: a division by 0, bits of what is no whole number."""


class Unusable(Exception):
    """A formula that cannot be used: why, the column from 0 at which, and what to do."""

    def __init__(self, reason: str, remedy: str, column: int = 0) -> None:
        super().__init__(reason)
        self.reason, self.remedy, self.column = reason, remedy, column


@dataclass(frozen=True)
class ByteFormula:
    """``text`` as written. For each element ``values`` has the formula, and ``needs`` the bytes that it
    takes; a value that is no list has one element."""

    text: str
    values: tuple[Value, ...]
    needs: tuple[int, ...]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ByteFormula) and (self.text, self.needs) == (other.text, other.needs)

    def __hash__(self) -> int:
        return hash((self.text, self.needs))


def byte_formula(text: str, count: int | None) -> ByteFormula:
    """The formula, for each element of a list of ``count``. Raises Unusable."""
    if len(text) > LONGEST:
        raise Unusable(f"it has more than {LONGEST} letters", "write it shorter")
    try:
        root = ast.parse(text, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError) as fault:
        column = (getattr(fault, "offset", None) or 1) - 1
        raise Unusable(
            "it does not read as a formula from here on", 'write, say, `"(256 * A + B) / 10"`', column
        ) from None
    if count is not None and not any(
        isinstance(each, ast.Name) and each.id == ELEMENT for each in ast.walk(root)
    ):
        raise Unusable(
            "it says the same of every element of the list", 'write, say, `"unsigned(2 * n - 1, 2 * n)"`'
        )
    made = [_Maker(element if count is not None else None) for element in range(1, (count or 1) + 1)]
    return ByteFormula(text, tuple(each.value(root) for each in made), tuple(each.needs for each in made))


class _Maker:
    """Turns a tree into a function of the bytes, for one element."""

    def __init__(self, element: int | None) -> None:
        self.needs = 0
        self._element = element

    def value(self, node: ast.expr, depth: int = 0) -> Value:
        if depth > DEEPEST:
            raise _wrong(node, f"it is more than {DEEPEST} deep", "write it shorter")
        match node:
            case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
                if abs(number) > 1e15:
                    raise _wrong(node, "a number is too large", "write it smaller")
                return lambda data: number
            case ast.Name(id=name) if name in LETTERS:
                return self._bytes(node, LETTERS.index(name) + 1, LETTERS.index(name) + 1, False)
            case ast.Name(id=name) if name == ELEMENT and self._element is not None:
                element = self._element
                return lambda data: element
            case ast.Call(func=ast.Name(id=name), args=arguments, keywords=[]) if name in _REACH:
                return self._call(node, name, arguments, depth)
            case ast.UnaryOp(op=ast.USub() | ast.UAdd() as sign, operand=inner):
                of = self.value(inner, depth + 1)
                return of if isinstance(sign, ast.UAdd) else lambda data: -of(data)
            case ast.BinOp(left=left, op=operator, right=right):
                return self._operation(
                    node, operator, self.value(left, depth + 1), self.value(right, depth + 1)
                )
        raise _wrong(
            node,
            "this cannot stand in a formula over bytes",
            "use A to Z, byte(1), unsigned(1, 2), signed(1, 2), bit(1, 7), numbers, + - * / & | >> <<",
        )

    def _call(self, node: ast.expr, name: str, arguments: list[ast.expr], depth: int) -> Value:
        numbers = [self._fixed(each, depth) for each in arguments]
        if len(numbers) != _REACH[name]:
            raise _wrong(node, f"'{name}' takes {_REACH[name]} numbers", f"write, say, `{_EXAMPLES[name]}`")
        if name == "bit":
            byte, bit = numbers
            if not 0 <= bit <= 7:
                raise _wrong(node, "a byte has the bits 0 to 7, from the lowest", "write, say, `bit(1, 7)`")
            whole = self._bytes(node, byte, byte, False)
            return lambda data: int(whole(data)) >> bit & 1
        return self._bytes(node, numbers[0], numbers[-1], name == "signed")

    def _fixed(self, node: ast.expr, depth: int) -> int:
        """A number that no byte has a part in."""
        needs = self.needs
        try:
            value = math.nan if _reads_bytes(node) else self.value(node, depth + 1)(b"")
            whole = _whole(value)
        except (ArithmeticError, ValueError):
            whole = None
        self.needs = needs
        if whole is None:
            raise _wrong(node, "which byte it is must be a whole number", "write, say, `byte(12)`")
        return whole

    def _bytes(self, node: ast.expr, first: int, last: int, signed: bool) -> Value:
        """The number in the bytes from the highest to the lowest, counted from 1."""
        if not 1 <= min(first, last) <= max(first, last) <= MOST_BYTES:
            raise _wrong(node, f"an answer has the bytes 1 to {MOST_BYTES}", "write, say, `byte(12)`")
        if abs(first - last) >= WIDEST:
            raise _wrong(node, f"a number has at most {WIDEST} bytes", "write, say, `unsigned(1, 4)`")
        self.needs = max(self.needs, first, last)
        low, high = min(first, last) - 1, max(first, last)
        order: Literal["big", "little"] = "big" if first <= last else "little"
        return lambda data: int.from_bytes(data[low:high], order, signed=signed)

    def _operation(self, node: ast.BinOp, operator: ast.operator, left: Value, right: Value) -> Value:
        match operator:
            case ast.Add():
                return lambda data: left(data) + right(data)
            case ast.Sub():
                return lambda data: left(data) - right(data)
            case ast.Mult():
                return lambda data: left(data) * right(data)
            case ast.Div():
                return lambda data: left(data) / right(data)
            case ast.BitAnd():
                return lambda data: _whole(left(data)) & _whole(right(data))
            case ast.BitOr():
                return lambda data: _whole(left(data)) | _whole(right(data))
            case ast.RShift() | ast.LShift():
                if not isinstance(node.right, ast.Constant) or not 0 <= self._fixed(node.right, 0) <= 63:
                    raise _wrong(
                        node.right, "bits are moved by a number from 0 to 63", "write, say, `A >> 4`"
                    )
                by = self._fixed(node.right, 0)
                if isinstance(operator, ast.RShift):
                    return lambda data: _whole(left(data)) >> by
                return lambda data: _whole(left(data)) << by
        raise _wrong(node, "this sign cannot stand in a formula over bytes", "use + - * / & | >> <<")


_EXAMPLES = {"unsigned": "unsigned(1, 2)", "signed": "signed(1, 2)", "byte": "byte(12)", "bit": "bit(1, 7)"}


def _reads_bytes(node: ast.expr) -> bool:
    return any(
        isinstance(each, ast.Call) or (isinstance(each, ast.Name) and each.id != ELEMENT)
        for each in ast.walk(node)
    )


def _whole(number: float) -> int:
    """Bits are those of a whole number. Raises ArithmeticError, or ValueError, where it is none."""
    if number != int(number):
        raise ArithmeticError("no whole number")
    return int(number)


def _wrong(node: ast.expr, reason: str, remedy: str) -> Unusable:
    return Unusable(reason, remedy, node.col_offset)
