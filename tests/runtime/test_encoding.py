"""Messages that are sent, held against cantools: any scale, sign, order of bytes, range and start value."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import cantools
from cantools.database.errors import Error
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import Span
from hmic.model.design import MessageCheck
from hmic.model.units import PLAIN
from hmic.model.values import ValueKind
from hmic.runtime.encoding import Encoder
from hmic.runtime.from_dbc import _sent
from hmic.runtime.tables import SentMessage

HEAD = 'VERSION ""\nBU_: A\n'
NUMBER = SimpleNamespace(unit=PLAIN, words={}, kind=ValueKind.NUMBER)


def message(fields: list[str], extra: str = "") -> Any:
    text = HEAD + "\n".join(["BO_ 256 Ask: 8 A", *fields]) + "\n" + extra
    return cantools.database.load_string(text, "dbc", strict=False).get_message_by_name("Ask")


def table(of: Any, check: MessageCheck | None = None) -> SentMessage:
    """Of a message whose every field that has no start value is an output."""

    design: Any = SimpleNamespace(messages={"Ask": check} if check is not None else {}, wire=lambda bus: bus)
    checked = (check.counter, check.checksum) if check is not None else ()
    outputs: Any = [
        SimpleNamespace(name=each.name.lower(), field=each.name, signal=NUMBER, bus="")
        for each in of.signals
        if each.raw_initial is None and each.name not in checked
    ]
    return _sent(design, "Ask", of, outputs)


@st.composite
def fields(draw: Any) -> tuple[list[str], str]:
    """Three fields, each within its own bytes; some have a range, labels or a start value."""
    lines, extra = [], []
    for number, first in enumerate((0, 2, 4)):
        real = number == 2 and draw(st.booleans())
        length = 32 if real else draw(st.integers(1, 16))
        big = draw(st.booleans())
        start, order = (8 * first + 7, 0) if big else (8 * first, 1)
        sign = "-" if real or draw(st.booleans()) else "+"
        factor = draw(st.sampled_from(["1", "2", "-3", "0.1", "0.25", "1e-3", "7.5"]))
        offset = draw(st.sampled_from(["0", "-40", "0.5", "100"]))
        ends = draw(st.sampled_from(["0|0", "-10|50", "0|200.5", "-1e9|1e9"]))
        place = f"{start}|{length}@{order}{sign}"
        lines.append(f' SG_ F{number} : {place} ({factor},{offset}) [{ends}] "" A')
        if real:
            extra.append(f"SIG_VALTYPE_ 256 F{number} : 1;")
        elif draw(st.integers(0, 3)) == 0:
            extra.append(f'VAL_ 256 F{number} 0 "None" 1 "Some" ;')
        if number and draw(st.integers(0, 3)) == 0:
            extra.append(f'BA_ "GenSigStartValue" SG_ 256 F{number} {draw(st.integers(0, 1))};')
    define = 'BA_DEF_ SG_ "GenSigStartValue" FLOAT 0 100000;\nBA_DEF_DEF_ "GenSigStartValue" 0;\n'
    return lines, define + "\n".join(extra) + "\n"


NUMBERS = st.one_of(
    st.integers(0, 1),
    st.floats(0, 50),
    st.integers(-300, 300),
    st.floats(-1e3, 1e3),
    st.sampled_from([1e12, -1e12]),
)


@settings(deadline=None, max_examples=250)
@given(fields(), st.lists(NUMBERS, min_size=3, max_size=3))
def test_a_message_is_what_cantools_makes_of_it(made: tuple[list[str], str], numbers: list[float]) -> None:
    of = message(*made)
    encoder = Encoder([table(of)])
    given_values = {f"f{number}": float(value) for number, value in enumerate(numbers)}
    values = {name: given_values[name] for name in encoder.targets}
    found = encoder.encode(next(iter(values)), values)
    physical = {each.name: values.get(each.name.lower(), each.initial) for each in of.signals}
    try:
        wanted: bytes | None = of.encode(physical, strict=True)
    except (Error, ValueError, OverflowError):
        wanted = None
    assert (found if isinstance(found, bytes) else None) == wanted, found


def test_a_counter_begins_again_behind_its_highest() -> None:
    """A counter that may say 0 to 14, as some systems count, is never stuck."""
    of = message([' SG_ A : 0|8@1+ (1,0) [0|9] "" A', ' SG_ Count : 8|4@1+ (1,0) [0|14] "" A'])
    span = Span("signals.yaml", 1, 1, 1, 1)
    encoder = Encoder([table(of, MessageCheck("Ask", "Count", None, "sum", False, span))])  # type: ignore[arg-type]
    frames = [encoder.encode("a", {"a": 5.0}) for _ in range(17)]
    assert [frame[1] for frame in frames if isinstance(frame, bytes)] == [*range(15), 0, 1]
    refused = encoder.encode("a", {"a": 500.0})
    assert refused == "'A' of 'Ask' cannot be 500"
    # What was not sent is not counted.
    after = encoder.encode("a", {"a": 5.0})
    assert isinstance(after, bytes) and after[1] == 2
