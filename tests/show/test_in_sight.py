"""What is said of the screen that a driver had in sight."""

from __future__ import annotations

from pathlib import Path

import hypothesis.strategies as st
from hypothesis import example, given

from hmic.compile.compiling import Compiled, compile_design
from hmic.runtime.retrace import Sighting
from hmic.show.in_sight import clock_text, why

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"


def test_a_screen_that_has_given_way_is_told() -> None:
    compiled = compile_design(DUNLIN)
    assert isinstance(compiled, Compiled)
    names = [screen.name for screen in compiled.arranged.screens]
    drive, stop = names.index("drive"), names.index("stop")
    turns = [Sighting(0.0, drive, ()), Sighting(5.0, stop, (0, 1)), Sighting(9.0, drive, ())]
    told = why(compiled, names, turns)
    assert "'drive', the start screen, again" in told
    assert "'stop' was from 0:05.00 to 0:09.00, for `pack.fault` and `motor.fault`" in told


@example(599.9957)
@given(st.floats(0, 1e7))
def test_a_time_is_never_told_later_than_it_is(at: float) -> None:
    minutes, rest = clock_text(at).split(":")
    assert len(rest) == 5 and 0 <= float(rest) < 60
    assert -1e-6 <= at - (60 * int(minutes) + float(rest)) < 0.011
