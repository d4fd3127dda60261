"""Recordings and descriptions as commands take them: ``[BUS=]FILE``, of a recording also ``#CHANNEL``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.runtime.wiring import Wire, part_of, wires

if TYPE_CHECKING:
    from hmic.diagnostics import Finding
    from hmic.model.design import Design
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
        rows = log.rows(None if channel is None else (channel,))
        recordings.append((log.name, rows, wire.bus, log.timed))
    return logs, recordings


def descriptions_of(design: Design, absent: Mapping[str, float] | None = None) -> Descriptions:
    """The descriptions of a design's buses and shared parts; ``absent`` are its values for none."""
    from hmic.survey.describe import Descriptions

    files = design.descriptions
    return Descriptions(
        list(files.values()), list(files), absent=absent, on=design.on, j1939=design.j1939
    )


def surveyed(described: Descriptions, given: Sequence[Wire]) -> Survey | None:
    """With logs, what those show; what was wrong with any is told."""
    from hmic.survey.survey import survey

    logs, recordings = open_recordings(given)
    found = survey(recordings, described) if recordings else None
    show([*described.findings, *(finding for log in logs for finding in log.findings)], {})
    return found


def held_against(design: Design, given: Sequence[str]) -> list[Finding]:
    """What the recordings given to ``--log`` show otherwise than the design says, and what was wrong with
    them. Raises DesignError: R701 to R704, R763 to R766."""
    from hmic.survey.against_design import absent, against_design
    from hmic.survey.survey import survey

    recorded = wires(design, given, "--log")
    logs, recordings = open_recordings(recorded)
    described = descriptions_of(design, absent(design))
    buses = {wire.bus for wire in recorded}
    found = against_design(design, described, survey(recordings, described), buses)
    return [*(finding for log in logs for finding in log.findings), *found]
