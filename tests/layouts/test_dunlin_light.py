"""The recorded drive goes through a tunnel: night in it, day before and after."""

from __future__ import annotations

from pathlib import Path

import can
import cantools

from hmic.model.load import load
from hmic.runtime.theming import Theming

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"


def test_the_theme_follows_the_tunnel() -> None:
    design, _ = load(DUNLIN)
    assert design is not None
    message = cantools.database.load_file(DUNLIN / "dunlin.dbc").get_message_by_name("Surroundings")
    theming = Theming(design.choose)
    names = [theme.name for theme in design.themes]
    changes: list[tuple[int, str]] = []
    with can.BLFReader(DUNLIN / "logs" / "ten_minutes.blf") as log:
        for frame in log:
            if frame.timestamp > 160:
                break
            if frame.arbitration_id == message.frame_id:
                light = float(message.decode(frame.data)["Light"])
                if theming.follow(lambda name, light=light: light, frame.timestamp):  # type: ignore[misc]
                    changes.append((round(frame.timestamp), names[theming.theme]))
    # Side lights come on at 118 s by the vehicle model's own account (README of the example). Until the
    # first reading, the theme is that of the night.
    assert changes == [(0, "day"), (120, "night"), (138, "day")]
