"""Frames a second and memory of a survey; with a folder of public recordings and descriptions also the share
that can be read, and every period and range against python-can and cantools.

    python -m tests.bench survey [FOLDER]
"""

from __future__ import annotations

import math
import resource
import statistics
import sys
import time
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import can
import cantools

from hmic.diagnostics import DesignError
from hmic.model.dbc import SUFFIXES
from hmic.sources.frame import Row
from hmic.sources.log import Log
from hmic.survey.describe import Descriptions
from hmic.survey.facts import FieldSeen, MessageSeen, Survey
from hmic.survey.survey import survey
from tests.tools.readable import description_said, log_said, share

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
ROUNDS = 12
"""Times that the example's ten minutes are gone through."""
LARGEST = 40_000
"""Frames of a recording that is held against cantools, which decodes some ten thousand a second."""


def main() -> None:
    """Prints."""
    _speed()
    if len(sys.argv) > 1:
        folder = Path(sys.argv[1])
        found = sorted(path for path in folder.rglob("*") if path.is_file())
        logs = [path for path in found if path.suffix.lower() not in SUFFIXES]
        descriptions = [path for path in found if path.suffix.lower() in SUFFIXES]
        share(logs, log_said)
        share(descriptions, description_said)
        _against_others(logs, [path for path in descriptions if path.suffix.lower() == ".dbc"])


def _speed() -> None:
    log = DUNLIN / "logs" / "ten_minutes.blf"

    def rows() -> Iterator[Row]:
        for turn in range(ROUNDS):
            yield from ((at + 600 * turn, *rest) for at, *rest in Log(log).rows())  # type: ignore[misc]

    begun = time.process_time()
    frames = sum(1 for _ in rows())
    reading = time.process_time() - begun
    begun = time.process_time()
    survey([("rounds", rows(), "", True)], Descriptions([DUNLIN / "dunlin.dbc"]))
    whole = time.process_time() - begun
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{frames} frames, 25 identifiers, 212 fields: {frames / whole:,.0f} frames/s of CPU time")
    print(f"reading: {100 * reading / whole:.0f} % of it, {frames / reading:,.0f} frames/s; {memory:.0f} MB")


def _against_others(logs: list[Path], dbcs: list[Path]) -> None:
    """Each recording that python-can reads too, with the description that explains most of it."""
    identifiers = {path: _identifiers(path) for path in dbcs}
    held = compared = 0
    for path in logs:
        frames = _by_library(path)
        if not frames:
            continue
        came = {(frame.arbitration_id, frame.is_extended_id) for frame in frames}
        best = max(dbcs, key=lambda each: len(identifiers[each] & came), default=None)
        if best is None or not identifiers[best] & came:
            continue
        log = Log(path)
        found = survey([(path.name, log.rows(), "", log.timed)], Descriptions([best]))
        counts = _compare(found, frames, best, path.suffix in (".asc", ".blf"))
        held += not counts["wrong"]
        compared += 1
        print(f"{path.name[-60:]} with {best.name[-40:]}: {dict(counts)}")
    print(f"{held} of {compared} recordings: every period and range as python-can and cantools have it")


def _identifiers(path: Path) -> set[tuple[int, bool]]:
    try:
        described = Descriptions([path])
    except DesignError:
        return set()
    return {(each.message.frame_id, each.message.is_extended_frame) for each in described.messages}


def _by_library(path: Path) -> list[Any]:
    """The data frames as python-can reads them; none where it does not, or where there are too many."""
    frames = []
    try:
        with can.LogReader(path) as reader:
            for message in reader:
                if not (message.is_remote_frame or message.is_error_frame):
                    frames.append(message)
                if len(frames) > LARGEST:
                    return []
        times = [frame.timestamp for frame in frames]
        # What it reads with times that jump is another matter.
        return frames if all(-1 <= after - before <= 60 for before, after in pairwise(times)) else []
    except Exception:
        return []


def _compare(found: Survey, frames: list[Any], dbc: Path, from_0: bool) -> Counter[str]:
    counts: Counter[str] = Counter()
    database = cantools.database.load_file(dbc, strict=False) if _loads(dbc) else None
    by_key: dict[tuple[str, int, bool], list[Any]] = {}
    for message in found.messages:
        by_key[message.bus, message.identifier, message.extended] = []
    buses = {key[0] for key in by_key}
    for frame in frames:
        # python-can counts the channels of ASC and BLF from 0, the files from 1.
        channel = str(int(frame.channel) + from_0) if from_0 else str(frame.channel)
        bus = next(iter(buses)) if len(buses) == 1 else channel
        by_key.setdefault((bus, frame.arbitration_id, frame.is_extended_id), []).append(frame)
    for message in found.messages:
        mine = by_key[message.bus, message.identifier, message.extended]
        counts["identifiers"] += 1
        if not _same_times(message, mine):
            counts["wrong"] += 1
            print(f"  times of {message.identifier:X}: {message.period}")
        if database is not None and message.name:
            for field, right in _fields(message, mine, database):
                counts["fields"] += 1
                if not right:
                    counts["wrong"] += 1
                    print(f"  {message.name}.{field.name}: {field.low} to {field.high}")
    return counts


def _loads(dbc: Path) -> bool:
    try:
        cantools.database.load_file(dbc, strict=False)
    except Exception:
        return False
    return True


def _same_times(message: MessageSeen, frames: list[Any]) -> bool:
    if message.count != len(frames):
        return False
    gaps = [max(0.0, after.timestamp - before.timestamp) for before, after in pairwise(frames)]
    if not gaps:
        return True
    low, high = statistics.median_low(gaps), statistics.median_high(gaps)
    near = low * 0.998 - 2e-6 <= message.period.median <= high * 1.002 + 2e-6
    return near and math.isclose(message.period.longest, max(gaps), rel_tol=1e-3, abs_tol=2e-6)


def _fields(message: MessageSeen, frames: list[Any], database: Any) -> Iterator[tuple[FieldSeen, bool]]:
    try:
        described = database.get_message_by_frame_id(message.identifier)
        decoded = [
            described.decode(bytes(frame.data), decode_choices=False, allow_truncated=True)
            for frame in frames
        ]
    except Exception:
        # cantools refuses messages whose fields overlap, and pages that it does not know.
        return
    for field in message.fields:
        values = [float(each[field.name]) for each in decoded if field.name in each]
        absent = [each.value for each in field.sentinels]
        rest = [value for value in values if not any(math.isclose(value, each) for each in absent)]
        right = len(values) == field.count and bool(rest) == (field.low is not None)
        if rest and field.low is not None and field.high is not None:
            right = right and math.isclose(field.low, min(rest), rel_tol=1e-9, abs_tol=1e-9)
            right = right and math.isclose(field.high, max(rest), rel_tol=1e-9, abs_tol=1e-9)
        yield field, right
