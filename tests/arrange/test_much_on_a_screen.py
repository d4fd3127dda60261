"""A few lines can stand for any number of pieces: every `each` and part multiplies. What a screen holds is
counted before anything is made of it."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding
from hmic.language.design_bounds import MOST_HELD
from tests.check.good_design import FILES
from tests.tools.growth import LINEAR, growth
from tests.tools.large_designs import written

AT_ONCE = 20.0
"""Seconds: a hang is one for ever; on two busy cores an honest answer may take its time."""


def found(folder: Path, layout: str) -> list[Finding]:
    start = time.perf_counter()
    _, _, findings = examine(written(folder, FILES | {"more.layout": layout}))
    assert time.perf_counter() - start < AT_ONCE
    return [item for item in findings if item.span and item.span.file == "more.layout"]


def screen(body: str) -> str:
    return f'screen more "More"\n    plan\n        here\n{body}'


def each(*counts: int, flow: str = "across", piece: str = "shape box, sized 1 mm") -> str:
    lines = [f"    in here {flow}"]
    for depth, count in enumerate(counts):
        lines.append("    " * (depth + 2) + f"each n{depth} from 1 to {count}")
    lines.append("    " * (len(counts) + 2) + piece)
    return "\n".join(lines) + "\n"


FREELY = "symbol pump at 10 mm across 20 mm down, sized 5 mm"


@pytest.mark.parametrize("counts", [(256, 256, 256), (256,) * 8, (32, 32), (5, 201)])
@pytest.mark.parametrize("flow", ["across", "freely"])
def test_each_in_each_is_counted(counts: tuple[int, ...], flow: str, tmp_path: Path) -> None:
    (told,) = [item for item in found(tmp_path, screen(each(*counts, flow=flow))) if item.code == "A333"]
    assert told.span is not None and (told.span.line, told.span.column) == (5, 9)


def test_up_to_the_limit_it_is_shown(tmp_path: Path) -> None:
    for more in (-1, 0, 1):
        # One row, its name, the area, and the pieces of four eaches.
        pieces = MOST_HELD - 3 + more
        body = "".join(
            f"        each n{n} from 1 to {size}\n            {FREELY}\n"
            for n, size in enumerate((256, 256, 256, pieces - 3 * 256))
        )
        codes = {item.code for item in found(tmp_path, screen(f"    in here freely\n{body}"))}
        assert ("A333" in codes) == (more > 0), codes


@pytest.mark.parametrize("flow", ["across", "freely"])
def test_an_each_of_nothing_stands_for_nothing(flow: str, tmp_path: Path) -> None:
    lines = each(256, 256, 256, 256, flow=flow).splitlines()[:-1]
    assert "A333" not in {item.code for item in found(tmp_path, screen("\n".join(lines) + "\n"))}


def test_a_mistake_in_an_each_is_told_once(tmp_path: Path) -> None:
    lines = screen(each(200, 200, 4)).replace("each n2 from 1 to 4", "each n2 from 4 to 1")
    assert [item.code for item in found(tmp_path, lines)].count("A332") == 1


def parts(levels: int, uses: int, flow: str = "across") -> str:
    """Parts that each hold the next so many times."""
    text = screen("    in here  use p0\n")
    for level in range(levels):
        inner = f"        use p{level + 1}\n" * uses if level < levels - 1 else '        label "x"\n' * uses
        text += f"part p{level}\n    plan\n        x\n    in x {flow}\n{inner}"
    return text


def test_parts_in_parts_are_counted(tmp_path: Path) -> None:
    codes = [item.code for item in found(tmp_path, parts(8, 20))]
    assert codes.count("A333") <= 1 and len(codes) < 3000


@pytest.mark.parametrize(
    "body",
    [
        "".join(f'    in other{n}  label "x"\n' for n in range(3000)),
        "".join(f"        row{n}\n" for n in range(3000)),
        "".join("        " + " ".join(f"a{row}_{n}" for n in range(90)) + "\n" for row in range(90)),
    ],
    ids=["areas-that-the-plan-lacks", "rows", "names"],
)
def test_what_a_plan_holds_is_counted(body: str, tmp_path: Path) -> None:
    rows = 'screen more "More"\n    plan\n        here\n'
    codes = [item.code for item in found(tmp_path, rows + body + '    in here  label "x"\n')]
    assert codes.count("A333") == 1 and len(codes) < 1200
    # And in a part that is used often.
    part = f'part p\n    plan\n        here\n{body}    in here  label "x"\n'
    codes = [
        item.code for item in found(tmp_path, screen("    in here across\n" + "        use p\n" * 20) + part)
    ]
    assert codes.count("A333") == 1


def test_eaches_in_eaches_are_checked_in_a_time_that_grows_with_the_lines(tmp_path: Path) -> None:
    from hmic.model.load import load

    def work(count: int) -> None:
        lines = each(*(2,) * 8).splitlines()
        layout = screen("\n".join([*lines[:-1], *lines[-1:] * count]) + "\n")
        load(written(tmp_path, FILES | {"more.layout": layout}))

    work(10)
    assert growth(work, 100) < LINEAR
    start = time.process_time()
    work(1000)
    assert time.process_time() - start < AT_ONCE
