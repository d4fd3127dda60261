"""Mistakes in one sentence that have nothing to do with each other are told together: whatever each is told
by alone is told of both."""

from __future__ import annotations

import sys
from itertools import combinations
from pathlib import Path

import pytest

from hmic.compile.compiling import examine

sys.path.insert(0, str(Path(__file__).parents[1] / "check"))
from good_design import FILES, spoiled

ROAD, BATTERY = "road.layout", "battery.layout"
SENTENCES = {
    "reading": (BATTERY, ['as "0 °C"', "caution above 110 °C", "danger above 130 °C", "text 36 arcmin"]),
    "lamp": (ROAD, ["caution while motor.temperature > 110 °C", "means"]),
    "bar": (ROAD, ["from -60 kW to 120 kW", 'as "0 kW"', "caution above 100 kW"]),
    "level": (ROAD, ["caution below 20 %", "danger below 10 %", "ramp charge"]),
    "button": (ROAD, ["goes to battery", 'button "Battery",']),
    "switch": (BATTERY, ["switch heat.on", "allowed when vehicle.speed < 1 km/h"]),
    "choice": (BATTERY, ['"Low"', '"High"']),
}
MISTAKES = {
    "reading": ['as "0 V"', "caution above 110 V", "dangr above 130 °C", "text 36 apples"],
    "lamp": ["caution while motor.temprature > 110 °C", "dangr while pack.fault, means"],
    "bar": ["from -60 V to 120 kW", 'as "0 V"', "cautoin above 100 kW"],
    "level": ["caution below 20 V", "danger below 10 W", "ramp chrage"],
    "button": ["goes to batery", 'button "Battery", allowed when vehicle.sped < 1 km/h,'],
    "switch": ["switch heat.onn", "allowed when vehicle.sped < 1 km/h"],
    "choice": ['"Lwo"', '"Hihg"'],
}
PAIRS = [
    (kind, one, other)
    for kind, (_, parts) in SENTENCES.items()
    for one, other in combinations(range(len(parts)), 2)
]


def told(folder: Path, file: str, *changes: tuple[str, str]) -> set[tuple[str, str]]:
    """Code and message of each error. The motor's reading stands after the lamp of the same signal."""
    text = FILES[file]
    for old, new in changes:
        assert old in text, old
        at = text.rindex(old)
        text = text[:at] + new + text[at + len(old) :]
    for name, each in {**spoiled(), file: text}.items():
        (folder / name).write_text(each, encoding="utf-8")
    return {(item.code, item.message) for item in examine(folder)[2] if item.severity.value == "error"}


@pytest.mark.parametrize(("kind", "one", "other"), PAIRS)
def test_what_each_is_told_by_is_told_of_both(kind: str, one: int, other: int, tmp_path: Path) -> None:
    file, parts = SENTENCES[kind]
    changes = [(parts[each], MISTAKES[kind][each]) for each in (one, other)]
    alone = [told(tmp_path, file, change) for change in changes]
    assert all(len(each) == 1 for each in alone), alone
    assert told(tmp_path, file, *changes) == alone[0] | alone[1]
