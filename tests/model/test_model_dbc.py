"""Facts from a DBC file, against cantools on files nobody here made, and on broken ones."""

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
from hmic.model.dbc import KEPT, dbc_text, read_dbc
from hmic.model.dbc_check import check_signals
from hmic.model.dbc_places import troubles
from hmic.model.design import CanSource, SignalDefinition

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
            assert facts is None and [item.code for item in findings] == ["M263"]
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
    assert kept(KEPT, DUNLIN.read_bytes())["PackState"]


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


def test_a_broken_line_is_pointed_at():
    text = 'VERSION ""\nBO_ 1 M: 8 X\n SG_ T : 0|8@1+ (1,0 [0|0] "" X\n'
    facts, findings = read_dbc(text.encode(), "d.dbc", HERE)
    assert facts is None
    (found,) = findings
    assert found.code == "M263" and found.span is not None
    assert (found.span.file, found.span.line) == ("d.dbc", 3)
    assert "cantools" not in found.message.lower()


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 2000), st.binary(max_size=8), st.integers(0, 8), st.integers(100, 3000))
def test_no_bytes_raise(at, put, cut, length):
    data = DUNLIN.read_bytes()[:length]
    facts, findings = read_dbc(data[:at] + put + data[at + cut :], "d.dbc", HERE)
    assert (facts is None) == bool(findings)


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


@settings(max_examples=300, deadline=None)
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
    check_signals({"b": bound}, facts, "d.dbc", told)
    assert [(item.code, item.severity, item.span) for item in told] == [("M288", Severity.WARNING, HERE)]
    assert "'b' names 'M.B'" in told[0].message and "bits of 'A'" in told[0].message
