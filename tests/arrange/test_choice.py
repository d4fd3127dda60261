"""A choice lights the option that is read back; another value stands behind its caption."""

from __future__ import annotations

from collections import Counter

import pytest
from PIL import Image

from hmic.arrange.compose import arrange
from hmic.compile.compiling import Compiled
from hmic.model.channels import Channel, FirstTrue, raw_value
from hmic.model.expressions import Doubt
from hmic.model.samples import lookup, sample_values
from tests.tools.changed import replace
from tests.tools.widget_pictures import alone, one_screen, paint

LIMIT = 'choice charge.limit of 80 % or 90 % or 100 %, called "Charge to"'
MODE = 'choice motor.mode of "Calm" or "Normal", called "Response"'


def lit(compiled: Compiled, **values: float | str | Doubt) -> int:
    """The number of the option that is lit, from 1; 0 for none."""
    channel = next(item for item in compiled.arranged.channels if isinstance(item.steps, FirstTrue))
    return step(compiled, channel, **values)


def step(compiled: Compiled, channel: Channel, **values: float | str | Doubt) -> int:
    return raw_value(channel, lookup(compiled.design, sample_values(compiled.design) | values)) - 3


def caption_line(compiled: Compiled, **values: float | str | Doubt) -> Image.Image:
    image = paint(compiled, **values).convert("RGB")
    return image.crop((0, 0, image.width, compiled.arranged.screens[0].texts[0].box.top + 22))


@pytest.mark.parametrize(
    ("value", "option"),
    [(79.4, 0), (79.5, 1), (80.0, 1), (80.4, 1), (80.5, 0), (85.0, 0), (90.0, 2), (100.0, 3)],
)
def test_a_value_written_like_an_option_lights_it(value: float, option: int) -> None:
    assert lit(alone(one_screen(LIMIT), (78, 26)), **{"charge.limit": value}) == option


def test_another_value_stands_behind_the_caption() -> None:
    compiled = alone(one_screen(LIMIT), (78, 26))
    plain = caption_line(compiled, **{"charge.limit": 90.0})
    assert caption_line(compiled, **{"charge.limit": 80.0}) == plain
    assert caption_line(compiled, **{"charge.limit": 85.0}) != plain
    assert caption_line(compiled, **{"charge.limit": 85.0}) != caption_line(
        compiled, **{"charge.limit": 86.0}
    )
    assert caption_line(compiled, **{"charge.limit": Doubt.STALE}) == plain


def test_another_word_stands_behind_the_caption() -> None:
    compiled = alone(one_screen(MODE), (60, 26))
    looks = {
        word: caption_line(compiled, **{"motor.mode": word}).tobytes() for word in ("Calm", "Normal", "Hill")
    }
    assert looks["Calm"] == looks["Normal"] != looks["Hill"]
    assert "Hill" in {text.text for text in compiled.arranged.screens[0].texts}


def test_options_that_are_all_there_is_leave_the_caption_as_it_is() -> None:
    compiled = alone(one_screen(MODE.replace('"Normal"', '"Normal" or "Hill"')), (80, 26))
    assert Counter(text.text for text in compiled.arranged.screens[0].texts)["Hill"] == 1


@pytest.mark.parametrize(
    ("sentence", "remedy"),
    [
        (LIMIT.split(", called")[0], 'add called "Limit"'),
        (
            LIMIT.replace("Charge to", "What the drive battery is charged to"),
            "make its place wider, or shorten its caption",
        ),
    ],
)
def test_no_room_for_the_value_is_told(sentence: str, remedy: str) -> None:
    compiled = alone(one_screen(sentence), (74, 26))
    (found,) = arrange(replace(compiled.design))[1]
    assert (found.code, found.remedy) == ("A380", remedy)
