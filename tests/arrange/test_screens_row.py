"""A row of screens, and pictograms on buttons."""

from __future__ import annotations

import numpy
import pytest

from hmic.arrange.compose import Arranged, arrange
from hmic.check.rules import check
from hmic.diagnostics import Span
from hmic.language.parser import parse
from hmic.language.tidy import tidy
from hmic.model.actions import GoTo
from hmic.model.design import Design, LimitSetting
from hmic.paint.operations import Box, Moment, Run, Stencil
from hmic.paint.painter import Painter
from tests.tools.changed import replace
from tests.tools.widget_pictures import dunlin

NAMES = ("drive", "cells", "motor")


def row(
    sentence: str | tuple[str, ...], height: int = 16, rest: str = 'label "Rest", text 20 arcmin'
) -> tuple[Design, Arranged]:
    """Three screens that have the same row at their foot, or each its own; ``rest`` stands on the last."""
    rows = (sentence,) * len(NAMES) if isinstance(sentence, str) else sentence
    text = "".join(
        f'screen {name} "{name.capitalize()}"\n    plan\n        rest\n        ways\n'
        f"    rows 1, {height} mm\n    in rest  "
        + (rest if name == NAMES[-1] else 'label "Rest", text 20 arcmin')
        + f"\n    in ways  {said}\n\n"
        for name, said in zip(NAMES, rows, strict=True)
    )
    tree, found = parse(text, "x.layout")
    assert not found
    screens = {screen.name: screen for screen in tree.screens}
    design = replace(dunlin(), screens=screens, start="drive", order=())
    arranged, told = arrange(design)
    assert arranged is not None, told
    return design, arranged


ROW = "screens drive with pictogram motor, cells with pictogram battery, motor, text 18 arcmin"


@pytest.mark.parametrize("height", [16, 30])
def test_a_touch_goes_to_each_of_the_others(height: int) -> None:
    _, arranged = row(ROW, height)
    for screen in arranged.screens:
        asked = [zone.action for zone in screen.zones]
        assert asked == [GoTo(name) for name in NAMES if name != screen.name]


def test_the_one_in_sight_is_marked_by_more_than_colour() -> None:
    _, arranged = row(ROW)
    lit = []
    for number, screen in enumerate(arranged.screens):
        picture = Painter(arranged.drawing).paint(Moment(number, 0, (3,) * len(arranged.channels)))
        grey = numpy.asarray(picture.convert("L")).astype(int)
        foot = grey[-60:]
        # A bright row that runs over a good part of a field: the light.
        runs = [(line > 120).sum() for line in foot]
        columns = numpy.nonzero(foot[int(numpy.argmax(runs))] > 120)[0]
        lit.append(int(columns.mean() * len(NAMES) // grey.shape[1]))
        assert screen.name == NAMES[number]
    assert lit == [0, 1, 2]


def test_a_screen_that_only_the_row_leads_to_is_reached() -> None:
    design, arranged = row(ROW)
    assert not {item.code for item in check(design, arranged)} & {"C410", "C411", "C412", "C417", "C420"}
    text = 'screen drive "Drive"\n    plan\n        a\n    in a  screens drive, nowhere\n'
    tree, _ = parse(text, "x.layout")
    lost = replace(dunlin(), screens={"drive": tree.screens[0]}, start="drive", order=())
    assert arrange(lost)[0] is None


@pytest.mark.parametrize(
    ("rows", "touches"),
    [
        (("screens drive, cells, motor",) * 3, 2),
        (("screens drive, cells", "screens drive, cells, motor", "screens cells, motor"), 3),
    ],
)
def test_touches_to_a_control_are_counted_through_the_rows(rows: tuple[str, ...], touches: int) -> None:
    """As many as it takes to go there by touching the glass, from the first screen."""
    design, arranged = row(rows, rest='button "Lights", toggles house.lights, held 1 s')
    seen, count = {design.start}, 1
    screens = {screen.name: screen for screen in arranged.screens}
    while not any(not isinstance(zone.action, GoTo) for name in seen for zone in screens[name].zones):
        ways = [zone.action for name in seen for zone in screens[name].zones]
        seen |= {way.screen for way in ways if isinstance(way, GoTo)}
        count += 1
    assert count == touches
    for most, told in ((touches - 1, 1), (touches, 0)):
        setting = LimitSetting(most, "", "of this test", Span("design.yaml", 1, 1, 1, 2))
        found = check(replace(design, limits={"touches to an act": setting}), arranged)
        far = [each.message for each in found if each.code == "C416"]
        assert len(far) == told and all(f"takes {touches} touches" in each for each in far)


def test_a_row_and_a_pictured_button_stay_as_they_are_when_tidied() -> None:
    text = (
        'screen drive "Drive"\n    plan\n        a  b\n'
        "    in a   screens   drive with   pictogram motor ,cells,text 18 arcmin\n"
        '    in b   button "Go"   with pictogram next,goes to cells\n'
    )
    tidied, found = tidy(text, "x.layout")
    assert not found
    assert "screens drive with pictogram motor, cells, text 18 arcmin" in tidied
    assert 'button "Go" with pictogram next, goes to cells' in tidied
    assert tidy(tidied, "x.layout")[0] == tidied


@pytest.mark.parametrize(("words", "size"), [("Go on", (60, 16)), ("Go on", (26, 30)), ("", (20, 20))])
def test_a_pictogram_and_its_words_keep_apart_and_stand_in_the_middle(
    words: str, size: tuple[int, int]
) -> None:
    from tests.tools.widget_pictures import alone, one_screen, paint

    compiled = alone(one_screen(f'button "{words}" with pictogram next, goes to drive'), size)
    image = numpy.asarray(paint(compiled).convert("L")).astype(int)
    box: Box = compiled.arranged.screens[0].touches[0].box
    inner = image[box.top + 8 : box.top + box.height - 8, box.left + 8 : box.left + box.width - 8]
    rows, columns = numpy.nonzero(inner > 150)
    assert abs((columns.min() + columns.max()) / 2 - inner.shape[1] / 2) <= 4
    if not words:
        assert abs((rows.min() + rows.max()) / 2 - inner.shape[0] / 2) <= 2


def test_a_break_that_is_written_has_room_below_the_pictogram() -> None:
    from tests.tools.widget_pictures import alone, one_screen

    compiled = alone(one_screen('button "Go\\non" with pictogram next, goes to drive'), (26, 30))
    operations = compiled.arranged.drawing.screens[0].operations
    sign = next(each.box for each in operations if isinstance(each, Stencil))
    lines = sorted({each.box.top: each.box for each in operations if isinstance(each, Run)}.items())
    box = compiled.arranged.screens[0].touches[0].box
    assert len(lines) == 2 and sign.top + sign.height < lines[0][0]
    assert lines[1][0] + lines[1][1].height < box.top + box.height
