"""A design as one page that opens from a file: pack, player, values and report, without outside requests.

The page paints with the player itself, from the pack's own bytes; values are raw values of every channel, so
that each screen can be looked at at each moment.
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from hmic import __version__
from hmic.compile.compiling import Compiled
from hmic.foreign_text import in_html as escape
from hmic.foreign_text import visible
from hmic.model.actions import GoTo
from hmic.model.samples import doubtful_values, sample_values
from hmic.pack.records import identity
from hmic.player.written import MODULE
from hmic.runtime.retrace import Moment
from hmic.show import report
from hmic.show.contact_sheet import DOUBTS
from hmic.show.screens import fault_values, raw_values

PAGE = Path(__file__).parent / "page"
SCRIPTS = ("player.js", "choosing.js", "share.js")
STEP = 0.05
"""Seconds between two moments of a recording: what a display is sent twenty times a second at most."""


@dataclass(frozen=True)
class Recording:
    """A part of a log or record from ``begin`` (s) on: a moment each ``STEP``. ``name`` is for the reader."""

    name: str
    begin: float
    moments: Sequence[Moment]


def page(compiled: Compiled, recording: Recording | None) -> str:
    """The whole page. The same design and recording give the same bytes."""
    samples = sample_values(compiled.design)
    looks = {"samples": raw_values(compiled, samples)}
    looks["faults"] = raw_values(compiled, fault_values(compiled, samples))
    for name, doubt in DOUBTS:
        looks[name] = raw_values(compiled, doubtful_values(compiled.design, doubt))
    moments = [] if recording is None else recording.moments
    data = {
        "pack": compiled.pack,
        "player": MODULE.read_bytes(),
        "looks": changes(looks.values()),
        "moments": changes(moment.raw for moment in moments),
    }
    parts = {
        "NAME": escape(compiled.design.name),
        "SOURCE": _source(recording),
        "STYLE": "".join((PAGE / name).read_text(encoding="utf-8") for name in ("page.css", "share.css")),
        "SCRIPT": "".join((PAGE / name).read_text(encoding="utf-8") for name in SCRIPTS),
        "FACTS": _in_script(_known(compiled, list(looks), recording)),
        "DATA": "\n".join(
            f'<script type="application/octet-stream" id="{name}-data">{_packed(each)}</script>'
            for name, each in data.items()
        ),
        "REPORT": report.contents(compiled, pictures=False),
        "MADE": escape(f"hmic {__version__}; pack {identity(compiled.pack).hex()}"),
    }
    text = (PAGE / "share.html").read_text(encoding="utf-8")
    # One pass over the page's own text, so that nothing a design says is taken for a place to fill.
    pieces = text.split("%%")
    return "".join(parts[piece] if number % 2 else piece for number, piece in enumerate(pieces))


def changes(states: Iterable[Sequence[int]]) -> bytes:
    """Raw values, u16 each, state after state: how many differ from the state before (u16; at first all are
    0), then the number (u16) and value of each of them; little endian."""
    out = bytearray()
    before: Sequence[int] = ()
    for state in states:
        before = before or [0] * len(state)
        pairs = [(at, new) for at, (old, new) in enumerate(zip(before, state, strict=True)) if old != new]
        out += struct.pack(f"<{1 + 2 * len(pairs)}H", len(pairs), *(each for pair in pairs for each in pair))
        before = state
    return bytes(out)


def facts(compiled: Compiled) -> dict[str, object]:
    """What a page has to know of the panel (mm a pixel across and down, mm to the eye), the screens and how
    one leads to another, and the themes."""
    drawing, arranged, glass = compiled.arranged.drawing, compiled.arranged, compiled.design.panel
    names = [screen.name for screen in drawing.screens]
    screens = []
    for screen, drawn in zip(arranged.screens, drawing.screens, strict=True):
        ways = [
            [*zone.box, names.index(does.action.screen)]
            for zone, does in zip(drawn.zones, screen.zones, strict=True)
            if isinstance(does.action, GoTo)
        ]
        swipes = {side.value: names.index(to) for side, to in screen.swipes}
        screens.append({"name": visible(screen.name), "ways": ways, "swipes": swipes})
    return {
        "width": drawing.width,
        "height": drawing.height,
        "depth": drawing.depth,
        "panel": {
            "across": glass.pitch_across,
            "down": glass.pitch,
            "distance": glass.eye_distance,
            "round": glass.round,
        },
        "channels": len(drawing.channels),
        "screens": screens,
        "themes": [visible(theme.name) for theme in drawing.themes],
        "start": drawing.start,
        "theme": drawing.first_theme,
    }


def _known(compiled: Compiled, looks: Sequence[str], recording: Recording | None) -> dict[str, object]:
    known = facts(compiled) | {"looks": list(looks), "step": STEP}
    if recording is not None:
        sight = [moment.sightings[-1].screen for moment in recording.moments]
        themes = [moment.theme for moment in recording.moments]
        known |= {"begin": recording.begin, "inSight": sight, "inTheme": themes}
    return known


def _source(recording: Recording | None) -> str:
    if recording is None:
        return "Sample values, not a vehicle's"
    return f"Recorded, not live: {escape(recording.name)}"


def _packed(data: bytes) -> str:
    return base64.b64encode(zlib.compress(data, 9)).decode("ascii")


def _in_script(facts: object) -> str:
    """JSON that no text in it can leave."""
    return json.dumps(facts, separators=(",", ":")).replace("<", "\\u003c")
