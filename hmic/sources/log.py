"""Logs of frames, whatever their kind."""

from __future__ import annotations

import math
from collections.abc import Collection, Generator, Iterator
from itertools import chain
from pathlib import Path

from hmic.diagnostics import DesignError, Finding, Severity, error, warning
from hmic.sources.frame import Frame, Row
from hmic.sources.kinds import Lines, open_log
from hmic.sources.log_time import LogTime
from hmic.sources.text import NO_TIMES


class Log:
    """The data frames of a log, in the order written; iterate once.

    Times are seconds since the first frame and never run backwards (``LogTime``). What can be read is
    given; ``findings`` says what could not (R704, R712, R713), what the log leaves open (R719), where its
    times jump (R716), and which channel it does not have (R768). Remote and error frames are left out.
    ``form`` is what kind of log it is, ``timed`` whether it has times, and ``began`` the stamp of its first
    frame by its own clock.
    """

    def __init__(self, path: Path) -> None:
        """Raises DesignError: R701 to R704, when not one frame can be had."""
        self.findings: list[Finding] = []
        self.name = path.name
        self._count = 0
        self._timeless = 0
        self._last = 0.0
        self.began = 0.0
        try:
            self._reader, self._file = open_log(path)
        except FileNotFoundError as fault:
            message = f"'{self.name}' cannot be opened: there is no such file"
            raise DesignError([error("R701", message, None, "check the path")]) from fault
        except OSError as fault:
            message = f"'{self.name}' cannot be opened: {fault.strerror or fault}"
            raise DesignError([error("R701", message, None, "check the path and who may read it")]) from fault
        except DesignError:
            raise
        except Exception as fault:
            # Unpacking what is spoilt raises in many kinds (EOFError, zlib.error, BadGzipFile).
            raise DesignError([self._broken(fault)]) from fault
        self.form = self._reader.form
        self.timed = NO_TIMES not in self._reader.open_points
        self.findings += [self._left_open(point) for point in self._reader.open_points]
        self._reading = self._read()
        first = next(self._reading, None)
        if first is None:
            broken = any(finding.severity is Severity.ERROR for finding in self.findings)
            raise DesignError(self.findings if broken else [*self.findings, self._empty()])
        self._rows = chain((first,), self._reading)

    def __iter__(self) -> Iterator[Frame]:
        for row in self.rows():
            yield Frame(*row)

    def rows(self, channels: Collection[str] | None = None) -> Iterator[Row]:
        """The frames as plain tuples, in the order of the fields of ``Frame``: a third faster. With
        ``channels`` those of these alone; one that the log does not have is told at its end."""
        try:
            yield from self._rows if channels is None else self._of(channels)
        finally:
            self._reading.close()

    def _of(self, channels: Collection[str]) -> Iterator[Row]:
        met: dict[str, None] = {}
        for row in self._rows:
            channel = row[-1]
            if channel is not None:
                met[channel] = None
                if channel in channels:
                    yield row
        known = ", ".join(sorted(met)) or "none that has a name"
        for channel in channels:
            if channel not in met:
                message = f"'{self.name}' has no frames of channel '{channel}'"
                self.findings.append(warning("R768", message, None, f"its channels: {known}"))

    def _read(self) -> Generator[Row, None, None]:
        times = LogTime()
        finite = math.isfinite
        try:
            for stamp, identifier, extended, data, channel in self._reader.rows():
                if not finite(stamp):
                    self._timeless += 1
                    continue
                at, jump = times(stamp, channel)
                if jump and times.jumps == 1:
                    self.findings.append(self._jumped(self._last, jump))
                if not self._count:
                    self.began = stamp
                self._count += 1
                self._last = at
                yield at, identifier, extended, data, channel
        except Exception as fault:
            # Unpacking and the libraries fail in their own ways (BrokenOff, EOFError, zlib.error,
            # sqlite3.Error, MdfException, OSError); all mean that the log cannot be read further.
            self.findings.append(self._broken(fault))
        finally:
            self._file.close()
        if isinstance(self._reader, Lines) and self._reader.cut is not None:
            self.findings.append(self._cut())
        if self._reader.bad or self._timeless:
            self.findings.append(self._left_out())

    def _empty(self) -> Finding:
        return error("R703", f"'{self.name}' holds no frames", None, "record again, or choose another log")

    def _place(self) -> str:
        return f"after frame {self._count}, at {self._last:.3f} s" if self._count else "at its start"

    def _broken(self, fault: Exception) -> Finding:
        reason = " ".join(str(fault).split()) or type(fault).__name__
        message = f"'{self.name}' cannot be read further {self._place()}: {reason}"
        return error("R704", message, None, "what came before was used; record or copy the log again")

    def _cut(self) -> Finding:
        message = (
            f"'{self.name}' does not end with a line end; its last line, after frame {self._count}, may be "
            "cut and was left out"
        )
        return warning("R712", message, None, "if the line is whole, put a line end after it")

    def _jumped(self, at: float, jump: float) -> Finding:
        way = f"{jump:.1f} s ahead" if jump > 0 else f"back by {-jump:.1f} s"
        message = f"the times of '{self.name}' jump after {at:.3f} s: {way}; that counts as no time"
        remedy = "further jumps are taken alike and not told; set the logger's clock before it records"
        return warning("R716", message, None, remedy)

    def _left_open(self, point: str) -> Finding:
        remedy = (
            "hold a period that you know against it, and name its columns as they are, such as 'time (ms)'"
        )
        return warning("R719", f"'{self.name}' is read as {self.form}; {point}", None, remedy)

    def _left_out(self) -> Finding:
        count, first = self._reader.bad + self._timeless, self._reader.first_bad
        which = f"; the first is {first}" if first else " (without a time)"
        what = "a line or frame" if count == 1 else f"{count} lines or frames"
        message = f"'{self.name}' has {what} that cannot be read{which}"
        return warning("R713", message, None, "they were left out; record or copy the log again")
