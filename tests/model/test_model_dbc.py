"""Facts from a DBC file, against cantools on files nobody here made, and on broken ones."""

import random
import re
import sys
from importlib.util import find_spec
from pathlib import Path

import cantools
import pytest
from cantools.database.can import Message
from cantools.database.can.signal import Signal
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hmic.cache import keep_bytes, kept
from hmic.diagnostics import Severity, Span
from hmic.model.dbc import (
    KEPT,
    MOST_TOLD,
    dbc_text,
    means_no_number,
    means_no_value,
    read_database,
    read_dbc,
)
from hmic.model.dbc_check import BusFacts, check_signals
from hmic.model.dbc_places import troubles
from hmic.model.design import CanSource, SignalDefinition
from hmic.model.units import unit
from tests.tools.changed import replace

HERE = Span("design.yaml", 3, 6, 3, 12)
DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin" / "dunlin.dbc"


def foreign_files():
    # The wheel opendbc (MIT) carries over a hundred files; eight by name keep this short.
    found = find_spec("opendbc")
    if found is None and sys.version_info >= (3, 13):
        pytest.skip("opendbc has no wheel for this Python")
    assert found is not None and found.origin is not None
    files = sorted((Path(found.origin).parent / "dbc").glob("*.dbc"))
    return files[:: max(1, len(files) // 8)][:8]


def same(path):
    facts, findings = read_dbc(path.read_bytes(), path.name, HERE)
    assert facts is not None and findings == []
    database = cantools.database.load_string(dbc_text(path.read_bytes()), "dbc", strict=False)
    count = 0
    for message in database.messages:
        for signal in message.signals:
            fact = facts[message.name][signal.name]
            assert fact.unit == (signal.unit or "")
            assert fact.choices == {int(raw): str(word) for raw, word in (signal.choices or {}).items()}
            if not signal.is_float and not signal.choices:
                least = -(1 << (signal.length - 1)) if signal.is_signed else 0
                ends = sorted(signal.raw_to_scaled(raw) for raw in (least, least + (1 << signal.length) - 1))
                assert (fact.low, fact.high) == pytest.approx(ends)
                steps = abs(signal.raw_to_scaled(1) - signal.raw_to_scaled(0))
                assert fact.scale == pytest.approx(steps, abs=1e-9)
            count += 1
    return count


def test_the_example_file():
    assert same(DUNLIN) > 150


def test_foreign_files_as_cantools_reads_them():
    files = foreign_files()
    assert len(files) == 8
    count = refused = 0
    for path in files:
        try:
            cantools.database.load_string(dbc_text(path.read_bytes()), "dbc", strict=False)
        except Exception:
            facts, findings = read_dbc(path.read_bytes(), path.name, HERE)
            assert facts and {item.code for item in findings} == {"M289"}
            assert all(item.span and item.span.file == path.name for item in findings)
            refused += 1
        else:
            count += same(path)
    assert count > 300 and refused < 4


def test_the_second_reading_comes_from_the_cache_and_is_the_same(tmp_path, monkeypatch):
    first, _ = read_dbc(DUNLIN.read_bytes(), "d.dbc", HERE)
    (kept,) = (tmp_path / "cache").rglob("messages-*")
    monkeypatch.setattr("cantools.database.load_string", None)
    assert read_dbc(DUNLIN.read_bytes(), "d.dbc", HERE)[0] == first
    assert str(tmp_path).encode() not in kept.read_bytes()


@pytest.mark.parametrize("spoilt", ["", "[]", "{", '{"A": {"B": {}}}', '{"A": 1}', "null"])
def test_a_spoilt_cache_is_read_anew(tmp_path, spoilt):
    first, _ = read_dbc(DUNLIN.read_bytes(), "d.dbc", HERE)
    keep_bytes(KEPT, DUNLIN.read_bytes(), spoilt.encode())
    assert read_dbc(DUNLIN.read_bytes(), "d.dbc", HERE)[0] == first
    assert kept(KEPT, DUNLIN.read_bytes())["messages"]["PackState"]


def test_without_a_writable_cache(tmp_path, monkeypatch):
    (tmp_path / "plain").write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "plain"))
    facts, findings = read_dbc(DUNLIN.read_bytes(), "d.dbc", HERE)
    assert facts and not findings


