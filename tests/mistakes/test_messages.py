"""What a newcomer's slips are told: one finding each, with its words, its place and its remedy."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.cli.pages import BASE, MARK
from hmic.compile.compiling import examine
from hmic.diagnostics import Finding, Severity, as_text

Case = tuple[str, str, str, str, str, str]
"""File, what stands there, what is written in its place (marked), code, message, remedy."""


def found(file: str, text: str) -> list[Finding]:
    """Everything but notes that is found with ``text`` in place of a file of the base design."""
    _, _, findings = examine(BASE, None, {file: text})
    return [item for item in findings if item.severity is not Severity.NOTE]


def judge(file: str, marked: str, code: str, message: str, remedy: str) -> None:
    """Holds that a text with marks has one finding, at the marks."""
    (item,) = found(file, marked.replace(MARK, ""))
    assert (item.code, item.message, item.remedy) == (code, message, remedy)
    before, token, _ = marked.split(MARK)
    line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    assert item.span is not None
    assert (item.span.file, item.span.line, item.span.column) == (file, line, column)
    assert item.span.end_column == column + len(token)


YAML: list[Case] = [
    (
        "signals.yaml", "charge.limit: {to: R", "charge.limit: {‸to:‸R",
        "M226", "a space is missing after the colon of 'to'", "write `to: Request.Limit`",
    ),
    (
        "signals.yaml", "charge.limit: {to: R", "charge.limit: {‸to‸ R",
        "M226", "a colon is missing after 'to'", "write `to: Request.Limit`",
    ),
    (
        "signals.yaml", "  pack.fault: ", "  ‸pack.fault‸ ",
        "M226", "a colon is missing after 'pack.fault'", "write `pack.fault: {...}`",
    ),
    (
        "signals.yaml", "  pack.fault: ", "  ‸pack.fault:‸",
        "M226", "a space is missing after the colon of 'pack.fault'", "write `pack.fault: {...}`",
    ),
    (
        "signals.yaml", "\nsignals:", "\n‸signals‸",
        "M226", "a colon is missing after 'signals'", "write `signals: ...`",
    ),
    (
        "signals.yaml", "range: [-100, 150]", "‸range‸ [-100, 150]",
        "M226", "a colon is missing after 'range'", "write `range: [-100, 150]`",
    ),
    (
        "signals.yaml", "{unit: kW, range: [-100", "{unit: kW, ‸range:‸[-100",
        "M226", "a space is missing after the colon of 'range'", "write `range: [-100, 150]`",
    ),
    (
        "signals.yaml", "from: Motor.Power, stale: 500 ms}", "from: Motor.Power, ‸stale_after‸: 500 ms}",
        "M228", "there is no key 'stale_after' here", "did you mean 'stale'?",
    ),
    (
        "signals.yaml", "{unit: kW, ", '{unit: ‸"‸kW, ',
        "M226", "a quote that was opened is not closed", "add the closing quote",
    ),
    (
        "design.yaml", "  pixels: ", "  ‸pixels‸ ",
        "M226", "a colon is missing after 'pixels'", "write `pixels: [1024, 600]`",
    ),
    (
        "design.yaml", "  eye distance: ", "  ‸eye distance‸ ",
        "M226", "a colon is missing after 'eye distance'", "write `eye distance: 700 mm`",
    ),
    (
        "design.yaml", "  baud: ", "  ‸baud:‸",
        "M226", "a space is missing after the colon of 'baud'", "write `baud: 115200`",
    ),
    (
        "themes.yaml", '      ground: "#11171a"', '      ‸ground‸ "#11171a"',
        "M226", "a colon is missing after 'ground'", 'write `ground: "#11171a"`',
    ),
]  # fmt: skip


@pytest.mark.parametrize("case", YAML, ids=lambda case: f"{case[0]}-{case[2].strip()}")
def test_slips_in_yaml(case: Case) -> None:
    file, old, new, code, message, remedy = case
    text = (BASE / file).read_text(encoding="utf-8")
    assert old in text
    judge(file, text.replace(old, new, 1), code, message, remedy)


def test_nothing_follows_from_an_unreadable_file() -> None:
    """A control of an output that is declared in a file with a slip elsewhere."""
    layout = (
        'screen drive "Drive"\n    plan\n        here\n    in here  switch house.lights, called "Lights"\n'
    )
    signals = (BASE / "signals.yaml").read_text(encoding="utf-8")
    for slip in ("  pack.fault {", "  pack.fault: [", "\tpack.fault: {"):
        texts = {"drive.layout": layout, "signals.yaml": signals.replace("  pack.fault: {", slip)}
        _, _, findings = examine(BASE, None, texts)
        assert [item.code for item in findings] == ["M226"], slip
    badly = signals.replace("house.lights: {to: Request.Lights}", "house.lights: {to: Lights}")
    _, _, findings = examine(BASE, None, {"drive.layout": layout, "signals.yaml": badly})
    assert [item.code for item in findings if item.severity is not Severity.NOTE] == ["M230"]


HEAD = (
    'screen drive "Drive"\n    plan\n        here  .  .  .\n'
    + "        .     .  .  .\n" * 2
    + "    in here  "
)


@pytest.mark.parametrize(
    ("sentence", "code", "begins", "remedy"),
    [
        (
            'reading pack.voltage as "0.0 V", text 90 arcmin',
            "A350", 'the reading "200.0 V" may be ',
            "write text 42 arcmin, show fewer decimals, or make its place 35.7 mm wider",
        ),
        (
            'label "Speed", text 220 arcmin',
            "A350", 'the label "Speed" may be ',
            "write text 52 arcmin, shorten it, or make its place 127.5 mm wider",
        ),
        (
            'label "I", text 220 arcmin',
            "A351", 'the label "I" may be ', "write text 150 arcmin, or make its place 14.1 mm higher",
        ),
        (
            'reading pack.voltage as "0 V", text 30 arcmin, called "Traktionsbatteriegesamtspannungsanzeige"',
            "A350", 'the caption "Traktionsbatteriegesamtspannungsanzeige" may be ',
            "shorten it, or make its place 37.2 mm wider",
        ),
        (
            'button "Lights", toggles house.lights, confirmed by "' + "Switch the lights now? " * 7 + '"',
            "A351", "the question ", "shorten it, or make its place ",
        ),
        (
            'button "Lights of the living part", toggles house.lights, text 90 arcmin',
            "A350", "the text ", "write text 47 arcmin, shorten it, or make its place 32.2 mm wider",
        ),
    ],
)  # fmt: skip
def test_text_that_does_not_fit(sentence: str, code: str, begins: str, remedy: str) -> None:
    (item,) = [item for item in found("drive.layout", HEAD + sentence + "\n") if item.code[0] == "A"]
    assert item.message.startswith(begins)
    assert item.code == code and (item.remedy or "").startswith(remedy)


@pytest.mark.parametrize(
    "sentence",
    [
        'reading pack.voltage as "0.0 V", text {} arcmin',
        'reading motor.power as "+0.00 kW", text {} arcmin',
        'label "Speed of the van", text {} arcmin',
        'words vehicle.gear, text {} arcmin, called "Gear"',
        'button "Lights of the living part", toggles house.lights, text {} arcmin',
        'switch house.lights, called "Lights", text {} arcmin',
    ],
)
def test_the_height_of_the_remedy_fits(sentence: str) -> None:
    layout = HEAD + sentence + "\n"
    for height in (60, 90, 160, 220):
        asked = height
        for _ in range(4):
            fitting = [
                item for item in found("drive.layout", layout.format(asked)) if item.code in ("A350", "A351")
            ]
            if fitting and fitting[0].remedy and fitting[0].remedy.startswith("write text "):
                asked = int(fitting[0].remedy.split()[2])
        assert not fitting, (asked, fitting)


STOP = (
    'screen drive "Drive"\n    plan\n        here\n    in here  button "Lights", toggles house.lights\n'
    "        allowed when {}\n"
)
SPEED = "write 'vehicle.speed is 0 km/h', or a limit: 'vehicle.speed < 1 km/h'"


@pytest.mark.parametrize(
    ("condition", "remedy"),
    [
        ("vehicle.speed ‸=‸ 0 km/h", SPEED),
        ("vehicle.speed ‸==‸ 0 km/h", SPEED),
        ("vehicle.speed ‸=‸ 0 km/h and pack.fault", SPEED),
        ("pack.charge ‸=‸ 50 %", "write 'pack.charge is 50 %', or a limit: 'pack.charge < 50 %'"),
        ("vehicle.speed ‸=‸ 0", "write 'vehicle.speed is 0', with the unit of vehicle.speed if it has one"),
        ('vehicle.gear ‸=‸ "P"', "write 'vehicle.gear is \"P\"'"),
    ],
)
def test_an_equals_sign(condition: str, remedy: str) -> None:
    sign = condition.split(MARK)[1]
    judge("drive.layout", STOP.format(condition), "L110", f"the language writes 'is' for '{sign}'", remedy)


@pytest.mark.parametrize(
    "written", ["vehicle.speed is 0 km/h", "vehicle.speed < 1 km/h", 'vehicle.gear is "P"']
)
def test_the_remedies_for_an_equals_sign_are_right(written: str) -> None:
    assert [item for item in found("drive.layout", STOP.format(written)) if item.code[0] != "C"] == []


@pytest.mark.parametrize(
    ("phrases", "code", "message", "remedy"),
    [
        (
            'held 2 s ‸confirmed‸ by "Sure?"',
            "L130", "a comma is missing before 'confirmed'", 'write: held 2 s, confirmed by "Sure?"',
        ),
        (
            '‸confrimed‸ by "Sure?"',
            "L107", "no phrase begins with 'confrimed'",
            'did you mean \'confirmed\'? For example: confirmed by "Clear the fault?"',
        ),
        (
            'confirmed by ‸Sure‸',
            "L124", "'Sure' is shown as it is written, so it needs quotes", 'write "Sure"',
        ),
    ],
)  # fmt: skip
def test_no_check_of_a_sentence_with_an_error(phrases: str, code: str, message: str, remedy: str) -> None:
    """Without its question the button would be C413: a second press at one place."""
    first = 'screen drive "Drive"\n    plan\n        here\n    in here  button "Next", goes to other\n'
    other = (
        'screen other "Other"\n    plan\n        here\n'
        '    in here  button "Lights", toggles house.lights\n        '
    )
    bare = first + other.rstrip() + "\n"
    assert "C413" in {item.code for item in found("drive.layout", bare)}
    judge("drive.layout", first + other + phrases + "\n", code, message, remedy)


@pytest.mark.parametrize(
    ("written", "remedy"),
    [
        (
            "motor.voltage",
            "declare 'motor.voltage' in signals.yaml, or use one of 'motor': motor.power, motor.temperature",
        ),
        (
            "gearbox.power",
            "declare 'gearbox.power' in signals.yaml; known groups of signals: charge, clock, house, media, "
            "motor, pack, vehicle",
        ),
        ("pakc.voltage", "did you mean 'pack.voltage'?"),
        ("pack.voltag", "did you mean 'pack.voltage'?"),
    ],
)  # fmt: skip
def test_an_unknown_signal(written: str, remedy: str) -> None:
    text = (
        (BASE / "drive.layout").read_text(encoding="utf-8").replace("pack.voltage", f"{MARK}{written}{MARK}")
    )
    judge("drive.layout", text, "M201", f"there is no signal '{written}'", remedy)


PLAN = (
    'screen drive "Drive"\n    plan\n        top\n        here\n    {}\n'
    '    in top   reading pack.charge as "0 %"\n    in here  reading pack.voltage as "0.0 V"\n'
)


@pytest.mark.parametrize(
    ("sizes", "code", "message", "remedy"),
    [
        (
            "rows 14 mm, 1, 1",
            "A312", "the plan is drawn with 2 rows, but 3 row sizes are given", "write rows 14 mm, 1",
        ),
        (
            "rows 14 mm",
            "A312", "the plan is drawn with 2 rows, but 1 row size is given", "write rows 14 mm, 1",
        ),
        (
            "columns 2, 1",
            "A312", "the plan is drawn with 1 column, but 2 column sizes are given", "write columns 2",
        ),
        (
            "rows 140 mm, 1",
            "A313", "the rows need 870 px (147.0 mm) with gaps, there are 600 px (101.4 mm)",
            "write at most 94.1 mm in place of 140 mm; the shares take what is left",
        ),
        (
            "rows 600 px, 20 mm",
            "A313", "the rows need 760 px (128.4 mm) with gaps, there are 600 px (101.4 mm)",
            "write at most 440 px in place of 600 px",
        ),
    ],
)  # fmt: skip
def test_sizes_of_a_plan(sizes: str, code: str, message: str, remedy: str) -> None:
    judge("drive.layout", PLAN.format(f"‸{sizes}‸"), code, message, remedy)


def test_the_largest_size_fits() -> None:
    codes = {item.code for item in found("drive.layout", PLAN.format("rows 94.1 mm, 1"))}
    assert "A313" not in codes
    assert "A313" in {item.code for item in found("drive.layout", PLAN.format("rows 94.4 mm, 1"))}


CHART = HEAD + "chart over 600 s\n        trace {}\n"


@pytest.mark.parametrize(
    ("trace", "code", "message", "remedy"),
    [
        (
            "motor.power from ‸-60 V‸ to 100 kW",
            "M212", "this is in V (voltage), and stands for a value in kW (power)", "write it in kW",
        ),
        (
            "motor.power ‸from 100 kW to -60 kW‸",
            "A344", "the scale does not rise", "write the lower end first: from -60 kW to 100 kW",
        ),
    ],
)  # fmt: skip
def test_the_scale_of_a_trace(trace: str, code: str, message: str, remedy: str) -> None:
    judge("drive.layout", CHART.format(trace).replace(HEAD, WHOLE), code, message, remedy)


WHOLE = 'screen drive "Drive"\n    plan\n        here\n    in here  '


SIGNAL_LINE = 'a line of this kind looks like: SG_ Speed : 0|16@1+ (0.01,0) [0|160] "km/h" Vector__XXX'


@pytest.mark.parametrize(
    ("old", "new", "wanted", "remedy"),
    [
        ("SG_ Speed : 0", "SG_ Speed ‸0‸", "':'", SIGNAL_LINE),
        ("(0.01,0)", "(0.01‸;‸0)", "','", SIGNAL_LINE),
        ("[0|160]", "[0‸,‸160]", "'|'", SIGNAL_LINE),
        ('"km/h"', "‸k‸m/h", "the unit in double quotes", SIGNAL_LINE),
        ("0|16@1+ (0.01", "0|16@1 ‸(‸0.01", "the sign, + or -", SIGNAL_LINE),
        (
            "BO_ 256 Vehicle: 8", "BO_ 256 Vehicle ‸8‸", "':'",
            "a line of this kind looks like: BO_ 256 Vehicle: 8 Vector__XXX",
        ),
    ],
)  # fmt: skip
def test_a_broken_line_of_a_dbc_file(old: str, new: str, wanted: str, remedy: str, tmp_path: Path) -> None:
    text = (BASE / "van.dbc").read_text(encoding="utf-8")
    assert old in text
    marked = text.replace(old, new, 1)
    folder = tmp_path / "van"
    shutil.copytree(BASE, folder)
    (folder / "van.dbc").write_text(marked.replace(MARK, ""), encoding="utf-8")
    design, _, findings = examine(folder)
    (item,) = [item for item in findings if item.severity is Severity.ERROR]
    assert (item.code, item.message, item.remedy) == ("M263", f"here should stand {wanted}", remedy)
    before = marked.split(MARK)[0]
    assert item.span is not None
    assert (item.span.file, item.span.line) == ("van.dbc", before.count("\n") + 1)
    assert item.span.column == len(before) - before.rfind("\n")
    assert design is not None
    assert marked.replace(MARK, "").split("\n")[item.span.line - 1] in as_text([item], design.sources)


@pytest.mark.parametrize(
    ("trace", "beside", "remedy"),
    [
        ("from 200 V to 420 V", False, None),
        ("from 240 V to 390 V", True, None),
        (
            "from 240 V to 390 V", False,
            "widen the scale, such as from 200 V to 420 V, or add a reading of it to the screen",
        ),
        ("from 300 V to 310 V", True, "widen the scale, such as from 200 V to 420 V"),
    ],
)  # fmt: skip
def test_a_trace_that_clips(trace: str, beside: bool, remedy: str | None) -> None:
    shown = 'reading pack.voltage as "0 V"' if beside else 'reading pack.current as "0 A"'
    layout = (
        'screen drive "Drive"\n    plan\n        top\n        here\n    rows 1, 3\n'
        f"    in top   {shown}\n    in here  chart over 600 s\n        trace pack.voltage {trace}\n"
    )
    told = [item for item in found("drive.layout", layout) if item.code == "C451"]
    assert [item.remedy for item in told] == ([remedy] if remedy else [])
    for item in told:
        assert (item.severity, item.unit) == (Severity.WARNING, "V")
        assert item.message.endswith("pack.voltage goes from 200 to 420")
        assert item.span is not None and item.span.line == 8
