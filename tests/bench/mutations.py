"""How many small wrong changes to hmic the tests notice: ``python -m tests.bench mutations``.

In a copy of the tree: each test of the room runs once, to learn what it touches; then each mutant of a random
sample (``tests/tools/mutants.py``) against the tests that touch its function, the fastest first, then others
of the room, up to ``--seconds`` of tests. What survives must be killed by a new test, or explained in
``survivors.txt``. A mutant that cannot be loaded is not counted.
"""

from __future__ import annotations

import argparse
import ast
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.tools import mutants, touching_tests
from tests.tools.mutants import Mutant
from tests.tools.touching_tests import Touched


@dataclass(frozen=True)
class Room:
    """Files by pattern, and the tests that pin them, also in other rooms; not those that take long to say
    what these say."""

    files: tuple[str, ...]
    tests: tuple[str, ...]


ROOMS = {
    "check": Room(("hmic/check/*.py",), ("tests/check",)),
    "pack": Room(
        ("hmic/pack/validity.py",),
        (
            "tests/pack/test_pack_limits.py",
            "tests/pack/test_pack_operations.py",
            "tests/pack/test_pack_tables.py",
        ),
    ),
    "arrange": Room(("hmic/arrange/fitting.py",), ("tests/arrange/test_fitting*.py",)),
    "runtime": Room(
        tuple(f"hmic/runtime/{name}.py" for name in ("requests", "touching", "state", "binding")),
        (
            *(f"tests/runtime/test_runtime_{name}*.py" for name in ("requests", "touch", "state", "binding")),
            "tests/runtime/test_runtime_remembering.py",
            "tests/runtime/test_request_steps.py",
            "tests/runtime/test_runtime_beside.py",
        ),
    ),
    "wire": Room(
        ("hmic/wire/*.py",),
        (
            *(
                f"tests/wire/test_wire_{name}.py"
                for name in ("bounds", "codecs", "edges", "life", "line", "protocol", "squeeze")
            ),
            *(f"tests/wire/test_wire_{name}.py" for name in ("rows", "tables", "times", "two_hosts")),
            "tests/vectors",
        ),
    ),
}
FATES = ("killed", "timed out", "explained", "survived")


def main() -> None:
    """Copies the tree and goes on there, at the lowest priority."""
    arguments = _arguments()
    os.nice(19)
    if arguments.here:
        _in_copy(arguments)
        return
    with tempfile.TemporaryDirectory(prefix="hmic-mutations-") as folder:
        tree = arguments.tree or Path(folder)
        _copy(tree)
        environment = os.environ | {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
        command = [sys.executable, "-m", "tests.bench", "mutations", *sys.argv[1:], "--here"]
        sys.exit(subprocess.run(command, cwd=tree, env=environment, check=False).returncode)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench mutations", description=__doc__)
    parser.add_argument("--room", action="append", choices=ROOMS, help="which rooms; all without")
    parser.add_argument("--sample", type=int, default=100, help="mutants of each room (100)")
    parser.add_argument("--seed", type=int, default=1, help="which sample (1)")
    parser.add_argument("--seconds", type=float, default=30.0, help="of tests for each mutant (30)")
    parser.add_argument(
        "--minutes", type=float, default=600.0, help="for each room; then with what was tried"
    )
    parser.add_argument("--only", action="append", help="the mutant of this name, as a survivor is told")
    parser.add_argument("--tree", type=Path, help="keep the copy, and what tests touch, in this folder")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args()


def _copy(tree: Path) -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-coz", "--exclude-standard"], check=True, capture_output=True
    )
    for name in listed.stdout.decode().split("\0")[:-1]:
        target, content = tree / name, Path(name)
        if content.is_file() and not (target.exists() and target.read_bytes() == content.read_bytes()):
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content.read_bytes())
            target.chmod(content.stat().st_mode)


def _in_copy(arguments: argparse.Namespace) -> None:
    table: dict[str, Counter[str]] = {}
    for name in arguments.room or ROOMS:
        room = ROOMS[name]
        files = sorted(str(path) for pattern in room.files for path in Path().glob(pattern))
        touched = touching_tests.measured(room.tests, files, Path(f"touched-{name}.json"))
        print(f"{name}: {len(touched.seconds)} tests of {len(files)} files", flush=True)
        table[name] = _room(touched, files, arguments)
    print("\n" + " ".join(f"{word:>10}" for word in ("room", "mutants", *FATES, "survived %")))
    for name, fates in table.items():
        numbers = (fates.total(), *(fates[fate] for fate in FATES))
        share = 100 * fates["survived"] / max(1, fates.total())
        print(" ".join(f"{word:>10}" for word in (name, *numbers, f"{share:.1f}")))
    for file, before, _ in mutants.outdated(Path()):
        print(f"survivors.txt explains what {file} has no longer: {before}")


def _room(touched: Touched, files: list[str], arguments: argparse.Namespace) -> Counter[str]:
    explained, fates = mutants.explained(), Counter[str]()
    until = time.monotonic() + 60 * arguments.minutes
    for each in mutants.drawn(Path(), files, arguments.seed):
        if fates.total() == arguments.sample or time.monotonic() > until:
            break
        if arguments.only and each.name not in arguments.only:
            continue
        begun = time.monotonic()
        fate = _fate(each, touched, arguments.seconds)
        if fate == "survived" and each.key in explained:
            fate = "explained"
        if fate != "stillborn":
            fates[fate] += 1
        if fate not in ("killed", "stillborn"):
            took = f"{fates.total()}. after {time.monotonic() - begun:.0f} s"
            print(f"{fate} {each.name}, {took}: {each.file}:{each.line}")
            print(f"    - {each.before}\n    + {each.after}", flush=True)
    return fates


def _fate(each: Mutant, touched: Touched, seconds: float) -> str:
    tests = touched.tests(each.file, each.line, _around(each), seconds)
    usual = sum(touched.seconds[test] for test in tests)
    with each.standing(Path()):
        return touching_tests.fate(each.file, tests, 30 + 5 * usual)


def _around(each: Mutant) -> range:
    """The lines of the function that is changed, of the file for what stands in none."""
    text = Path(each.file).read_text(encoding="utf-8")
    functions = [
        range(node.lineno, (node.end_lineno or node.lineno) + 1)
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef)
    ]
    inner = [lines for lines in functions if each.line in lines]
    return min(inner, key=len, default=range(1, text.count("\n") + 2))


if __name__ == "__main__":
    main()
