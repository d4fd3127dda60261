"""The map of the house: imports only go the way HOUSE allows, and heavy ones only where needed."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "hmic"

# Room -> rooms it may import. `paint.operations` is the vocabulary that packs and layouts share.
MAY_IMPORT = {
    "foreign_text": set(),
    "plain_files": set(),
    "number_text": set(),
    "diagnostics": {"foreign_text", "number_text"},
    "causes": {"diagnostics"},
    "places": set(),
    "cache": set(),
    "language": {"diagnostics"},
    "model": {"language", "diagnostics", "places", "cache", "plain_files", "number_text", "causes"},
    "paint": {"diagnostics", "cache", "plain_files"},
    "arrange": {"model", "paint", "language", "diagnostics", "places", "plain_files", "number_text"}
    | {"causes"},
    "check": {"model", "arrange", "paint", "wire", "player", "language", "diagnostics", "places"}
    | {"number_text"},
    "pack": {"paint", "diagnostics"},
    "player": {"pack", "paint"},
    "wire": set(),
    "link": {"wire", "diagnostics"},
    "display": {"pack", "paint", "wire", "link", "diagnostics", "plain_files"},
    "sources": {"diagnostics", "plain_files"},
    "survey": {"model", "sources", "diagnostics", "foreign_text", "plain_files", "number_text"},
    "runtime": {"model", "wire", "link", "language", "sources", "diagnostics", "foreign_text", "plain_files"},
    "compile": {
        "model", "arrange", "check", "pack", "wire", "runtime", "diagnostics", "causes", "places", "cache",
        "plain_files",
    },
    "show": {
        "compile", "model", "arrange", "check", "paint", "pack", "player", "runtime", "language",
        "diagnostics", "places", "foreign_text", "display", "link",
    },
    "editor": {"model", "arrange", "check", "paint", "language", "diagnostics", "places", "plain_files"},
}
TOLD_TO_A_PERSON = ("print", "input", "exit", "quit", "SystemExit", "sys.exit", "os._exit")
HEAVY = ("cantools", "can", "jsonschema", "numpy", "rich", "aiohttp", "pygls", "serial")


def room_of(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def imports(path: Path, everywhere: bool = True) -> set[str]:
    """Modules imported by a file; without ``everywhere`` only those loaded with it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = ast.walk(tree) if everywhere else iter(_at_load(tree.body))
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def _at_load(body: list[ast.stmt]) -> list[ast.stmt]:
    result: list[ast.stmt] = []
    for node in body:
        typing_only = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        if isinstance(node, ast.If | ast.Try) and not typing_only:
            result += _at_load(node.body)
        result.append(node)
    return result


FILES = sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or path.stem in MAY_IMPORT)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_arrows_go_down(path: Path) -> None:
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if room == "cli":
        return
    allowed = MAY_IMPORT[room] | {room}
    for module in imports(path):
        if module.startswith("hmic.") and module != "hmic.__version__":
            assert room_of(module) in allowed, f"{room} must not import {module}"


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_heavy_packages_load_late(path: Path) -> None:
    if path.relative_to(PACKAGE).parts[0] == "link":
        pytest.skip("a port is always opened through pyserial")
    if path.name in ("door.py", "glass.py", "serving.py", "stage.py"):
        pytest.skip("pages are always served through aiohttp")
    for module in imports(path, everywhere=False):
        assert module.split(".")[0] not in HEAVY, f"{module} is loaded with {path.name}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_command_line_prints_exits_and_reads_the_keyboard(path: Path) -> None:
    """A long-lived process calls every other door again and again."""
    if path.relative_to(PACKAGE).parts[0] == "cli":
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        assert not isinstance(node, ast.Global), f"{path.name}:{node.lineno} keeps state in its module"
        if isinstance(node, ast.Call | ast.Raise):
            said = ast.unparse(node.func if isinstance(node, ast.Call) else node.exc or node)
            assert said not in TOLD_TO_A_PERSON, f"{path}:{node.lineno}"


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_nothing_read_from_a_disk_can_run(path: Path) -> None:
    names = {module.split(".")[0] for module in imports(path)}
    assert names.isdisjoint({"pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib", "diskcache"})
    # Its own cache, and that of cantools, hold pickles.
    text = path.read_text(encoding="utf-8")
    assert "cache=" not in text and "cache_dir=" not in text


FROM_OUTSIDE = {"byte_order", "controller", "interface", "scheme", "style", "suffix", "type"}
"""Attributes with a word of another library or of the system."""

