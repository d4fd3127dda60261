"""Mutants of a file by cosmic-ray's operators, and the file of survivors that have been explained.

A *place* is one spot of the source and one kind of change (another comparison, a number one off, ``not``
put before a condition ...). A sample draws places and then one change for each, so that an operator with
ten replacements weighs no more than one with a single.
"""

from __future__ import annotations

import ast
import difflib
import hashlib
import os
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random

Position = tuple[int, int]
EXPLAINED = Path(__file__).parents[1] / "bench" / "survivors.txt"
MEMORIES = ("cache", "lru_cache", "cached_property")
ASSERTED = (("zip", "strict"), ("dataclass", "frozen"), ("dataclass", "slots"))
"""Arguments that assert what holds: of a function, by name."""


@dataclass(frozen=True)
class Change:
    """The ``occurrence``-th application of one operator to a file, at ``line`` (from 1)."""

    file: str
    line: int
    operator: str
    occurrence: int


@dataclass(frozen=True)
class Mutant:
    """One changed file: ``before`` and ``after`` are the lines that differ, without indentation."""

    file: str
    line: int
    before: str
    after: str
    source: str

    @property
    def key(self) -> tuple[str, str, str]:
        return self.file, self.before, self.after

    @property
    def name(self) -> str:
        """Eight digits that stay when other lines of the file change."""
        return hashlib.sha256("\n".join(self.key).encode()).hexdigest()[:8]

    @contextmanager
    def standing(self, root: Path) -> Iterator[None]:
        """The tree with the mutant in the place of its file."""
        path = root / self.file
        whole, times = path.read_bytes(), path.stat()
        try:
            path.write_text(self.source, encoding="utf-8")
            yield
        finally:
            path.write_bytes(whole)
            os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))


def places(root: Path, files: Sequence[str]) -> list[list[Change]]:
    """Every place of the files, each with the changes that are possible there, in a fixed order."""
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator, operator_names

    kinds = {name: get_operator(name) for name in sorted(operator_names())}
    operators = {name: kind() for name, kind in kinds.items() if not kind.arguments() and not _idle(name)}
    found: dict[tuple[str, Position, Position, str], list[Change]] = defaultdict(list)
    for file in files:
        source = (root / file).read_text(encoding="utf-8")
        aside = _aside(source)
        nodes = list(ast_nodes(get_ast(source)))
        for name, operator in operators.items():
            positions = (each for node in nodes for each in operator.mutation_positions(node))
            for occurrence, (start, end) in enumerate(positions):
                if not any(first <= start < last for first, last in aside):
                    family = name.split("/")[1].split("_")[0]
                    found[file, start, end, family].append(Change(file, start[0], name, occurrence))
    return [found[key] for key in sorted(found)]


def mutant(root: Path, change: Change) -> Mutant | None:
    """The file with the change made, or None where that is no Python or the same Python."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    source = (root / change.file).read_text(encoding="utf-8")
    after = mutate_code(source, get_operator(change.operator)(), change.occurrence)
    try:
        if after is None or ast.dump(ast.parse(after)) == ast.dump(ast.parse(source)):
            return None
    except SyntaxError:
        return None
    old, new = source.splitlines(), after.splitlines()
    alike = difflib.SequenceMatcher(None, old, new, autojunk=False)
    blocks = [each for each in alike.get_opcodes() if each[0] != "equal"]
    lines = [
        " ".join(line.strip() for line in text[first:last])
        for text, first, last in ((old, blocks[0][1], blocks[-1][2]), (new, blocks[0][3], blocks[-1][4]))
    ]
    return Mutant(change.file, change.line, lines[0], lines[1], after)


def drawn(root: Path, files: Sequence[str], seed: int) -> Iterator[Mutant]:
    """Mutants of the files in random order, one a place."""
    dice = Random(seed)
    all_places = places(root, files)
    for changes in dice.sample(all_places, len(all_places)):
        found = mutant(root, dice.choice(changes))
        if found is not None:
            yield found


def explained(path: Path = EXPLAINED) -> dict[tuple[str, str, str], str]:
    """Why a mutant may survive, by its file and the lines before and after.

    Paragraphs of four lines: the file, ``- `` before, ``+ `` after, ``= `` the reason.
    """
    found = {}
    for paragraph in path.read_text(encoding="utf-8").split("\n\n"):
        lines = [line for line in paragraph.splitlines() if line and not line.startswith("#")]
        if lines:
            file, before, after, reason = lines
            assert (before[:2], after[:2], reason[:2]) == ("- ", "+ ", "= "), paragraph
            found[file, before[2:], after[2:]] = reason[2:]
    return found


def outdated(root: Path) -> list[tuple[str, str, str]]:
    """Explained survivors whose line stands no longer in its file."""
    return [key for key in explained() if not _stands(root / key[0], key[1])]


def _stands(path: Path, before: str) -> bool:
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return before in " ".join(line.strip() for line in lines)


def _idle(operator: str) -> bool:
    """``is`` in the place of ``==`` says something of Python's small integers, nothing of ours."""
    return "Comparison" in operator and not operator.endswith(("Is_IsNot", "IsNot_Is")) and "_Is" in operator


def _aside(source: str) -> list[tuple[Position, Position]]:
    """What no test can see: annotations, that a pure function remembers, that nobody changes data, and that
    lists which go together are as long."""
    found: list[ast.expr] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            found += [node.returns] if node.returns else []
            found += [each for each in node.decorator_list if ast.unparse(each).split("(")[0] in MEMORIES]
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            found += [node] if called in MEMORIES else []
            found += [each.value for each in node.keywords if (called, each.arg) in ASSERTED]
        elif isinstance(node, ast.arg | ast.AnnAssign):
            found += [node.annotation] if node.annotation else []
    return [
        # A decorator's place begins with its sign.
        ((node.lineno, max(0, node.col_offset - 1)), (node.end_lineno or 0, node.end_col_offset or 0))
        for node in found
    ]
