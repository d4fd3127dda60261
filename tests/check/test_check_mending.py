"""Every remedy that a rule can give as edits, applied to its bad twin: its finding is gone, and nothing is
new."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from pathlib import Path

import pytest
from good_design import FILES, spoiled
from hypothesis import given
from hypothesis import strategies as st
from test_check_twins import TWINS, limit

from hmic.cli.main import main
from hmic.compile.compiling import compile_design
from hmic.compile.mending import edited
from hmic.diagnostics import Edit, Finding, Mend, Span, as_json

SPEED = 'reading vehicle.speed as "0 km/h", text 90 arcmin'
# Twins of rules that TWINS spoil by a limit alone, or in a way that no edit can mend.
VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
MORE = {
    "decimals that a text of the least size leaves too small": (
        ("battery.layout", VOLTS, VOLTS.replace("36 arcmin", "20 arcmin, decimals small")),
    ),
    "the number of a bar too small": (
        ("road.layout", 'as "0 kW", called', 'as "0 kW", text 13 arcmin, called'),
    ),
    "a font too bold for words": (("design.yaml", "text: B612-Regular", "text: B612-Bold"),),
    "a list of many rows": (
        (
            "signals.yaml",
            "outputs:",
            "  media.titles: {text: true, count: 20, from: pipe, stale: 2 s}\n"
            '  media.title: {unit: "", range: [1, 20], from: pipe, stale: 2 s}\n'
            "outputs:\n  media.title: {to: pipe}",
        ),
        (
            "battery.layout",
            VOLTS,
            "list media.titles, showing 8 rows, marked by media.title, sets media.title to row",
        ),
        ("battery.layout", "rows 14 mm, 1, 1", "rows 14 mm, 5, 1"),
        ("design.yaml", "size: [154.1 mm, 85.9 mm]", "size: [240 mm, 144 mm]"),
    ),
}
SPOILT = {**{name: changes for name, (_, *changes) in TWINS.items()}, **MORE}
CAN = frozenset(
    [
        "C401",
        "C402",
        "C403",
        "C404",
        "C405",
        "C406",
        "C407",
        "C409",
        "C420",
        "C421",
        "C422",
        "C431",
        "C432",
        "C436",
        "C440",
        "C441",
        "C445",
        "C448",
        "C449",
        "C450",
        "C452",
        "C454",
        "C456",
        "C458",
        "C459",
        "C465",
        "C466",
        "C467",
        "C470",
        "C471",
        "C472",
        "C473",
        "C499",
    ]
)
"""The rules that give edits; each has a twin here."""


def found_in(folder: Path, files: dict[str, str]) -> list[Finding]:
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return [item for item in compile_design(folder).findings if item.code[0] != "M"]


def applied(files: dict[str, str], mend: Mend) -> dict[str, str]:
    """By the positions alone, one edit at a time from the last: another way than hmic's."""
    changed = dict(files)
    for edit in sorted(mend.edits, key=lambda each: (each.span.line, each.span.column), reverse=True):
        span = edit.span
        lines = changed[span.file].split("\n")
        before, after = (
            lines[span.line - 1][: span.column - 1],
            lines[span.end_line - 1][span.end_column - 1 :],
        )
        lines[span.line - 1 : span.end_line] = [before + edit.text + after]
        changed[span.file] = "\n".join(lines)
    return changed


def counted(found: list[Finding]) -> Counter[str]:
    return Counter(item.code for item in found)


@pytest.fixture(scope="module")
def mendable(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[dict[str, str], list[Finding]]]:
    """Each twin with its files and what is found in it."""
    folder = tmp_path_factory.mktemp("twins")
    told = {}
    for name, changes in SPOILT.items():
        files = spoiled(*changes)
        told[name] = (files, found_in(folder / f"twin{len(told)}", files))
    return told


def test_each_rule_that_can_gives_its_edits(
    mendable: dict[str, tuple[dict[str, str], list[Finding]]],
) -> None:
    gives = {item.code for _, found in mendable.values() for item in found if item.mend is not None}
    assert gives == CAN


