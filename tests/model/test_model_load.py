"""A design folder as a whole: what is found, where, and with which remedy."""

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import hmic.model
from hmic.diagnostics import Severity
from hmic.model.codes import CODES
from hmic.model.expressions import Doubt
from hmic.model.load import load
from hmic.model.themes_file import REQUIRED_ROLES
from hmic.model.values import lookup_over
from hmic.places import examples_folder, fonts_folder

ROLES = "\n".join(f'      {role}: "#{index:02x}{index:02x}40"' for index, role in enumerate(REQUIRED_ROLES))
FILES = {
    "design.yaml": """panel:
  pixels: [800, 480]
  size: [160 mm, 96 mm]
  eye distance: 700 mm
  colour depth: 16
  baud: 115200
  flash: 1 MB
  memory: 64 kB
fonts: {text: B612-Regular, figures: B612-Bold}
start: drive
dbc: van.dbc
""",
    "signals.yaml": """signals:
  pack.voltage: {unit: V, range: [200, 400], from: Pack.Voltage, stale: 500 ms}
  pack.current: {unit: A, range: [-300, 300], from: Pack.Current, stale: 500 ms}
  pack.power: {unit: kW, is: "pack.voltage * pack.current", range: [-100, 100]}
  pack.cells: {unit: mV, range: [2000, 4500], count: 2, from: "Cells.Cell{n}", stale: 2 s}
  pack.low: {is: "min(pack.cells)"}
  road.gear: {words: {0: P, 1: D}, from: Pack.Gear, stale: 1 s}
  charge.limit: {unit: "%", range: [50, 100], from: Pack.Limit, stale: 2 s, no data: 127}
  media.title: {text: true, from: pipe, stale: 10 s}
outputs:
  charge.limit: {to: Ask.Limit}
""",
    "themes.yaml": f"""themes:
  day:
    brightness: 100
    luminance: 600
    roles:
{ROLES}
    ramps:
      heat: ["#000000", "#ffffff"]
  night:
    brightness: 20
    luminance: 30
    roles:
{ROLES}
    ramps:
      heat: ["#000000", "#888888"]
""",
    "drive.layout": """screen drive "Drive"
    plan
        power   gear
        cells   back
    in power    reading pack.power as "0 kW", text 30 arcmin, caution above 80 kW
    in gear     words road.gear, colour quiet
    in cells across
        each n from 1 to 2
            level pack.cells[n] from 2.8 V to 4.2 V, filled by ramp heat
    in back     use low_reading with warm pack.low
    swipe left goes to charging

part low_reading (warm)
    plan
        only
    in only     reading warm as "0.0 V"
""",
    "more.layout": """screen charging "Charging"
    plan
        a  b
    in a        choice charge.limit of 80 % or 100 %
        allowed when pack.current < 1 A and road.gear is "P"
    in b        words media.title
    touch a goes to drive

swipe through drive, charging
""",
    "van.dbc": """VERSION ""

BU_: X

BO_ 100 Pack: 8 X
 SG_ Voltage : 0|16@1+ (0.1,0) [0|0] "V" X
 SG_ Current : 16|16@1- (0.1,0) [0|0] "A" X
 SG_ Gear : 32|8@1+ (1,0) [0|0] "" X
 SG_ Limit : 40|8@1+ (0.5,0) [0|0] "%" X

BO_ 101 Cells: 8 X
 SG_ Cell1 : 0|16@1+ (0.001,0) [0|0] "V" X
 SG_ Cell2 : 16|16@1+ (0.001,0) [0|0] "V" X

BO_ 102 Ask: 8 X
 SG_ Limit : 0|8@1+ (0.5,0) [0|0] "%" X

VAL_ 100 Gear 0 "P" 1 "D" ;
""",
}


@pytest.fixture
def folder(tmp_path):
    root = tmp_path / "van"
    root.mkdir()
    for name, text in FILES.items():
        (root / name).write_text(text, encoding="utf-8")
    return root


