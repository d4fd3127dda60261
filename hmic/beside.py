"""Work done beside, on another core. It can only save time: whatever goes wrong there is done here."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from threading import active_count
from typing import TypeVar

Result = TypeVar("Result")


def beside(work: Callable[[], Result]) -> Callable[[], Result]:
    """Begins work in a child process, and gives what waits for its result.

    The result must pickle; what the work changes elsewhere stays in the child. Without a second core,
    or with threads, whose locks a child would inherit shut, the work is done when it is asked for.
    """
    if not hasattr(os, "fork") or (os.cpu_count() or 1) < 2 or _threads() > 1:
        return work
    try:
        reading, writing = os.pipe()
        child = os.fork()
    except OSError:
        return work
    if not child:
        os.close(reading)
        _answer(work, writing)
    os.close(writing)
    return lambda: _result(work, child, reading)


def _threads() -> int:
    """The threads of this process, those of libraries too where the system tells."""
    try:
        return len(os.listdir("/proc/self/task"))  # noqa: PTH208
    except OSError:
        return active_count()


def _answer(work: Callable[[], Result], writing: int) -> None:
    """In the child: says the result and ends, past all that the parent would do at its end."""
    import pickle

    code = 1
    try:
        with open(writing, "wb") as pipe:
            pickle.dump(work(), pipe, protocol=5)
        code = 0
    finally:
        os._exit(code)


def _result(work: Callable[[], Result], child: int, reading: int) -> Result:
    import pickle

    with open(reading, "rb") as pipe:
        data = pipe.read()
    with suppress(ChildProcessError):
        if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0:
            found: Result = pickle.loads(data)
            return found
    return work()