@pytest.mark.parametrize("name", SPOILT)
def test_a_remedy_that_is_applied_mends(
    name: str, mendable: dict[str, tuple[dict[str, str], list[Finding]]], tmp_path: Path
) -> None:
    files, found = mendable[name]
    for item in dict.fromkeys(each for each in found if each.mend is not None):
        assert item.mend is not None and item.mend.edits
        after = applied(files, item.mend)
        by_file = {edit.span.file for edit in item.mend.edits}
        for file in by_file:
            own = [edit for edit in item.mend.edits if edit.span.file == file]
            assert edited(files[file], own) == after[file]
        left = found_in(tmp_path / item.code, after)
        assert not counted(left) - counted(found), (item.remedy, [(it.code, it.message) for it in left])
        assert counted(left)[item.code] < counted(found)[item.code], (item.message, item.remedy)


SPANS = st.integers(0, 11).flatmap(lambda first: st.tuples(st.just(first), st.integers(first, 11)))


@given(st.lists(st.tuples(SPANS, st.text("xyz\n", max_size=3)), max_size=4))
def test_edits_of_a_text_are_made_all_or_none(wanted: list[tuple[tuple[int, int], str]]) -> None:
    """Against cutting the text at every place at once."""
    text = "ab\ncd\n\nefgh"

    def place(at: int) -> tuple[int, int]:
        return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)

    edits = [Edit(Span("f", *place(first), *place(last)), new) for (first, last), new in wanted]
    order = sorted(wanted)
    apart = all(one[0][1] <= other[0][0] for one, other in itertools.pairwise(order))
    if not apart:
        with pytest.raises(ValueError, match="meet"):
            edited(text, edits)
        return
    if len({spot for spot, _ in wanted}) < len(wanted):
        return
    pieces, at = [], 0
    for (first, last), new in order:
        pieces += [text[at:first], new]
        at = last
    assert edited(text, edits) == "".join([*pieces, text[at:]])


def test_check_mends_what_nobody_has_to_be_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = spoiled(
        ("road.layout", "text 90 arcmin", "text 9 arcmin"),
        ("road.layout", "marks every 20 kW", "marks every 30 kW"),
        ("themes.yaml", 'danger: "#ff4f34"', 'danger: "#e072e0"'),
    )
    found_in(tmp_path / "heron", files)
    layout = tmp_path / "heron" / "road.layout"
    layout.write_bytes(files["road.layout"].replace("\n", "\r\n").encode())
    assert main(["check", str(tmp_path / "heron"), "--mend"]) == 0
    said = capsys.readouterr().out
    assert "mended C401 road.layout:" in said and "mended C458 road.layout:" in said
    assert "warning C440" in said and "C401" not in said.split("heron: ")[1]
    mended = layout.read_bytes()
    assert mended.count(b"\r\n") == mended.count(b"\n") == files["road.layout"].count("\n")
    assert b"text 12 arcmin" not in mended and b"text 20 arcmin" in mended and b"every 20 kW" in mended
    assert (tmp_path / "heron" / "themes.yaml").read_text(encoding="utf-8") == files["themes.yaml"]
    assert main(["check", str(tmp_path / "heron"), "--mend", "all", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert not [each for each in told if each["code"][0] == "C"]


def test_a_design_without_findings_is_left_alone(tmp_path: Path) -> None:
    found_in(tmp_path / "heron", FILES)
    assert main(["check", str(tmp_path / "heron"), "--mend", "all"]) == 0
    for name, text in FILES.items():
        assert (tmp_path / "heron" / name).read_text(encoding="utf-8") == text


def test_the_edits_are_in_the_json(tmp_path: Path) -> None:
    files = spoiled(limit("text acceptable", 15))
    (one,) = [item for item in found_in(tmp_path / "heron", files) if item.code == "C470"]
    (record,) = json.loads(as_json([one]))
    (edit,) = record["mend"]["edits"]
    assert record["mend"]["unasked"] is False and edit["text"] == "16 arcmin"
    line = files["design.yaml"].split("\n")[edit["line"] - 1]
    assert line[edit["column"] - 1 : edit["end_column"] - 1] == "15"
