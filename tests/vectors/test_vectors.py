"""The vectors, on the software display and on the player; and they are what the writer writes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.pack.reader import read
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from tests.tools import vectors
from tests.tools.player_display import PlayerDisplay

FOLDER = Path(__file__).parent
FRAMES = sorted(FOLDER.glob("*.frames.json"))
SESSIONS = sorted(FOLDER.glob("*.session.json"))
ENDS = pytest.mark.parametrize("made", [Display, PlayerDisplay], ids=["software", "player"])


def loaded(path: Path) -> dict[str, Any]:
    vector: dict[str, Any] = json.loads(path.read_text())
    return vector


def test_there_are_vectors() -> None:
    assert len(FRAMES) >= 4 and len(SESSIONS) >= 12


def test_they_are_what_the_writer_writes() -> None:
    written = vectors.files()
    assert {path.name for path in FOLDER.iterdir() if path.suffix in (".json", ".pack")} == set(written)
    changed = [name for name, data in written.items() if (FOLDER / name).read_bytes() != data]
    assert not changed, "look at what changed, then: python -m tests.tools.vectors"


@pytest.mark.parametrize("path", FRAMES, ids=lambda path: path.stem)
def test_frames(path: Path) -> None:
    vector = loaded(path)
    painter = Painter(read((FOLDER / vector["pack"]).read_bytes()))
    for each in vector["moments"]:
        moment = Moment(each["screen"], each["theme"], tuple(each["raw"]), each["clock"])
        assert vectors.digest(painter.paint(moment).tobytes()) == each["frame"]


@ENDS
@pytest.mark.parametrize("path", SESSIONS, ids=lambda path: path.stem)
def test_sessions(path: Path, made: Any) -> None:
    vector = loaded(path)
    glass = Glass(vector["width"], vector["height"], vector["depth"])
    display = made(MemoryFlash(), glass, vector["nonce"], vector["fastest"])
    if vector["pack"] is not None:
        assert display.install((FOLDER / vector["pack"]).read_bytes())
    by_time: dict[int, list[list[Any]]] = {}
    for event in vector["events"]:
        by_time.setdefault(event[0], []).append(event[1:])
    for now in range(vector["turn"], vector["end"] + 1, vector["turn"]):
        events = by_time.get(now, [])
        display.receive(b"".join(bytes.fromhex(each[1]) for each in events if each[0] == "in"), now / 1000)
        said = b"".join(bytes.fromhex(each[1]) for each in events if each[0] == "out")
        assert display.outgoing(now / 1000) == said, now
        for kind, *facts in events:
            seconds = now / 1000
            match kind:
                case "press":
                    display.press(*facts, seconds)
                case "release":
                    display.release(*facts, seconds)
                case "rate":
                    assert display.take_rate() == facts[0]
                case "shows":
                    moment = display.moment(seconds)
                    shown = {"screen": moment.screen, "theme": moment.theme, "raw": list(moment.raw)}
                    assert shown == facts[0], now
                case "frame":
                    assert vectors.digest(display.image(seconds).tobytes()) == facts[0], now
    identity = display.identity
    assert (None if identity is None else identity.hex()) == vector["identity"]
