"""The example screens, the reference's examples and the shape of the tree."""

from __future__ import annotations

import dataclasses
import re
from fractions import Fraction
from pathlib import Path

import pytest

from hmic.diagnostics import Span
from hmic.language import syntax
from hmic.language.parser import parse, parse_expression

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "layouts" / "dunlin").glob("*.layout"))
REFERENCE = ROOT / "hmic" / "language" / "LANGUAGE.md"


def spans(node: object) -> list[Span]:
    """Every span in a tree."""
    if isinstance(node, Span):
        return [node]
    if isinstance(node, tuple):
        return [span for item in node for span in spans(item)]
    if dataclasses.is_dataclass(node):
        return [span for item in dataclasses.fields(node) for span in spans(getattr(node, item.name))]
    return []


def check_spans(node: object, text: str) -> None:
    lines = text.split("\n")
    for span in spans(node):
        assert 1 <= span.line <= span.end_line <= len(lines), span
        assert 1 <= span.column <= len(lines[span.line - 1]) + 1, span
        assert 1 <= span.end_column <= len(lines[span.end_line - 1]) + 1, span
        assert (span.line, span.column) <= (span.end_line, span.end_column), span


def screen(body: str, head: str = 'screen s "S"') -> syntax.Screen:
    text = head + "\n" + "\n".join("    " + line for line in body.strip("\n").split("\n")) + "\n"
    layout, findings = parse(text, "s.layout")
    assert findings == []
    check_spans(layout, text)
    return layout.screens[0]


def widget(line: str) -> syntax.Widget:
    item = screen(f"in a {line}").areas[0].body[0]
    assert isinstance(item, syntax.Widget)
    return item


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example_is_read_without_findings(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    layout, findings = parse(text, path.name)
    assert findings == []
    assert layout.screens
    check_spans(layout, text)
    for item in (*layout.screens, *layout.parts):
        assert item.plan is not None
        assert {area.name for area in item.areas} <= {c for row in item.plan.rows for c in row.cells}


def test_all_examples_are_there() -> None:
    assert len(EXAMPLES) == 8


def blocks() -> list[str]:
    """The indented or fenced ``layout`` blocks of the reference."""
    return re.findall(r"```layout\n(.*?)```", REFERENCE.read_text(encoding="utf-8"), re.DOTALL)


@pytest.mark.parametrize("block", blocks(), ids=lambda block: block.strip().split("\n")[0][:30])
def test_reference_block_is_read_without_findings(block: str) -> None:
    first = block.lstrip("\n").split(" ", 1)[0].split("\n")[0]
    if first not in ("screen", "part", "swipe") and not block.startswith("#"):
        indented = "".join("    " + line for line in block.splitlines(keepends=True))
        block = 'screen example "Example"\n' + indented
    layout, findings = parse(block, "LANGUAGE.md")
    assert [(finding.message, finding.span) for finding in findings] == []
    assert layout.screens or layout.parts or layout.orders


def test_reference_names_every_phrase_and_kind() -> None:
    from hmic.language.vocabulary import KINDS, PHRASE_FORMS

    text = REFERENCE.read_text(encoding="utf-8")
    for word in (*KINDS, *PHRASE_FORMS):
        assert re.search(rf"`[^`]*\b{word}\b[^`]*`", text), word


def taken_by() -> list[tuple[str, str]]:
    """(phrase, kind) as the reference's first table of phrases claims it."""
    text = REFERENCE.read_text(encoding="utf-8")
    table = text[text.index("| phrase | means | taken by |") :].split("\n\n")[0]
    rows = [line.split("|") for line in table.split("\n")[2:]]
    return [
        (phrase, kind.strip())
        for row in rows
        for phrase in re.findall(r"`([^`]*)`", row[1])
        for kind in row[3].split(",")
        if kind.strip() not in ("touch", FREELY)
    ]


FREELY = "what is placed freely"


def test_the_reference_tells_truly_what_a_free_place_takes() -> None:
    placing = pytest.importorskip("hmic.arrange.placing")
    text = REFERENCE.read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in text.split("\n") if line.rstrip(" |").endswith(FREELY)]
    phrases = [phrase for row in rows for phrase in re.findall(r"`([^`]*)`", row)]
    taken = {item.kind for phrase in phrases for item in widget(f"symbol pump, {phrase}").phrases}
    assert taken == placing.PLACED


def test_the_reference_tells_truly_which_widget_takes_a_phrase() -> None:
    widgets = pytest.importorskip("hmic.arrange.widgets").WIDGETS
    claimed = taken_by()
    assert len(claimed) > 60
    wrong = [
        (phrase, kind)
        for phrase, kind in claimed
        if not {item.kind for item in widget(f"symbol pump, {phrase}").phrases} <= widgets[kind].PHRASES
    ]
    assert wrong == []


def test_every_phrase_to_paste_is_one() -> None:
    from hmic.language.vocabulary import PHRASE_FORMS

    for word, form in PHRASE_FORMS.items():
        assert form.startswith(word)
        assert len(widget(f"symbol pump, {form}").phrases) == 1


