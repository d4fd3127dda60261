"""Logs and buses that python-can reads, and MF4 through asammdf, which is there or not."""

from __future__ import annotations

import gc
import importlib.util
import logging
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hmic.diagnostics import DesignError, error
from hmic.sources.frame import BrokenOff, Row


def python_can() -> Any:
    """python-can, imported when first needed (80 ms) and kept from writing its log to the terminal:
    what goes wrong is told in findings."""
    import can

    logging.getLogger("can").addHandler(logging.NullHandler())
    return can


class SqliteLog:
    """The data base that python-can writes frames into."""

    form = "data base of python-can"
    open_points: tuple[str, ...] = ()

    def __init__(self, path: Path) -> None:
        self.bad = 0
        self.first_bad = ""
        self._path = path

    def rows(self) -> Iterator[Row]:
        """Raises what python-can and sqlite3 do."""
        reader = python_can().SqliteReader(self._path)
        try:
            yield from _rows(reader)
        finally:
            reader.stop()


class MdfLog:
    """Frames of a bus in an MF4 file (ASAM MDF 4, bus logging)."""

    form = "MF4"
    open_points: tuple[str, ...] = ()

    def __init__(self, path: Path) -> None:
        """Raises DesignError: R702 without the package that reads it."""
        self.bad = 0
        self.first_bad = ""
        self._path = path
        if importlib.util.find_spec("asammdf") is None:
            message = f"'{path.name}' is an MF4 file, and the package that reads it is not installed"
            raise DesignError([error("R702", message, None, "pip install asammdf")])

    def rows(self) -> Iterator[Row]:
        """Raises BrokenOff, and what python-can and asammdf do."""
        reader = _mf4_reader(self._path)
        try:
            yield from _rows(reader)
        finally:
            reader.stop()


def _mf4_reader(path: Path) -> Any:
    python_can()
    from can.io.mf4 import MF4Reader

    logging.getLogger("asammdf").addHandler(logging.NullHandler())
    reason = ""
    told, sys.unraisablehook = sys.unraisablehook, lambda unraisable: None
    try:
        try:
            return MF4Reader(path)
        except Exception as fault:
            reason = str(fault) or type(fault).__name__
        # What asammdf began to open fails again as it is let go of, which would be printed as a traceback.
        gc.collect()
    finally:
        sys.unraisablehook = told
    raise BrokenOff(reason)


def _rows(reader: Any) -> Iterator[Row]:
    for message in reader:
        if message.is_remote_frame or message.is_error_frame:
            continue
        channel = None if message.channel is None else str(message.channel)
        data = bytes(message.data)
        yield float(message.timestamp), message.arbitration_id, message.is_extended_id, data, channel
