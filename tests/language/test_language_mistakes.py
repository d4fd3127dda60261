"""Mistakes that builders make: each has one finding, at the token that is wrong, with a remedy."""

from __future__ import annotations

import pytest

from hmic.diagnostics import Finding
from hmic.language.codes import CODES
from hmic.language.parser import parse

HEAD = 'screen drive "Drive"\n    plan\n        left right\n        a    b\n'


def findings(text: str) -> list[Finding]:
    return parse(text, "f.layout")[1]


# What follows HEAD: its first line is line 5. The mark ‸ stands before the token and after it.
BODY = [
    ("in left ‸raeding‸ pack.voltage", "L106", "did you mean 'reading'?"),
    ("in left ‸Reading‸ pack.voltage", "L122", "write 'reading'"),
    ('in left ‸called‸ "x"', "L106", 'for example: in left label called "x"'),
    ('in left reading pack.voltage as ‸"0.0 V‸, text 34 arcmin', "L108", 'close them: "0.0 V"'),
    ('in left label ‸"Hello‸', "L108", 'close them: "Hello"'),
    ("in left reading pack.voltage as ‸'0.0 V'‸, text 34 arcmin", "L109", 'write "0.0 V"'),
    ("in left reading pack.voltage as ‸“0.0 V”‸", "L109", 'write "0.0 V"'),
    ('in left label "C:‸\\‸temp"', "L109", "write two strokes: \\\\"),
    ("in left reading a.b, called ‸Battery‸", "L124", 'write "Battery"'),
    ("in left reading a.b, called ‸Main battery‸, text 3 mm", "L124", 'write "Main battery"'),
    ("in left label ‸Main battery‸, text 3 mm", "L124", 'write "Main battery"'),
    ('in left lamp battery, danger while a.b ‸=‸ "P"', "L110", "write 'a.b is \"P\"'"),
    (
        "in left lamp battery, danger while a.b ‸==‸ 3",
        "L110",
        "write 'a.b is 3', with the unit of a.b if it has one",
    ),
    ("in left lamp battery, danger while a.b ‸!=‸ 3", "L110", "write 'a.b is not 3'"),
    ("in left lamp battery, danger while a.b ‸&&‸ c.d", "L110", "write 'a.b and c.d'"),
    ("in left lamp battery, danger while a.b ‸||‸ c.d", "L110", "write 'a.b or c.d'"),
    ("in left lamp battery, danger while a.b ‸≥‸ 3", "L110", "write 'a.b >= 3'"),
    ('in left button "x", sets a.b ‸=‸ 3', "L110", "write 'a.b to 3'"),
    ('in left button "x", goes to y‸;‸', "L111", "take the ';' out"),
    ('in left‸:‸ label "x"', "L111", 'write in left label "x"'),
    ("margin‸:‸ 3 mm", "L111", "write margin 3 mm"),
    ("in left reading a.b, ‸colur‸ quiet", "L107", "did you mean 'colour'? For example: colour quiet"),
    ("in left reading a.b, ‸color‸ quiet", "L107", "did you mean 'colour'? For example: colour quiet"),
    ('in left reading a.b ‸az‸ "0"', "L107", "did you mean 'as'? For example: as \"0.0 V\""),
    ('in left reading a.b ‸As‸ "0"', "L122", "write 'as'"),
    ("in left reading a.b, ‸size‸ 3 mm", "L107", "did you mean 'text'? For example: text 20 arcmin"),
    ("in left lamp battery, danger ‸whle‸ a.b", "L112", "did you mean 'while'?"),
    ("in left lamp battery, danger ‸when‸ a.b", "L112", "did you mean 'while'?"),
    ("in left bar a.b from 0 V ‸til‸ 4 V", "L112", "write 'to' for 'til'"),
    ("in left bar a.b from 0 V ‸4‸ V", "L112", "write: in left bar a.b from 0 V to 4 V"),
    ("in left bar a.b, filled ‸with‸ ramp x", "L112", "write 'by' for 'with'"),
    ("in left bar a.b from ‸3,2‸ V to 4 V", "L114", "write 3.2"),
    ("swipe ‸lft‸ goes to x", "L112", "did you mean 'left'?"),
    ("in left reading a.b, aligned ‸center‸", "L112", "did you mean 'centre'?"),
    ("columns 1, ‸.5‸", "L114", "write 0.5"),
    ("in left bar a.b from ‸9999999999999999‸ to 3", "L114", "round it to what the value can tell"),
    ("touch left goes ‸drive‸", "L112", "write: touch left goes to drive"),
    ("touch left ‸go‸ to drive", "L107", "did you mean 'goes'? For example: goes to drive"),
    ("comes up ‸if‸ a.b", "L112", "write 'when' for 'if'"),
    ("in left choice a.b of 80 %‸,‸ 90 %, 95 %", "L128", "write: of 80 % or 90 % or 95 %"),
    ('in left button "x"‸,‸', "L128", "take the comma out"),
    (
        'in left label "x" text 3 mm ‸colour‸ quiet',
        "L130",
        'write: in left label "x" text 3 mm, colour quiet',
    ),
    (
        "in left stepper a.b from 0 to 3 ‸in‸ steps of 1",
        "L130",
        "write: in left stepper a.b from 0 to 3, in steps of 1",
    ),
    ('in left reading ‸pack voltage‸ as "0"', "L112", "write pack.voltage"),
    ("in left use ‸drive-pump‸", "L126", "write drive_pump"),
    ('in left label "x" text‸\u200b‸ 3 mm', "L127", "delete it, or type a space in its place"),
    (
        "in left lamp battery, danger while a.b < 3 V ‸<‸ 4 V",
        "L112",
        "join two with 'and': a.low < a.value and a.value < a.high",
    ),
    ("‸left‸ reading a.b", "L121", "write: in left reading a.b"),
    ("‸reading‸ a.b", "L121", "write: in AREA reading a.b"),
    ("‸In‸ left reading a.b", "L122", "write 'in'"),
    ("‸colums‸ 1, 2", "L105", "did you mean 'columns'? For example: columns 2, 1"),
    ("‸a b c‸", "L115", "put 'plan' above it, and indent it"),
    ('‸called‸ "x"', "L115", "indent it by four more spaces, below its widget"),
    ('‸screen‸ x "X"', "L115", "start this line at the left edge"),
    ("‸trace‸ a.b", "L115", "indent it below 'in AREA chart over 600 s'"),
    (
        'in left label "x"\n    in ‸left‸ label "y"',
        "L116",
        "put both under one 'in left', each on a line of its own",
    ),
    ("‸plan‸\n        a b", "L117", "keep one of the two"),
    ("gap 1 mm\n    ‸gap‸ 2 mm", "L117", "keep one of the two"),
    ("touch a goes to x\n    touch ‸a‸ goes to y", "L117", "keep one of the two"),
    ("swipe left goes to x\n    swipe ‸left‸ goes to y", "L117", "keep one of the two"),
    ('gap 1 mm\n        ‸label "x"‸', "L115", "indent it like line 5, or put a '#' before it"),
    ("in left words a.b\n        ‸trace‸ c.d", "L115", "in AREA chart over 600 s"),
    (
        'in left each ‸text‸ from 1 to 3\n        label "a"',
        "L120",
        "call it 'text_value' or something closer to what it is",
    ),
    (
        "in left chart over 6 s\n        trace a.b ‸form‸ 0 V to 3 V",
        "L107",
        "did you mean 'from'? For example: from 0 % to 100 %",
    ),
    ('in left\n        ‸lable‸ "x"', "L106", "did you mean 'label'?"),
    ("in left use p with a 1, ‸a‸ 2", "L119", "keep one of the two"),
]


