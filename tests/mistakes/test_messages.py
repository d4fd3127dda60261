"""What a newcomer's slips are told: one finding each, with its words, its place and its remedy."""

from __future__ import annotations

import pytest

from hmic.cli.compiling import examine
from hmic.cli.pages import BASE, MARK
from hmic.diagnostics import Finding, Severity

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
            "write text 42 arcmin, shorten it, or make the area larger",
        ),
        (
            'label "Speed", text 220 arcmin',
            "A350", 'the label "Speed" may be ', "write text 52 arcmin, shorten it, or make the area larger",
        ),
        (
            'label "I", text 220 arcmin',
            "A351", 'the label "I" may be ', "write text 150 arcmin, or make the area larger",
        ),
        (
            'reading pack.voltage as "0 V", text 30 arcmin, called "Voltage of the battery that drives us"',
            "A350", 'the caption "Voltage of the battery that drives us" may be ',
            "shorten it, or make the area larger",
        ),
        (
            'button "Lights", toggles house.lights, confirmed by "' + "Switch the lights now? " * 7 + '"',
            "A351", "the question ", "shorten it, or make the area larger",
        ),
        (
            'button "Lights of the living part", toggles house.lights, text 90 arcmin',
            "A350", "the text ", "write text 47 arcmin, shorten it, or make the area larger",
        ),
    ],
)  # fmt: skip
def test_text_that_does_not_fit(sentence: str, code: str, begins: str, remedy: str) -> None:
    (item,) = [item for item in found("drive.layout", HEAD + sentence + "\n") if item.code[0] == "A"]
    assert item.message.startswith(begins)
    assert (item.code, item.remedy) == (code, remedy)


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