def test_a_windows_code_page():
    text = 'VERSION ""\nBO_ 1 M: 8 X\n SG_ T : 0|8@1+ (1,0) [0|0] "°C" X\n'
    for encoding in ("utf-8", "cp1252"):
        facts, _ = read_dbc(text.encode(encoding), "d.dbc", HERE)
        assert facts is not None and facts["M"]["T"].unit == "°C"


GOOD = """VERSION ""
NS_ :
	BO_TX_BU_
	SG_MUL_VAL_
BS_:
BU_: A
BO_ 1 M: 8 A
 SG_ T : 0|8@1+ (1,0) [0|0] "" A
 SG_ U : 8|8@1- (0.5,-40) [0|0] "V" A
BO_ 2 N: 8 A
 SG_ V : 0|32@1- (1,0) [0|0] "" A
 SG_ Page M : 32|8@1+ (1,0) [0|0] "" A
 SG_ P0 m0 : 40|8@1+ (1,0) [0|0] "" A
 SG_ P1 m1 : 40|8@1+ (1,0) [0|0] "" A

CM_ SG_ 1 T "what it is,
SG_ over two lines";
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 1 250;
VAL_ 1 T 0 "Off" 255 "SNA" ;
SIG_VALTYPE_ 2 V : 1;
"""


def read(text):
    return read_dbc(text.encode(), "d.dbc", HERE)


def names(facts):
    """The fields of which something is known, by message."""
    known = {
        message: sorted(name for name, field in fields.items() if field.lost is None)
        for message, fields in facts.items()
    }
    return {message: fields for message, fields in known.items() if fields}


ALL = {"M": ["T", "U"], "N": ["P0", "P1", "Page", "V"]}


@pytest.mark.parametrize(
    ("old", "new", "left", "lines"),
    [
        ("", "", ALL, []),
        ("(1,0) [0|0]", "(1,0 [0|0]", {**ALL, "M": ["U"]}, [8]),
        ("SG_ U", "SG_ 2U", {**ALL, "M": ["T"]}, [9]),
        ("8|8@1-", "8|0@1-", {**ALL, "M": ["T"]}, [9]),
        ("BO_ 1 M", "BO_ 1 1M", {"N": ALL["N"]}, [7]),
        ("BO_ 1 M:", "BO_ 4294967295 M:", {"N": ALL["N"]}, [7]),
        ('255 "SNA" ;', "255 SNA ;", ALL, [21]),
        ('two lines";', 'two lines"', ALL, [17]),
        ('BA_DEF_DEF_ "GenMsgCycleTime" 0;', 'BA_DEF_DEF_ "GenMsgCycleTime" never;', ALL, [19]),
        ("VAL_ 1 T", "VAL_ 1 W", ALL, [21]),
        # A number of another kind must not be read as a whole one: the field goes with the line.
        ("V : 1;", "V : ?;", {**ALL, "N": ["P0", "P1", "Page"]}, [11, 22]),
    ],
)
def test_a_line_that_cannot_be_read_costs_itself(old, new, left, lines):
    assert old in GOOD
    facts, findings = read(GOOD.replace(old, new, 1))
    assert facts is not None and names(facts) == left
    assert [(item.code, item.severity) for item in findings] == [("M289", Severity.WARNING)] * len(lines)
    assert [item.span.line for item in findings] == lines
    whole = read(GOOD)[0]
    for message, fields in left.items():
        for field in fields:
            words = {} if "SNA ;" in new or new.endswith("W") else whole[message][field].choices
            cycle = whole[message][field].cycle
            assert facts[message][field] == replace(whole[message][field], choices=words, cycle=cycle)


@pytest.mark.parametrize(("spoilt", "lines"), [("Page M ;", [12, 13, 14]), ("Page :", [13, 14])])
def test_pages_without_the_field_that_selects_them_are_never_read(spoilt, lines):
    """Every page would be taken for the one that has come."""
    facts, findings = read(GOOD.replace("Page M :", spoilt))
    assert [item.span.line for item in findings] == lines
    assert "V" in names(facts)["N"] and not {"P0", "P1"} & set(names(facts)["N"])


