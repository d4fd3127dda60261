"""Text that something else runs into: against pixels that are painted one operation at a time."""

from __future__ import annotations

import math
import random
import re
from pathlib import Path

import pytest
from good_design import arranged_in, found_in, spoiled
from PIL import Image, ImageChops

from hmic.arrange.compose import Arranged, arrange
from hmic.check.clear_text import check
from hmic.check.painted import Painted
from hmic.check.pixel_reach import Reach
from hmic.diagnostics import Finding
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.load import load
from hmic.paint.operations import LIVE, Box, Fill, Flow, Ink, Letters, Picture, Run, Stencil
from tests.tools.changed import replace
from tests.tools.designs import LAYOUTS
from tests.tools.lit_pixels import levels, lit


def of(design: Design, arranged: Arranged) -> list[Finding]:
    screens = tuple(Painted(arranged, number) for number in range(len(arranged.screens)))
    return check(design, arranged, Limits(design), screens)


@pytest.fixture(scope="module", params=["dunlin", "roost", "plover"])
def example(request: pytest.FixtureRequest) -> tuple[Design, Arranged]:
    design, _ = load(LAYOUTS / request.param)
    assert design is not None
    arranged, _ = arrange(design)
    assert arranged is not None
    return design, arranged


def test_what_an_operation_can_light_holds_all_that_it_does_light(example: tuple[Design, Arranged]) -> None:
    """For random states, painted alone; and what never moves lights all of it."""
    _, arranged = example
    drawing, chance = arranged.drawing, random.Random(7)
    panel = Box(0, 0, drawing.width, drawing.height)
    reach = Reach(drawing)
    for screen, shown in enumerate(drawing.screens):
        kinds: dict[type, int] = {}
        for index, operation in enumerate(shown.operations):
            kinds[type(operation)] = kinds.get(type(operation), 0) + 1
            if kinds[type(operation)] > 3 or operation.when is not None:
                continue
            can = reach.lit(operation, panel)
            for _ in range(4):
                raw = tuple(LIVE + chance.randrange(steps) for steps in drawing.channels)
                does = levels(drawing, screen, index, raw).point([0] * 128 + [255] * 128)
                beyond = ImageChops.subtract(does, can)
                assert beyond.getbbox() is None, (shown.name, operation, beyond.getbbox())
            if isinstance(operation, Run | Stencil | Picture) and operation.box.width:
                assert ImageChops.subtract(can, lit(drawing, screen, index)).getbbox() is None
            if not isinstance(operation, Flow | Letters):
                assert can.getbbox() is None or inside(can.getbbox(), operation.box)


def inside(corners: tuple[int, int, int, int] | None, box: Box) -> bool:
    assert corners is not None
    return (
        box.left <= corners[0]
        and box.top <= corners[1]
        and corners[2] <= box.left + box.width
        and corners[3] <= box.top + box.height
    )


def test_the_examples_are_clear(example: tuple[Design, Arranged]) -> None:
    assert of(*example) == []


def moved(arranged: Arranged, screen: int, index: int, across: int, down: int) -> Arranged:
    """With one operation elsewhere, and what is known of its text."""
    drawn, known = arranged.drawing.screens[screen], arranged.screens[screen]
    operation = drawn.operations[index]
    box = operation.box._replace(left=operation.box.left + across, top=operation.box.top + down)
    operations = (*drawn.operations[:index], replace(operation, box=box), *drawn.operations[index + 1 :])
    texts = tuple(replace(fact, box=box) if fact.box == operation.box else fact for fact in known.texts)
    drawings, screens = list(arranged.drawing.screens), list(arranged.screens)
    drawings[screen], screens[screen] = replace(drawn, operations=operations), replace(known, texts=texts)
    return replace(
        arranged, drawing=replace(arranged.drawing, screens=tuple(drawings)), screens=tuple(screens)
    )


def test_a_text_that_is_moved_is_told_as_soon_as_it_touches(tmp_path: Path) -> None:
    """A word moved pixel by pixel towards a button's edge: told from the clearance on, not before."""
    design, arranged, _ = arranged_in(tmp_path, spoiled())
    screen = next(at for at, each in enumerate(arranged.screens) if each.name == "battery")
    operations = arranged.drawing.screens[screen].operations
    index = next(
        at
        for at, each in enumerate(operations)
        if isinstance(each, Run)
        and any(fact.text == "Back" and fact.box == each.box for fact in arranged.screens[screen].texts)
    )
    frame = operations[0].box
    height = next(fact.capital_height for fact in arranged.screens[screen].texts if fact.text == "Back")
    told = []
    for across in range(0, frame.width, 2):
        shifted = moved(arranged, screen, index, -across, 0)
        ink = lit(shifted.drawing, screen, index)
        edge = ImageChops.subtract(lit(shifted.drawing, screen, 0), lit(shifted.drawing, screen, 1))
        told.append((nearest(ink, edge), bool(of(design, shifted))))
        if told[-1][0] <= 0:
            break
    assert told[0] == (told[0][0], False) and told[-1][1]
    for between, found in told:
        # Soft pixels at the edges may count or not.
        if abs(between - 0.1 * height) > 2:
            assert found == (between < 0.1 * height), told


