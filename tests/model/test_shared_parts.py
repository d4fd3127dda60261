# ruff: noqa: E501
"""Shared parts: what a design takes in, under which names, and what is wrong with one that it cannot."""

from __future__ import annotations

import random
import re
import shutil
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from hmic.cli.main import main
from hmic.compile.compiling import Compiled, compile_design, examine
from hmic.compile.kept_findings import stamp
from hmic.diagnostics import Finding, Severity, Span
from hmic.model.design import Design
from hmic.model.load import load
from hmic.model.samples import sample_values
from hmic.model.yaml_source import schema
from hmic.paint.operations import Moment
from hmic.show.screens import brush, raw_values

ROOT = Path(__file__).parents[2]
PARTS = ROOT / "layouts" / "parts"
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
SCREEN = """
screen kit "Kit"
    plan
        box     stove
        limit   stove
    in box      use {name}_box with height 30 arcmin
    in limit    use {name}_limit
    in stove    use stove_box

    swipe left goes to drive
"""


@pytest.fixture
def van(tmp_path: Path) -> Path:
    """A design beside a folder of shared parts, which it does not take in yet."""
    shutil.copytree(BASE, tmp_path / "van")
    shutil.copytree(PARTS, tmp_path / "parts")
    return tmp_path / "van"


def taking(van: Path, uses: str, layout: str = "") -> Path:
    settings = van / "design.yaml"
    settings.write_text(re.sub(r"(?m)^uses:.*\n", "", settings.read_text()) + f"uses: {uses}\n")
    if layout:
        (van / "kit.layout").write_text(layout)
        drive = van / "drive.layout"
        drive.write_text(drive.read_text() + ("" if "goes to kit" in drive.read_text() else "\n    swipe right goes to kit\n"))
    return van


def two_buses(van: Path) -> None:
    settings, signals = van / "design.yaml", van / "signals.yaml"
    settings.write_text(settings.read_text().replace("dbc: van.dbc", "buses: {car: van.dbc, drive: van.dbc}"))
    signals.write_text(re.sub(r'(from: "?|to: )([A-Z])', r"\1car/\2", signals.read_text()))


def found(van: Path, *codes: str) -> list[Finding]:
    """What is wrong, and notes of these codes."""
    return [each for each in load(van)[1] if each.severity is not Severity.NOTE or each.code in codes]


def only(van: Path, *codes: str) -> Finding:
    (finding,) = found(van, *codes)
    return finding


def loaded(van: Path) -> Design:
    design, findings = load(van)
    assert design is not None and [each for each in findings if each.severity is Severity.ERROR] == []
    return design


# What is taken in -------------------------------------------------------------------------------


def test_the_examples_are_taken_in_as_they_say(van: Path) -> None:
    design = loaded(taking(van, "[../parts/charger, ../parts/stove]", SCREEN.format(name="charger")))
    for part in ("charger", "stove"):
        said = yaml.safe_load((PARTS / part / "signals.yaml").read_text())
        brought = {name for name in design.signals if name.startswith(f"{part}.")}
        assert brought == set(said["signals"])
        for name, entry in said["signals"].items():
            if "from" in entry:
                source = design.signals[name].source
                assert source is not None and (source.bus, f"{source.message}.{source.signal}") == (part, entry["from"])
            if "range" in entry and "unit" in entry:
                assert [design.signals[name].low, design.signals[name].high] == entry["range"]
    assert design.outputs["charger.limit"].bus == "charger" and design.outputs["charger.limit"].message == "Request"
    assert {"charger/Status", "charger/Request"} <= set(design.messages)
    assert {"charger_box", "charger_limit", "stove_box"} <= set(design.parts)
    assert (design.wired, design.wire("charger"), design.wire("")) == (("",), "", "")
    assert design.described["charger"] == (van.parent / "parts" / "charger" / "charger.dbc").resolve()
    assert isinstance(compile_design(van), Compiled)


def test_what_is_not_used_of_a_part_is_not_told_and_costs_no_room(van: Path) -> None:
    """A part offers more than one design needs."""
    plain = compile_design(van)
    taken = compile_design(taking(van, "[../parts/charger]"))
    assert isinstance(plain, Compiled) and isinstance(taken, Compiled)
    assert not [each for each in taken.findings if each.span and "charger" in each.span.file]
    assert taken.pack == plain.pack


