"""Descriptions of messages that ask for a great deal in a few letters are refused before any room is made
for them, at their line; what is within the limits is read. How much a file asks for is held against what
the library makes of small ones."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from cantools.database import load_string
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import DesignError, Span
from hmic.language import design_bounds as bounds
from hmic.model.dbc import read_database, read_dbc
from hmic.model.dbc_limits import beyond
from hmic.model.dbc_places import troubles
from hmic.runtime.from_dbc import open_database
from tests.tools.growth import LINEAR, growth

HERE = Span("design.yaml", 6, 6, 6, 13)
BITS = 8 * bounds.MOST_BYTES


def dbc(fields: str = "", length: object = 8, more: str = "") -> str:
    return f'VERSION ""\nBO_ 1 Many: {length} X\n{fields}{more}'


def one(start: object = 0, length: object = 8, mark: str = "", name: str = "Field") -> str:
    return f' SG_ {name} {mark}: {start}|{length}@1+ (1,0) [0|0] "" X\n'


def ranged(first: int, last: int) -> str:
    return dbc(
        one(mark="M ", name="Page") + one(8, 8, "m0 "), more=f"SG_MUL_VAL_ 1 Field Page {first}-{last};\n"
    )


def nested(levels: int, pages: int) -> str:
    fields = [one(name="F0", mark="M ")]
    fields += [one(name=f"F{n}", mark="m0M ") for n in range(1, levels)]
    ranges = (f"SG_MUL_VAL_ 1 F{n} F{n - 1} 0-{pages - 1};\n" for n in range(1, levels))
    return dbc("".join(fields), more="".join(ranges))


def messages(count: int) -> str:
    return 'VERSION ""\n' + "".join(f"BO_ {n % 2000} M{n}: 8 X\n" for n in range(count))


def fields(count: int) -> str:
    return dbc("".join(one(name=f"F{n}") for n in range(count)))


def kcd(
    message: str = 'length="8"', field: str = 'offset="0" length="8"', before: str = "", count: int = 1
) -> str:
    inner = "".join(f'<Signal name="S{n}" {field}/>' for n in range(count))
    space = "http://kayak.2codeornot2code.org/1.0"
    return (
        f'<?xml version="1.0"?>\n{before}<NetworkDefinition xmlns="{space}"><Bus name="b">'
        f'\n<Message id="0x1" name="Many" {message}>{inner}</Message></Bus></NetworkDefinition>'
    )


def sym(
    head: str = "ID=001h\nLen=8", signal: str = "unsigned 8", start: object = 0, sections: int = 1
) -> str:
    begin = 'FormatVersion=6.0 // no edit\nTitle="t"\n{SIGNALS}\n'
    body = "".join(f'["Many{n}"]\n{head}\nSig=Field {start}\n' for n in range(sections))
    return f"{begin}Sig=Field {signal}\n{{SENDRECEIVE}}\n{body}"


def pages_of_sym(count: int) -> str:
    """Each section has the identifier, so the library makes the message as often, with all its pages."""
    section = '["Many"]\nID=001h\nLen=8\nMux="Page{n}" 0,8 {n}\nSig=Field 8\n'
    return sym(sections=0) + "".join(section.replace("{n}", str(n)) for n in range(count))


WITHIN = {
    "bytes.dbc": dbc(length=bounds.MOST_BYTES),
    "start.dbc": dbc(one(start=BITS)),
    "length.dbc": dbc(one(length=BITS)),
    "range.dbc": ranged(1, 10_000),
    "nested.dbc": nested(bounds.MOST_NESTED + 1, 1),
    "pages.dbc": nested(3, 200),
    "messages.dbc": messages(bounds.MOST_MESSAGES),
    "fields.dbc": fields(bounds.MOST_FIELDS),
    "comment.dbc": dbc(one(), more='CM_ "BO_ 1 Many: 99999999 X and SG_ A : 0|4294967296@1+";\n'),
    "scale.dbc": dbc(one().replace("(1,0)", "(1E-40,-1e99)")),
    "bytes.kcd": kcd(f'length="{bounds.MOST_BYTES}"'),
    "length.kcd": kcd(field=f'offset="{BITS}" length="{BITS}"'),
    "bytes.sym": sym("ID=001h\nLen=4095"),
    "identifiers.sym": sym("ID=00000000h-0000270Fh\nLen=8"),
    "length.sym": sym(signal=f"unsigned {BITS}"),
    "pages.sym": pages_of_sym(100),
}
"""Named by the limit that they come to. Where the library is slow, less than the limit."""

BEYOND = {
    "bytes.dbc": (dbc(length=bounds.MOST_BYTES + 1), 2),
    "a-hundred-million-bytes.dbc": (dbc(length=99_999_999), 2),
    "over-lines.dbc": ('VERSION ""\nBO_ 1 // "\n Many\n:\n 99999999 X\n', 5),
    "start.dbc": (dbc(one(start=BITS + 1)), 3),
    "start-far.dbc": (dbc(one(start=2**32)), 3),
    "length.dbc": (dbc(one(length=BITS + 1)), 3),
    "four-thousand-million-bits.dbc": (dbc(one(length=2**32)), 3),
    "a-number-of-a-million-digits.dbc": (dbc(one(length="1" * 1_000_000)), 3),
    "multiplexed.dbc": (dbc(one(mark="M ", name="Page") + one(8, 2**32, "m0 ")), 4),
    "range.dbc": (ranged(1, bounds.MOST_PAGED + 1), 5),
    "range-of-all.dbc": (ranged(0, 2**32 - 1), 5),
    "nested.dbc": (nested(bounds.MOST_NESTED + 2, 1), 2),
    "pages.dbc": (nested(4, 100), 2),
    "pages-to-the-power.dbc": (nested(10, 30), 2),
    "messages.dbc": (messages(bounds.MOST_MESSAGES + 1), bounds.MOST_MESSAGES + 2),
    "fields.dbc": (fields(bounds.MOST_FIELDS + 1), bounds.MOST_FIELDS + 3),
    "senders.dbc": (dbc(more="BO_TX_BU_ 1 : A;\n" * (bounds.MOST_SENDERS + 1)), bounds.MOST_SENDERS + 3),
    "choices.dbc": (dbc(one(mark="M "), more="VAL_ 1 Field" + ' 1 "a"' * (bounds.MOST_PAGED + 1) + ";"), 2),
    "same-identifier.dbc": (ranged(1, 400).partition("SG_MUL")[0] * 300 + ranged(1, 400), None),
    "bytes.kcd": (kcd(f'length="{bounds.MOST_BYTES * 8 + 1}"'), 3),
    "length.kcd": (kcd(field=f'offset="0" length="{2**32}"'), 3),
    "offset.kcd": (kcd(field=f'offset="{2**32}" length="8"'), 3),
    "fields.kcd": (kcd(count=bounds.MOST_FIELDS + 1), 3),
    "entity.kcd": (kcd(before='<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'), 2),
    "length.arxml": ("<AUTOSAR>\n<I-SIGNAL><LENGTH> 4294967296\n</LENGTH></I-SIGNAL></AUTOSAR>", 3),
    "bytes.sym": (sym("ID=001h\nLen=99999999"), 8),
    "identifiers.sym": (sym("ID=00000000h-00002710h\nLen=8"), 7),
    "every-identifier.sym": (sym("ID=00000000h-1FFFFFFFh\nLen=8"), 7),
    "length.sym": (sym(signal="unsigned 4294967296"), 4),
    "start.sym": (sym(start=2**32), 9),
    "digits.sym": (sym(signal="unsigned 8 /max:" + "1" * 100_000), 4),
    "pages.sym": (pages_of_sym(101), None),
    "sections.sym": (sym("ID=001h\nLen=8", sections=bounds.MOST_MESSAGES + 1), 4 * bounds.MOST_MESSAGES + 6),
}  # fmt: skip
"""Each with the line that is refused."""


@pytest.mark.parametrize("name", WITHIN)
def test_within_a_limit_a_file_is_read(name: str) -> None:
    facts, findings = read_dbc(WITHIN[name].encode(), name, HERE)
    assert facts and not findings


def refused(name: str) -> tuple[str, int, str]:
    text, _ = BEYOND[name]
    facts, (found,) = read_dbc(text.encode(), name, HERE)
    assert facts is None and found.span is not None and found.remedy
    return found.code, found.span.line, found.message


@pytest.mark.parametrize("name", BEYOND)
def test_beyond_a_limit_a_file_is_refused_at_its_line(name: str) -> None:
    code, line, message = refused(name)
    assert (code, line) == ("M218", BEYOND[name][1] or line), message
    with pytest.raises(DesignError):
        read_database(BEYOND[name][0].encode(), name)


def test_what_is_refused_has_taken_no_memory() -> None:
    """Python, the library and this test take less than half of what is allowed here."""
    resource = pytest.importorskip("resource")
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (700_000_000,) * 2);"
        "from tests.model.test_model_dbc_limits import BEYOND, refused;"
        "print({refused(name)[0] for name in BEYOND})"
    )
    assert resource
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, timeout=200)
    assert done.stdout == "{'M218'}\n", done.stderr[-1000:]


@pytest.mark.parametrize("scale", ["1e101", "1e308", "1e999", "-1e200"])
def test_a_scale_beyond_all_numbers_is_told_of_its_field(scale: str) -> None:
    for numbers in (f"({scale},0)", f"(1,{scale})"):
        facts, _ = read_dbc(dbc(one().replace("(1,0)", numbers)).encode(), "x.dbc", HERE)
        assert facts is not None and "more than 1e+100" in facts["Many"]["Field"].trouble


MARKS = st.sampled_from(["", "M ", "m0 ", "m1 ", "m0M ", "m2M "])
NAMES = st.sampled_from(["A", "B", "C", "D", "E"])
RANGES = st.tuples(NAMES, NAMES, st.integers(0, 3), st.integers(0, 6))


@given(
    st.lists(st.tuples(NAMES, MARKS), max_size=7), st.lists(RANGES, max_size=5), st.lists(NAMES, max_size=3)
)
def test_no_more_fields_on_pages_than_counted(fields, ranges, chosen) -> None:  # type: ignore[no-untyped-def]
    """What the library makes of a multiplexed message is never more than what was counted for it."""
    text = dbc("".join(one(mark=mark, name=name) for name, mark in fields))
    text += "".join(f"SG_MUL_VAL_ 1 {name} {above} {a}-{b};\n" for name, above, a, b in ranges)
    text += "".join(f'VAL_ 1 {name} 7 "x" 8 "y" ;\n' for name in chosen)
    try:
        (message,) = load_string(text, database_format="dbc", strict=False).messages
    except Exception:
        return
    made = list(codecs(message._codecs))
    most = max(sum(len(each["signals"]) for each in made), len(made) - 1)
    for limit in range(most):
        assert counts_more_than(text, limit), (limit, most)


def codecs(codec):  # type: ignore[no-untyped-def]
    yield codec
    for pages in codec["multiplexers"].values():
        for inner in pages.values():
            yield from codecs(inner)


def counts_more_than(text: str, limit: int) -> bool:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hmic.model.dbc_limits.MOST_PAGED", limit)
        return beyond(text, "dbc") is not None


def test_looking_takes_a_time_that_grows_with_the_file() -> None:
    assert growth(lambda size: beyond(fields(size // 2) + messages(size), "dbc"), 500) < LINEAR
    for text in ("/", '"', "BO_ ", "SG_ a : ", "1", "\n", "<", "SG_MUL_VAL_ 1 a b ", '\\"'):
        for form in ("dbc", "sym", "kcd"):
            assert growth(lambda size, text=text, form=form: beyond(text * size, form), 5000) < 2 * LINEAR


def made(count: int, line: str) -> object:
    """The messages of a file of so many fields, each on a page of its own, or with one identifier."""
    text = dbc(one(mark="M ", length=32, name="Page") + "".join(line.format(n=n) for n in range(count)))
    return load_string(text, database_format="dbc", strict=False).messages


@pytest.mark.parametrize(
    "line",
    [
        ' SG_ F{n} m{n} : 32|8@1+ (1,0) [0|0] "" X\n',
        'BO_ 1 M{n}: 8 X\n SG_ F : 0|8@1+ (1,0) [0|0] "" X\n',
    ],
    ids=["pages", "one-identifier"],
)
def test_looking_for_contradictions_takes_a_time_that_grows_with_the_file(line: str) -> None:
    known = {size: made(size, line) for size in (250, 2000)}
    assert growth(lambda size: troubles(known[size]), 250) < LINEAR


def test_the_library_says_nothing_of_its_own(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Python shows what is logged where no handler is."""
    (tmp_path / "x.dbc").write_text(messages(2002))
    code = (
        "import sys; from pathlib import Path; from hmic.model.dbc import read_database;"
        "read_database(Path(sys.argv[1]).read_bytes(), 'x.dbc')"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "x.dbc")]
    done = subprocess.run(command, cwd=Path(__file__).parents[2], capture_output=True, text=True, check=True)
    assert done.stdout + done.stderr == ""


def test_a_run_refuses_it_as_the_check_does(tmp_path: Path) -> None:
    path = tmp_path / "x.dbc"
    path.write_text(dbc(length=99_999_999))
    with pytest.raises(DesignError) as raised:
        open_database(path)
    (found,) = raised.value.findings
    assert found.code == "M218" and found.span == Span("x.dbc", 2, 13, 2, 21)