PHRASES = [
    ('as "0.0 V"', "format", (), 1),
    ("text 20 arcmin", "text", (), 1),
    ('called "A"', "called", (), 1),
    ("from 0 to 3", "scale", (), 2),
    ("marks every 2 V", "marks", (), 1),
    ("in steps of 5 %", "steps", (), 1),
    ("peak held 2 s", "peak", (), 1),
    ("filled by ramp warm", "ramp", ("warm",), 0),
    ("filled by ramp warm of a.b", "ramp", ("warm",), 1),
    ("filled by ramp warm from 0 to 1", "ramp", ("warm",), 2),
    ("filled by ramp warm of a.b from 0 to 1", "ramp", ("warm",), 3),
    ("colour quiet", "colour", ("quiet",), 0),
    ("danger while a.b > 3", "state", ("danger",), 1),
    ("flashing danger while a.b", "state", ("danger", "flashing"), 1),
    ("caution above 3 V", "above", ("caution",), 1),
    ("caution below 3 V", "below", ("caution",), 1),
    ('means "A"', "means", (), 1),
    ("upward", "direction", ("upward",), 0),
    ("leftward", "direction", ("leftward",), 0),
    ("shaped battery", "shaped", ("battery",), 0),
    ("rows of 15", "rows", (), 1),
    ("difference from mean within 40 mV", "difference", (), 1),
    ("goes to drive", "goes", ("drive",), 0),
    ("sets a.b to on", "sets", (), 2),
    ("sets a.b to row", "sets", (), 2),
    ("toggles a.b", "toggles", (), 1),
    ("steps a.b by -1", "by", (), 2),
    ("allowed when a.b < 3 and c.d", "allowed", (), 1),
    ("held 2 s", "held", (), 1),
    ('confirmed by "A?"', "confirmed", (), 1),
    ("acknowledges", "acknowledges", (), 0),
    ('of "A" or "B" or "C"', "options", (), 3),
    ("over 600 s", "over", (), 1),
    ("at 1 mm across -2 mm down", "at", (), 2),
    ("sized 14 mm", "sized", (), 1),
    ("named pump", "named", ("pump",), 0),
    ("flowing by a.b", "flow", (), 1),
    ("turned by a.b", "turned", (), 1),
    ("showing 5 rows", "showing", (), 1),
    ("marked by a.b", "marked", (), 1),
    ("aligned centre", "aligned", ("centre",), 0),
    ("with hands", "hands", (), 0),
    ("shown within 200 ms", "within", (), 1),
    ("corner 3 mm", "corner", (), 1),
    ("otherwise quiet", "otherwise", ("quiet",), 0),
    ("otherwise hidden", "hidden", (), 0),
]


@pytest.mark.parametrize(("text", "kind", "words", "values"), PHRASES, ids=[p[0] for p in PHRASES])
def test_phrase(text: str, kind: str, words: tuple[str, ...], values: int) -> None:
    (phrase,) = widget(f"symbol pump, {text}").phrases
    assert (phrase.kind, phrase.words, len(phrase.values)) == (kind, words, values)
    # Beside another phrase and on a line of its own it is the same phrase.
    again = screen(f"in a symbol pump\n    sized 3 mm, {text}").areas[0].body[0]
    assert isinstance(again, syntax.Widget)
    assert [p.kind for p in again.phrases] == ["sized", kind]


def test_two_phrases_of_a_placed_symbol_need_no_comma() -> None:
    found = widget("symbol pump named left at 3 mm across 4 mm down, sized 2 mm")
    assert found.word == "pump"
    assert [phrase.kind for phrase in found.phrases] == ["named", "at", "sized"]


def test_words_of_the_language_are_free_as_names_of_areas_and_screens() -> None:
    found = screen('in text label "title"\nin reading reading gap.level\ntouch text goes to chart')
    assert [area.name for area in found.areas] == ["text", "reading"]
    assert found.touches[0].phrases[0].words == ("chart",)


def value(text: str) -> syntax.Expression:
    found, findings = parse_expression(text, "signals.yaml", 7, 12)
    assert findings == []
    assert found is not None
    return found


