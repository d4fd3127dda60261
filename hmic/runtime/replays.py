"""What can be played again: a log of frames or the record of a run, told by its content."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.diagnostics import Finding, warning
from hmic.plain_files import open_plain
from hmic.runtime.decoding import Arrival, Decoder
from hmic.runtime.recording import SUFFIX, Entry, RecordLog
from hmic.sources.frame import Frame
from hmic.sources.log import Log

if TYPE_CHECKING:
    from hmic.runtime.sources import Frames

_RECORD = b'{"record":'


def open_replay(path: Path) -> Log | RecordLog:
    """A record or a log. Raises DesignError: R701 to R704, R752."""
    return RecordLog(path) if path.suffix == SUFFIX or _begins_as_record(path) else Log(path)


def _begins_as_record(path: Path) -> bool:
    try:
        with open_plain(path) as file:
            return file.read(len(_RECORD)) == _RECORD
    except OSError:
        # Opening it as a log says why.
        return False


def entries_of(opened: Log | RecordLog) -> Iterator[Entry]:
    """Everything that was recorded, in order: of a log its frames, of a record also what was shown."""
    return iter(opened) if isinstance(opened, Log) else opened.entries()


def of_no_message(decoder: Decoder, frames: int, name: str) -> list[Finding]:
    """Whether none of the ``frames`` of a log or record concerned the design."""
    if decoder.known or not frames:
        return []
    message = f"none of the {frames} frames of '{name}' is of a message of the design"
    return [warning("R711", message, None, "check that the log and the DBC belong together")]


class Repeated:
    """A log played again and again, a tenth of a second between its end and its start."""

    def __init__(self, opened: Callable[[], Frames]) -> None:
        """Raises what opening the log does."""
        self._opened = opened
        self._log = self._first = opened()
        self.name = self._log.name

    @property
    def findings(self) -> Sequence[Finding]:
        """Of the first round; the others find the same."""
        return self._first.findings

    def __iter__(self) -> Iterator[Frame | Arrival]:
        start = 0.0
        while True:
            last = 0.0
            for item in self._log:
                last = item.at
                yield replace(item, at=start + item.at)
            start += last + 0.1
            self._log = self._opened()
