"""Frame logs, read with python-can."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hmic.diagnostics import DesignError, Finding, Severity, error, warning
from hmic.plain_files import open_plain
from hmic.runtime.clock import LogTime
from hmic.runtime.decoding import Arrival, Frame

if TYPE_CHECKING:
    from hmic.runtime.sources import Frames

SUFFIXES = (".asc", ".blf", ".csv", ".db", ".log", ".mf4", ".trc")
_TEXT = (".asc", ".csv", ".log", ".trc")


class Log:
    """The data frames of a log, in the order written; iterate once.

    Times are seconds since the first frame and never run backwards (``LogTime``). What can be read is
    given; ``findings`` says what could not (R704, R712, R713), and where its times jump (R716).
    Remote and error frames are left out.
    """

    def __init__(self, path: Path) -> None:
        """Raises DesignError: R701 to R704, when not one frame can be had."""
        self.findings: list[Finding] = []
        self.name = path.name
        self._damaged = 0
        self._count = 0
        self._last = 0.0
        self._reading = self._read(path)
        first = next(self._reading, None)
        if first is None:
            broken = any(finding.severity is Severity.ERROR for finding in self.findings)
            raise DesignError(self.findings if broken else [*self.findings, self._empty()])
        self._frames = chain((first,), self._reading)

    def __iter__(self) -> Iterator[Frame]:
        try:
            yield from self._frames
        finally:
            self._reading.close()

    def _empty(self) -> Finding:
        return error("R703", f"'{self.name}' holds no frames", None, "record again, or choose another log")

    def _read(self, path: Path) -> Generator[Frame, None, None]:
        reader = self._open(path)
        times = LogTime()
        held: Frame | None = None
        stamp = 0.0
        try:
            for message in reader:
                if message.is_remote_frame or message.is_error_frame:
                    continue
                if len(message.data) < message.dlc or not math.isfinite(message.timestamp):
                    self._damaged += 1
                    continue
                since = float(message.timestamp)
                # Some text logs count each line's time from the one before; python-can gives it as is.
                relative = getattr(reader, "timestamps_format", None) == "relative"
                stamp = stamp + max(0.0, since) if relative else since
                channel = None if message.channel is None else str(message.channel)
                at, jump = times(stamp, channel)
                if jump and times.jumps == 1:
                    self.findings.append(self._jumped(self._last if held is None else held.at, jump))
                if held is not None:
                    yield self._counted(held)
                identifier, extended = message.arbitration_id, message.is_extended_id
                held = Frame(at, identifier, extended, bytes(message.data), channel)
        except Exception as fault:
            # Each reader fails in its own ways (ValueError, IndexError, struct.error, zlib.error,
            # UnicodeDecodeError, OSError); all mean that the log cannot be read further.
            if held is not None:
                yield self._counted(held)
            self.findings.append(self._broken(fault))
        else:
            if held is not None and not _may_be_cut(path):
                yield self._counted(held)
            elif held is not None:
                self.findings.append(self._cut(held))
        finally:
            _close(reader)
        if self._damaged:
            self.findings.append(self._left_out())

    def _counted(self, frame: Frame) -> Frame:
        self._count += 1
        self._last = frame.at
        return frame

    def _place(self) -> str:
        return f"after frame {self._count}, at {self._last:.3f} s" if self._count else "at its start"

    def _broken(self, fault: Exception) -> Finding:
        reason = " ".join(str(fault).split()) or type(fault).__name__
        message = f"'{self.name}' cannot be read further {self._place()}: {reason}"
        return error("R704", message, None, "what came before was used; record or copy the log again")

    def _cut(self, frame: Frame) -> Finding:
        message = (
            f"'{self.name}' does not end with a line end; its last line, at {frame.at:.3f} s, may be cut and "
            "was left out"
        )
        return warning("R712", message, None, "if the line is whole, put a line end after it")

    def _jumped(self, at: float, jump: float) -> Finding:
        way = f"{jump:.1f} s ahead" if jump > 0 else f"back by {-jump:.1f} s"
        message = f"the times of '{self.name}' jump after {at:.3f} s: {way}; that counts as no time"
        remedy = "further jumps are taken alike and not told; set the logger's clock before it records"
        return warning("R716", message, None, remedy)

    def _left_out(self) -> Finding:
        message = f"'{self.name}' has {self._damaged} damaged frames, shorter than they say or without a time"
        return warning("R713", message, None, "they were left out; record or copy the log again")

    def _open(self, path: Path) -> Any:
        stem_suffixes = [suffix.lower() for suffix in path.suffixes]
        suffix = stem_suffixes[-1] if stem_suffixes else ""
        inner = stem_suffixes[-2] if suffix == ".gz" and len(stem_suffixes) > 1 else suffix
        if inner not in SUFFIXES:
            message = f"'{self.name}' is of no kind of log that can be read"
            remedy = "use one of " + ", ".join(SUFFIXES) + ", or one of the text kinds followed by .gz"
            raise DesignError([error("R702", message, None, remedy)])
        try:
            with open_plain(path) as file:
                empty = not file.read(1)
            if not empty:
                return python_can().LogReader(path)
        except FileNotFoundError as fault:
            message = f"'{self.name}' cannot be opened: there is no such file"
            raise DesignError([error("R701", message, None, "check the path")]) from fault
        except OSError as fault:
            message = f"'{self.name}' cannot be opened: {fault.strerror or fault}"
            raise DesignError([error("R701", message, None, "check the path and who may read it")]) from fault
        except ImportError as fault:
            message = f"'{self.name}' cannot be read: {fault}"
            raise DesignError([error("R702", message, None, "convert the log to .blf or .asc")]) from fault
        except Exception as fault:
            # As in _read: header errors come in every kind.
            raise DesignError([self._broken(fault)]) from fault
        raise DesignError([self._empty()])


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


def _may_be_cut(path: Path) -> bool:
    """Whether a text log lacks its last line end."""
    if path.suffix.lower() not in _TEXT:
        return False
    with open_plain(path) as file:
        file.seek(-1, 2)
        return file.read(1) not in (b"\n", b"\r")


def _close(reader: Any) -> None:
    try:
        reader.stop()
    except Exception:
        # A reader that already failed may fail again on closing; its finding has been kept.
        return


def python_can() -> Any:
    """python-can, imported when first needed (80 ms) and kept from writing its log to the terminal:
    what goes wrong is told in findings."""
    import can

    logging.getLogger("can").addHandler(logging.NullHandler())
    return can