def test_an_identifier_that_can_only_have_29_bits_has_them():
    text = GOOD.replace("BO_ 1 M", "BO_ 486539264 M").replace("VAL_ 1 ", "VAL_ 486539264 ")
    facts, (finding,) = read(text)
    assert names(facts) == ALL and facts["M"]["T"].choices == {0: "Off", 255: "SNA"}
    assert "taken as one of 29" in finding.message and finding.remedy == f"write {486539264 + 0x80000000}"
    database, _ = read_database(text.encode(), "d.dbc")
    message = database.get_message_by_name("M")
    assert (message.frame_id, message.is_extended_frame) == (486539264, True)


def test_every_field_line_spoilt_in_turn_leaves_what_the_library_reads_without_it():
    lines = dbc_text(DUNLIN.read_bytes()).split("\n")
    fields = [at for at, line in enumerate(lines) if line.startswith(" SG_") and " M :" not in line]
    for at in random.Random(7).sample(fields, 25):
        spoilt = lines[at].replace("|", "!", 1)
        facts, findings = read("\n".join([*lines[:at], spoilt, *lines[at + 1 :]]))
        assert [item.span.line for item in findings if item.span.line == at + 1] == [at + 1]
        name = lines[at].split()[1]
        without = [
            line for line in [*lines[:at], *lines[at + 1 :]] if not re.match(rf"VAL_ \d+ {name} ", line)
        ]
        database = cantools.database.load_string("\n".join(without), "dbc", strict=False)
        expected = {
            message.name: sorted(each.name for each in message.signals) for message in database.messages
        }
        assert names(facts) == expected


def test_many_lines_are_told_of_together():
    _, findings = read(GOOD + "".join(f'VAL_ 1 W{at} 0 "x" ;\n' for at in range(30)))
    assert len(findings) == MOST_TOLD + 1 and "22 more lines" in findings[-1].message


@pytest.mark.parametrize(
    ("file", "text", "reason"),
    [
        ("a.sym", 'FormatVersion=5.0\nTitle="x"\n', "Only SYM version 6.0 is supported"),
        ("a.kcd", "<NetworkDefinition", ""),
        ("a.arxml", "<AUTOSAR xmlns='http://autosar.org/schema/argh4.0'/>", "Unrecognized XML namespace"),
    ],
)
def test_another_description_is_refused_with_its_reason(file, text, reason):
    facts, (finding,) = read_dbc(text.encode(), file, HERE)
    assert facts is None and finding.code == "M263" and reason in finding.message
    assert finding.message.startswith(f"'{file}' cannot be read: ") and finding.span == HERE


def test_a_file_of_something_else_is_refused():
    facts, (finding,) = read("Dear reader,\nthis is a letter.\n")
    assert facts is None and finding.code == "M263" and finding.span.line <= 2


def test_a_stale_time_below_the_period_of_the_dbc_is_told():
    facts, _ = read(GOOD)
    for stale, told in ((100, 1), (250, 0), (1000, 0)):
        findings = []
        signal = SignalDefinition(
            "m.u",
            "number",
            unit("V"),
            -40.0,
            80.0,
            None,
            {},
            CanSource("M", "U"),
            None,
            stale,
            None,
            None,
            "",
            HERE,
        )
        check_signals({"m.u": signal}, BusFacts("", facts, "d.dbc"), findings)
        assert [item.code for item in findings] == ["M294"] * told
        if told:
            assert "period of 250 ms" in findings[0].message and "`stale: 750 ms`" in findings[0].remedy


@pytest.mark.parametrize(
    ("label", "absent", "wrong"),
    [
        ("SNA", True, True),
        ("Signal_Not_Available", True, True),
        ("NotAvailable", True, True),
        ("Error indicator", False, True),
        ("ErrorIndicator", False, True),
        ("SENSOR_FAULT", False, True),
        ("Init", False, True),
        ("Fehlerwert", False, True),
        ("No error", False, False),
        ("not faulted", False, False),
        ("Default", False, False),
        ("12 V", False, False),
        ("Off", False, False),
    ],
)
def test_labels_that_mean_no_value(label, absent, wrong):
    assert (means_no_value(label), means_no_number(label) or means_no_value(label)) == (absent, wrong)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2000), st.binary(max_size=8), st.integers(0, 8), st.integers(100, 3000))
def test_no_bytes_raise(at, put, cut, length):
    data = DUNLIN.read_bytes()[:length]
    facts, findings = read_dbc(data[:at] + put + data[at + cut :], "d.dbc", HERE)
    assert facts is not None or findings
    assert all(item.code in ("M263", "M289") for item in findings)