@pytest.mark.parametrize(
    ("body", "code", "remedy"), BODY, ids=[body.replace("\n", " ") for body, _, _ in BODY]
)
def test_mistake_in_a_screen(body: str, code: str, remedy: str) -> None:
    marked = HEAD + "    " + body + "\n"
    before, token, _ = marked.split("‸")
    line = before.count("\n") + 1
    column = len(before) - before.rfind("\n")
    (finding,) = findings(marked.replace("‸", ""))
    assert finding.span is not None
    assert (finding.code, finding.span.line, finding.span.column) == (code, line, column), finding
    assert finding.span.end_column == column + len(token)
    assert finding.remedy == remedy


# Whole files: code, line, column, remedy.
FILES = [
    ('scren drive "Drive"\n    plan\n        a b\n', "L104", 1, 1, "did you mean 'screen'?"),
    ('Screen drive "Drive"\n', "L122", 1, 1, "write 'screen'"),
    ("screen drive\n", "L113", 1, 13, 'write: screen drive "Drive"'),
    ('screen drive "Drive":\n    plan\n        a\n', "L111", 1, 21, 'write screen drive "Drive"'),
    ("screen drive The drive\n", "L124", 1, 14, 'write "The drive"'),
    ("reading a.b\n", "L115", 1, 1, 'start with a line such as: screen drive "Drive"'),
    ('  screen s "S"\n', "L102", 1, 1, "start it at the left edge"),
    (
        'screen s "S"\nplan\n    a\nin a label "x"\n',
        "L115", 2, 1, "indent this line and its like by four spaces, under line 1",
    ),
    (
        'screen s "S"\n    plan\n    a b\n    c d\n',
        "L115", 3, 5, "indent the rows by four spaces more than 'plan' in line 2",
    ),
    (
        'screen s "S"\n    plan\n    columns 1, 2\n',
        "L125", 2, 5, "below 'plan', further in, name the areas row by row; '.' stands for an empty place",
    ),
    (
        'screen s "S"\n\tplan\n\t\ta\n',
        "L101", 2, 1, "use four spaces for each level; most editors have 'indent with spaces'",
    ),
    (HEAD + '    in left\n          label "x"\n        label "y"\n', "L102", 6, 1, "indent it by 8 spaces"),
    (
        HEAD + '    in left\n        label "x"\n        in a label "y"\n',
        "L102", 7, 1, "indent it by 4 spaces",
    ),
    ('screen a "A"\nscreen a "B"\n', "L118", 2, 8, "give one of the two another name"),
    ("part a\npart a\n", "L118", 2, 6, "give one of the two another name"),
    ("part p (a, a)\n", "L119", 1, 12, "give one of them another name"),
    ("part p (text)\n", "L120", 1, 9, "call it 'text_value' or something closer to what it is"),
    ("part p\n    touch a goes to b\n", "L129", 2, 5, "move this line to the screens that use the part"),
    ('screen s "S"\n    plan\n        a | b\n', "L112", 3, 11, "write: a b"),
    ('screen s "S"\n    plan\n        a - b\n', "L112", 3, 11, "write: a . b"),
    (HEAD + "    in left reading (a.b + 1\n", "L113", 5, 29, "add ')'"),
    (HEAD + "    in left button \"x\", held\n", "L113", 5, 29, "for example: held 2 s"),
    (HEAD + "    in left reading a.b" + " + a.b" * 70 + "\n", "L123", 5, 21, None),
    (HEAD + "    in left reading " + "a.b + " * 200, "L103", 5, 5, "put its phrases on lines of their own"),
    (
        "# x\n" * 20_001, "L131", 20_001, 1,
        "take out the screens that this display does not show, or say what is alike once, in a part",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "line", "column", "remedy"), FILES, ids=[f[0][:40] for f in FILES])
