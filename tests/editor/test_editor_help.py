"""Completion, hover and definitions over a design, without an editor."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.cli.editor_command import examined
from hmic.editor.completion import complete, matching
from hmic.editor.context import context_at
from hmic.editor.hover import definition, hover
from hmic.editor.project import View, by_file, look, root_of
from hmic.editor.server import message_of, to_column, to_units

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"

HEAD = """\
screen drive "Drive"
    plan
        clock   speed
        clock   charge

"""


@pytest.fixture(scope="module")
def dunlin() -> View:
    return look(DUNLIN, {}, None, examined)


def at(view: View, text: str, file: str = "drive.layout") -> tuple[View, str, int, int]:
    """The view with a text in place of a file's, and the place of the sign ``‸`` in it."""
    before, _, _ = text.partition("‸")
    line = before.count("\n")
    column = len(before) - (before.rfind("\n") + 1)
    texts = {**view.texts, file: text.replace("‸", "")}
    return View(view.root, view.design, texts, view.findings), file, line, column


def offered(view: View, text: str, file: str = "drive.layout") -> list[str]:
    place = at(view, text, file)
    whole = [item.text for item in complete(*place)]
    assert len(whole) == len(set(whole))
    return whole


def body(line: str) -> str:
    return f"{HEAD}    {line}\n"


# What is written up to the sign, some words that must be offered, some that must not.
PLACES = [
    ("in ‸", ["clock", "speed", "charge"], ["pack.voltage", "reading", "danger"]),
    ("touch ‸", ["clock", "charge"], ["reading"]),
    ("in clock ‸", ["clock", "reading", "lamp", "use", "across"], ["pack.voltage", "text"]),
    ("in speed  reading ‸", ["vehicle.speed", "clock.time", "max"], ["reading", "danger"]),
    ("in speed  reading vehicle.sp‸", ["vehicle.speed"], ["reading"]),
    ('in speed  reading vehicle.speed as "0 km/h", ‸', ["text", "colour", "danger", "caution"], ["charging"]),
    ('in speed  reading vehicle.speed as "0 km/h", colour ‸', ["quiet", "ink"], ["text", "pack.voltage"]),
    ("in charge level pack.charge, filled by ramp ‸", ["charge", "apart"], ["quiet", "danger"]),
    ("in charge level pack.charge, shaped ‸", ["battery", "tank"], ["quiet"]),
    ("in charge lamp ‸", ["battery", "plug"], ["quiet", "pack.voltage"]),
    ("in charge lamp plug, danger while ‸", ["charge.fault", "not"], ["battery"]),
    ("in charge lamp plug, danger while vehicle.gear is ‸", ['"P"', '"R"'], []),
    ("in charge button \"x\", goes to ‸", ["cells", "drive", "parked"], ["danger", "pack.voltage"]),
    ("in charge use ‸", ["loop_reading"], ["danger"]),
    ("in charge use loop_reading with ‸", ["title", "warm", "flow"], []),
    ("in charge use loop_reading with title \"x\", ‸", ["warm", "flow"], ["title"]),
    ("in charge reading vehicle.speed, aligned ‸", ["left", "centre", "right"], ["danger"]),
    ("swipe ‸", ["left", "up"], ["danger"]),
    ("swipe left goes to ‸", ["cells"], ["danger"]),
    ("comes up when ‸", ["pack.fault"], ["danger"]),
    ("‸", ["plan", "in", "touch", "columns"], ["reading"]),
    ('in charge label "pack.‸', [], ["pack.voltage"]),
    ("in speed  reading vehicle.speed  # ‸", [], ["text"]),
    ("in speed  reading vehicle.speed az 3, ‸", ["text", "danger"], []),
]  # fmt: skip


@pytest.mark.parametrize(("line", "wanted", "unwanted"), PLACES, ids=[place[0] for place in PLACES])
def test_words_by_context(dunlin: View, line: str, wanted: list[str], unwanted: list[str]) -> None:
    found = offered(dunlin, body(line))
    assert set(wanted) <= set(found)
    assert not set(unwanted) & set(found)


