"""Caption, figures and drawing of a widget stand about one axis, in the pixels; figures never move."""

from __future__ import annotations

import pytest
from PIL import Image, ImageChops

from tests.tools.widget_pictures import alone, one_screen, paint

# Half of what the bearings of a letter may put its ink off the middle of its advance.
SLACK = 3

SENTENCES = {
    "reading": ('reading motor.temperature as "0 °C", called "Motor"', (44, 20), "motor.temperature"),
    "signed": ('reading motor.power as "0 kW", called "Power"', (44, 20), "motor.power"),
    "level": (
        'level pack.charge from 0 % to 100 %, shaped battery, as "0 %", called "Charge"',
        (30, 50),
        "pack.charge",
    ),
    "bar": (
        'bar motor.power from -40 kW to 80 kW, marks every 20 kW, as "0 kW", called "Power"',
        (40, 70),
        "motor.power",
    ),
    "dial": (
        'dial motor.temperature from 0 °C to 140 °C, as "0 °C", called "Motor"',
        (44, 46),
        "motor.temperature",
    ),
}


def middle(image: Image.Image, top: int, bottom: int) -> float:
    """The middle of what differs from the ground between two rows of pixels."""
    part = image.convert("RGB").crop((0, top, image.width, bottom))
    found = ImageChops.difference(part, Image.new("RGB", part.size, part.getpixel((0, 0)))).getbbox()
    assert found is not None
    return (found[0] + found[2]) / 2


@pytest.mark.parametrize("kind", SENTENCES)
def test_caption_and_figures_share_an_axis(kind: str) -> None:
    sentence, size, signal = SENTENCES[kind]
    compiled = alone(one_screen(sentence), size)
    image = paint(compiled, **{signal: 48.0})
    texts = compiled.arranged.screens[0].texts
    caption = next(text for text in texts if text.text.istitle())
    figures = next(text for text in texts if text.reading)
    above = middle(image, caption.box.top, caption.box.top + caption.box.height)
    below = middle(image, figures.box.top, figures.box.top + figures.capital_height)
    assert abs(above - below) <= SLACK
    assert abs(above - image.width / 2) <= SLACK


def test_the_bar_stands_under_its_caption_and_over_its_figures() -> None:
    sentence, size, _ = SENTENCES["bar"]
    compiled = alone(one_screen(sentence), size)
    track = compiled.arranged.drawing.screens[0].operations
    bar = next(operation for operation in track if type(operation).__name__ == "Reveal")
    assert abs(bar.box.left + bar.box.width / 2 - compiled.design.panel.width / 2) <= 1


def test_the_lowest_mark_keeps_clear_of_the_figures() -> None:
    compiled = alone(one_screen(SENTENCES["bar"][0]), SENTENCES["bar"][1])
    texts = compiled.arranged.screens[0].texts
    lowest = next(text for text in texts if text.text == "−40")
    figures = next(text for text in texts if text.reading)
    between = figures.box.top - (lowest.box.top + lowest.box.height)
    assert between * compiled.design.panel.pitch >= 1.5


def test_a_longer_number_hangs_out_to_the_left_only() -> None:
    compiled = alone(one_screen(SENTENCES["signed"][0]), SENTENCES["signed"][1])
    figures = next(text for text in compiled.arranged.screens[0].texts if text.reading)
    rows = (figures.box.top, figures.box.top + figures.capital_height)
    short, long = (_ends(paint(compiled, **{"motor.power": value}), *rows) for value in (48.0, -98.0))
    assert long[0] < short[0] and long[1] == short[1]


@pytest.mark.parametrize("width", range(24, 40, 2))
def test_a_narrow_place_holds_the_longest_number(width: int) -> None:
    compiled = alone(one_screen('reading motor.power as "0 kW", text 20 arcmin'), (width, 20))
    figures = next(text for text in compiled.arranged.screens[0].texts if text.reading)
    unit = next(text for text in compiled.arranged.screens[0].texts if text.text == "kW")
    assert figures.box.left >= 0
    assert unit.box.left + unit.box.width <= compiled.design.panel.width


def _ends(image: Image.Image, top: int, bottom: int) -> tuple[int, int]:
    part = image.convert("RGB").crop((0, top, image.width, bottom))
    found = ImageChops.difference(part, Image.new("RGB", part.size, part.getpixel((0, 0)))).getbbox()
    assert found is not None
    return found[0], found[2]