def change(folder, name, old, new):
    text = (folder / name).read_text(encoding="utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_sound_design_has_no_finding(folder):
    design, findings = load(folder)
    assert findings == []
    assert design is not None
    assert list(design.screens) == ["drive", "charging"] and design.order == ("drive", "charging")
    assert design.panel.flash == 1024 * 1024 and design.panel.eye_distance == 700
    assert design.signals["pack.power"].unit.spelling == "kW"
    assert design.signals["pack.voltage"].resolution == 0.1
    assert design.signals["pack.cells"].resolution == pytest.approx(1.0)
    assert design.signals["pack.low"].low == 2000 and design.signals["pack.low"].high == 4500
    assert design.signals["charge.limit"].no_data == 127
    assert design.outputs["charge.limit"].signal is design.signals["charge.limit"]
    assert [theme.name for theme in design.themes] == ["day", "night"]
    assert design.themes[1].ramps["heat"].stops == ((0, 0, 0), (0x88, 0x88, 0x88))
    assert set(design.sources) == set(FILES) - {"van.dbc"}


def test_derived_values(folder):
    design, _ = load(folder)
    derived = {n: s.derived for n, s in design.signals.items() if s.derived is not None}
    lookup = lookup_over({"pack.voltage": 300.0, "pack.current": 100.0}, derived)
    assert lookup("pack.power") == 30.0
    # 350 V * 300 A = 105 kW lies beyond the declared 100 kW.
    lookup = lookup_over({"pack.voltage": 350.0, "pack.current": 300.0}, derived)
    assert lookup("pack.power") is Doubt.OUT_OF_RANGE


def test_the_example_design():
    design, findings = load(examples_folder() / "dunlin")
    assert design is not None and len(design.screens) == 9
    assert [finding for finding in findings if finding.severity is not Severity.NOTE] == []
    assert design.typings.scope.signals["clock.time"].unit.spelling == "min"


MISTAKES = [
    ("design.yaml", "start: drive", "start: drve", "M240", 10, "did you mean 'drive'?"),
    ("design.yaml", "text: B612-Regular", "text: B612-Regula", "M257", 9, "did you mean 'B612-Regular'?"),
    ("design.yaml", "text: B612-Regular", "text: fonts/a.ttf", "M257", 9, "path"),
    ("design.yaml", "dbc: van.dbc", "dbc: ../van.dbc", "M224", 11, "copy"),
    ("design.yaml", "dbc: van.dbc", "dbc: /etc/van.dbc", "M224", 11, "copy"),
    ("design.yaml", "dbc: van.dbc", "dbc: vam.dbc", "M221", 11, "did you mean 'van.dbc'?"),
    ("design.yaml", "dbc: van.dbc", "dbc: drive.layout", "M225", 11, "DBC"),
    ("design.yaml", "dbc: van.dbc\n", "", "M259", 2, "dbc: vehicle.dbc"),
    ("design.yaml", "[160 mm, 96 mm]", "[96 mm, 160 mm]", "M232", 3, "width, then height"),
    ("design.yaml", "700 mm", "0 mm", "M231", 4, "measure"),
    ("signals.yaml", "unit: V,", "unit: VV,", "M203", 2, "did you mean 'V'?"),
    ("signals.yaml", "[200, 400]", "[400, 200]", "M254", 2, "range: [200, 400]"),
    ("signals.yaml", "range: [200, 400], ", "", "M254", 2, "range:"),
    ("signals.yaml", ", stale: 500 ms", "", "M248", 2, "stale: 500 ms"),
    ("signals.yaml", "unit: V, range: [200, 400], ", "", "M233", 2, "flag: true"),
    ("signals.yaml", "unit: V,", "unit: V, flag: true,", "M233", 2, "keep one"),
    ("signals.yaml", "from: Pack.Voltage, ", "", "M269", 2, "from: Message.Signal"),
    ("signals.yaml", "Pack.Voltage", "Pakc.Voltage", "M260", 2, "did you mean 'Pack'?"),
    ("signals.yaml", "Pack.Voltage", "Pack.Voltge", "M261", 2, "did you mean 'Voltage'?"),
    ("signals.yaml", "count: 2, ", "", "M255", 5, "count"),
    ("signals.yaml", "Cell{n}", "Cell", "M255", 5, "{n}"),
    ("signals.yaml", "count: 2", "count: 3", "M261", 5, "Cell1"),
    ("signals.yaml", 'is: "pack.voltage *', 'is: "pack.volt *', "M201", 4, "did you mean"),
    ("signals.yaml", "unit: kW, is", "unit: km, is", "M212", 4, "unit: W"),
    ("signals.yaml", "{unit: kW, is", "{from: A.B, unit: kW, is", "M267", 4, "remove `from`"),
    ("signals.yaml", '{is: "min(pack.cells)"}', '{is: "pack.power > 1 kW", text: true}', "M267", 6, "flag"),
    ("signals.yaml", "min(pack.cells)", "min(pack.cells", "L", 6, ""),
    ("signals.yaml", "min(pack.cells)", "pack.low + 1 V", "M245", 6, "vehicle"),
    (
        "signals.yaml",
        "  charge.limit: {to",
        "  charge.limits: {to",
        "M256",
        11,
        "did you mean 'charge.limit'?",
    ),
    ("signals.yaml", "to: Ask.Limit", "to: Ask.Limits", "M261", 11, "did you mean 'Limit'?"),
    ("signals.yaml", "  media.title: {text", "  clock.time: {text", "M268", 9, "name"),
    ("themes.yaml", '    ramps:\n      heat: ["#000000", "#888888"]\n', "", "M250", 19, "heat:"),
    ("themes.yaml", "    ramps:\n", '      glow: "#123456"\n    ramps:\n', "M250", 20, 'glow: "#123456"'),
    ("drive.layout", "caution above", "cautoin above", "M252", 5, "did you mean 'caution'?"),
    ("drive.layout", "colour quiet", "colour quite", "M252", 6, "did you mean 'quiet'?"),
    ("drive.layout", "ramp heat", "ramp heet", "M253", 9, "did you mean 'heat'?"),
    ("drive.layout", "n from 1 to 2", "n from 1 to 3", "M209", 9, "1 to 2"),
    ("drive.layout", "pack.power as", "pack.powr as", "M201", 5, "did you mean 'pack.power'?"),
    ("drive.layout", "use low_reading", "use low_readng", "M241", 10, "did you mean 'low_reading'?"),
    ("drive.layout", "with warm", "with warmth", "M242", 10, "warm"),
    ("drive.layout", " with warm pack.low", "", "M243", 10, "`warm ...`"),
    ("drive.layout", "goes to charging", "goes to chargng", "M240", 11, "did you mean 'charging'?"),
    ("drive.layout", "reading warm as", "use low_reading with warm warm #", "M246", 13, "take one"),
    ("more.layout", "screen charging", "screen drive", "M244", 1, "drive.layout, line 1"),
    ("more.layout", "drive, charging", "drive, chargin", "M240", 9, "did you mean 'charging'?"),
    ("more.layout", "drive, charging", "drive, charging\nswipe through drive", "M244", 10, "one `swipe"),
    ("more.layout", "< 1 A and", "< 1 V and", "M204", 5, "1 A"),
    ("more.layout", '"P"', '"R"', "M210", 5, "words: P, D"),
    ("more.layout", "pack.current < 1 A and", "pack.current and", "M206", 5, "compare"),
    ("more.layout", 'pack.current < 1 A and road.gear is "P"', "pack.current", "M215", 5, "compare"),
    ("more.layout", "< 1 A", "< 900 A", "M211", 5, "300"),
    ("van.dbc", '(0.1,0) [0|0] "V"', '(0.1,0) [0|0] "A"', "M262", 2, "unit: A"),
    ("van.dbc", '(0.1,0) [0|0] "V"', '(0.001,0) [0|0] "V"', "M265", 2, "scale"),
    ("signals.yaml", "no data: 127", "no data: 255", "M266", 8, "127.5"),
    ("signals.yaml", "no data: 127", "no data: 100", "M266", 8, "before"),
    ("van.dbc", '1 "D" ;', '1 "D" 2 "R" ;', "M264", 7, "`2: R`"),
    ("van.dbc", "SG_ Voltage :", "SG_ Voltage", "M263", None, "line"),
]


@pytest.mark.parametrize(("name", "old", "new", "code", "line", "remedy"), MISTAKES)
def test_a_mistake_is_found_at_its_place(folder, name, old, new, code, line, remedy):
    change(folder, name, old, new)
    _, findings = load(folder)
    found = [item for item in findings if item.code.startswith(code)]
    assert found, findings
    assert line is None or line in {item.span.line for item in found}
    assert any(remedy in (item.remedy or "") for item in found), found
    assert all(item.remedy for item in findings), findings


def test_one_cause_one_report(folder):
    change(folder, "signals.yaml", "unit: V,", "unit: VV,")
    design, findings = load(folder)
    assert [item.code for item in findings] == ["M203"]
    assert set(design.broken) == {"pack.voltage", "pack.power"}


def test_a_circle_is_shown_once(folder):
    more = '  a.one: {is: "a.two + 1 V"}\n  a.two: {is: "a.six"}\n  a.six: {is: "a.one"}\noutputs:'
    change(folder, "signals.yaml", "outputs:", more)
    _, findings = load(folder)
    (found,) = [item for item in findings if item.code == "M245"]
    assert "a.one -> a.two -> a.six -> a.one" in found.message


def test_two_outputs_of_one_field_are_told(folder):
    """Each frame would carry the value of one in the name of the other."""
    change(
        folder,
        "signals.yaml",
        "  charge.limit: {to: Ask.Limit}",
        """  charge.limit: {to: Ask.Limit}
  pack.current: {to: Ask.Limit}
  media.title: {to: pipe}
  road.gear: {to: pipe}""",
    )
    _, findings = load(folder)
    (found,) = [item for item in findings if item.code == "M295"]
    assert "'pack.current'" in found.message and "'charge.limit'" in found.message


def test_a_range_of_an_output_that_falls_is_named_so(folder):
    change(folder, "signals.yaml", "{to: Ask.Limit}", "{to: Ask.Limit, range: [90, 60]}")
    _, findings = load(folder)
    (found,) = [item for item in findings if item.code == "M283"]
    assert "does not rise" in found.message and "lower end first" in (found.remedy or "")


def test_a_unit_of_the_dbc_that_is_not_known_is_a_warning(folder):
    """What a builder declares beside it is taken as it is: wrong by whatever lies between the two."""
    change(folder, "van.dbc", '(0.1,0) [0|0] "V"', '(0.1,0) [0|0] "furlong"')
    _, findings = load(folder)
    (found,) = [item for item in findings if item.code == "M262"]
    assert found.severity is Severity.WARNING and "furlong" in found.message


@pytest.mark.parametrize("silent", ["-", "n/a", "None"])
def test_a_unit_of_the_dbc_that_says_nothing_is_silent(folder, silent):
    change(folder, "van.dbc", '(0.1,0) [0|0] "V"', f'(0.1,0) [0|0] "{silent}"')
    assert load(folder)[1] == []


def test_a_plain_count_of_the_dbc_declared_as_a_quantity_is_a_warning(folder):
    change(folder, "van.dbc", '(0.1,0) [0|0] "V"', '(0.1,0) [0|0] "counts"')
    assert [item.code for item in load(folder)[1]] == ["M262"]


def test_unused_is_a_note(folder):
    change(folder, "more.layout", "words media.title", 'label "x"')
    _, findings = load(folder)
    assert [(item.code, item.severity) for item in findings] == [("M247", Severity.NOTE)]


def test_several_files_wrong_are_told_in_one_go(folder):
    change(folder, "design.yaml", "start: drive", "start: drve")
    change(folder, "signals.yaml", "unit: V,", "unit: VV,")
    change(folder, "drive.layout", "ramp heat", "ramp heet")
    _, findings = load(folder)
    assert [item.code for item in findings] == ["M240", "M253", "M203"]


@pytest.mark.parametrize("name", ["design.yaml", "signals.yaml", "themes.yaml"])
def test_missing_and_misnamed_files(folder, name):
    (folder / name).unlink()
    _, findings = load(folder)
    assert [item.code for item in findings if item.severity is Severity.ERROR] == ["M221"]
    assert name in findings[0].message
    (folder / name).with_suffix(".yml").write_text(FILES[name], encoding="utf-8")
    _, findings = load(folder)
    assert f"rename '{Path(name).stem}.yml'" in findings[0].remedy


def test_no_layouts(folder):
    for path in folder.glob("*.layout"):
        path.rename(path.with_suffix(".layuot"))
    design, findings = load(folder)
    assert design is None
    assert {item.code for item in findings} == {"M225", "M258"}


def test_folders_that_are_none(folder, tmp_path):
    _, findings = load(folder / "design.yaml")
    assert findings[0].code == "M220" and str(folder) in findings[0].remedy
    _, findings = load(tmp_path / "vam")
    assert findings[0].code == "M220" and "van" in findings[0].remedy
    _, findings = load(Path("\0"))
    assert findings[0].code == "M220"


def test_not_utf8_and_a_folder_in_a_files_place(folder):
    (folder / "drive.layout").write_bytes(b'screen drive "Dr\xefve"\n')
    (folder / "themes.yaml").unlink()
    (folder / "themes.yaml").mkdir()
    _, findings = load(folder)
    found = {item.code: item for item in findings}
    assert (found["M223"].span.line, found["M223"].span.column) == (1, 17)
    assert "M222" in found


def test_a_link_out_of_the_folder(folder, tmp_path):
    shutil.copy(folder / "van.dbc", tmp_path / "other.dbc")
    (folder / "van.dbc").unlink()
    try:
        (folder / "van.dbc").symlink_to(tmp_path / "other.dbc")
    except OSError:
        pytest.skip("links cannot be made here")
    _, findings = load(folder)
    assert findings[0].code == "M224"


def test_two_loads_are_alike(folder):
    assert load(folder)[1] == load(folder)[1]
    change(folder, "signals.yaml", "unit: V,", "unit: VV,")
    assert load(folder)[1] == load(folder)[1]


def test_fonts_are_found():
    assert (fonts_folder() / "B612-Regular.otf").is_file() or (fonts_folder() / "B612-Regular.ttf").is_file()


def test_every_code_is_listed_and_used():
    room = Path(hmic.model.__file__).parent
    text = "".join(path.read_text(encoding="utf-8") for path in room.glob("*.py") if path.name != "codes.py")
    assert set(re.findall(r'"(M[23]\d\d)"', text)) == set(CODES)
    assert len(set(CODES.values())) == len(CODES)


PIECES = [
    "0",
    "-1",
    "1e9",
    "[]",
    "{}",
    "true",
    "~",
    '""',
    "é",
    "pipe",
    "A.B",
    "words:",
    ": ",
    "- ",
    "%",
    "\n",
    "  ",
    "'",
]
TOKENS = re.compile(r"[\w.#]+|\s+|[^\w\s]")


@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_no_files_raise(folder, data):
    name = data.draw(
        st.sampled_from(["design.yaml", "signals.yaml", "themes.yaml", "drive.layout", "van.dbc"])
    )
    tokens = TOKENS.findall(FILES[name])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(tokens) - 1))
        kind = data.draw(st.sampled_from(["put", "cut", "swap"]))
        if kind == "put":
            tokens[at] = data.draw(st.sampled_from(PIECES))
        elif kind == "cut" and len(tokens) > 2:
            del tokens[at : at + data.draw(st.integers(1, 30))]
            tokens = tokens or [" "]
        else:
            other = data.draw(st.integers(0, len(tokens) - 1))
            tokens[at], tokens[other] = tokens[other], tokens[at]
    (folder / name).write_text("".join(tokens), encoding="utf-8")
    design, findings = load(folder)
    (folder / name).write_text(FILES[name], encoding="utf-8")
    assert design is not None or any(item.severity is Severity.ERROR for item in findings)
    assert all(item.code[0] in "ML" for item in findings)