def shown(node: syntax.Expression) -> str:
    """A value with all its brackets."""
    match node:
        case syntax.Quantity():
            return f"{float(node.number):g}{node.unit}"
        case syntax.Text():
            return f"'{node.text}'"
        case syntax.Flag():
            return "on" if node.value else "off"
        case syntax.Name():
            return node.name
        case syntax.Signal():
            return node.name + (f"[{shown(node.index)}]" if node.index else "")
        case syntax.Operation():
            return f"({shown(node.left)} {node.operator} {shown(node.right)})"
        case syntax.Not():
            return f"(not {shown(node.value)})"
        case syntax.Negative():
            return f"(-{shown(node.value)})"
        case syntax.Call():
            return f"{node.function}({', '.join(map(shown, node.arguments))})"
        case syntax.Convert():
            return f"({shown(node.value)} in {node.unit})"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a.b - 1", "(a.b - 1)"),
        ("a.b -1", "(a.b - 1)"),
        ("-1", "-1"),
        ("a.b - -1 V", "(a.b - -1V)"),
        ("-a.b * 2", "((-a.b) * 2)"),
        ("a.b - c.d - e.f", "((a.b - c.d) - e.f)"),
        ("a.b / c.d * e.f", "((a.b / c.d) * e.f)"),
        ("a.b + c.d * e.f", "(a.b + (c.d * e.f))"),
        ("(a.b + c.d) * e.f", "((a.b + c.d) * e.f)"),
        ("pack.voltage * pack.current in kW", "((pack.voltage * pack.current) in kW)"),
        ("a.b in kW > 3 kW and not c.d", "(((a.b in kW) > 3kW) and (not c.d))"),
        ("a.b or c.d and e.f", "(a.b or (c.d and e.f))"),
        ('not a.b is "P"', "(not (a.b is 'P'))"),
        ('a.b is not "P"', "(a.b is_not 'P')"),
        ("a.b is off", "(a.b is off)"),
        ("max(pack.cells) - min(pack.cells)", "(max(pack.cells) - min(pack.cells))"),
        ("house.charge[n + 1] <= 30 %", "(house.charge[(n + 1)] <= 30%)"),
        ("3 km/h + 2.50 m/s²", "(3km/h + 2.5m/s²)"),
        ("12 N·m", "12N·m"),
        ("5 l/min / 2", "(5l/min / 2)"),
        ("2 h/a.b", "(2h / a.b)"),
        ("3 V and 4 V", "(3V and 4V)"),
        ("-10 °C", "-10°C"),
        ('"a \\"b\\" \\\\ c"', "'a \"b\" \\ c'"),
    ],
)
def test_value(text: str, expected: str) -> None:
    assert shown(value(text)) == expected


def test_numbers_are_exact() -> None:
    assert value("4.15 V") == syntax.Quantity(Fraction(83, 20), "V", Span("signals.yaml", 7, 12, 7, 18))


def test_value_spans_are_set_off_by_their_place() -> None:
    found = value("  a.b * c.d")
    assert isinstance(found, syntax.Operation)
    assert found.right.span == Span("signals.yaml", 7, 20, 7, 23)


def test_value_that_cannot_be_read_is_told_at_its_place() -> None:
    found, (finding,) = parse_expression("a.b == c.d", "signals.yaml", 7, 12)
    assert found is None
    assert finding.code == "L110"
    assert finding.span == Span("signals.yaml", 7, 16, 7, 18)


def test_empty_value() -> None:
    found, (finding,) = parse_expression(" ", "signals.yaml", 7, 12)
    assert found is None
    assert finding.code == "L113"


def test_part_parameters_and_their_use() -> None:
    text = (
        "part dial_pair (title, size 20 mm, warm)\n    plan\n        a\n    in a reading warm, called title\n"
        'screen s "S"\n    plan\n        a\n    in a use dial_pair with title "T", warm x.y[2]\n'
    )
    layout, findings = parse(text, "s.layout")
    assert findings == []
    check_spans(layout, text)
    (part,) = layout.parts
    assert [name for name, _ in part.parameters] == ["title", "size", "warm"]
    default = part.parameters[1][1]
    assert isinstance(default, syntax.Quantity) and default.unit == "mm"
    use = layout.screens[0].areas[0].body[0]
    assert isinstance(use, syntax.Use)
    assert [name for name, _ in use.arguments] == ["title", "warm"]


def test_each_on_the_line_of_its_area_and_nested() -> None:
    found = screen('in a each n from 1 to 6\n    each m from 1 to 2\n        label "{n}"').areas[0].body[0]
    assert isinstance(found, syntax.Each)
    inner = found.body[0]
    assert isinstance(inner, syntax.Each)
    assert isinstance(inner.body[0], syntax.Widget)


def test_schematic() -> None:
    found = screen(
        "in map freely\n"
        "    symbol pump named p at 3 mm across 4 mm down, sized 5 mm\n"
        "    joint j at 1 mm across 2 mm down\n"
        "    pipe from p.right to j to p.left, colour quiet\n"
        "        flowing by a.b\n"
    ).areas[0]
    assert found.flow == "freely"
    _, joint, pipe = found.body
    assert isinstance(joint, syntax.Joint) and joint.phrases[0].kind == "at"
    assert isinstance(pipe, syntax.Pipe) and pipe.ends == ("p.right", "j", "p.left")
    assert [phrase.kind for phrase in pipe.phrases] == ["colour", "flow"]


def test_windows_line_ends_comments_and_byte_order_mark() -> None:
    text = '\ufeff# first\r\nscreen s "S # no comment" # comment\r\n    swipe up goes to t\r\n'
    layout, findings = parse(text, "s.layout")
    assert findings == []
    assert layout.screens[0].title == "S # no comment"
    assert layout.screens[0].swipes[0].screen == "t"
