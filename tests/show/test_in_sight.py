"""What is said of the screen that a driver had in sight."""

from __future__ import annotations

from pathlib import Path

from hmic.compile.compiling import Compiled, compile_design
from hmic.runtime.retrace import Sighting
from hmic.show.in_sight import why

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
