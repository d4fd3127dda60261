"""Parameter groups of J1939 in a design: identifiers against cantools' own helpers, ranges of raw values
against published vectors, what a DBC and design.yaml say, and what is told where they do not go together."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import cantools.j1939
import pytest
from cantools.database import load_string
from hypothesis import given
from hypothesis import strategies as st

from hmic.diagnostics import Finding, Severity
from hmic.model.design import Design
from hmic.model.j1939 import (
    NoMeasure,
    destination_of,
    group_of,
    highest_measure,
    identifier_mask,
    is_group,
    no_measure,
    said_group,
    source_of,
)
from hmic.model.load import load

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "tests" / "reference" / "15_j1939_ranges.csv"
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
IDENTIFIERS = st.integers(0, 0x1FFFFFFF)


@given(IDENTIFIERS, IDENTIFIERS)
def test_identifiers_are_parted_as_cantools_parts_them(identifier: int, other: int) -> None:
    parts = cantools.j1939.frame_id_unpack(identifier)
    group = cantools.j1939.pgn_from_frame_id(identifier)
    assert (group_of(identifier), source_of(identifier)) == (group, parts.source_address)
    to_one = cantools.j1939.is_pdu_format_1(parts.pdu_format)
    assert destination_of(identifier) == (parts.pdu_specific if to_one else None)
    mask = identifier_mask(group)
    assert (other & mask == group << 8 & mask) == (cantools.j1939.pgn_from_frame_id(other) == group)
    assert identifier & mask == group << 8


def rows() -> list[dict[str, str]]:
    with REFERENCE.open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['bits']}-{row['raw_hex']}")
def test_published_ranges_of_raw_values(row: dict[str, str]) -> None:
    """tests/reference/15_j1939_ranges.csv names its sources."""
    bits, raw = int(row["bits"]), int(row["raw_hex"], 16)
    means = {"absent": NoMeasure.ABSENT, "measured": None}.get(row["means"], NoMeasure.WRONG)
    assert no_measure(raw, bits) is means
    assert (raw <= highest_measure(bits)) == (means is None)


@given(st.integers(1, 64).flatmap(lambda bits: st.tuples(st.just(bits), st.integers(0, (1 << bits) - 1))))
def test_all_above_the_highest_measured_value_is_none(given_: tuple[int, int]) -> None:
    bits, raw = given_
    assert (no_measure(raw, bits) is None) == (raw <= highest_measure(bits))


# What a description says. The attributes are those of Vector's and CSS's files, as cantools reads them.

GROUP = 0x8CF004FE
"""EEC1 of an engine, with the source address that stands for any."""
FORMAT = 'BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";\n'
TYPE = 'BA_DEF_ "ProtocolType" STRING ;\nBA_DEF_DEF_ "ProtocolType" "";\n'
MESSAGE = (
    f'BO_ {GROUP} EEC1: 8 A\n SG_ Rpm : 24|16@1+ (0.125,0) [0|8031.875] "rpm" B\n'
    ' SG_ Torque : 16|8@1+ (1,-125) [-125|125] "%" B\n SG_ Lamp : 2|2@1+ (1,0) [0|3] "" B\n'
    ' SG_ Trim : 40|8@1- (1,0) [0|0] "%" B\n'
)
SAID = [
    ("", None),
    (FORMAT + 'BA_DEF_DEF_ "VFrameFormat" "J1939PG";\n', True),
    (FORMAT + f'BA_DEF_DEF_ "VFrameFormat" "StandardCAN";\nBA_ "VFrameFormat" BO_ {GROUP} 3;\n', True),
    (TYPE + 'BA_ "ProtocolType" "J1939";\n', True),
    (TYPE.replace('""', '"J1939"'), True),
    (TYPE + 'BA_ "ProtocolType" "CANopen";\n', None),
    (
        TYPE + FORMAT + 'BA_DEF_DEF_ "VFrameFormat" "J1939PG";\nBA_ "ProtocolType" "J1939";\n'
        f'BA_ "VFrameFormat" BO_ {GROUP} 1;\n',
        False,
    ),
]


@pytest.mark.parametrize(("attributes", "said"), SAID)
def test_how_a_description_says_it(attributes: str, said: bool | None) -> None:
    database = load_string(f'VERSION ""\nBU_: A B\n{MESSAGE}{attributes}', "dbc", strict=False)
    (message,) = database.messages
    assert said_group(message, database) is said
    assert [is_group(said, declared) for declared in (None, True, False)] == [
        said is True,
        said is not False,
        False,
    ]


def test_of_eleven_bits_is_none() -> None:
    database = load_string(
        f'VERSION ""\nBU_: A B\nBO_ 256 M: 8 A\n{TYPE}BA_ "ProtocolType" "J1939";\n', "dbc"
    )
    assert said_group(database.messages[0], database) is False


# In a design

LAYOUT = (
    'screen drive "Drive"\n    plan\n        a\n    in a  reading engine.speed as "0 rpm", text 40 arcmin\n'
)
SIGNAL = "  engine.speed: {unit: rpm, range: [0, 8000], from: EEC1.Rpm%s, stale: 300 ms}\n"


def made(
    folder: Path, key: str = "", more: str = "", attributes: str = "", dbc: str = MESSAGE, lines: str = ""
) -> tuple[Design | None, list[Finding]]:
    text = (
        (BASE / "design.yaml").read_text(encoding="utf-8").replace("dbc: van.dbc", f"dbc: truck.dbc\n{key}")
    )
    (folder / "design.yaml").write_text(text, encoding="utf-8")
    (folder / "signals.yaml").write_text("signals:\n" + SIGNAL % more + lines, encoding="utf-8")
    (folder / "drive.layout").write_text(LAYOUT, encoding="utf-8")
    shutil.copy(BASE / "themes.yaml", folder)
    (folder / "truck.dbc").write_text(f'VERSION ""\nBU_: A B\n{dbc}{attributes}')
    design, findings = load(folder)
    return design, [finding for finding in findings if finding.code != "M247"]


def test_a_group_with_an_address(tmp_path: Path) -> None:
    design, findings = made(tmp_path, "j1939: true", ", source address: 0x0B")
    assert design is not None and findings == [] and design.j1939 == {"": True}
    source = design.signals["engine.speed"].source
    assert source is not None and (source.address, source.destination) == (0x0B, None)
    design, findings = made(tmp_path, attributes=SAID[1][0], more=", source address: 0x0B")
    assert design is not None and findings == [] and design.j1939 == {}


BATTERY = f"""BO_ {1 << 31 | 0x18FF21FE} Battery: 8 A
 SG_ Voltage : 0|16@1+ (0.05,0) [0|3212.75] "V" B
