"""``hmic run`` as a process of a world: put together by the command itself, its loop turned by the world."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import resource
from collections.abc import Callable, Iterator
from typing import Any
from unittest import mock

import can

from hmic.diagnostics import DesignError
from tests.world.bus import Tap
from tests.world.line import HostEnd
from tests.world.strand import Strand

HELD_UP = 0.001
"""Seconds that the scheduler lets a process wait that has something to do."""
OF_RUN = ("asked_to_end", "clock")
"""What the command gives to the loop's turning, which is the world's, and not to the loop."""


class Taken(BaseException):
    """What the command has put together, at the moment at which its loop would start."""

    def __init__(self, given: dict[str, Any]) -> None:
        super().__init__()
        self.given = given


class Disk:
    """A thread that works for the disk: done at once, in the world's time."""

    def __init__(self, target: Callable[[], None], **_: Any) -> None:
        self._target = target

    def start(self) -> None:
        """Does it."""
        self._target()

    def is_alive(self) -> bool:
        """Never: it is done."""
        return False

    def join(self, timeout: float | None = None) -> None:
        """Nothing is left."""


class Host:
    """A run. ``refused`` is what ended it before it began."""

    def __init__(self, world: Any, number: int, words: list[str]) -> None:
        self.world, self.number = world, number
        self.end: HostEnd | None = None
        self.events: list[tuple[float, Any]] = []
        self.refused: tuple[Any, ...] = ()
        self.frozen_until = 0.0
        self.loop: Any = None
        self.sources: tuple[Any, ...] = ()
        self.attendants: tuple[Any, ...] = ()
        self.wakes = world.now
        self.taps: list[Tap] = []
        with self._process():
            try:
                self._start(words)
            except DesignError as refused:
                self.refused = tuple(refused.findings)
                self._is_gone()

    def _start(self, words: list[str]) -> None:
        from hmic.cli import run_command as command
        from hmic.runtime.run import Loop

        parser = argparse.ArgumentParser()
        command.add_arguments(parser)

        def taken(*given: Any, **named: Any) -> Any:
            keys = ("runtime", "open_line", "sources")
            raise Taken({**dict(zip(keys, given, strict=False)), **named})

        with (
            mock.patch("hmic.runtime.run.run", taken),
            mock.patch.object(command, "named_host", lambda _: self.world.bound()),
        ):
            try:
                command.run(parser.parse_args(words))
            except Taken as all_of_it:
                given = all_of_it.given
        tell = given.get("on_event")

        def on_event(event: Any) -> None:
            self.events.append((self.world.now, event))
            self.world.judge.host_said(self, event)
            if tell is not None:
                tell(event)

        self.sources, self.attendants = tuple(given["sources"]), tuple(given["attendants"])
        self.loop = Loop(**{**{key: given[key] for key in given if key not in OF_RUN}, "on_event": on_event})

    def turn(self) -> None:
        """One turn of the loop, if it is due."""
        loop = self.loop
        with self._process():
            seconds = loop.turn(self.world.now)
        now = self.world.now
        self.wakes = now + max(seconds, HELD_UP)

    def go_on(self, strand: Strand) -> None:
        """One of its threads runs, until it waits again."""
        with self._process():
            strand.go_on()
        self.hears()

    def hears(self) -> None:
        """Something has come that wakes it."""
        self.wakes = min(self.wakes, self.world.now + HELD_UP)

    @property
    def running(self) -> bool:
        """It turns."""
        return self.loop is not None and not self.loop.ended

    def stop(self) -> None:
        """It is told to end, and does so cleanly."""
        if self.loop is not None:
            with self._process():
                self.loop.close()
            self.loop = None

    def kill(self) -> None:
        """It is gone at once; its files are as they are."""
        if self.loop is not None:
            self._is_gone()
            self.loop = None

    def _is_gone(self) -> None:
        """Its threads end, its devices and files are closed by the system."""
        for strand in [each for each in self.world.strands if each.host is self]:
            strand.kill()
        for tap in self.taps:
            tap.shutdown()
        for source in self.sources:
            source.close()
        for attendant in self.attendants:
            # The end of a process lets go of its locks.
            for each in vars(attendant).values():
                if type(each).__name__ == "Hold":
                    each.close()

    @contextlib.contextmanager
    def _process(self) -> Iterator[None]:
        """Meanwhile it is this process that acts, and what it says goes nowhere."""
        world = self.world
        before, world.acting = world.acting, self
        try:
            with (
                contextlib.redirect_stdout(io.StringIO()),
                contextlib.redirect_stderr(io.StringIO()),
                _full() if world.disk_full else contextlib.nullcontext(),
            ):
                yield
        finally:
            world.acting = before


@contextlib.contextmanager
def boundary(world: Any) -> Iterator[None]:
    """The boundary of the processes of a world, ``world.acting`` the one of them that acts: CAN adapters, the
    port, threads, dice."""
    dice = os.urandom

    def opened(channel: str = "", **given: Any) -> Tap:
        found = next((each for each in world.channels if each.name == channel), None)
        if found is None:
            raise can.CanInitializationError("no such device")
        tap = Tap(world, found, given)
        world.acting.taps.append(tap)
        return tap

    def port(name: str, baud: int) -> HostEnd:
        if not world.line.port:
            raise DesignError([_gone()])
        number = world.acting.number
        world.acting.end = HostEnd(world.line, lambda: world.now, lambda: world.line_leads_to == number)
        return world.acting.end  # type: ignore[no-any-return]

    def urandom(size: int) -> bytes:
        return dice(size) if world.acting is None else world.dice.randbytes(size)

    with (
        mock.patch.object(can, "Bus", opened),
        mock.patch("hmic.link.serial_port.open_port", port),
        mock.patch("hmic.runtime.behind.Thread", Disk),
        mock.patch("hmic.runtime.listening.Thread", lambda target, **_: Strand(world.acting, target)),
        mock.patch.object(os, "urandom", urandom),
        # No event cuts the power of a host's disk, so nothing can tell.
        mock.patch.object(os, "fsync", lambda descriptor: None),
    ):
        yield


@contextlib.contextmanager
def _full() -> Iterator[None]:
    """No file can grow meanwhile."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def _gone() -> Any:
    from hmic.diagnostics import error

    return error("W640", "there is no such port", remedy="plug it in")
