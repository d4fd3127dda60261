"""What a sentence says is shown, or an error says why not."""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from hmic.arrange.compose import arrange_with_gaps
from hmic.causes import Faults
from hmic.cli.main import main
from hmic.compile.compiling import examine
from hmic.diagnostics import Finding, Severity, Span, Subject, Told, error
from hmic.language import syntax
from hmic.model.design import Design

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "language"))
from test_language_mangled import mangled  # noqa: E402

BASE = ROOT / "hmic" / "cli" / "pages" / "base"
SCREEN = """\
screen drive "Drive"
    plan
        top  top
        a    b
        c    d
    in top      reading pack.voltage as "0.0 V", text 40 arcmin
{rest}
"""
REST = """\
    in a across
        label "One", text 20 arcmin
        lamp battery, danger while pack.fault, means "Battery fault"
    in b        level pack.charge from 0 % to 100 %, shaped battery, filled by ramp charge
    in c freely
        symbol pump named pump at 4 mm across 8 mm down, sized 6 mm
        symbol motor named motor at 30 mm across 8 mm down, sized 6 mm
        joint bend at 20 mm across 14 mm down
        pipe from pump.right to motor.left
        pipe from pump.bottom to bend to motor.bottom
    in d down
        each n from 1 to 2
            reading pack.cells[n] as "0.000 V", text 20 arcmin
        use pair with value pack.voltage

part pair (value)
    plan
        x y
    in x        label "P", text 20 arcmin
    in y        reading value as "0 V", text 20 arcmin
"""


def design_in(folder: Path, layout: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for path in BASE.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "drive.layout").write_text(layout, encoding="utf-8", errors="surrogatepass")
    return folder


def errors(found: Iterable[Finding]) -> list[Finding]:
    return [item for item in found if item.severity is Severity.ERROR]


@pytest.mark.parametrize(
    ("lines", "code", "marked"),
    [
        ("    in a\n", "A335", "a"),
        ("    in a across\n", "A335", "a"),
        ("    in a freely\n", "A335", "a"),
        ("    in a down\n        each n from 1 to 3\n", "A335", "each n from 1 to 3"),
        (
            '    in a down\n        label "One", text 20 arcmin\n        each n from 1 to 3\n',
            "A335",
            "each n from 1 to 3",
        ),
        (
            "    in a down\n        each n from 1 to 200\n            each m from 1 to 200\n",
            "A335",
            "each m from 1 to 200",
        ),
        ("    in a freely\n        pipe from pump.right to motor.left\n", "A378", "pump.right"),
        (
            "    in a freely\n        symbol pump at 8 mm across 8 mm down, sized 6 mm\n"
            "        pipe from pump.right to pump.left\n",
            "A378",
            "pump.right",
        ),
    ],
)
def test_a_sentence_that_draws_nothing_is_an_error(
    lines: str, code: str, marked: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    layout = SCREEN.format(rest=lines)
    folder = design_in(tmp_path / "van", layout)
    _, arranged, found = examine(folder)
    (item,) = errors(found)
    assert item.code == code and item.span is not None and item.remedy and arranged is None
    line = layout.split("\n")[item.span.line - 1]
    assert line[item.span.column - 1 : item.span.end_column - 1].startswith(marked)
    assert main(["build", str(folder), "-o", str(tmp_path / "van.pack")]) == 1
    assert not (tmp_path / "van.pack").exists() and f"error {code} " in capsys.readouterr().err


def pieces(body: Iterable[syntax.Content], design: Design) -> Counter[int]:
    """How often each widget's line stands on a screen, by the sentences alone."""
    count: Counter[int] = Counter()
    for item in body:
        match item:
            case syntax.Widget():
                count[item.span.line] += 1
            case syntax.Each():
                first, last = item.first, item.last
                assert isinstance(first, syntax.Quantity) and isinstance(last, syntax.Quantity)
                for line, times in pieces(item.body, design).items():
                    count[line] += times * int(last.number - first.number + 1)
            case syntax.Use():
                for area in design.parts[item.part].areas:
                    count += pieces(area.body, design)
    return count


def pipes(body: Iterable[syntax.Content]) -> int:
    return sum(isinstance(item, syntax.Pipe) for item in body)


def relied_on(design: Design) -> list[Finding]:
    arranged, _ = arrange_with_gaps(design)
    return [each.cause for each in arranged.relied]


def judged(folder: Path, layout: str) -> bool:
    """Holds the layout to it; whether it has no error."""
    design, arranged, found = examine(design_in(folder, layout))
    assert "A336" not in {item.code for item in found}, layout
    for item in relied_on(design) if design is not None else ():
        # What is relied on is told itself, or follows from what is.
        assert item in found or design.faults.cause(item) in found, (layout, item)
    if errors(found) or design is None:
        return False
    assert arranged is not None and not arranged.relied, layout
    for screen, drawing in zip(arranged.screens, arranged.drawing.screens, strict=True):
        said = design.screens[screen.name]
        wanted: Counter[int] = Counter()
        for area in said.areas:
            assert area.body, layout
            wanted += pieces(area.body, design)
        assert Counter(piece.widget.span.line for piece in screen.pieces) == wanted, layout
        assert all(piece.last > piece.first for piece in screen.pieces), layout
        outside = len(drawing.operations) - sum(piece.last - piece.first for piece in screen.pieces)
        assert outside >= sum(pipes(area.body) for area in said.areas), layout
        assert not screen.gaps, layout
    return True


def test_mangled_sentences_are_shown_or_told(tmp_path: Path) -> None:
    whole = SCREEN.format(rest=REST)
    assert judged(tmp_path, whole)
    chance = random.Random(11)
    fine = sum(judged(tmp_path, mangled(whole, whole, chance)) for _ in range(250))
    assert 10 < fine < 200


def test_sentences_with_lines_left_out_are_shown_or_told(tmp_path: Path) -> None:
    lines = SCREEN.format(rest=REST).split("\n")
    for at in range(1, len(lines)):
        for many in (1, 2, 3):
            judged(tmp_path, "\n".join(lines[:at] + lines[at + many :]))


def test_a_gap_that_nobody_told_of_is_an_error() -> None:
    span = Span("a.layout", 3, 1, 4, 5)
    other = error("A302", "x", Span("a.layout", 9, 1, 9, 5), "y")
    range_of = Subject("signals.yaml", ("signals", "pack.voltage", "range"))
    (untold,) = Faults(errors=(other,)).told(span, range_of).findings
    assert (untold.code, untold.span) == ("A336", span)
    here = error("M243", "x", Span("a.layout", 4, 2, 4, 3), "y")
    keyed = error("M250", "x", Span("signals.yaml", 7, 3, 7, 4), "y")
    wider = error("M230", "x", None, "y", breaks=(Subject("signals.yaml", ("signals", "pack.voltage")),))
    keys = {"signals.yaml": [((1, 1), ("signals",)), ((7, 1), range_of.path), ((9, 1), ("outputs",))]}
    for cause in (here, keyed, wider):
        told = Faults(keys=keys, errors=(other, cause)).told(span, range_of)
        assert isinstance(told, Told) and told.cause is cause and told.findings == ()


def test_no_error_is_empty() -> None:
    for path in (ROOT / "hmic").rglob("*.py"):
        assert re.search(r"DesignError\(\[\]\)", path.read_text(encoding="utf-8")) is None, path