ASK = ' SG_ Limit : 0|8@1+ (0.5,0) [0|0] "%" X\n\nVAL_'
MORE = ' SG_ Limit : 0|8@1+ (0.5,0) [0|0] "%" X\n SG_ Count : 8|4@1+ (1,0) [0|0] "" X\n'
START = 'BA_DEF_ SG_ "GenSigStartValue" INT 0 65535;\nBA_DEF_DEF_ "GenSigStartValue" 0;\n'
MULTIPLEXED = ' SG_ Which M : 8|4@1+ (1,0) [0|0] "" X\n SG_ Limit m1 : 0|8@1+ (0.5,0) [0|0] "%" X\n'


@pytest.mark.parametrize(
    ("fields", "after", "messages", "said"),
    [
        (MORE, "", "", "nothing sets its field 'Count'"),
        (MORE, "", "messages:\n  Ask: {counter: Count}\n", None),
        (MORE, START + 'BA_ "GenSigStartValue" SG_ 102 Count 3;\n', "", None),
        (MULTIPLEXED, "", "", "it is multiplexed"),
    ],
    ids=["a field is left", "it is the counter", "it has a start value", "multiplexed"],
)
def test_what_is_asked_for_can_be_sent(folder, fields, after, messages, said):
    change(folder, "van.dbc", ASK, f"{fields}\n{after}\nVAL_")
    change(folder, "signals.yaml", "outputs:", f"{messages}outputs:")
    found = [(item.code, item.message.partition(": ")[2]) for item in load(folder)[1]]
    assert found == ([("M286", said)] if said else [])


