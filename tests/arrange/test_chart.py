"""A chart's scale: lines at round values, a stronger one at zero, labels that keep apart."""

from __future__ import annotations

from itertools import pairwise

import pytest

from hmic.arrange.canvas import TextFact
from hmic.compile.compiling import Compiled
from hmic.paint.operations import Box, Fill, Run, Trace
from tests.tools.widget_pictures import alone, one_screen

POWER = """chart over 300 s, marks every 60 s
        trace motor.power from -40 kW to 80 kW, colour accent, called "Power\""""
TRACE = 'trace motor.power from -40 kW to 80 kW, colour accent, called "Power"'
BOTH = """chart over 600 s, marks every 60 s
        trace pack.voltage from 240 V to 390 V, colour accent, called "Battery"
        trace pack.power from -60 kW to 100 kW, colour good, called "Power\""""


def field(compiled: Compiled) -> Box:
    operations = compiled.arranged.drawing.screens[0].operations
    return next(operation.box for operation in operations if isinstance(operation, Trace))


def lines(compiled: Compiled) -> list[Box]:
    """What crosses the whole field."""
    place = field(compiled)
    boxes = [item.box for item in compiled.arranged.drawing.screens[0].operations if isinstance(item, Fill)]
    return [box for box in boxes if box.width == place.width and box.height < place.height]


def figures(compiled: Compiled) -> list[TextFact]:
    """The texts left of the field, at its height."""
    place = field(compiled)
    texts = compiled.arranged.screens[0].texts
    return [text for text in texts if text.box.left < place.left and text.box.top > place.top - 12]


def labels(compiled: Compiled) -> list[TextFact]:
    place = field(compiled)
    texts = compiled.arranged.screens[0].texts
    return sorted(
        (text for text in texts if text.box.top >= place.top + place.height), key=lambda text: text.box.left
    )


def test_lines_stand_at_round_values_with_zero_the_strongest() -> None:
    compiled = alone(one_screen(POWER), (70, 50))
    assert [text.text for text in figures(compiled)] == ["−40", "−20", "0", "20", "40", "60", "80"]
    strong = max(lines(compiled), key=lambda box: box.height)
    zero = next(text for text in figures(compiled) if text.text == "0")
    assert strong.height > 1
    assert abs((strong.top + strong.height / 2) - (zero.box.top + zero.capital_height / 2)) <= 1
    place = field(compiled)
    assert abs((strong.top + strong.height / 2) - (place.top + place.height * 80 / 120)) <= 3


def test_the_scale_with_zero_inside_has_the_lines_and_its_unit_stands_above() -> None:
    compiled = alone(one_screen(BOTH), (120, 60))
    assert [text.text for text in figures(compiled)] == ["−50", "0", "50", "100"]
    assert "kW" in {text.text for text in compiled.arranged.screens[0].texts}
    all_of = compiled.arranged.drawing.screens[0].operations
    traces = [item for item in all_of if isinstance(item, Trace)]
    left = [item for item in all_of if isinstance(item, Run) and item.ink == traces[1].ink]
    assert len(left) == 5 and traces[1].ink != traces[0].ink


def test_a_legend_that_needs_the_width_leaves_no_figures() -> None:
    assert figures(alone(one_screen(BOTH), (105, 60))) == []


@pytest.mark.parametrize("over", [300, 360, 600, 1200, 1800])
@pytest.mark.parametrize("width", range(48, 130, 6))
def test_labels_keep_apart(over: int, width: int) -> None:
    compiled = alone(one_screen(POWER.replace("300", str(over))), (width, 40))
    found = labels(compiled)
    assert found[-1].text == "now"
    for older, newer in pairwise(found):
        between = newer.box.left - (older.box.left + older.box.width)
        assert between >= 0.8 * older.capital_height, (older.text, newer.text)


@pytest.mark.parametrize(
    ("over", "first", "marks"),
    [(10, "−10 s", 6), (60, "−1 min", 7), (120, "−2 min", 5), (300, "−5 min", 6), (600, "−10 min", 6)],
)
def test_times_of_which_nothing_is_said_are_round(over: int, first: str, marks: int) -> None:
    """Seconds or minutes, at 1, 2 or 5 times a power of ten; not where none are asked for."""
    compiled = alone(one_screen(f"chart over {over} s\n        {TRACE}"), (200, 40))
    found = labels(compiled)
    assert (found[0].text, found[-1].text) == (first, "now")
    place = field(compiled)
    foot = place.top + place.height
    upright = [each for each in operations(compiled) if each.width == 1 and each.top + each.height == foot]
    tall = [each for each in upright if each.height == place.height]
    assert len(tall) == len(found)
    assert len(upright) == marks
    bare = alone(one_screen(f"chart over {over} s, without marks\n        {TRACE}"), (200, 40))
    assert labels(bare) == []


def operations(compiled: Compiled) -> list[Box]:
    return [each.box for each in compiled.arranged.drawing.screens[0].operations if isinstance(each, Fill)]
