"""words/<language>.yaml, `language:` and `locale:` of design.yaml, panels without touch."""

import pytest
from test_model_load import change, folder  # noqa: F401

from hmic.diagnostics import Severity
from hmic.language import syntax
from hmic.model.load import load

SPEAKING = """part titled (title)
    plan
        name
    in name     label title, text 20 arcmin

screen talk "Talk"
    plan
        a  b
        c  d
    in a        words road.gear, called "Gear now"
    in b        use titled with title "Charge limit"
    in c across
        each n from 1 to 2
            reading pack.cells[n] as "0.0 V", called "Cell {n}"
    in d        lamp battery, danger while pack.low < 2.5 V, means "Cell low"
"""
WORDS = """Gear now: Gang
Charge limit: Ladegrenze
"Cell {n}": "Zelle {n}"
Cell low: Zelle leer
Not now: Jetzt nicht
"""


@pytest.fixture
def speaking(folder):  # noqa: F811
    (folder / "talk.layout").write_text(SPEAKING, encoding="utf-8")
    change(folder, "more.layout", "drive, charging\n", "drive, charging, talk\n")
    change(folder, "design.yaml", "start: drive\n", "start: drive\nlanguage: de\n")
    (folder / "words").mkdir()
    (folder / "words" / "de.yaml").write_text(WORDS, encoding="utf-8")
    return folder


def test_texts_are_replaced_and_words_are_kept(speaking):
    design, findings = load(speaking)
    assert findings == []
    talk = {area.name: area.body[0] for area in design.screens["talk"].areas}
    assert talk["a"].one("called").values[0].text == "Gang"
    assert dict(talk["b"].arguments)["title"].text == "Ladegrenze"
    assert talk["c"].body[0].one("called").values[0].text == "Zelle {n}"
    assert talk["d"].one("means").values[0].text == "Zelle leer"
    # Single letters need no entry, and a signal's words stay what conditions compare with.
    assert design.signals["road.gear"].words == {0: "P", 1: "D"} and design.said["P"] == "P"
    plain, findings = load(speaking, "")
    assert findings == [] and plain.said == {}
    assert dict(plain.screens["talk"].areas[1].body[0].arguments)["title"].text == "Charge limit"


def test_words_of_a_shown_signal_are_asked_for(speaking):
    change(speaking, "signals.yaml", "{0: P, 1: D}", "{0: Parked, 1: Drive}")
    for name in ("van.dbc", "more.layout"):
        text = (speaking / name).read_text(encoding="utf-8")
        (speaking / name).write_text(
            text.replace('"P"', '"Parked"').replace('"D"', '"Drive"'), encoding="utf-8"
        )
    _, findings = load(speaking)
    assert [(f.code, f.span.file) for f in findings] == [("M274", "signals.yaml")] * 2
    change(speaking, "words/de.yaml", "Gear now", "Parked: Steht\nDrive: Fährt\nGear now")
    design, findings = load(speaking)
    assert findings == [] and design.said == {"Parked": "Steht", "Drive": "Fährt", "Not now": "Jetzt nicht"}


def test_a_text_compared_with_is_left_alone(speaking):
    """A part's parameter that is a word of a signal is no text on the screen."""
    part = """part lit (word)
    plan
        one
    in one      lamp plug, notice while road.gear is word, means "Cell low"

"""
    change(speaking, "talk.layout", "part titled", part + "part titled")
    change(speaking, "talk.layout", "in d        lamp", 'in d        use lit with word "P"\n        lamp')
    change(speaking, "talk.layout", "in d        use", "in d\n        use")
    design, findings = load(speaking)
    assert findings == []
    use = next(item for area in design.screens["talk"].areas for item in area.body if area.name == "d")
    assert isinstance(use, syntax.Use) and dict(use.arguments)["word"].text == "P"


@pytest.mark.parametrize(
    ("file", "old", "new", "code", "said"),
    [
        ("design.yaml", "language: de", "language: df", "M273", "did you mean 'de'?"),
        ("words/de.yaml", "Gear now: Gang\n", "", "M274", 'add a line `"Gear now": "..."`'),
        ("words/de.yaml", "Gear now", "Gaer now", "M275", "did you mean 'Gear now'?"),
        ("words/de.yaml", "Zelle {n}", "Zelle {m}", "M276", "{n}"),
        ("words/de.yaml", "Gear now: Gang", "Gear now: 3", "M230", ""),
        ("words/de.yaml", "Gear now: Gang", "Gear now: [", "M226", ""),
        ("design.yaml", "language: de", "language: German", "M230", "de"),
        ("design.yaml", "start: drive", "start: drive\nlocale: {units: {km/h: mhp}}", "M272", "mph"),
        ("design.yaml", "start: drive", "start: drive\nlocale: {units: {km/h: mi}}", "M272", "same"),
        ("design.yaml", "start: drive", "start: drive\nlocale: {decimal: dot}", "M230", "comma"),
    ],
)
def test_mistakes(speaking, file, old, new, code, said):
    change(speaking, file, old, new)
    _, findings = load(speaking)
    found = next(finding for finding in findings if finding.code == code)
    assert found.span.file == file or code == "M274"
    assert said in (found.remedy or "")


def test_a_missing_text_names_every_place(speaking):
    change(speaking, "words/de.yaml", "Cell low: Zelle leer\n", "")
    change(
        speaking,
        "talk.layout",
        "in d        lamp",
        'in d\n        label "Cell low", text 20 arcmin\n        lamp',
    )
    _, findings = load(speaking)
    assert [finding.code for finding in findings] == ["M274"]
    assert findings[0].severity is Severity.WARNING
    assert "talk.layout:16, talk.layout:17" in findings[0].message


def test_a_panel_without_touch_has_no_controls(folder):  # noqa: F811
    change(folder, "design.yaml", "  colour depth: 16", "  colour depth: 16\n  touch: false\n  knob: true")
    design, findings = load(folder)
    assert (design.panel.touch, design.panel.knob) == (False, True)
    assert [(f.code, f.span.line) for f in findings] == [("M277", 4), ("M277", 7)]
    change(folder, "more.layout", "drive, charging", "charging")
    change(folder, "drive.layout", "    swipe left goes to charging\n", "")
    _, findings = load(folder)
    assert "M278" in [finding.code for finding in findings]
    change(
        folder,
        "more.layout",
        "        allowed when",
        '    comes up when road.gear is "P"\n        allowed when',
    )


def test_a_knob_also_follows_a_screens_own_swipes(folder):  # noqa: F811
    change(folder, "design.yaml", "  colour depth: 16", "  colour depth: 16\n  touch: false\n  knob: true")
    change(folder, "more.layout", "drive, charging", "charging")
    _, findings = load(folder)
    assert "M278" not in [finding.code for finding in findings]
    change(folder, "design.yaml", "  knob: true\n", "")
    _, findings = load(folder)
    found = [finding for finding in findings if finding.code == "M278"]
    assert len(found) == 1 and "knob: true" in found[0].remedy
