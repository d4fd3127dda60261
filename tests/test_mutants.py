"""The bench of mutations: what it draws, that it leaves the tree as it was, and that nothing is explained
that is gone."""

from __future__ import annotations

from pathlib import Path

from tests.tools import mutants
from tests.tools.touching_tests import Touched

ROOT = Path(__file__).parents[1]
SOURCE = """\
from __future__ import annotations

from functools import cache

LIMIT: int | None = 7


@cache
def within(value: int | None) -> bool:
    return value is not None and value <= LIMIT
"""


def tree(folder: Path) -> Path:
    (folder / "a.py").write_text(SOURCE)
    return folder


def test_places_are_what_a_test_can_see(tmp_path: Path) -> None:
    """A number, two comparisons and the `and`; not annotations, nor that a function remembers."""
    found = mutants.places(tree(tmp_path), ["a.py"])
    assert {(changes[0].line, changes[0].operator.split("/")[1].split("_")[0]) for changes in found} >= {
        (5, "NumberReplacer"),
        (10, "ReplaceComparisonOperator"),
        (10, "ReplaceAndWithOr"),
    }
    lines = SOURCE.splitlines()
    for changes in found:
        for change in changes:
            mutant = mutants.mutant(tmp_path, change)
            assert mutant is None or mutant.before == lines[change.line - 1].strip() != mutant.after
            assert mutant is None or ("int | None" in mutant.source and "@cache" in mutant.source)


ASSERTING = """\
@dataclass(frozen=True, slots=True)
class Pair:
    one: int = 7


known = lru_cache(maxsize=4096)(str)
both = list(zip("ab", "cd", strict=True))
"""


def test_what_is_asserted_and_remembered_is_no_place(tmp_path: Path) -> None:
    (tmp_path / "b.py").write_text(ASSERTING)
    found = {(change.line, change.operator) for each in mutants.places(tmp_path, ["b.py"]) for change in each}
    # The decorator as a whole can be left out.
    assert {(line, name) for line, name in found if line != 3} == {(1, "core/RemoveDecorator")}


def test_a_sample_is_that_of_its_seed_and_leaves_the_tree_as_it_was(tmp_path: Path) -> None:
    root = tree(tmp_path)
    one, two, other = (list(mutants.drawn(root, ["a.py"], seed)) for seed in (1, 1, 2))
    assert one == two and {each.line for each in one} == {each.line for each in other}
    assert len({each.name for each in [*one, *other]}) > 3
    before = (root / "a.py").stat()
    with one[0].standing(root):
        assert (root / "a.py").read_text() == one[0].source != SOURCE
    assert (root / "a.py").read_text() == SOURCE
    assert (root / "a.py").stat().st_mtime_ns == before.st_mtime_ns


def test_tests_that_run_the_line_come_first_and_one_case_of_each() -> None:
    seconds = {"a[1]": 1.0, "a[2]": 2.0, "b": 3.0, "c": 0.5, "d": 0.1, "e": 0.1}
    touched = Touched(seconds, {"a.py": {3: ["a[2]", "a[1]", "b"], 4: ["c"], 9: ["d"]}})
    assert touched.tests("a.py", 3, range(2, 6), 100.0) == ["a[1]", "b", "a[2]", "c", "d"]
    assert touched.tests("a.py", 3, range(2, 6), 4.0) == ["a[1]", "b"]
    assert touched.tests("a.py", 3, range(2, 6), 0.0) == ["a[1]"]
    assert touched.tests("b.py", 3, range(2, 6), 9.0) == []


def test_what_is_explained_stands_and_has_a_reason() -> None:
    explained = mutants.explained()
    assert explained and all(len(reason) > 20 for reason in explained.values())
    assert mutants.outdated(ROOT) == []
