"""Work on a second core. Each case runs in a process of its own: one with threads does not fork."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAD = """
import os, signal, threading, time
from hmic.beside import beside
os.cpu_count = lambda: 2
me = os.getpid()
"""


def told(body: str) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", HEAD + body], capture_output=True, text=True, timeout=30, check=False
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


def test_the_work_is_done_in_another_process() -> None:
    assert (
        told("print(beside(lambda: (os.getpid() != me, 'x' * 300_000))() == (True, 'x' * 300_000))") == "True"
    )


@pytest.mark.parametrize(
    "fault",
    [
        "os.getpid() == me or os._exit(3)",
        "os.getpid() == me or os.kill(os.getpid(), signal.SIGKILL)",
        "os.getpid() == me or 1 / 0",
        "os.getpid() == me or (lambda: 0)",
    ],
    ids=["ends early", "is killed", "raises", "cannot be told"],
)
def test_what_goes_wrong_there_is_done_here(fault: str) -> None:
    assert told(f"print(beside(lambda: (({fault}), 7))()[1])") == "7"


def test_what_is_wrong_here_too_is_raised() -> None:
    body = "try:\n    beside(lambda: 1 / 0)()\nexcept ZeroDivisionError:\n    print('raised')"
    assert told(body) == "raised"


@pytest.mark.parametrize(
    "condition",
    ["os.cpu_count = lambda: 1", "del os.fork", "threading.Thread(target=time.sleep, args=(1,)).start()"],
    ids=["one core", "no fork", "threads"],
)
def test_without_a_second_core_it_is_done_when_asked(condition: str) -> None:
    assert told(f"{condition}\nprint(beside(lambda: os.getpid() == me)())") == "True"


def test_a_full_table_of_processes_is_no_hindrance() -> None:
    body = (
        "def full():\n    raise BlockingIOError\nos.fork = full\nprint(beside(lambda: os.getpid() == me)())"
    )
    assert told(body) == "True"


def test_what_nobody_asks_for_keeps_nothing_waiting() -> None:
    assert told("beside(lambda: 'x' * 3_000_000)\nprint('done')") == "done"
