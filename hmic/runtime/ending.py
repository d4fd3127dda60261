"""How a run is told to end: a signal asks, and the loop ends itself at the end of its turn.

An exception raised by a signal comes wherever the program stands, also while the sums are being written.
"""

from __future__ import annotations

import signal
import threading
from types import FrameType
from typing import Any


class Ending:
    """While it is entered, SIGINT, SIGTERM and SIGHUP only set ``asked``, however often they come. One that
    was ignored (``nohup``) stays so. Elsewhere than in the main thread it hears nothing.

    A process that was asked to end has nothing left to do after it: what comes later is ignored, so that
    its exit code still tells how the run went.
    """

    def __init__(self) -> None:
        self.asked = False
        self._before: dict[signal.Signals, Any] = {}

    def __enter__(self) -> Ending:
        if threading.current_thread() is threading.main_thread():
            for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
                if signal.getsignal(number) is not signal.SIG_IGN:
                    self._before[number] = signal.signal(number, self._ask)
        return self

    def __exit__(self, *fault: object) -> None:
        for number, handler in self._before.items():
            signal.signal(number, signal.SIG_IGN if self.asked else handler)

    def _ask(self, number: int, frame: FrameType | None) -> None:
        self.asked = True
