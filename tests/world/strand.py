"""A thread of a simulated process: it runs while the world waits for it, and waiting hands the time back."""

from __future__ import annotations

from collections.abc import Callable
from threading import Semaphore, Thread
from typing import Any

Condition = Callable[[], bool]


class Killed(BaseException):
    """The strand's process is gone."""


class Strand:
    """Stands for ``Thread``. Only one of all strands and the world runs at a time, so a world is lived alike
    twice. ``due`` is when it goes on, or earlier once ``until`` is so."""

    def __init__(self, host: Any, target: Callable[[], None]) -> None:
        self.host, self.world = host, host.world
        self.due: float = self.world.now
        self._until: Condition | None = None
        self._target = target
        self._done = self._killed = False
        self._fault: BaseException | None = None
        self._go, self._back = Semaphore(0), Semaphore(0)
        self._thread = Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """It may run from now on."""
        self._thread.start()
        self.world.strands.append(self)

    def is_alive(self) -> bool:
        """Whether it has not ended."""
        return not self._done

    def join(self, timeout: float) -> None:
        """The caller waits for its end."""
        self.world.block(timeout, lambda: self._done)

    def next_due(self) -> float:
        """When it goes on."""
        ready = self._until is not None and self._until()
        return max(self.world.now if ready else self.due, self.host.frozen_until)

    def go_on(self) -> None:
        """Runs until it waits again, or ends."""
        self.world.strand = self
        self._go.release()
        self._back.acquire()
        self.world.strand = None
        if self._done:
            self.world.strands.remove(self)
            if self._fault is not None:
                raise self._fault

    def rest(self, seconds: float, until: Condition | None) -> None:
        """In the strand: others go on meanwhile."""
        self.due, self._until = self.world.now + seconds, until
        self._back.release()
        self._go.acquire()
        if self._killed:
            raise Killed

    def kill(self) -> None:
        """Ends it where it waits."""
        if not self._done:
            self._killed = True
            self.go_on()

    def _run(self) -> None:
        self._go.acquire()
        try:
            if not self._killed:
                self._target()
        except Killed:
            pass
        except BaseException as fault:
            self._fault = fault
        self._done = True
        self._back.release()
