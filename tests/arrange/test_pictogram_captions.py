"""The caption of a lamp or symbol: below it, in its axis, with room taken for it."""

from __future__ import annotations

import pytest

from hmic.arrange.compose import arrange
from hmic.compile.compiling import Compiled
from hmic.paint.operations import Box
from tests.tools.widget_pictures import alone, one_screen

LAMP = 'lamp battery, danger while pack.fault, means "Battery fault"'


def boxes(compiled: Compiled) -> tuple[Box, Box]:
    """The pictogram and its caption."""
    return compiled.arranged.drawing.screens[0].operations[0].box, compiled.arranged.screens[0].texts[0].box


@pytest.mark.parametrize("sentence", [LAMP, "symbol pump", "symbol valve, turned by coolant.valve"])
@pytest.mark.parametrize("height", [18, 24, 40])
def test_a_caption_stands_below(sentence: str, height: int) -> None:
    compiled = alone(one_screen(f'{sentence}, called "Energy"'), (30, height))
    pictogram, caption = boxes(compiled)
    assert caption.top > pictogram.top + pictogram.height
    assert (
        caption.top + caption.height <= compiled.design.panel.height - compiled.design.panel.pixels_from_mm(2)
    )
    assert abs(2 * pictogram.left + pictogram.width - 2 * caption.left - caption.width) <= 3


def test_the_captions_of_a_row_stand_at_one_height() -> None:
    row = f"""across
        {LAMP}, called "Energy"
        {LAMP}, called "Warm"
    """
    compiled = alone(one_screen("").replace("in place    ", f"in place {row.rstrip()}"), (60, 20))
    tops = {text.box.top + text.capital_height for text in compiled.arranged.screens[0].texts}
    sides = {operation.box.height for operation in compiled.arranged.drawing.screens[0].operations[::2]}
    assert len(tops) == 1 and len(sides) == 1


def test_a_pipe_from_the_bottom_starts_below_the_caption() -> None:
    free = """freely
        symbol pump named one at 20 mm across 12 mm down, called "Pump"
        joint end at 20 mm across 40 mm down
        pipe from one.bottom to end, colour quiet
    """
    compiled = alone(one_screen("").replace("in place    ", f"in place {free.rstrip()}"), (60, 50))
    caption = compiled.arranged.screens[0].texts[0].box
    pipe = min(
        (
            item.box
            for item in compiled.arranged.drawing.screens[0].operations
            if type(item).__name__ == "Fill"
        ),
        key=lambda box: box.top,
    )
    assert pipe.top >= caption.top + caption.height


def test_a_caption_without_room_is_told() -> None:
    compiled = alone(one_screen(LAMP), (14, 14))
    _, findings = arrange(compiled.design)
    assert findings == []
    with pytest.raises(AssertionError, match="A350"):
        alone(one_screen(f'{LAMP}, called "A long caption"'), (14, 14))
    with pytest.raises(AssertionError, match="A351"):
        alone(one_screen(f'{LAMP}, called "A"'), (14, 9))