"""


def test_the_page_describes_such_a_design(tmp_path: Path) -> None:
    text = (ROOT / "hmic" / "model" / "DESIGN.md").read_text(encoding="utf-8")
    said = text.split("```yaml\n# truck/")[1:]
    texts = {part.partition("\n")[0]: part.partition("\n")[2].partition("```")[0] for part in said}
    lines = texts["signals.yaml"].removeprefix("signals:\n")
    assert "j1939: true" in texts["design.yaml"]
    design, findings = made(tmp_path, "j1939: true", dbc=MESSAGE + BATTERY, lines=lines)
    assert design is not None and findings == []
    sources = [design.signals[name].source for name in ("front.voltage", "rear.voltage")]
    assert [each.address for each in sources if each is not None] == [0xF3, 0xF4]


def test_a_placeholder_without_a_word_is_told(tmp_path: Path) -> None:
    _, findings = made(tmp_path)
    assert [(each.code, each.severity) for each in findings] == [("M239", Severity.WARNING)]
    assert "ends in FE" in findings[0].message and "j1939: true" in str(findings[0].remedy)
    for key in ("j1939: true", "j1939: false"):
        assert made(tmp_path, key)[1] == []
    other = MESSAGE.replace(str(GROUP), str(GROUP & ~0xFF))
    assert made(tmp_path, dbc=other)[1] == []


WRONG = [
    # design.yaml, signal, attributes of the DBC, code, in the message, in the remedy
    ("", ", source address: 0x0B", "", "M238", "no parameter group", "`j1939: true`"),
    ("j1939: false", ", source address: 0x0B", SAID[1][0], "M238", "no parameter group", "remove"),
    ("j1939: true", ", destination address: 0x27", "", "M238", "goes to all", "remove"),
    ("j1939: [drive]", "", SAID[1][0], "M296", "'drive'", "`j1939: true`"),
    ("j1939: sometimes", "", SAID[1][0], "M230", "'j1939' must be true, false", "`true`"),
    ("j1939: true", ", source address: 0xFE", "", "M230", "0x00 to 0xFD", "0x0B"),
    ("j1939: true", ", source address: 11", "", "M230", "0x00 to 0xFD", "0x0B"),
]


@pytest.mark.parametrize(("key", "more", "attributes", "code", "message", "remedy"), WRONG)
def test_what_does_not_go_together_is_told(
    tmp_path: Path, key: str, more: str, attributes: str, code: str, message: str, remedy: str
) -> None:
    _, findings = made(tmp_path, key, more, attributes)
    assert [each.code for each in findings if each.severity is Severity.ERROR] == [code]
    assert message in findings[0].message and remedy in str(findings[0].remedy)


@pytest.mark.parametrize("rest", ["from: pipe, stale: 1 s", 'is: "engine.speed"', "from: obd 0C, stale: 3 s"])
def test_what_comes_from_no_message_has_no_address(tmp_path: Path, rest: str) -> None:
    lines = f"  engine.other: {{unit: rpm, range: [0, 9000], {rest}, source address: 0x0B}}\n"
    _, findings = made(tmp_path, "j1939: true", lines=lines)
    (finding,) = [each for each in findings if each.severity is Severity.ERROR]
    assert finding.code == ("M267" if "is:" in rest else "M238")
    assert finding.span is not None and "source address" in finding.message


def test_a_range_beyond_what_is_measured_is_told(tmp_path: Path) -> None:
    """A byte of % from -125: 250, the highest measured value, is 125 %; one with a sign has no such end."""
    line = '  engine.torque: {unit: "%", range: [-125, 130], from: EEC1.Torque, stale: 300 ms}\n'
    _, findings = made(tmp_path, "j1939: true", lines=line)
    assert [(each.code, each.severity) for each in findings] == [("M265", Severity.NOTE)]
    assert "up to 125 %" in findings[0].message
    for fine in ("[-125, 125]", "[0, 100]"):
        assert made(tmp_path, "j1939: true", lines=line.replace("[-125, 130]", fine))[1] == []
    trim = '  engine.trim: {unit: "%", range: [-128, 127], from: EEC1.Trim, stale: 300 ms}\n'
    assert made(tmp_path, "j1939: true", lines=trim)[1] == []
    assert made(tmp_path, "j1939: false", lines=line)[1] == []


def test_nothing_is_sent_by_an_address_of_nobody_or_in_several_frames(tmp_path: Path) -> None:
    dbc = MESSAGE + 'BO_ 2566848254 Wanted: 8 B\n SG_ Speed : 0|16@1+ (1,0) [0|8000] "rpm" A\n'
    outputs = "outputs:\n  engine.speed: {to: Wanted.Speed}\n"
    _, findings = made(tmp_path, "j1939: true", dbc=dbc, lines=outputs)
    assert [each.code for each in findings] == ["M286"] and "no source address" in findings[0].message
    sent = dbc.replace("2566848254", str(2566848254 & ~0xFF | 0x27))
    assert made(tmp_path, "j1939: true", dbc=sent, lines=outputs)[1] == []
    long = sent.replace("Wanted: 8", "Wanted: 12")
    _, findings = made(tmp_path, "j1939: true", dbc=long, lines=outputs)
    assert [each.code for each in findings] == ["M286"] and "several frames" in findings[0].message
