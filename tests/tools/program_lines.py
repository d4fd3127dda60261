"""What a running program says, line by line."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Iterable


class Lines:
    """Reads a program's output in a thread until it ends."""

    def __init__(self, output: Iterable[str]) -> None:
        self._said: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read, args=(output,), daemon=True)
        self._reader.start()

    def _read(self, output: Iterable[str]) -> None:
        for line in output:
            self._said.put(line)

    def until(self, word: str, seconds: float) -> str:
        """The next line that holds a word. Raises AssertionError where none comes in time."""
        seen, end = [], time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                seen.append(self._said.get(timeout=0.1))
            except queue.Empty:
                continue
            if word in seen[-1]:
                return seen[-1]
        raise AssertionError(f"no '{word}' in {seen}")

    def join(self) -> None:
        """Waits for the end of the output."""
        self._reader.join()