def test_deeper_lines(dunlin: View) -> None:
    text = body("in speed  reading vehicle.speed\n        ‸")
    assert {"as", "text", "danger"} <= set(offered(dunlin, text))
    text = body("in speed across\n        ‸")
    assert {"reading", "lamp"} <= set(offered(dunlin, text))
    text = body("in speed chart over 600 s\n        ‸")
    assert {"trace", "marks"} <= set(offered(dunlin, text))
    text = "part p (title, warm)\n    plan\n        name\n    in name  reading ‸\n"
    assert {"title", "warm", "pack.voltage"} <= set(offered(dunlin, text))
    text = HEAD.replace("        clock   charge\n", "        clock   ‸\n")
    assert {"clock", "speed"} <= set(offered(dunlin, text))
    assert {"screen", "part", "swipe"} <= set(offered(dunlin, "‸"))
    assert {"drive", "cells"} <= set(offered(dunlin, "swipe through drive, ‸"))


def test_settings(dunlin: View) -> None:
    keys = offered(dunlin, "signals:\n  pack.heat: {‸", "signals.yaml")
    assert {"unit", "range", "from", "stale"} <= set(keys)
    assert "km/h" in offered(dunlin, "signals:\n  pack.heat: {unit: ‸", "signals.yaml")
    assert "PackPower.Voltage" in offered(dunlin, "signals:\n  pack.heat: {from: ‸", "signals.yaml")
    assert "pack.voltage" in offered(dunlin, 'signals:\n  pack.heat: {is: "‸', "signals.yaml")
    assert "eye distance" in offered(dunlin, "panel:\n  ‸", "design.yaml")
    assert "cells" in offered(dunlin, "start: ‸", "design.yaml")
    assert "brightness" in offered(dunlin, "themes:\n  day:\n    ‸", "themes.yaml")


def test_what_begins_with_the_word_comes(dunlin: View) -> None:
    found = matching(complete(*at(dunlin, body("in speed reading vehicle.sp‸"))), "vehicle.sp")
    assert [item.text for item in found] == ["vehicle.speed"]


HOVERS = [
    ("in speed reading vehicle.sp‸eed", ["number in km/h", "0 to 140 km/h", "VehicleSpeed.Speed", "250 ms"]),
    ("in speed reading pack.po‸wer", ["worked out from pack.current, pack.voltage"]),
    ("in speed words vehicle.ge‸ar", ["P, R, N, D"]),
    ("in speed reading pack.ce‸lls[1]", ["90 elements"]),
    # 20 arcmin at 700 mm are 4.07 mm (700 mm * tan(1/3 degree)); the panel has 0.169 mm a pixel.
    ('in speed label "x", text 2‸0 arcmin', ["24 px", "4.1 mm", "19.9 arcmin from 700 mm"]),
    ('in speed label "x", text 5 m‸m', ["30 px", "5.1 mm", "24.9 arcmin"]),
    ('in speed label "x", text 60 p‸x', ["60 px", "10.1 mm", "49.8 arcmin"]),
    ('in speed label "x", colour qu‸iet', ["colour role", "day #", "night #"]),
    ("in speed level pack.charge, filled by ramp wa‸ter", ["ramp of"]),
    ('in speed button "x", goes to ce‸lls', ['screen "Cells"']),
    ("in speed use loop_rea‸ding", ["title, warm, flow"]),
    ("in speed reading ma‸x(pack.cells)", ["largest"]),
    ('in speed label "x", al‸igned left', ["aligned left"]),
    ("in speed clock, text 20 arcmin  # 12:3‸0", None),
    ("in speed reading no.th‸ing", None),
]


@pytest.mark.parametrize(("line", "said"), HOVERS, ids=[case[0] for case in HOVERS])
def test_hover(dunlin: View, line: str, said: list[str] | None) -> None:
    text = hover(*at(dunlin, body(line)))
    if said is None:
        assert text is None
        return
    assert text is not None
    assert [piece for piece in said if piece not in text] == [], text


def pointed(view: View, text: str, file: str = "drive.layout") -> tuple[str, str] | None:
    """The file and the text that a definition points at."""
    place = at(view, text, file)
    span = definition(*place)
    if span is None:
        return None
    shown = place[0].texts.get(span.file)
    if shown is None:
        shown = (view.root / span.file).read_bytes().decode("utf-8", "replace")
    return span.file, shown.split("\n")[span.line - 1][span.column - 1 : span.end_column - 1]


