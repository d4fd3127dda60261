"""What a thread hands to the loop: a bounded queue that the loop can wait on."""

from __future__ import annotations

import socket
from collections import deque
from contextlib import suppress
from threading import Lock
from typing import Generic, TypeVar

Item = TypeVar("Item")

ROOM = 4096
"""Items that wait at most: a second of a flooded bus of 500 kbit/s."""


class Inbox(Generic[Item]):
    """Filled by one thread, emptied by another. When it is full the oldest goes, and ``lost`` counts it:
    the newest value of a signal is the one that matters.

    ``descriptor`` can be read while something is there. It is a socket, which every system can wait on.
    """

    def __init__(self, room: int = ROOM) -> None:
        self.lost = 0
        self._items: deque[Item] = deque(maxlen=room)
        self._lock = Lock()
        self._told, self._teller = socket.socketpair()
        self._told.setblocking(False)
        self._teller.setblocking(False)

    def put(self, item: Item) -> None:
        """Adds one; never waits."""
        with self._lock:
            self.lost += len(self._items) == self._items.maxlen
            if not self._items:
                self._tell()
            self._items.append(item)

    def take(self, most: int) -> list[Item]:
        """The oldest ones, ``most`` of them at most."""
        with self._lock:
            taken = [self._items.popleft() for _ in range(min(most, len(self._items)))]
            if taken and not self._items:
                with suppress(OSError):
                    self._told.recv(16)
        return taken

    def __len__(self) -> int:
        return len(self._items)

    def descriptor(self) -> int | None:
        """What can be waited on; None once it is closed."""
        number = self._told.fileno()
        return number if number >= 0 else None

    def close(self) -> None:
        """Nobody waits on it any more; what is still put in is kept, within bounds, and tells nobody."""
        with self._lock:
            self._told.close()
            self._teller.close()

    def _tell(self) -> None:
        # Closed, or told already.
        with suppress(OSError):
            self._teller.send(b"\0")