@pytest.mark.parametrize(
    ("formula", "declared", "told"),
    [
        ("pack.voltage * pack.current in kW", "[-40, 80]", "[-120, 120]"),
        ("pack.voltage * pack.current in kW", "[-120, 70]", "[-120, 120]"),
        ("pack.voltage * pack.current in kW", "[-90, 120]", None),
        ("pack.voltage * pack.current in kW", "[-500, 500]", None),
        # By how much a quotient or a rate could go is no fault of the one who knows better.
        ("pack.voltage * pack.current / max(pack.current / 100 A, 0.01) in kW", "[-120, 120]", None),
        ("rate(pack.voltage * pack.current, 10 s) * 1 s in kW", "[-5, 5]", None),
    ],
)
def test_a_formula_far_beyond_its_range_is_noted(folder, formula, declared, told):
    old = '{unit: kW, is: "pack.voltage * pack.current", range: [-100, 100]}'
    change(folder, "signals.yaml", old, f'{{unit: kW, is: "{formula}", range: {declared}}}')
    _, findings = load(folder)
    assert {item.severity.value for item in findings} <= {"note"}, findings
    remedies = [item.remedy for item in findings if item.code == "M287"]
    assert remedies == ([f"write `range: {told}`, or narrow the ranges of what it reads"] if told else [])