WRITTEN = {
    "allowed", "code", "function", "key", "name", "rules", "scalar", "seen", "signal", "target", "text",
    "unit", "word", "words",
}  # fmt: skip
"""Attributes with what a person wrote, and names of which any may be: terminals of the grammar, functions."""


def compared_with_words(tree: ast.AST) -> list[tuple[int, str]]:
    """(line, attribute) of every comparison of an attribute with a word that is written there."""
    found = []
    for node in ast.walk(tree):
        sides = [node.left, *node.comparators] if isinstance(node, ast.Compare) else []
        words = [
            part.value
            for side in sides
            for part in (side.elts if isinstance(side, ast.Tuple | ast.Set | ast.List) else [side])
            if isinstance(part, ast.Constant) and isinstance(part.value, str) and re.search(r"\w", part.value)
        ]
        found += [(node.lineno, side.attr) for side in sides if isinstance(side, ast.Attribute) and words]
    return found


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_kinds_are_enums(path: Path) -> None:
    """A kind of our own is never told by its spelling, which nothing would check."""
    found = compared_with_words(ast.parse(path.read_text(encoding="utf-8")))
    assert [each for each in found if each[1] not in FROM_OUTSIDE | WRITTEN] == []


def test_a_kind_told_by_its_spelling_is_seen() -> None:
    for wrong in ("x.kind == 'number'", "x.kind in ('number', 'flag')", "'number' != a.b.kind"):
        assert compared_with_words(ast.parse(wrong)) == [(1, "kind")]
    assert compared_with_words(ast.parse("x.kind == Kind.NUMBER and x.low == 3")) == []


MOST_BY_PLACE = 5


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_no_function_takes_many_values_by_their_place(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            taken = [each.arg for each in (*node.args.posonlyargs, *node.args.args)]
            own = [name for name in taken if name not in ("self", "cls")]
            assert len(own) <= MOST_BY_PLACE, f"{path.name}:{node.lineno} {node.name} takes {own}"


ONE_A_ROOM = {"__init__.py", "codes.py"}
"""Names that mean the same in every room: `explain` gathers the tables of `codes.py`."""


def test_no_module_name_has_two_meanings() -> None:
    by_name: dict[str, list[str]] = {}
    for path in PACKAGE.rglob("*.py"):
        by_name.setdefault(path.name, []).append(str(path.relative_to(PACKAGE)))
    twice = {name: sorted(found) for name, found in by_name.items() if len(found) > 1}
    assert twice.keys() <= ONE_A_ROOM, twice


def doors(path: Path) -> set[str]:
    """The public functions of a module, and the methods of its classes as ``Class.method``."""
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef):
            found.add(node.name)
        elif isinstance(node, ast.ClassDef):
            found |= {f"{node.name}.{each.name}" for each in node.body if isinstance(each, ast.FunctionDef)}
    return found


def test_the_doors_of_the_walk_are_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    walk = text.partition("## One value, one touch")[2].partition("\n## ")[0]
    steps = re.findall(r"^\d\. `([\w/]+\.py)` (.*?):", walk, re.M)
    assert len(steps) == 14
    everywhere = set().union(*(doors(path) for path in PACKAGE.rglob("*.py")))
    for file, named in steps:
        assert set(re.findall(r"`([\w.]+)`", named)) <= doors(PACKAGE / file), named
    assert set(re.findall(r"`([A-Z]\w+\.\w+)`", walk)) <= everywhere


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from hmic.cli.main import main; main(['--help']);"
        "print([name for name in sys.modules if name.split('.')[0] in "
        "('lark', 'yaml', 'PIL', 'jsonschema', 'cantools', 'can', 'serial', 'numpy')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip().endswith("[]"), done.stdout[-300:]


def test_check_does_not_load_what_only_a_run_needs() -> None:
    """Once the descriptions are remembered (cantools, which reads them, brings in ``can``), findings not."""
    code = (
        "import sys; from hmic.cli.main import main; main(['check', 'layouts/dunlin']);"
        "print([name for name in ('can', 'serial', 'numpy', 'rich') if name in sys.modules])"
    )
    for _ in range(2):
        for file in (Path(os.environ["XDG_CACHE_HOME"]) / "hmic").glob("findings-*"):
            file.unlink()
        command = [sys.executable, "-c", code]
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip().endswith("[]"), done.stdout[-300:]