def nearest(ink: Image.Image, edge: Image.Image) -> int:
    """Columns between what is lit in two images, to the left of the ink; 0 where they meet."""
    if ImageChops.darker(ink, edge).getbbox() is not None:
        return 0
    inked = ink.getbbox()
    assert inked is not None
    beside = edge.crop((0, inked[1], inked[0], inked[3])).getbbox()
    return inked[0] - beside[2] if beside is not None else 0


MAP = """\
screen map "Map"
    plan
        back  map
    columns 30 mm, 1

    in back     button "Back", goes to road
    in map freely
        joint near at 60 mm across 10 mm down
        joint far at 60 mm across 60 mm down
        symbol pump, called "Water pump", means "The pump", at 30 mm across 20 mm down
        symbol fan, called "Fan", means "The fan", at {across} mm across {down} mm down
        pipe from near to far, colour line
"""


def findings(tmp_path: Path, across: float, down: float = 20.0) -> list[Finding]:
    files = spoiled(("road.layout", 'button "Battery", goes to battery', 'button "Map", goes to map'))
    files["battery.layout"] = files["battery.layout"].replace(
        '"Back", goes to road', '"Back", goes to map', 1
    )
    files["map.layout"] = MAP.format(across=across, down=down).replace("goes to road", "goes to battery")
    return [each for each in found_in(tmp_path, files) if each.code == "C428"]


def test_captions_that_run_into_each_other(tmp_path: Path) -> None:
    assert findings(tmp_path, 50.0) == []
    (found,) = findings(tmp_path, 36.0)
    assert found.remedy is not None and "move one of them" in found.remedy
    assert "Fan" in found.message or "Water pump" in found.message


def test_a_pipe_through_a_caption(tmp_path: Path) -> None:
    (found,) = findings(tmp_path, 59.0)
    assert "a pipe" in found.message and '"Fan"' in found.message


@pytest.mark.parametrize("across", [36.0, 40.0, 42.0, 59.0])
def test_the_move_that_is_told_mends(tmp_path: Path, across: float) -> None:
    (found,) = findings(tmp_path, across)
    told = re.search(r"move one of them ([\d.]+) mm (across|down)", found.remedy or "")
    assert told is not None
    way = float(told[1])
    if told[2] == "down":
        assert findings(tmp_path, across, 20 + way) == []
    else:
        # Away from the pump on the left, or from the pipe on the right.
        assert findings(tmp_path, across + (way if across < 50 else -way)) == []


def test_the_ink_of_a_colour_makes_no_difference(tmp_path: Path) -> None:
    """What is painted over a text counts in whatever ink."""
    design, arranged, _ = arranged_in(tmp_path, spoiled())
    drawn, known = arranged.drawing.screens[0], arranged.screens[0]
    text = next(at for at, each in enumerate(drawn.operations) if isinstance(each, Run))
    last = known.pieces[-1]
    over = replace(drawn.operations[text], ink=Ink(5))
    pieces = (*known.pieces[:-1], replace(last, last=last.last + 1))
    doubled = replace(
        drawn, operations=(*drawn.operations[: last.last], over, *drawn.operations[last.last :])
    )
    drawing = replace(arranged.drawing, screens=(doubled, *arranged.drawing.screens[1:]))
    spoilt = replace(
        arranged, drawing=drawing, screens=(replace(known, pieces=pieces), *arranged.screens[1:])
    )
    (found,) = of(design, spoilt)
    assert found.measured == 0


@pytest.mark.parametrize("between", range(5))
@pytest.mark.parametrize(
    ("across", "down"), [(-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1)]
)
def test_a_dot_is_told_from_the_clearance_on_in_every_direction(
    across: int, down: int, between: int, tmp_path: Path
) -> None:
    """One pixel, so many columns and rows from a word's ink: found where the ink is within a tenth of
    its capitals' height of it, by searching the painted pixels around the dot."""
    design, arranged, _ = arranged_in(tmp_path, spoiled())
    screen = next(at for at, each in enumerate(arranged.screens) if each.name == "battery")
    known, drawn = arranged.screens[screen], arranged.drawing.screens[screen]
    fact = next(each for each in known.texts if each.text == "Back")
    at = next(
        at for at, each in enumerate(drawn.operations) if isinstance(each, Run) and each.box == fact.box
    )
    corners = lit(arranged.drawing, screen, at).getbbox()
    assert corners is not None
    left, top, right, bottom = corners
    middle = (left + right) // 2, (top + bottom) // 2
    x = {-1: left - 1 - between, 0: middle[0], 1: right + between}[across]
    y = {-1: top - 1 - between, 0: middle[1], 1: bottom + between}[down]
    dot = Fill(Box(x, y, 1, 1), Ink(5))
    last = known.pieces[-1]
    pieces = (*known.pieces[:-1], replace(last, last=last.last + 1))
    operations = (*drawn.operations[: last.last], dot, *drawn.operations[last.last :])
    drawings, screens = list(arranged.drawing.screens), list(arranged.screens)
    drawings[screen] = replace(drawn, operations=operations)
    screens[screen] = replace(known, pieces=pieces)
    changed = replace(
        arranged, drawing=replace(arranged.drawing, screens=tuple(drawings)), screens=tuple(screens)
    )
    ink = lit(arranged.drawing, screen, at).point([0] * 128 + [255] * 128)
    gap = math.ceil(0.1 * fact.capital_height)
    near = ink.crop((x - gap, y - gap, x + gap + 1, y + gap + 1)).getbbox() is not None
    assert bool(of(design, changed)) == near, (fact.capital_height, between)
