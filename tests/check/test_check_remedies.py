"""What a remedy says, pasted, takes the finding away, whatever figures the limit has; and a measure
never reads like the limit that it misses."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from good_design import found_in, spoiled
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.diagnostics import Finding, held_against

Change = tuple[str, str, str]
VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
SMALL_TEXT = ("road.layout", "text 90 arcmin", "text 30 arcmin")
SMALL_DECIMALS = (
    "road.layout",
    '"0 km/h", text 90 arcmin',
    '"0.0 km/h", text 30 arcmin, unit raised, decimals small',
)
SMALL_SYMBOL = ("battery.layout", VOLTS, "symbol battery, sized 6 mm")
LOW_SPEED = ("road.layout", "text 90 arcmin", "text 40 arcmin")


def limited(name: str, limit: float) -> Change:
    """The limit as a design sets it."""
    new = f'dbc: car.dbc\nlimits: {{"{name}": {{limit: {limit!r}, because: of this test}}}}'
    return "design.yaml", "dbc: car.dbc", new


def told(code: str, words: str, *changes: Change) -> list[Finding]:
    """What of a code is found in the changed design of which the message has the words."""
    with tempfile.TemporaryDirectory() as folder:
        found = found_in(Path(folder), spoiled(*changes))
    return [item for item in found if item.code == code and words in item.message]


def text(said: str) -> list[Change]:
    return [("road.layout", "text 30 arcmin", said)]


def row(said: str) -> list[Change]:
    return [(file, "rows 14 mm", f"rows {said}") for file in ("road.layout", "battery.layout")]


def margin(said: str) -> list[Change]:
    rows = "    rows 14 mm, 1, 1"
    return [(file, rows, f"{rows}\n    {said}") for file in ("road.layout", "battery.layout")]


def dimmed(said: str) -> list[Change]:
    return [("themes.yaml", "luminance: 36", f"luminance: {36 * float(said) / 100!r}")]


def sized(said: str) -> list[Change]:
    return [("battery.layout", "sized 6 mm", said)]


def stale(said: str) -> list[Change]:
    return [("signals.yaml", "from: Vehicle.Speed, stale: 500 ms", f"from: Vehicle.Speed, {said}")]


@pytest.mark.parametrize(
    ("code", "words", "name", "between", "spoil", "paste", "mend"),
    [
        ("C401", "160 km/h", "text floor", (31, 60), [SMALL_TEXT], r"text [\d.]+ arcmin", text),
        ("C402", "km/h", "text acceptable", (31, 60), [SMALL_TEXT], r"text [\d.]+ arcmin", text),
        ("C402", "the decimals", "text acceptable", (22, 45), [SMALL_DECIMALS], r"text [\d.]+ arcmin", text),
        ("C403", "km/h", "text comfortable", (31, 60), [SMALL_TEXT], r"text [\d.]+ arcmin", text),
        ("C410", "", "touch size", (14.2, 20), [], r"[\d.]+ mm", row),
        ("C412", "", "touch edge", (3, 6), [LOW_SPEED], r"margin [\d.]+ mm", margin),
        ("C424", "", "night peak", (5, 20), [], r"[\d.]+(?= %)", dimmed),
        ("C425", "", "night mean", (0.2, 0.5), [], r"[\d.]+(?= %)", dimmed),
        ("C445", "the symbol", "pictogram size", (45, 70), [SMALL_SYMBOL], r"sized [\d.]+ mm", sized),
        ("C456", "", "stale of speed", (1, 499), [], r"stale: \d+ ms", stale),
    ],
)
def test_the_pasted_remedy_mends(
    code: str,
    words: str,
    name: str,
    between: tuple[float, float],
    spoil: list[Change],
    paste: str,
    mend: Callable[[str], list[Change]],
) -> None:
    @settings(max_examples=4)
    @given(st.floats(*between))
    def held(limit: float) -> None:
        found = told(code, words, limited(name, limit), *spoil)
        assert found, limit
        for item in found:
            measured, _, against = held_against(item).partition(", limit ")
            assert measured != against
        said = re.search(paste, found[0].remedy or "")
        assert said is not None, found[0]
        left = told(code, words, limited(name, limit), *spoil, *mend(said[0]))
        assert left == [], (limit, found[0])

    held()
