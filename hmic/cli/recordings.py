"""Recordings and descriptions as commands take them: ``[BUS=]FILE``, of a recording also ``#CHANNEL``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.runtime.wiring import Wire, part_of

if TYPE_CHECKING:
    from hmic.sources.frame import Row
    from hmic.sources.log import Log
    from hmic.survey.describe import Descriptions
    from hmic.survey.facts import Survey
    from hmic.survey.survey import Recording


def open_recordings(given: Sequence[Wire]) -> tuple[list[Log], list[Recording]]:
    """The logs, and what a survey takes of each. Raises DesignError: R701 to R704."""
    from hmic.sources.log import Log

    logs: list[Log] = []
    recordings: list[Recording] = []
    for wire in given:
        path, channel = part_of(wire.what)
        log = Log(path)
        logs.append(log)
        rows = log.rows() if channel is None else _of_channel(log, channel)
        recordings.append((log.name, rows, wire.bus, log.timed))
    return logs, recordings


def _of_channel(log: Log, channel: str) -> Iterator[Row]:
    return (row for row in log.rows() if row[4] == channel)


def surveyed(
    descriptions: Sequence[tuple[str, Path]], given: Sequence[Wire]
) -> tuple[Descriptions, Survey | None]:
    """Descriptions with their buses and, with logs, what those show; what was wrong with any is told."""
    from hmic.survey.describe import Descriptions
    from hmic.survey.survey import survey

    described = Descriptions([path for _, path in descriptions], [bus for bus, _ in descriptions])
    logs, recordings = open_recordings(given)
    found = survey(recordings, described) if recordings else None
    show([*described.findings, *(finding for log in logs for finding in log.findings)], {})
    return described, found