@pytest.mark.parametrize(
    ("line", "place"),
    [
        ("in speed reading vehicle.sp‸eed", ("signals.yaml", "vehicle.speed")),
        ('in speed button "x", goes to ce‸lls', ("cells.layout", "cells")),
        ("in speed use loop_rea‸ding", ("coolant.layout", "loop_reading")),
        ("in cha‸rge label \"x\"", ("drive.layout", "charge")),
        ("touch cl‸ock goes to cells", ("drive.layout", "clock")),
        ("in speed level pack.charge, filled by ramp wa‸ter", ("themes.yaml", None)),
        ("in nowhe‸re label \"x\"", None),
        ("in speed reading no.thi‸ng", None),
    ],
)  # fmt: skip
def test_definition(dunlin: View, line: str, place: tuple[str, str | None] | None) -> None:
    found = pointed(dunlin, body(line))
    if place is None:
        assert found is None
        return
    assert found is not None
    assert found[0] == place[0]
    assert place[1] is None or found[1] == place[1]


def test_definition_from_settings(dunlin: View) -> None:
    text = dunlin.texts["signals.yaml"].replace('is: "pack.voltage * ', 'is: "pack.vol‸tage * ', 1)
    assert pointed(dunlin, text, "signals.yaml") == ("signals.yaml", "pack.voltage")
    dbc = "signals:\n  pack.x: {from: PackPower.Vol‸tage}\n"
    assert pointed(dunlin, dbc, "signals.yaml") == ("dunlin.dbc", "Voltage")


def test_findings_follow_unsaved_texts(dunlin: View) -> None:
    text = dunlin.texts["drive.layout"]
    wrong = look(
        DUNLIN,
        {"drive.layout": text.replace("reading vehicle.speed", "reading vehicle.sped")},
        dunlin,
        examined,
    )
    found = by_file(wrong.findings)
    assert [item.code for item in found["drive.layout"] if item.severity.value == "error"] == ["M201"]
    assert "vehicle.speed" in message_of(found["drive.layout"][0])
    mended = look(DUNLIN, {}, wrong, examined)
    assert "M201" not in {item.code for item in mended.findings}


def test_names_are_known_while_a_file_is_half_written(dunlin: View) -> None:
    broken = look(DUNLIN, {"themes.yaml": "themes: {"}, dunlin, examined)
    assert broken.design is not None
    assert "pack.voltage" in broken.design.signals
    assert "M226" in {item.code for item in broken.findings}


def test_a_new_file_counts_before_it_is_saved(dunlin: View) -> None:
    new = {"more.layout": 'screen more "More"\n    plan\n        a\n    in a label "x", text 30 arcmin\n'}
    view = look(DUNLIN, new, dunlin, examined)
    assert view.design is not None
    assert "more" in view.design.screens


def test_the_design_of_a_file() -> None:
    assert root_of(DUNLIN / "drive.layout") == DUNLIN
    assert root_of(DUNLIN / "words" / "de.yaml") == DUNLIN
    assert root_of(DUNLIN / "dunlin.dbc") is None
    assert root_of(Path("/nowhere/x.layout")) is None


@given(st.text(), st.integers(0, 20))
def test_columns_in_both_counts(text: str, column: int) -> None:
    """Characters beyond the basic plane are two units in UTF-16 (RFC 2781)."""
    text = text.replace("\n", "").encode("utf-8", "ignore").decode("utf-8")
    column = min(column, len(text))
    assert to_column(text, to_units(text, column)) == column
    assert to_units(text, column) == sum(2 if ord(char) > 0xFFFF else 1 for char in text[:column])


@settings(max_examples=150)
@given(st.data())
def test_any_place_of_any_text(dunlin: View, data: st.DataObject) -> None:
    text = dunlin.texts[data.draw(st.sampled_from(["drive.layout", "coolant.layout", "parked.layout"]))]
    cut = data.draw(st.integers(0, len(text)))
    text = (
        text[:cut]
        + data.draw(st.sampled_from(["", '"', "(", ", ", "\n        ", "é°", "{", "\x1a"]))
        + text[cut + 1 :]
    )
    lines = text.split("\n")
    line = data.draw(st.integers(0, len(lines) - 1))
    column = data.draw(st.integers(0, len(lines[line])))
    place = (
        View(dunlin.root, dunlin.design, {**dunlin.texts, "drive.layout": text}),
        "drive.layout",
        line,
        column,
    )
    context_at(text, line, column)
    complete(*place)
    hover(*place)
    definition(*place)
