"""The one clock. hmic's modules get it in place of ``time``, and so do their default arguments."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FunctionType, ModuleType
from typing import Any

from hmic.runtime.vehicle_time import host_seconds

EPOCH = 1_700_000_000.0
LEAST_SLEEP = 0.0001
"""Seconds that the shortest sleep takes (common practice, no source): a caller that waits for a moment which
rounding puts just behind the present one must get there."""


class Clock(ModuleType):
    """Stands for the module ``time``. ``now`` are seconds since the world began; ``wall`` is how far the
    time of day is off from that. ``rest`` lets the world go on while a process sleeps."""

    def __init__(self, hour: float, rest: Callable[[float], None]) -> None:
        super().__init__("time")
        self.now = 0.0
        self.wall = 0.0
        self._hour = hour
        self._rest = rest

    def monotonic(self) -> float:
        """Seconds since the world began: a clock that is never set."""
        return self.now

    perf_counter = monotonic

    def time(self) -> float:
        """The wall clock, which is set now and then."""
        return EPOCH - EPOCH % 86400 + self._hour * 3600 + self.now + self.wall

    def minutes(self, at: float) -> float:
        """Since midnight by the wall clock as it is set now, at a moment of the world."""
        return (self._hour * 60 + (at + self.wall) / 60) % 1440

    def sleep(self, seconds: float) -> None:
        """The caller waits; the others do not."""
        self._rest(max(LEAST_SLEEP, seconds))

    def localtime(self, seconds: float | None = None) -> time.struct_time:
        """In a place at Greenwich."""
        return time.gmtime(self.time() if seconds is None else seconds)

    def strftime(self, form: str, when: Any = None) -> str:
        """As in ``time``."""
        return time.strftime(form, when or self.localtime())

    def __getattr__(self, name: str) -> Any:
        return getattr(time, name)


@contextmanager
def instead_of_time(clock: Clock) -> Iterator[None]:
    """hmic runs by ``clock`` meanwhile."""
    for room in ("runtime", "link", "cli", "wire", "display"):
        # What is imported only now would come with the true clock.
        package = importlib.import_module(f"hmic.{room}")
        for each in pkgutil.iter_modules(package.__path__, f"hmic.{room}."):
            importlib.import_module(each.name)
    swaps: dict[Any, Any] = {
        time.monotonic: clock.monotonic,
        host_seconds: clock.monotonic,
        time.sleep: clock.sleep,
        time.time: clock.time,
        time.perf_counter: clock.perf_counter,
    }
    undo: list[Callable[[], None]] = []
    for name, module in list(sys.modules.items()):
        if name.split(".")[0] != "hmic" or module is None:
            continue
        for key, value in list(vars(module).items()):
            if value is time:
                setattr(module, key, clock)
                undo.append(lambda module=module, key=key: setattr(module, key, time))
            elif inspect.isroutine(value) and value in swaps:
                setattr(module, key, swaps[value])
                undo.append(lambda module=module, key=key, value=value: setattr(module, key, value))
        for function in _functions(module):
            undo.extend(_swap_defaults(function, swaps))
    try:
        yield
    finally:
        for each in reversed(undo):
            each()


def _functions(module: ModuleType) -> Iterator[FunctionType]:
    for value in vars(module).values():
        if isinstance(value, FunctionType) and value.__module__ == module.__name__:
            yield value
        elif isinstance(value, type) and value.__module__ == module.__name__:
            yield from (each for each in vars(value).values() if isinstance(each, FunctionType))


def _swap_defaults(function: FunctionType, swaps: dict[Any, Any]) -> Iterator[Callable[[], None]]:
    given, named = function.__defaults__, function.__kwdefaults__
    if given and any(inspect.isroutine(value) and value in swaps for value in given):
        function.__defaults__ = tuple(
            swaps.get(value, value) if inspect.isroutine(value) else value for value in given
        )
        yield lambda: setattr(function, "__defaults__", given)
    if named and any(inspect.isroutine(value) and value in swaps for value in named.values()):
        function.__kwdefaults__ = {
            key: swaps.get(value, value) if inspect.isroutine(value) else value
            for key, value in named.items()
        }
        yield lambda: setattr(function, "__kwdefaults__", named)