def refused_by_the_library(message):
    """cantools' own strict reading: fields overlap, or one is beyond the end."""
    try:
        message.refresh(strict=True)
    except cantools.database.Error:
        return True
    return False


def test_troubles_are_found_where_the_library_s_strict_reading_finds_them():
    found = total = 0
    for path in foreign_files():
        try:
            database = cantools.database.load_string(dbc_text(path.read_bytes()), "dbc", strict=False)
        except Exception:
            continue
        wrong = troubles(database.messages)
        for message in database.messages:
            of_fields = any("beyond" in text or "lies on" in text for text in wrong[message.name].values())
            assert of_fields == refused_by_the_library(message), (path.name, message.name)
            found, total = found + of_fields, total + 1
    assert total > 100


@settings(max_examples=300)
@given(
    st.lists(
        st.tuples(st.integers(0, 63), st.integers(1, 20), st.booleans(), st.sets(st.integers(0, 2))),
        min_size=1,
        max_size=5,
    ),
    st.integers(1, 8),
)
def test_troubles_of_any_message_are_those_of_the_library_s_strict_reading(made, length):
    signals = [Signal("Page", 0, 2, is_multiplexer=True)]
    for at, (start, bits, big, pages) in enumerate(made):
        order = "big_endian" if big else "little_endian"
        of = {"multiplexer_ids": sorted(pages), "multiplexer_signal": "Page"} if pages else {}
        signals.append(Signal(f"S{at}", start, bits, order, **of))
    message = Message(1, "M", length, signals, strict=False)
    assert bool(troubles([message])["M"]) == refused_by_the_library(message)


def test_a_file_that_contradicts_itself_is_told():
    text = (
        'VERSION ""\nBU_: A\n'
        'BO_ 1 M: 4 A\n SG_ A : 0|8@1+ (1,0) [0|0] "" A\n SG_ B : 4|8@1+ (1,0) [0|0] "" A\n'
        ' SG_ C : 16|8@1+ (1,0) [0|0] "" A\n SG_ Far : 24|16@1+ (1,0) [0|0] "" A\n'
        'BO_ 2 N: 8 A\n SG_ X : 0|8@1+ (1,0) [0|0] "" A\n SG_ X : 8|8@1+ (1,0) [0|0] "" A\n'
        'BO_ 3 P: 8 A\n SG_ X : 0|8@1+ (1,0) [0|0] "" A\n'
        'BO_ 3 Q: 8 A\n SG_ X : 0|8@1+ (1,0) [0|0] "" A\n'
        'BO_ 4 R: 8 A\n SG_ X : 0|8@1+ (1,0) [0|0] "" A\n'
        'BO_ 5 R: 8 A\n SG_ X : 0|8@1+ (1,0) [0|0] "" A\n'
        'BO_ 6 Long: 8 A\n SG_ X : 0|1100@1+ (1,0) [0|0] "" A\n'
    )
    facts, findings = read_dbc(text.encode(), "d.dbc", HERE)
    assert facts is not None and findings == []
    told = {f"{of}.{name}": fact.trouble for of, fields in facts.items() for name, fact in fields.items()}
    assert told == {
        "M.A": "it lies on bits of 'B' of 'M'",
        "M.B": "it lies on bits of 'A' of 'M'",
        "M.C": "",
        "M.Far": "it ends beyond the 4 bytes of 'M'",
        "N.X": "2 fields of 'N' have its name; the last counts",
        "P.X": "'Q' of the DBC has the same identifier as 'P'",
        "Q.X": "'P' of the DBC has the same identifier as 'Q'",
        "R.X": "2 messages of the DBC have the name 'R'; the last counts",
        "Long.X": "it has 1100 bits, more than any frame",
    }
    given = {"unit": None, "low": 0.0, "high": 255.0, "count": None, "words": {}, "derived": None}
    given |= {"stale_after": 500, "no_data": None, "resolution": None, "about": "", "span": HERE}
    bound = SignalDefinition(name="b", kind="number", source=CanSource("M", "B"), **given)
    told = []
    check_signals({"b": bound}, BusFacts("", facts, "d.dbc"), told)
    assert [(item.code, item.severity, item.span) for item in told] == [("M288", Severity.WARNING, HERE)]
    assert "'b' names 'M.B'" in told[0].message and "bits of 'A'" in told[0].message
