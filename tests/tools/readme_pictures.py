"""The pictures of README.md, each made by the command line:
``python -m tests.tools.readme_pictures`` writes them."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hmic.cli.designs import compile_or_stop
from hmic.cli.main import main as hmic
from hmic.paint.operations import STALE, Moment
from hmic.paint.painter import Painter

ROOT = Path(__file__).parents[2]
DUNLIN = str(ROOT / "layouts" / "dunlin")
LOG = str(ROOT / "layouts" / "dunlin" / "logs" / "ten_minutes.blf")
FOLDER = ROOT / "layouts" / "dunlin" / "pictures"
PLOVER = ROOT / "layouts" / "plover"

# Name -> moment of the log, screen, theme.
MOMENTS = {
    "drive-day": ("1:39", "drive", "day"),
    "drive-night": ("3:50", "drive", "night"),
    "cells-day": ("1:40", "cells", "day"),
    "charging-night": ("7:00", "charging", "night"),
    "chart-day": ("7:20", "chart", "day"),
    "coolant-stale": ("2:27", "coolant", "day"),
    "coolant-day": ("2:20", "coolant", "day"),
}


def main() -> None:
    for name, (at, screen, theme) in MOMENTS.items():
        words = ["--at", at, "--screen", screen, "--theme", theme, "--clock", "10:24"]
        assert hmic(["trace", DUNLIN, "--replay", LOG, *words, "--out", str(FOLDER / f"{name}.png")]) == 0
    silent()
    with tempfile.TemporaryDirectory() as place:
        words = ["--screen", "drive", "--theme", "day", "--set", "vehicle.speed=stale"]
        assert hmic(["preview", DUNLIN, "--out", place, *words]) == 0
        (Path(place) / "drive-day.png").replace(FOLDER / "drive-stale-speed.png")
        words = ["--screen", "motor", "--theme", "day", "--touch", "refused"]
        assert hmic(["preview", DUNLIN, "--out", place, *words]) == 0
        (Path(place) / "motor-day.png").replace(FOLDER / "motor-refused.png")
        plover(Path(place))


def plover(place: Path) -> None:
    """The round instrument at its own moments."""
    (PLOVER / "pictures").mkdir(exist_ok=True)
    for screen, theme in (("drive", "day"), ("energy", "night"), ("battery", "day")):
        words = ["--screen", screen, "--theme", theme]
        assert hmic(["preview", str(PLOVER), "--out", str(place), *words]) == 0
        (place / f"{screen}-{theme}.png").replace(PLOVER / "pictures" / f"{screen}-{theme}.png")


def silent() -> None:
    """The first screen on a display that hears nothing any more: every value is stale."""
    drawing = compile_or_stop(Path(DUNLIN)).arranged.drawing
    stale = (STALE,) * len(drawing.channels)
    day = [theme.name for theme in drawing.themes].index("day")
    Painter(drawing).paint(Moment(drawing.start, day, stale)).save(FOLDER / "drive-silent.png", optimize=True)


if __name__ == "__main__":
    main()
