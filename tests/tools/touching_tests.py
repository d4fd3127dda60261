"""Which tests touch which lines of hmic, and how long each takes; then some of them, in another process.

Work is done in children that are forked after pytest and the heavy libraries have loaded, so that a mutant
costs the seconds of its tests and not those of Python's start. The folder is that of the tree.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import json
import os
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import pytest

LIBRARIES = ("hypothesis", "coverage", "numpy", "lark", "yaml", "jsonschema", "PIL.Image", "cantools", "can")
QUIET = ("-q", "-p", "no:cacheprovider")
LOST, LATE, STILLBORN = 90, 91, 92


@dataclass(frozen=True)
class Touched:
    """``seconds`` of each test that passes, and the tests that ran each line of each file. A line that ran
    only while modules loaded has none."""

    seconds: dict[str, float]
    lines: dict[str, dict[int, list[str]]]

    def tests(self, file: str, line: int, around: range, budget: float) -> list[str]:
        """Tests to run against a change in a line: those that run it, then those that run the lines around
        it, then those that run anything of the file, ``budget`` seconds in all. Of each the fastest first,
        but one case of every parametrised test before the next: they say more that differs."""
        lines = self.lines.get(file, {})
        groups = [set(lines.get(line, ())), {test for at in lines.keys() & set(around) for test in lines[at]}]
        groups.append({test for tests in lines.values() for test in tests})
        taken: dict[str, None] = {}
        for group in groups:
            taken.update(dict.fromkeys(self._varied(group - taken.keys())))
        spent, found = 0.0, []
        for test in taken:
            spent += self.seconds[test]
            if spent > budget and found:
                break
            found.append(test)
        return found

    def _varied(self, tests: set[str]) -> list[str]:
        cases: dict[str, int] = defaultdict(int)
        ranked = []
        for test in sorted(tests & self.seconds.keys(), key=lambda test: (self.seconds[test], test)):
            function = test.split("[")[0]
            ranked.append((cases[function], self.seconds[test], test))
            cases[function] += 1
        return [test for _, _, test in sorted(ranked)]


class _Contexts:
    """A pytest plugin: what a test runs is put down to it."""

    def __init__(self, coverage: Any) -> None:
        self.coverage = coverage
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def pytest_runtest_logstart(self, nodeid: str, location: object) -> None:
        self.coverage.switch_context(nodeid)
        self.seconds[nodeid] = -_spent()

    def pytest_runtest_logfinish(self, nodeid: str, location: object) -> None:
        self.coverage.switch_context("")
        self.seconds[nodeid] += _spent()

    def pytest_runtest_logreport(self, report: Any) -> None:
        if not report.passed:
            self.failed.add(report.nodeid)


def _spent() -> float:
    """Seconds of this process and its children: a busy machine makes no test longer."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def measured(tests: Sequence[str], files: Sequence[str], kept: Path) -> Touched:
    """Runs the tests once under coverage, but for those of test files whose result is ``kept`` already."""
    found: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8")) if kept.exists() else {}
    digests = {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in _test_files(tests)}
    fresh = [file for file, digest in digests.items() if found.get(file, {}).get("digest") != digest]
    if fresh:
        in_child(lambda: _measure(fresh, files, kept, found, digests), 7200)
        found = json.loads(kept.read_text(encoding="utf-8"))
    seconds: dict[str, float] = {}
    lines: dict[str, dict[int, list[str]]] = {file: defaultdict(list) for file in files}
    for test_file in digests:
        seconds |= found[test_file]["seconds"]
        for file, line, test in found[test_file]["ran"]:
            if file in lines:
                lines[file][line].append(test)
    return Touched(seconds, lines)


def _test_files(tests: Sequence[str]) -> list[Path]:
    """The files of folders and patterns."""
    named = [pattern if pattern.endswith(".py") else f"{pattern}/test_*.py" for pattern in tests]
    return sorted({path for pattern in named for path in Path().glob(pattern)})


def _measure(
    tests: Sequence[str], files: Sequence[str], kept: Path, found: dict[str, Any], digests: Mapping[str, str]
) -> int:
    import coverage

    include = [str(Path(file).resolve()) for file in files]
    cover = coverage.Coverage(data_file=None, include=include, config_file=False)
    cover.start()
    plugin = _Contexts(cover)
    pytest.main([*QUIET, *tests], plugins=[plugin])
    cover.stop()
    data = cover.get_data()
    for test_file in tests:
        found[test_file] = {"digest": digests[test_file], "seconds": {}, "ran": []}
    for test, seconds in plugin.seconds.items():
        if test not in plugin.failed:
            found[test.split("::")[0]]["seconds"][test] = seconds
    for file, path in zip(files, include, strict=True):
        for line, contexts in data.contexts_by_lineno(path).items():
            for test in filter(None, contexts):
                found[test.split("::")[0]]["ran"].append((file, line, test))
    kept.write_text(json.dumps(found), encoding="utf-8")
    return 0


def fate(file: str, tests: Sequence[str], seconds: float) -> str:
    """What becomes of a tree whose ``file`` is mutated: ``stillborn`` where it cannot be loaded, ``survived``
    where all the tests pass, ``timed out`` where they take longer than ``seconds``, else ``killed``."""
    if not tests:  # Without any, pytest would run them all.
        return "survived"
    code = in_child(lambda: _run(file, tests), seconds)
    if code == pytest.ExitCode.USAGE_ERROR:  # The mutant changes the names of tests: by their files then.
        files = sorted({test.split("::")[0] for test in tests})
        code = in_child(lambda: _run(file, files), seconds)
    return {STILLBORN: "stillborn", LATE: "timed out", pytest.ExitCode.OK: "survived"}.get(code, "killed")


def _run(file: str, tests: Sequence[str]) -> int:
    try:
        importlib.import_module(file.removesuffix(".py").replace("/", "."))
    except Exception:
        return STILLBORN
    return int(pytest.main([*QUIET, "-x", "--hypothesis-profile=unshrunk", *tests]))


def in_child(work: Callable[[], int], seconds: float) -> int:
    """What ``work`` gives in a forked child, ``LOST`` where it ended otherwise, and ``LATE`` where it and
    all that it started had to be ended."""
    for name in LIBRARIES:
        importlib.import_module(name)
    assert not any(name.split(".")[0] == "hmic" for name in sys.modules), "only a child may load hmic"
    child = os.fork()
    if child == 0:
        _be_child(work)
    until = time.monotonic() + seconds
    done = status = 0
    while not done and time.monotonic() < until:
        time.sleep(0.02)
        done, status = os.waitpid(child, os.WNOHANG)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if not done:
        os.waitpid(child, 0)
        return LATE
    return os.WEXITSTATUS(status) if os.WIFEXITED(status) else LOST


def _be_child(work: Callable[[], int]) -> NoReturn:
    code = LOST
    try:
        os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        for each in (0, 1, 2):
            os.dup2(null, each)
        code = work()
    finally:
        os._exit(code)
