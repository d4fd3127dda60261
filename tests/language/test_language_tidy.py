"""The one style: it comes to rest at once, keeps what is meant and keeps every comment."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.cli.main import main
from hmic.language.parser import parse
from hmic.language.tidy import WIDTH, alike, tidy

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "layouts" / "dunlin").glob("*.layout"))
EXAMPLE_TEXTS = [path.read_text(encoding="utf-8") for path in EXAMPLES]


def comments(text: str) -> list[str]:
    """Every comment in the order of the lines, found without the parser."""
    found = []
    for line in text.split("\n"):
        outside = re.sub(r'"(?:[^"\\]|\\.)*"', lambda quoted: "_" * len(quoted.group()), line)
        at = outside.find("#")
        if at >= 0:
            found.append(line[at:].strip(" \t\r\u00a0\u202f\ufeff"))
    return found


def loosened(text: str, chance: random.Random) -> str:
    """The same sentences as another hand might have written them."""
    step = chance.choice((2, 3, 4, 8))
    lines = []
    for line in text.split("\n"):
        bare = line.lstrip(" ")
        depth = (len(line) - len(bare)) // 4
        pieces = re.split(r'("(?:[^"\\]|\\.)*")', bare)
        for at in range(0, len(pieces), 2):
            pieces[at] = re.sub(
                r" +", lambda _: chance.choice((" ", "  ", "\u00a0", " \u202f ", "\t")), pieces[at]
            )
            pieces[at] = re.sub(r"(?<=[0-9])[ \t\u00a0\u202f]+(?=[%°VkWAms])", "", pieces[at])
            if chance.random() < 0.3:
                pieces[at] = pieces[at].replace(",", chance.choice((" ,", ",,"[:1], " , ")))
        bare = "".join(pieces)
        if bare and "#" not in bare and chance.random() < 0.2:
            bare += chance.choice(("# why", "   #  and # more", " #"))
        lines.append(" " * (step * depth) + bare + chance.choice(("", "", "  ")))
        if chance.random() < 0.15:
            lines.append(chance.choice(("", " " * chance.randrange(14) + "# a note", "\t# tabbed")))
    return chance.choice(("", "\ufeff", "\n\n")) + chance.choice(("\n", "\r\n")).join(lines)


def check(text: str) -> str:
    """Tidies a text that can be read; gives the result."""
    layout, findings = parse(text, "t.layout")
    assert findings == []
    result, findings = tidy(text, "t.layout")
    assert findings == []
    again, slips = parse(result, "t.layout")
    assert slips == []
    assert alike(layout, again)
    assert comments(result) == comments(text)
    assert tidy(result, "t.layout") == (result, [])
    return result


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_keep_their_meaning(path: Path) -> None:
    check(path.read_text(encoding="utf-8"))


@settings(max_examples=200)
@given(st.sampled_from(EXAMPLE_TEXTS), st.integers(0, 1 << 32))
def test_every_hand_comes_to_one_style(text: str, seed: int) -> None:
    other = loosened(text, random.Random(seed))
    layout, findings = parse(other, "t.layout")
    assert findings == []
    assert alike(layout, parse(text, "t.layout")[0])
    check(other)


@settings(max_examples=400)
@given(st.sampled_from(EXAMPLE_TEXTS), st.integers(0, 1 << 32), st.integers(1, 4))
def test_changed_examples(text: str, seed: int, count: int) -> None:
    """Lines moved, doubled and dropped, words swapped: what still can be read is tidied, the rest told."""
    chance = random.Random(seed)
    for _ in range(count):
        lines = text.split("\n")
        one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
        way = chance.randrange(4)
        if way == 0:
            lines.insert(one, lines[two])
        elif way == 1:
            del lines[one]
        elif way == 2:
            lines[one] = re.sub(r"\b([0-9]+)\b", lambda found: f"-{found.group(1)}", lines[one])
        else:
            pieces = lines[one].split(", ")
            chance.shuffle(pieces)
            lines[one] = ", ".join(pieces)
        text = "\n".join(lines)
    result, findings = tidy(text, "t.layout")
    if findings:
        assert result == text
    else:
        check(text)


def test_style() -> None:
    text = (
        "# top\n"
        "part p ( title,height  26arcmin )\n"
        "  plan\n"
        "     name\n"
        "  in name label title text height\n"
        'screen s "S"\n'
        "\n"
        "  plan\n"
        "     speed_of_van  b .\n"
        "     speed_of_van  . c\n"
        "  columns 2 ,1,3mm\n"
        "\n\n"
        "  in speed_of_van reading max( pack.cells )*( pack.b+- 3 V )-pack.d[ 2 ] in kW , as \"0.0 kW\"\n"
        "  in b\n"
        "       lamp battery danger while (a.b or c.d)and not(e.f is  not on) # why\n"
        "    # of b\n"
        "  in c use p with title \"a  ,b\",height 3arcmin\n"
        "  touch b,goes to s,held 2s\n"
        "# end"
    )  # fmt: skip
    expected = (
        "# top\n"
        "part p (title, height 26 arcmin)\n"
        "    plan\n"
        "        name\n"
        "    in name     label title, text height\n"
        "\n"
        'screen s "S"\n'
        "    plan\n"
        "        speed_of_van  b             .\n"
        "        speed_of_van  .             c\n"
        "    columns 2, 1, 3 mm\n"
        "\n"
        "    in speed_of_van  reading max(pack.cells) * (pack.b + - 3 V) - pack.d[2] in kW as \"0.0 kW\"\n"
        "    in b\n"
        "        lamp battery, danger while (a.b or c.d) and not (e.f is not on)  # why\n"
        "        # of b\n"
        "    in c             use p with title \"a  ,b\", height 3 arcmin\n"
        "    touch b goes to s, held 2 s\n"
        "# end\n"
    )  # fmt: skip
    assert check(text) == expected


def test_long_sentences_go_on_below() -> None:
    text = (
        'screen s "S"\n'
        "    plan\n"
        "        a\n"
        '    in a bar pack.charge from 0 % to 100 %, filled by ramp charge, called "A battery of cells", '
        "caution below 20 %, danger below 10 %, upward, marks every 10 %, flashing danger while pack.fault\n"
        '        as "0 %", called "The state of charge of the cells", colour quiet, upward, '
        "corner 3 mm\n"
    )
    result = check(text)
    assert max(map(len, result.split("\n"))) <= WIDTH
    margins = [len(line) - len(line.lstrip()) for line in result.rstrip("\n").split("\n")[3:]]
    assert len(margins) > 3
    assert margins == [4, *[8] * (len(margins) - 1)]


def test_a_text_with_mistakes_is_left_alone() -> None:
    text = 'screen s "S"\n  plan\n     a\n  in a raeding b.c\n'
    result, findings = tidy(text, "t.layout")
    assert result == text
    assert [finding.code for finding in findings] == ["L106"]


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    loose = 'screen s "S"\n  plan\n     a\n  in a label "x"'
    file = tmp_path / "s.layout"
    file.write_text(loose, encoding="utf-8")
    assert main(["tidy", str(tmp_path), "--check"]) == 1
    assert file.read_text(encoding="utf-8") == loose
    assert main(["tidy", str(tmp_path)]) == 0
    assert file.read_text(encoding="utf-8") == tidy(loose, "")[0]
    assert main(["tidy", str(file), "--check"]) == 0
    assert "in order" in capsys.readouterr().out
    file.write_text(loose + " goe", encoding="utf-8")
    assert main(["tidy", str(file)]) == 1
    assert "s.layout:4:" in capsys.readouterr().err


def test_phrases_of_a_scale_are_set_in_order() -> None:
    head = 'screen a "A"\n    plan\n        x       y\n'
    ragged = (
        "    in x  bar m.p from 0 kW to 9 kW  ,zone  good from 0kW to 2 kW,with zones\n"
        "    in y dial m.p with  growing arc,without marks,  glides within 300ms\n"
    )
    tidied = (
        "    in x        bar m.p from 0 kW to 9 kW, zone good from 0 kW to 2 kW, with zones\n"
        "    in y        dial m.p with growing arc, without marks, glides within 300 ms\n"
    )
    assert tidy(head + ragged, "a.layout") == (head + tidied, [])
