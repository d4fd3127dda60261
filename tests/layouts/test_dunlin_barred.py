"""A control that would refuse a touch looks so before anybody touches it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from hmic.cli.pages import BASE
from hmic.compile.compiling import Compiled, compile_design, examine
from hmic.model.channels import LIVE
from hmic.model.expressions import Doubt, Value
from hmic.model.samples import sample_values
from hmic.model.touch_progress import TOUCH_PREFIX, TOUCH_WORDS, TouchState
from hmic.show.screens import raw_values

AT_REST: dict[str, Value] = {"vehicle.gear": "P", "charge.power": 0.0}
DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"


@cache
def dunlin() -> Compiled:
    compiled = compile_design(DUNLIN)
    assert isinstance(compiled, Compiled)
    return compiled


def states(speed: Value) -> dict[str, str]:
    """By the name of its signal how each control fares that only a standing vehicle allows."""
    compiled = dunlin()
    raw = raw_values(compiled, sample_values(compiled.design) | AT_REST | {"vehicle.speed": speed})
    found = {}
    for number, channel in enumerate(compiled.arranged.channels):
        signals = channel.value.signals if channel.value is not None else frozenset()
        names = [name for name in signals if name.startswith(TOUCH_PREFIX)]
        if names and "vehicle.speed" in signals:
            found[names[0]] = TOUCH_WORDS[raw[number] - LIVE]
    return found


@pytest.mark.parametrize(
    ("speed", "word"),
    [
        (0.0, TouchState.IDLE),
        (87.0, TouchState.BARRED),
        (Doubt.STALE, TouchState.BARRED),
        (Doubt.UNSEEN, TouchState.BARRED),
        (Doubt.OUT_OF_RANGE, TouchState.BARRED),
    ],
)
def test_a_control_is_barred_unless_its_condition_is_known_to_hold(speed: Value, word: str) -> None:
    found = states(speed)
    assert len(found) > 8 and set(found.values()) == {word}


def test_the_condition_of_an_output_bars_as_well() -> None:
    signals = (BASE / "signals.yaml").read_text(encoding="utf-8")
    plain = "charge.limit: {to: Request.Limit}"
    assert plain in signals
    guarded = plain.replace("}", ', allowed: "vehicle.speed < 1 km/h"}')
    layout = (
        'screen drive "Drive"\n    plan\n        here\n    in here  choice charge.limit of 80 % or 90 %\n'
    )
    design, arranged, _ = examine(
        BASE, None, {"drive.layout": layout, "signals.yaml": signals.replace(plain, guarded)}
    )
    assert design is not None and arranged is not None
    (values,) = {
        channel.value
        for channel in arranged.channels
        if channel.value is not None and f"{TOUCH_PREFIX}drive.0" in channel.value.signals
    }
    for speed, word in ((0.0, TouchState.IDLE), (50.0, TouchState.BARRED), (Doubt.STALE, TouchState.BARRED)):
        known = {f"{TOUCH_PREFIX}drive.0": TouchState.IDLE, "vehicle.speed": speed}
        assert values.evaluate(known.__getitem__) == word
