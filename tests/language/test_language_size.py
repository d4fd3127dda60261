"""Layouts of any length and any number of mistakes: what they cost grows with them, and ends."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hmic.diagnostics import Finding
from hmic.language.design_bounds import MOST_LETTERS, MOST_LINES, MOST_MISTAKES
from hmic.language.parser import FINDINGS_A_KIND, parse
from tests.tools.growth import LINEAR, growth

HEAD = 'screen many "Many"\n'


def lines(line: str) -> Callable[[int], str]:
    return lambda count: HEAD + "".join(f"    {line}\n".replace("{n}", str(n)) for n in range(count))


TEXTS = {
    "one-area-again": lines('in nowhere label "x{n}"'),
    "areas": lines('in area{n} label "x{n}"'),
    "touches": lines("touch area{n} goes to many"),
    "touches-again": lines("touch here goes to many{n}"),
    "nothing-known": lines("zzz what is this {n}"),
    "a-phrase-unknown": lines('in area{n} label "x", zorp {n}, txt 20 mm, coler red, glow'),
    "crooked": lambda count: HEAD + "".join(f'{" " * (4 + n % 5)}in a{n} label "x"\n' for n in range(count)),
    "stairs": lambda count: HEAD + "".join(f'{" " * (n % 40)}in a{n} label "x"\n' for n in range(count)),
    "at-the-edge": lambda count: HEAD + "".join(f'in a{n} label "x"\n' for n in range(count)),
    "tabs": lambda count: HEAD + "".join(f'\tin a{n} label "x"\n' for n in range(count)),
    "plan": lambda count: HEAD + "    plan\n" + "".join(f"        a{n} b{n}\n" for n in range(count)),
    "rows-beside": lambda count: HEAD + "    plan\n" + "".join(f"    a{n} b{n}\n" for n in range(count)),
    "screens": lambda count: "".join(f'screen s{n} "S"\n' for n in range(count)),
    "screens-again": lambda count: 'screen s "S"\n' * count,
    "orders": lambda count: "swipe through a, b\n" * count,
    "phrases-below": lambda count: HEAD + '    in a label "x"\n' + "        text 20 mm\n" * count,
    "traces": lambda count: (
        HEAD + "    in a chart over 9 s\n" + "        trace a.b from 0 V to 9 V\n" * count
    ),
    "eaches": lambda count: (
        HEAD + "    in a across\n" + '        each n from 1 to 2\n            label "{n}"\n' * count
    ),
    "comments": lambda count: '# "\n' * count,
    "blanks": lambda count: " \n" * count,
}


@pytest.mark.parametrize("name", TEXTS)
def test_reading_takes_a_time_that_grows_with_the_lines(name: str) -> None:
    text = TEXTS[name]
    assert growth(lambda count: parse(text(count), "many.layout"), 150) < LINEAR


@pytest.mark.parametrize("name", TEXTS)
def test_what_is_told_of_a_file_ends(name: str) -> None:
    _, found = parse(TEXTS[name](6000), "many.layout")
    assert len(found) <= MOST_MISTAKES + 1


def wrong(count: int) -> tuple[list[Finding], int]:
    layout, found = parse(lines("zzz what is this {n}")(count) + 'screen last "Last"\n', "many.layout")
    return found, len(layout.screens)


def places(found: list[Finding]) -> int:
    return sum(1 + len(item.also) for item in found)


def test_after_many_mistakes_a_file_is_not_read_on() -> None:
    for count in (MOST_MISTAKES - 1, MOST_MISTAKES):
        found, _ = wrong(count)
        assert {item.code for item in found if item.code != "L131"} == {"L105"}
    found, screens = wrong(MOST_MISTAKES - 1)
    assert places(found) == MOST_MISTAKES - 1 and screens == 2
    found, _ = wrong(MOST_MISTAKES + 50)
    assert places(found) == MOST_MISTAKES + 1
    # Of one kind the first are told one by one, the others as one.
    assert len(found) == FINDINGS_A_KIND + 2
    last = found[-1]
    assert last.code == "L131" and last.span is not None and last.span.line == MOST_MISTAKES + 2
    # The last line of all is the screen.
    assert last.message == "this file has 200 mistakes; from here on 51 lines are not read"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("#\n" * (MOST_LINES - 1), None),
        ("#\n" * MOST_LINES, MOST_LINES + 1),
        ("#" * MOST_LETTERS, None),
        ("#" * (MOST_LETTERS + 1), 1),
        (("#" * 99 + "\n") * (MOST_LETTERS // 100) + "#", MOST_LETTERS // 100 + 1),
        ("\n" * 4_000_000, MOST_LINES + 1),
    ],
    ids=[
        "lines",
        "one-line-more",
        "characters",
        "one-character-more",
        "lines-of-characters",
        "nothing-but-ends",
    ],
)
def test_a_long_text_is_read_up_to_its_limit(text: str, line: int | None) -> None:
    _, found = parse(text, "long.layout")
    assert [item.span.line for item in found if item.span and item.code == "L131"] == ([line] if line else [])
    assert {item.code for item in found} <= {"L131"}


def test_texts_read_before_count_too() -> None:
    assert not parse("#\n#", "b.layout", MOST_LINES - 2, 0)[1]
    assert parse("#\n#", "b.layout", MOST_LINES - 1, 0)[1][0].span.line == 2  # type: ignore[union-attr]
    assert not parse("#\n#", "b.layout", 0, MOST_LETTERS - 3)[1]
    assert parse("#\n#", "b.layout", 0, MOST_LETTERS - 2)[1][0].code == "L131"