def test_mistake_in_a_file(text: str, code: str, line: int, column: int, remedy: str | None) -> None:
    (finding,) = findings(text)
    assert finding.span is not None
    assert (finding.code, finding.span.line, finding.span.column) == (code, line, column), finding
    assert remedy is None or finding.remedy == remedy


def test_every_code_has_a_case_and_a_meaning() -> None:
    tried = {code for _, code, _ in BODY} | {row[1] for row in FILES}
    assert tried == set(CODES)


def test_one_mistake_never_hides_the_next() -> None:
    text = HEAD + (
        '    in left reading a.b az "0", colur quiet, txt 20 arcmin\n'
        "        caution abov 3 V\n"
        "    in right raeding a.b\n"
        "        danger belw 3 V\n"
        "    touch a go to b\n"
        "scren x\n"
        "    swipe up go to a\n"
    )
    found = [(finding.span.line, finding.code) for finding in findings(text) if finding.span]
    assert found == [
        (5, "L107"), (5, "L107"), (5, "L107"), (6, "L112"), (7, "L106"), (8, "L112"), (9, "L107"),
        (10, "L104"), (11, "L112"),
    ]  # fmt: skip


def test_what_can_be_read_is_kept() -> None:
    text = (
        HEAD + "    in left reading a.b, colur quiet, text 3 mm\n"
        "    in right raeding a.b\nscren other\n    swipe up goes to a\n"
    )
    layout, _ = parse(text, "f.layout")
    assert [screen.name for screen in layout.screens] == ["drive", "other"]
    left, right = layout.screens[0].areas
    assert [phrase.kind for phrase in left.body[0].phrases] == ["text"]  # type: ignore[union-attr]
    assert (right.name, right.body) == ("right", ())


def test_no_grammar_name_reaches_a_builder() -> None:
    texts = [HEAD + "    " + body.replace("‸", "") + "\n" for body, _, _ in BODY] + [row[0] for row in FILES]
    for text in texts:
        for finding in findings(text):
            said = finding.message + (finding.remedy or "")
            assert not any(
                name in said for name in ("_COMMA", "NAME", "$END", "QUANTITY", "STRING", "Token")
            ), said