def without_places(thing: Any) -> Any:
    """A fact without its spans and functions, for comparison."""
    if isinstance(thing, Span) or callable(thing):
        return None
    if is_dataclass(thing):
        return {each.name: without_places(getattr(thing, each.name)) for each in fields(thing) if each.compare}
    if isinstance(thing, dict):
        return {key: without_places(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [without_places(each) for each in thing]
    return thing


def test_another_name_is_as_if_the_part_were_written_so(van: Path) -> None:
    """Against a copy of the folder in which all names are written in the other way."""
    copied = van.parent / "parts" / "rear"
    shutil.copytree(PARTS / "charger", copied)
    for path in copied.glob("*.*"):
        text = path.read_text()
        if path.suffix == ".layout":
            text = re.sub(r"charger(?=[._])", "rear", text)
        elif path.name == "signals.yaml":
            text = text.replace("charger.", "rear.")
        elif path.name == "part.yaml":
            text = text.replace("name: charger", "name: rear")
        path.write_text(text)
    layout = SCREEN.format(name="rear")
    written = compile_design(taking(van, "[../parts/rear, ../parts/stove]", layout))
    named = compile_design(taking(van, "[{part: ../parts/charger, as: rear}, ../parts/stove]", layout))
    assert isinstance(written, Compiled) and isinstance(named, Compiled)
    assert without_places(named.design.signals) == without_places(written.design.signals)
    assert without_places(named.design.outputs) == without_places(written.design.outputs)
    assert without_places(named.design.parts) == without_places(written.design.parts)
    assert named.pack == written.pack
    screens = [screen.name for screen in named.arranged.drawing.screens]
    pictures = []
    for compiled in (named, written):
        raw = raw_values(compiled, sample_values(compiled.design))
        pictures.append(brush(compiled)(Moment(screens.index("kit"), 0, raw)).tobytes())
    assert pictures[0] == pictures[1]


def test_the_document_takes_in_the_examples(van: Path) -> None:
    text = (ROOT / "hmic" / "model" / "DESIGN.md").read_text(encoding="utf-8")
    uses = text.partition("# parts-taken/design.yaml\nuses:\n")[2].partition("```")[0]
    assert uses.count("- ") == 2
    settings = van / "design.yaml"
    settings.write_text(settings.read_text() + "uses:\n" + uses)
    assert {"charger.power", "bench.air"} <= set(loaded(van).signals)


def test_both_kinds_of_files_take_in_parts_alike() -> None:
    assert schema("design")["properties"]["uses"] == schema("part")["properties"]["uses"]


def test_one_part_twice_under_two_names(van: Path) -> None:
    two_buses(van)
    design = loaded(taking(van, "[{part: ../parts/charger, bus: car}, {part: ../parts/charger, as: rear, bus: drive}]"))
    assert design.signals["charger.power"].derived is not None and design.signals["rear.power"].derived is not None
    assert design.signals["rear.power"].derived.signals == {"rear.voltage", "rear.current"}
    assert {"rear_box", "charger_box"} <= set(design.parts)


def test_a_part_takes_in_another_once(van: Path) -> None:
    parts = van.parent / "parts"
    (parts / "bay").mkdir()
    (parts / "bay" / "part.yaml").write_text("name: bay\nuses: [../charger, ../stove]\n")
    design = loaded(taking(van, "[../parts/bay, ../parts/charger]"))
    assert set(design.described) == {"charger", "stove"}


def test_words_of_a_part_count_where_the_design_has_none(van: Path) -> None:
    taking(van, "[../parts/charger, ../parts/stove]", SCREEN.format(name="charger"))
    (van / "words").mkdir()
    (van / "words" / "de.yaml").write_text('"Charger": "Ladegerät"\n')
    design, findings = load(van, "de")
    assert design is not None
    said = {node.text for part in ("charger_box", "charger_limit") for node in texts(design.parts[part])}
    assert {"Ladegerät", "Innen", "Vom Netz", "Erst einstecken"} <= said and "Inside" not in said
    lacking = " ".join(each.message for each in findings if each.code == "M274")
    assert "Inside" not in lacking and "Charging" not in lacking


def test_a_table_is_not_asked_for_what_a_part_says(van: Path) -> None:
    taking(van, "[../parts/charger, ../parts/stove]", SCREEN.format(name="charger"))
    assert main(["words", str(van), "--language", "de"]) == 0
    table = (van / "words" / "de.yaml").read_text()
    assert '"Stove": ""' in table and "Inside" not in table and "Charger" not in table


def texts(thing: Any) -> list[Any]:
    """All texts of a syntax tree."""
    from hmic.language.syntax import Text

    if isinstance(thing, Text):
        return [thing]
    inner = [getattr(thing, each.name) for each in fields(thing)] if is_dataclass(thing) else thing
    return [text for each in inner for text in texts(each)] if isinstance(inner, list | tuple) else []


def test_a_picture_of_a_part_lies_in_its_folder(van: Path) -> None:
    from PIL import Image

    folder = van.parent / "parts" / "charger"
    Image.new("RGB", (40, 40), (200, 10, 10)).save(folder / "bay.png")
    (folder / "charger.layout").write_text('part charger_box ()\n    plan\n        a\n    in a  picture "bay.png", means "The bay"\n')
    layout = 'screen kit "Kit"\n    plan\n        a\n    in a  use charger_box\n    swipe left goes to drive\n'
    assert isinstance(compile_design(taking(van, "[../parts/charger]", layout)), Compiled)
    (folder / "charger.layout").write_text((folder / "charger.layout").read_text().replace("bay.png", "../../van/bay.png"))
    shutil.copy(folder / "bay.png", van)
    assert {each.code for each in compile_design(van).findings if each.severity is Severity.ERROR} == {"A376"}


# What is wrong ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("uses", "code", "said", "remedy"),
    [
        ("[../parts/chager]", "M301", "there is no folder '../parts/chager'", "did you mean 'charger'?"),
        ("[../parts]", "M301", "'../parts' is no shared part: it has no part.yaml", "write part.yaml there, with its `name`"),
        ("[/etc]", "M301", "'/etc' is not written from here", "write it from the folder of this file: `../parts/charger`"),
        ("[../parts/charger, {part: ../parts/stove, as: charger}]", "M303", "two shared parts are called 'charger'", "give one another name: `{part: ../parts/stove, as: charger_2}`"),
        ("[{part: ../parts/charger, bus: drive}]", "M296", "which design.yaml does not have", "it names no buses: leave `bus` out"),
        ("[{as: rear}]", "M229", "lacks 'part'", "add `part: ../parts/charger`"),
        ("[{part: ../parts/charger, as: Rear}]", "M230", "", None),
        ("../parts/charger", "M230", "", None),
    ],
)
def test_what_cannot_be_taken_in(van: Path, uses: str, code: str, said: str, remedy: str | None) -> None:
    finding = only(taking(van, uses))
    assert finding.code == code and said in finding.message
    assert finding.span is not None and finding.span.file == "design.yaml" and finding.span.line == 18
    if remedy is not None:
        assert finding.remedy == remedy


def test_a_part_alone_is_no_design() -> None:
    (finding,) = load(PARTS / "charger")[1]
    assert finding.code == "M220" and "is a shared part, and no design" in finding.message


def test_both_places_of_a_clash_are_told(van: Path) -> None:
    for key, old, place in (
        ("signals", "  vehicle.speed:", "  charger.power: {unit: kW, range: [0, 9], from: pipe, stale: 1 s}\n  vehicle.speed:"),
        ("outputs", "  charge.limit: {to", "  charger.limit: {to: pipe}\n  charge.limit: {to"),
    ):
        text = (BASE / "signals.yaml").read_text()
        assert old in text, key
        (van / "signals.yaml").write_text(text.replace(old, place, 1))
        finding = only(taking(van, "[../parts/charger]"))
        assert finding.code == "M303" and finding.span is not None and finding.span.file == "signals.yaml"
        assert [span.file for span in finding.also] == ["../parts/charger/signals.yaml"]
    (van / "signals.yaml").write_text((BASE / "signals.yaml").read_text())
    layout = van / "drive.layout"
    layout.write_text(layout.read_text() + '\npart charger_box ()\n    plan\n        a\n    in a  label "x", text 30 arcmin\n')
    finding = only(van)
    assert finding.code == "M244" and "the first is in drive.layout" in (finding.remedy or "")
    assert finding.span is not None and finding.span.file == "../parts/charger/charger.layout"


def test_circles_and_too_many(van: Path) -> None:
    parts = van.parent / "parts"
    (parts / "charger" / "part.yaml").write_text("name: charger\nuses: [../stove]\ndbc: charger.dbc\n")
    (parts / "stove" / "part.yaml").write_text("name: stove\nuses: [../charger]\ndbc: stove.dbc\n")
    finding = only(taking(van, "[../parts/charger]"))
    assert finding.code == "M305" and "../parts/charger -> ../parts/stove -> ../parts/charger" in finding.message
    for number in range(40):
        (parts / f"p{number}").mkdir()
        (parts / f"p{number}" / "part.yaml").write_text(f"name: p{number}\n" + (f"uses: [../p{number + 1}]\n" if number < 39 else ""))
    finding = only(taking(van, "[../parts/p0]"))
    assert finding.code == "M231" and finding.span is not None and finding.span.file == "../parts/p31/part.yaml"


def test_nothing_leads_out_of_a_part(van: Path) -> None:
    (van.parent / "parts" / "charger" / "part.yaml").write_text("name: charger\ndbc: ../../van/van.dbc\n")
    finding = only(taking(van, "[../parts/charger]"))
    assert finding.code == "M224" and finding.message == "'../../van/van.dbc' leads out of the shared part's folder"
    assert finding.span is not None and finding.span.file == "../parts/charger/part.yaml"


def test_a_part_without_a_description_has_nothing_from_can(van: Path) -> None:
    (van.parent / "parts" / "stove" / "part.yaml").write_text("name: stove\n")
    findings = found(taking(van, "[../parts/stove]"))
    assert {each.code for each in findings} == {"M259"} and len(findings) == 4
    assert all(each.span is not None and each.span.file == "../parts/stove/signals.yaml" for each in findings)
    settings, signals = van / "design.yaml", van / "signals.yaml"
    settings.write_text(settings.read_text().replace("dbc: van.dbc\n", ""))
    signals.write_text("signals: {}\n")
    again = [each for each in load(van)[1] if each.code == "M259"]
    assert [each.span for each in again] == [each.span for each in findings]


def test_a_mistake_in_a_part_is_told_once_and_at_its_place(van: Path) -> None:
    signals = van.parent / "parts" / "charger" / "signals.yaml"
    signals.write_text(signals.read_text().replace("unit: V, range", "unit: Vlot, range"))
    taking(van, "[../parts/charger, ../parts/stove]", SCREEN.format(name="charger"))
    findings = [each for each in examine(van)[2] if each.severity is Severity.ERROR]
    assert [(each.code, each.span.file if each.span else "") for each in findings] == [("M203", "../parts/charger/signals.yaml")]


def test_where_a_part_was_tried(van: Path) -> None:
    """The panel of this design is the first that the example names; three per cent of its size are one panel."""
    assert found(taking(van, "[../parts/charger]"), "M304") == []
    settings = van.parent / "parts" / "charger" / "part.yaml"
    settings.write_text(settings.read_text().replace("1024x600@173.1x101.4mm", "1024x600@170x100mm"))
    assert found(van, "M304") == []
    settings.write_text(settings.read_text().replace("1024x600@170x100mm", "1024x600@150x88mm").replace('"0.1"', '"9.1", "0.10"'))
    notes = found(van, "M304")
    assert [each.severity for each in notes] == [Severity.NOTE, Severity.NOTE]
    assert "was tried on hmic 9.1, 0.10; this is 0.1" in notes[0].message
    assert "add 1024x600@173.1x101.4mm to `tried on` in ../parts/charger/part.yaml" in (notes[1].remedy or "")


def test_of_several_buses_a_part_says_its_own(van: Path) -> None:
    two_buses(van)
    finding = only(taking(van, "[../parts/charger]"))
    assert finding.code == "M296" and finding.remedy == "write `{part: ../parts/charger, bus: car}`"
    design = loaded(taking(van, "[{part: ../parts/charger, bus: drive}]"))
    assert (design.wire("charger"), design.wired) == ("drive", ("car", "drive"))
    finding = only(taking(van, "[{part: ../parts/charger, bus: car, as: drive}]"))
    assert finding.code == "M303" and "called as a bus is" in finding.message


def test_what_was_found_is_forgotten_when_a_part_changes(van: Path) -> None:
    taking(van, "[../parts/charger]")
    before = stamp(van, None)
    assert before is not None and stamp(van, None) == before
    for name in ("signals.yaml", "part.yaml", "charger.layout", "charger.dbc", "words/de.yaml"):
        path = van.parent / "parts" / "charger" / name
        text = path.read_text()
        path.write_text(text + "\n")
        assert stamp(van, None) != before, name
        path.write_text(text)
    assert stamp(van, None) == before
    (van.parent / "parts" / "stove" / "part.yaml").write_text("name: other\n")
    assert stamp(van, None) == before


@pytest.mark.parametrize("seed", range(30))
def test_a_spoiled_part_ends_in_findings(van: Path, seed: int) -> None:
    """Bytes and lines changed at random, in any file of it."""
    some = random.Random(seed)
    taking(van, "[../parts/charger, {part: ../parts/stove, as: bench}]", SCREEN.format(name="charger").replace("stove_box", "bench_box"))
    files = sorted(path for path in (van.parent / "parts").rglob("*") if path.is_file())
    for _ in range(2):
        path = some.choice(files)
        data = bytearray(path.read_bytes())
        for _ in range(some.choice((1, 3, 20))):
            at = some.randrange(len(data) + 1)
            data[at : at + some.randrange(3)] = bytes(some.randrange(256) for _ in range(some.randrange(3)))
        path.write_bytes(bytes(data))
    for each in examine(van)[2]:
        assert each.message and (each.span is None or each.span.line > 0)
