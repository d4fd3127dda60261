"""One run at a time writes a record or keeps sums: whoever holds the lock beside the file.

The lock is a file of its own, since what it guards is renamed. It is let go of by the end of the process,
however that comes, and stays behind empty: removed, two could hold what they take for the same one.
"""

from __future__ import annotations

import fcntl
import os
from contextlib import suppress
from pathlib import Path

from hmic.plain_files import open_to_write


class HeldByAnother(Exception):
    """Another process holds it."""


class Hold:
    """Holds ``path`` until ``close``. Raises ``HeldByAnother``, or OSError where no lock can be made; where
    the file system knows no locks, nothing is held and nobody is kept out."""

    def __init__(self, path: Path) -> None:
        lock = path.with_name(f".{path.name}.lock")
        self._descriptor: int | None = open_to_write(lock, os.O_RDWR, 0o644)
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self.close()
            raise HeldByAnother from None
        except OSError:
            self.close()

    def close(self) -> None:
        """Lets go of it; once is enough."""
        descriptor, self._descriptor = self._descriptor, None
        if descriptor is not None:
            with suppress(OSError):
                os.close(descriptor)
