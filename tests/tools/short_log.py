"""The first part of Dunlin's recording, for tests that need not read all ten minutes of it."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

LOG = Path(__file__).parents[2] / "layouts" / "dunlin" / "logs" / "ten_minutes.blf"
SECONDS = 100


@cache
def short_log() -> Path:
    """The first ``SECONDS`` of it, written by python-can."""
    import can

    folder = tempfile.mkdtemp(prefix="hmic-log-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = Path(folder) / LOG.name
    with can.LogReader(LOG) as whole, can.Logger(path) as part:
        begun = None
        for message in whole:
            begun = message.timestamp if begun is None else begun
            if message.timestamp - begun > SECONDS:
                break
            part.on_message_received(message)
    return path
